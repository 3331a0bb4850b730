package api_test

import (
	"fmt"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stowkeeper/inventory"
)

// TestUpdatesTakeAVersion tries every route that makes a new version: without
// If-Match, with an old one, with a malformed one, with the right one and with
// a star.
func TestUpdatesTakeAVersion(t *testing.T) {
	s := newStocked(t)
	s.as(quartermaster, "POST", "/products").json(`{"item":"GAUZE-10","gtin":"4006381333931","pack_size":5}`).want(201)
	for _, tt := range []struct{ method, path, body string }{
		{"PATCH", "/items/TQ-ADULT", `{"lead_time_days":14}`},
		{"PATCH", "/products/1", `{"pack_size":10}`},
		{"PATCH", "/bags/KD7-442", `{"vehicle":"Van 3"}`},
		{"PUT", "/kit-lists/RESPONSE", `{"name":"Response bag","lines":[{"item":"TQ-ADULT","par":3,"minimum":1}]}`},
	} {
		change := func() *call { return s.as(quartermaster, tt.method, tt.path).json(tt.body) }
		first := s.as(quartermaster, "GET", tt.path).want(200).header.Get("ETag")
		require.Equal(t, `"1"`, first, tt.path)
		change().want(428).problem()
		for _, bad := range []string{"1", `W/"1"`, `"x"`, `"1", "2"`, `"0"`, `"-1"`} {
			e := change().set("If-Match", bad).want(422).problem().Errors
			assert.Equal(t, "header.If-Match", e[0].Location, "%s %s", tt.path, bad)
		}
		assert.Equal(t, `"2"`, change().set("If-Match", first).want(200).header.Get("ETag"), tt.path)
		p := change().set("If-Match", first).want(409).problem()
		assert.Equal(t, inventory.Stale, p.Kind, tt.path)
		assert.Equal(t, `"2"`, s.as(quartermaster, "GET", tt.path).want(200).header.Get("ETag"))
		assert.Equal(t, `"3"`, change().set("If-Match", "*").want(200).header.Get("ETag"), tt.path)
	}
	old := decoded[inventory.KitList](s.as(crew, "GET", "/kit-lists/response?version=1").want(200))
	assert.Len(t, old.Lines, 2)
	bag := s.bag()
	assert.Equal(t, 1, bag.KitListVersion, "a bag keeps its version")
	assert.Len(t, bag.Pouches, 2)
	s.as(quartermaster, "PATCH", "/bags/KD7-442").set("If-Match", "*").json(`{"kit_list_version":0}`).want(200)
	assert.Equal(t, 3, s.bag().KitListVersion, "until a quartermaster moves it")
}

// TestChangeKeepsTheRest leaves the fields that a change does not name.
func TestChangeKeepsTheRest(t *testing.T) {
	w := newWorld(t)
	made := decoded[inventory.Item](w.as(quartermaster, "POST",
		"/items").json(`{"code":"PULSE","name":"Pulse oximeter","category":"diagnostic","unit":"each","tracked_by":"serial",
		"life":{"made_months":60,"inspect_days":365},"inspection_points":["battery","probe"],"lead_time_days":7}`).want(201))
	got := decoded[inventory.Item](w.as(quartermaster, "PATCH", "/items/PULSE").set("If-Match",
		`"1"`).json(`{"life":{"inspect_days":180},"dated":false,"lead_time_days":0}`).want(200))
	want := made
	want.Life.InspectDays, want.LeadTimeDays, want.Version = 180, 0, 2
	assert.Equal(t, want, got)
	p := w.as(quartermaster, "PATCH", "/items/PULSE").set("If-Match", `"2"`).json(`{"category":"gadget"}`).want(422).
		problem()
	assert.Equal(t, "body.category", p.Errors[0].Location)
	assert.Equal(t, want, decoded[inventory.Item](w.as(crew, "GET", "/items/pulse").want(200)))
	w.as(administrator, "POST", "/categories").json(`{"name":"gadget"}`).want(201)
	w.as(quartermaster, "PATCH", "/items/PULSE").set("If-Match", `"2"`).json(`{"category":"gadget"}`).want(200)
	assert.Contains(t, string(w.as(crew, "GET", "/categories").want(200).body), `{"name":"gadget"}`)
}

// TestTakenOff lets crew take a bag off the run and a quartermaster put it
// back.
func TestTakenOff(t *testing.T) {
	s := newPacked(t)
	patch := func(role inventory.Role, body string) *call {
		return s.as(role, "PATCH", "/bags/KD7-442").set("If-Match", fmt.Sprintf(`"%d"`, s.bag().Version)).json(body)
	}
	patch(crew, `{"name":"Mine"}`).want(403)
	patch(crew, `{"out_of_service":{"reason":"zip broken"},"priority":1}`).want(403)
	patch(manager, `{"out_of_service":{"reason":"zip broken"}}`).want(403)
	patch(crew, `{"out_of_service":{"reason":"zip broken"}}`).want(200)
	bag := s.bag()
	assert.Equal(t, inventory.OutOfService, bag.State)
	assert.Equal(t, "crew N1", bag.OutOfService.By)
	patch(crew, `{"out_of_service":{"reason":""}}`).want(403)
	patch(crew, `{"out_of_service":null}`).want(422)
	patch(quartermaster, `{"out_of_service":{"reason":""}}`).want(200)
	assert.Equal(t, inventory.ReadyWithGaps, s.state())
}
