package api_test

import (
	"bytes"
	"encoding/csv"
	"encoding/xml"
	"fmt"
	"image/png"
	"io"
	"log/slog"
	"strings"
	"testing"

	"github.com/gin-gonic/gin"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stowkeeper/api"
)

// TestShortagesCSV reads the report back with a CSV reader, and finds what a
// spreadsheet would run made harmless.
func TestShortagesCSV(t *testing.T) {
	s := newStocked(t)
	s.as(quartermaster, "POST",
		"/kit-lists").
		json(
			`{"code":"ODD","name":"Odd pouches","lines":[
		{"item":"GAUZE-10","pouch":"=HYPERLINK(\"x\"), top","par":1,"minimum":1},
		{"item":"GAUZE-10","pouch":"+side","par":1,"minimum":0},{"item":"GAUZE-10","pouch":"-1+1","par":1,"minimum":0},
		{"item":"TQ-ADULT","pouch":"@home","par":9,"minimum":0},
		{"item":"GAUZE-10","pouch":"two \"words\"","par":1,"minimum":0},
		{"item":"GAUZE-10","pouch":"\tout","par":1,"minimum":0}]}`).want(201)
	s.as(quartermaster, "POST", "/bags").json(`{"code":"ODD-1","station":"N1","name":"Odd","kit_list":"ODD"}`).want(201)
	a := s.as(manager, "GET", "/reports/shortages.csv").want(200)
	assert.Equal(t, "text/csv; charset=utf-8", a.header.Get("Content-Type"))
	assert.Contains(t, a.header.Get("Content-Disposition"), "shortages-rows.csv")
	assert.True(t, strings.HasPrefix(string(a.body),
		"station,bag,item,pouch,par,minimum,usable,shortfall,below_minimum,critical,kit_list\r\n"), "%s", a.body)
	rows, err := csv.NewReader(bytes.NewReader(a.body)).ReadAll()
	require.NoError(t, err)
	var pouches []string
	for _, r := range rows[1:] {
		pouches = append(pouches, r[3])
	}
	assert.Equal(t, []string{"Front", "Main", `'=HYPERLINK("x"), top`, "'+side", "'-1+1", "'@home", `two "words"`,
		"'\tout"}, pouches)
	assert.Equal(t, []string{"N1", "KD7-442", "TQ-ADULT", "Front", "2", "1", "0", "2", "true", "true", ""}, rows[1])

	fill, err := csv.NewReader(bytes.NewReader(s.as(manager, "GET", "/reports/shortages.csv?part=fill").want(200).body)).
		ReadAll()
	require.NoError(t, err)
	assert.Equal(t, []string{"KD7-442", "TQ-ADULT", fmt.Sprint(s.tourniquets), "T-01", "N1-STORE", "1", "restock",
		"2030-05-31", "false", ""}, fill[1])
	buy, err := csv.NewReader(bytes.NewReader(s.as(manager, "GET", "/reports/shortages.csv?part=buy&station=N1").want(200).
		body)).ReadAll()
	require.NoError(t, err)
	assert.Equal(t, [][]string{{"station", "item", "qty", "packs", "pack_size", "product", "covered"},
		{"N1", "TQ-ADULT", "8", "0", "0", "0", "0"}}, buy)
}

func TestLabels(t *testing.T) {
	s := newPacked(t)
	svg := s.as(manager, "GET", "/bags/kd7-442/label.svg").want(200)
	assert.Equal(t, "image/svg+xml; charset=utf-8", svg.header.Get("Content-Type"))
	dec := xml.NewDecoder(bytes.NewReader(svg.body))
	for {
		if _, err := dec.Token(); err == io.EOF {
			break
		} else {
			require.NoError(t, err)
		}
	}
	assert.Contains(t, string(svg.body), "KD7-442")

	pic, err := png.Decode(bytes.NewReader(s.as(manager, "GET", "/bags/KD7-442/label.png?dpi=300&sheet=a4-2x4").want(200).
		body))
	require.NoError(t, err)
	assert.InDelta(t, 99.1/25.4*300, pic.Bounds().Dx(), 1, "the width of the sheet's label at 300 dots an inch")

	for _, path := range []string{"/labels.pdf?bag=KD7-442&sheet=a4-3x7&start=4", "/labels.pdf",
		"/labels.pdf?bag=KD7-442,KD7-442&bag=KD7-442&outline=true", "/labels.pdf?station=N1&offset_x=-1.5"} {
		pdf := s.as(quartermaster, "GET", path).want(200)
		assert.Equal(t, "application/pdf", pdf.header.Get("Content-Type"))
		assert.True(t, bytes.HasPrefix(pdf.body, []byte("%PDF-")), path)
	}
	s.as(manager, "GET", "/labels.pdf?station=S2").want(403)
}

// TestLabelsNeedTheAddress refuses to print what would lead nowhere.
func TestLabelsNeedTheAddress(t *testing.T) {
	s := newStocked(t)
	s.engine = gin.New()
	api.Mount(s.engine, s.svc, api.Options{Logger: slog.New(slog.DiscardHandler)})
	assert.Contains(t, s.as(manager, "GET", "/bags/KD7-442/label.svg").want(409).problem().Detail, "base URL")
}

func TestOpenAPIIsServed(t *testing.T) {
	w := newWorld(t)
	a := w.as(crew, "GET", "/openapi.json").want(200)
	assert.Equal(t, "application/openapi+json", a.header.Get("Content-Type"))
	assert.NotContains(t, string(a.body), "$schema")
	assert.NotContains(t, string(a.body), "unpkg")
	w.as(crew, "GET", "/docs").want(404)
	w.as(crew, "GET", "/openapi.yaml").want(404)
	for _, h := range []string{"Link", "X-Content-Type-Options", "Cache-Control"} {
		want := map[string]string{"X-Content-Type-Options": "nosniff", "Cache-Control": "no-store"}[h]
		assert.Equal(t, want, a.header.Get(h), h)
	}
}
