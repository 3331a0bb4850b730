package api_test

import (
	"encoding/json"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stowkeeper/inventory"
	"stowkeeper/inventory/stock"
)

// packVector is a row of the vectors in testdata/barcodes, of either scheme.
// Each names its source there.
type packVector struct {
	ID, Form, Rule, Input, Today string
	Expect                       struct {
		Error       string
		AIs         map[string]string
		Expiry      string
		ExpiryTime  string `json:"expiry_time"`
		Made        string
		BestBefore  string `json:"best_before"`
		Lic, Pcn    string
		UoM         *json.Number
		Lot, Serial string
		Qty         int
	}
}

// TestVectors puts every published vector through the API, and finds nothing
// changed by it.
func TestVectors(t *testing.T) {
	w := newWorld(t)
	tried := 0
	for _, file := range []string{"gs1-vectors.json", "hibc-vectors.json"} {
		text, err := os.ReadFile(filepath.Join("..", "testdata", "barcodes", file))
		require.NoError(t, err)
		var vectors []packVector
		require.NoError(t, json.Unmarshal(text, &vectors))
		for _, v := range vectors {
			tried++
			w.tryVector(v, strings.HasPrefix(file, "hibc"))
		}
	}
	assert.Equal(t, 129+44, tried)
	assert.Empty(t, decoded[listOf[inventory.Product]](w.as(crew, "GET", "/products").want(200)).Data)
}

func (w *world) tryVector(v packVector, hibc bool) {
	w.t.Helper()
	w.now = began
	if v.Today != "" {
		day, err := time.Parse(time.DateOnly, v.Today)
		require.NoError(w.t, err)
		w.now = inventory.InstantOf(day.Add(12 * time.Hour))
	}
	// A day far away has no live token, so each vector has one of its own.
	token, err := w.svc.Account.CreateToken(w.t.Context(), setup, inventory.Token{Name: "scanner for " + v.ID, Role: crew,
		Stations: []string{"N1"}})
	require.NoError(w.t, err)
	body, err := json.Marshal(map[string]string{"text": v.Input})
	require.NoError(w.t, err)
	a := w.with(token, "POST", "/barcodes").json(string(body)).do()
	if v.Expect.Error != "" && v.Rule != "pairing" {
		if assert.Equal(w.t, 422, a.status, "%s: %s", v.ID, a.body) {
			p := a.problem()
			require.NotEmpty(w.t, p.Errors, v.ID)
			assert.Equal(w.t, "body.text", p.Errors[0].Location, v.ID)
			assert.Regexp(w.t, `^position \d+(, \([0-9A-Za-z]+\))?: .`, p.Errors[0].Message, v.ID)
		}
		return
	}
	if !assert.Equal(w.t, 200, a.status, "%s: %s", v.ID, a.body) {
		return
	}
	f := decoded[inventory.PackFacts](a)
	refused := slices.ContainsFunc(f.Warnings, func(x inventory.PackWarning) bool {
		return x.Kind == "needs" ||
			x.Kind == "excludes"
	})
	if v.Rule == "pairing" { // a strict checker refuses what is a warning here
		assert.Equal(w.t, v.Expect.Error != "", refused, v.ID)
		return
	}
	assert.Equal(w.t, v.Expect.Expiry, f.Through.String(), v.ID)
	assert.Equal(w.t, v.Expect.ExpiryTime, f.EndTime, v.ID)
	assert.Equal(w.t, v.Expect.Expiry != "", f.EndWording == inventory.WordExpiry, v.ID)
	if hibc {
		unit := ""
		if v.Expect.UoM != nil {
			unit = v.Expect.UoM.String()
		}
		assert.Equal(w.t, []any{v.Expect.Lic + v.Expect.Pcn + unit, v.Expect.Lot, v.Expect.Serial, v.Expect.Qty,
			v.Expect.Made},
			[]any{f.ProductCode, f.BatchNo, f.Serial, f.Qty, f.MadeOn.String()}, v.ID)
		return
	}
	assert.Equal(w.t, v.Expect.AIs, f.Elements, v.ID)
	assert.Equal(w.t, []any{v.Expect.AIs["10"], v.Expect.AIs["21"], v.Expect.BestBefore}, []any{f.BatchNo, f.Serial,
		f.BestBefore.String()}, v.ID)
	if v.Expect.Made != "" {
		assert.Equal(w.t, v.Expect.Made, f.MadeOn.String(), v.ID)
	}
}

// TestReceiveByBarcode receives packs by their codes alone.
func TestReceiveByBarcode(t *testing.T) {
	s := newStocked(t)
	const pack = `{"place":"N1-STORE","packs":3,"barcode":"01095212345432131728063010G-7A\u001d21P0001"}`
	p := s.as(quartermaster, "POST", "/receipts").json(pack).want(422).problem()
	require.Len(t, p.Errors, 1)
	assert.Equal(t, "body.barcode", p.Errors[0].Location)
	assert.Contains(t, p.Errors[0].Message, "add a product with gtin")

	made := s.as(quartermaster, "POST", "/products").
		json(`{"item":"GAUZE-10","gtin":"9521234543213","pack_size":10,"supplier":"Example Supplies"}`).want(201)
	s.as(quartermaster, "POST", "/products").json(`{"item":"TQ-ADULT","gtin":"09521234543213","pack_size":1}`).want(422)
	f := decoded[inventory.PackFacts](s.as(crew, "POST", "/barcodes").json(`{"text":"]d20109521234543213"}`).want(200))
	require.Len(t, f.Products, 1)
	assert.Equal(t, decoded[inventory.Product](made), f.Products[0])

	l := decoded[stock.LotSummary](s.as(quartermaster, "POST", "/receipts").json(pack).want(201))
	assert.Equal(t, []any{"GAUZE-10", "G-7A", "", "2028-06-30", inventory.WordExpiry, f.Products[0].ID, "2028-06-30"},
		[]any{l.Item, l.BatchNo, l.Serial, l.EndPrinted, l.EndWording, l.Product, l.UsableThrough.String()},
		"a lot is not tracked by its packs' serial numbers")
	assert.Equal(t, 30, l.Where[0].Qty)

	for _, tt := range []struct {
		name, body string
		status     int
		location   string
	}{
		{"expired", `{"place":"N1-STORE","packs":1,"barcode":"01095212345432131726063010OLD"}`, 409, ""},
		{"the same batch with another date", `{"place":"N1-STORE","packs":1,"barcode":"01095212345432131728073110G-7A"}`, 409,
			""},
		{"a date that does not exist", `{"place":"N1-STORE","packs":1,"barcode":"01095212345432131728023110G-7A"}`, 422,
			"body.barcode"},
		{"no batch number", `{"place":"N1-STORE","packs":1,"barcode":"010952123454321317280630"}`, 422, "body.batch_no"},
		{"another lot beside it",
			`{"place":"N1-STORE","packs":1,"batch_no":"G-8","barcode":"01095212345432131728063010G-7A"}`, 422, "body.batch_no"},
		{"best before alone", `{"place":"N1-STORE","packs":1,"barcode":"01095212345432131528063010G-9"}`, 422,
			"body.end_printed"},
		{"no packs", `{"place":"N1-STORE","barcode":"01095212345432131728063010G-7A"}`, 422, "body.packs"},
		{"packs and units", `{"place":"N1-STORE","packs":1,"qty":10,"barcode":"01095212345432131728063010G-7A"}`, 422,
			"body.packs"},
		{"another count", `{"place":"N1-STORE","packs":1,"barcode":"0109521234543213172806303012\u001d10G-7A"}`, 422,
			"body.packs"},
		{"no product", `{"place":"N1-STORE","packs":1,"barcode":"1728063010G-7A"}`, 422, "body.barcode"},
		{"packs without a code", `{"place":"N1-STORE","packs":1,"item":"GAUZE-10","batch_no":"X","end_printed":"2029-01"}`,
			422, "body.packs"},
	} {
		p := s.as(quartermaster, "POST", "/receipts").json(tt.body).want(tt.status).problem()
		if tt.location != "" && assert.Len(t, p.Errors, 1, tt.name) {
			assert.Equal(t, tt.location, p.Errors[0].Location, tt.name)
		}
	}
	// What the code leaves out is given beside it.
	s.as(quartermaster, "POST", "/receipts").json(`{"place":"N1-STORE","packs":1,"barcode":"0109521234543213",` +
		`"batch_no":"G-9","end_printed":"2028-06","end_wording":"use_by"}`).want(201)
	corrected := `{"place":"N1-STORE","packs":1,"barcode":"01095212345432131728073110G-7A","on_conflict":"correct",` +
		`"correction_reason":"looked at the pack"}`
	again := decoded[stock.LotSummary](s.as(quartermaster, "POST", "/receipts").json(corrected).want(201))
	assert.Equal(t, []any{l.ID, "2028-07-31", 40}, []any{again.ID, again.EndPrinted, again.Where[0].Qty})
	s.as(quartermaster, "POST",
		"/receipts").json(`{"place":"N1-TRAINING","packs":1,"barcode":"01095212345432131726063010OLD"}`).want(201)
}
