package api_test

import (
	"fmt"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
)

// everything is all that the API shows of what is kept, for comparing.
func (s stocked) everything() map[string][]string {
	s.t.Helper()
	all := map[string][]string{}
	for _, path := range []string{"/categories", "/items", "/products", "/stations", "/places", "/kit-lists", "/bags",
		"/lots", "/movements", "/checks", "/uses",
		"/observations", "/bags/KD7-442/restocks", "/bags/KD7-442/seals"} {
		all[path] = s.parts(path, 1000)
	}
	return all
}

// TestBadInputChangesNothing sends what no service should take, and compares
// everything that is kept before and after.
func TestBadInputChangesNothing(t *testing.T) {
	s := newPacked(t)
	before := s.everything()
	receipt := func(member, value string) string {
		fields := map[string]string{"place": `"N1-STORE"`, "item": `"GAUZE-10"`, "batch_no": `"G-09"`,
			"end_printed": `"2028-02"`, "qty": "1"}
		fields[member] = value
		var parts []string
		for k, v := range fields {
			parts = append(parts, fmt.Sprintf("%q:%s", k, v))
		}
		return "{" + strings.Join(parts, ",") + "}"
	}
	use := `{"incident":"I-1","seen_position":1,"lines":[{"lot_id":%s,"qty":%s}]}`
	full := `{"kind":"full","seen_position":%d,"lines":[{"lot_id":%d,"counted":%s}]}`
	for _, tt := range []struct {
		name, path, body string
		status           int
	}{
		{"no such day", "/receipts", receipt("end_printed", `"2027-02-30"`), 422},
		{"no such day", "/receipts", receipt("end_printed", `"2027-13"`), 422},
		{"day the other way round", "/receipts", receipt("end_printed", `"14-06-2027"`), 422},
		{"year beyond range", "/receipts", receipt("end_printed", `"9999-01"`), 422},
		{"made tomorrow", "/receipts", receipt("made_on", `"2027-06-15"`), 422},
		{"expired already", "/receipts", receipt("end_printed", `"2027-05"`), 409},
		{"received tomorrow", "/receipts", receipt("happened_at", `"2027-06-15T09:00:00Z"`), 422},
		{"received before all records", "/receipts", receipt("happened_at", `"0001-01-01T00:00:00Z"`), 422},
		{"no instant", "/receipts", receipt("happened_at", `"yesterday"`), 422},
		{"negative quantity", "/receipts", receipt("qty", "-1"), 422},
		{"no quantity", "/receipts", receipt("qty", "0"), 422},
		{"half a unit", "/receipts", receipt("qty", "1.5"), 422},
		{"number beyond range", "/receipts", receipt("qty", "1e300"), 422},
		{"number beyond all range", "/receipts", receipt("qty", "1e999"), 400},
		{"quantity as text", "/receipts", receipt("qty", `"1"`), 422},
		{"unknown item", "/receipts", receipt("item", `"NONE"`), 422},
		{"unknown place", "/receipts", receipt("place", `"NONE"`), 422},
		{"outside place", "/receipts", receipt("place", `"used"`), 422},
		{"malformed code", "/items", strings.Replace(tourniquetItem, "TQ-ADULT", "TQ/ADULT?", 1), 422},
		{"empty code", "/items", strings.Replace(tourniquetItem, "TQ-ADULT", "", 1), 422},
		{"long code", "/items", strings.Replace(tourniquetItem, "TQ-ADULT", strings.Repeat("X", 41), 1), 422},
		{"code of other letters", "/items", strings.Replace(tourniquetItem, "TQ-ADULT", "ТQ", 1), 422},
		{"control character", "/items", strings.Replace(tourniquetItem, "windlass", `wind\u0007lass`, 1), 422},
		{"NUL", "/items", strings.Replace(tourniquetItem, "each", `ea\u0000ch`, 1), 422},
		{"NUL in a code", "/receipts", receipt("item", `"GAUZE-10\u0000"`), 422},
		{"null", "/receipts", receipt("product", "null"), 422},
		{"invalid UTF-8", "/items", strings.Replace(tourniquetItem, "windlass", "wind\xfflass", 1), 400},
		{"UTF-16", "/items", "\xff\xfe{\x00}\x00", 400},
		{"no JSON", "/items", "code=TQ", 400},
		{"half of JSON", "/items", tourniquetItem[:40], 400},
		{"twice JSON", "/items", tourniquetItem + tourniquetItem, 400},
		{"a list", "/items", "[" + tourniquetItem + "]", 422},
		{"nothing", "/items", "", 400},
		{"deep nesting", "/items", strings.Repeat("[", 100_000) + strings.Repeat("]", 100_000), 400},
		{"ten megabytes", "/items", strings.Replace(tourniquetItem, "windlass", strings.Repeat("x", 10<<20), 1), 413},
		{"a long note", "/bags/KD7-442/restocks", fmt.Sprintf(`{"seal_set":"X","note":%q}`, strings.Repeat("x", 2001)), 422},
		{"unknown lot", "/bags/KD7-442/uses", fmt.Sprintf(use, "999", "1"), 422},
		{"negative use", "/bags/KD7-442/uses", fmt.Sprintf(use, "1", "-2"), 422},
		{"negative lot", "/bags/KD7-442/uses", fmt.Sprintf(use, "-1", "2"), 422},
		{"negative count", "/bags/KD7-442/checks", fmt.Sprintf(full, s.bag().Position, s.gauze, "-1"), 422},
		{"lot left out", "/bags/KD7-442/checks", fmt.Sprintf(full, s.bag().Position, s.gauze, "4"), 422},
		{"position of the future", "/bags/KD7-442/checks", fmt.Sprintf(full, s.bag().Position+1, s.gauze, "4"), 422},
		{"kind unknown", "/bags/KD7-442/checks", `{"kind":"glance","seen_position":1}`, 422},
		{"from the supplier", "/movements", fmt.Sprintf(
			`{"movements":[{"lot_id":%d,"qty":1,"from":"supplier","to":"N1-STORE","reason":"found"}]}`, s.gauze), 409},
		{"one good, one bad", "/movements", fmt.Sprintf(`{"movements":[{"lot_id":%[1]d,"qty":1,"from":"KD7-442",`+
			`"to":"N1-STORE","reason":"return"},{"lot_id":%[1]d,"qty":99,"from":"KD7-442","to":"N1-STORE","reason":"return"}]}`,
			s.gauze), 409},
		{"no time zone", "/stations", `{"code":"X1","name":"X","timezone":"Mars/Olympus"}`, 422},
		{"no pack", "/products", `{"item":"GAUZE-10","pack_size":0}`, 422},
		{"wrong check digit", "/products", `{"item":"GAUZE-10","pack_size":1,"gtin":"4006381333932"}`, 422},
		{"list without lines", "/kit-lists", `{"code":"EMPTY","name":"Empty","lines":[]}`, 422},
		{"minimum over par", "/kit-lists", `{"code":"BAD","name":"Bad","lines":[{"item":"GAUZE-10","par":1,"minimum":2}]}`,
			422},
		{"bag of an unknown list", "/bags", strings.NewReplacer("KD7-442", "KD7-9", "RESPONSE", "NONE").Replace(responseBag),
			422},
	} {
		p := s.as(administrator, "POST", tt.path).key(strings.ReplaceAll(tt.name, " ", "-")).json(tt.body).want(tt.status).
			problem()
		assert.NotEmpty(t, p.Detail, tt.name)
		if tt.status == 422 {
			assert.NotEmpty(t, p.Errors, tt.name)
		}
	}
	s.as(administrator, "POST", "/items").set("Content-Type", "application/x-www-form-urlencoded").text("code=TQ").
		want(415).problem()
	s.as(administrator, "GET", "/items?text=%ff").want(422).problem()
	s.as(administrator, "GET", "/items?text=%00").want(422).problem()
	assert.Equal(t, before, s.everything())
}
