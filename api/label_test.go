package api_test

import (
	"fmt"
	"log/slog"
	"strings"
	"testing"

	"github.com/gin-gonic/gin"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stowkeeper/api"
	"stowkeeper/inventory"
)

// withDevices is a packed world that also has a device in its store and one for
// training.
func withDevices(t *testing.T) (s stocked, issue, training int64) {
	t.Helper()
	s = newPacked(t)
	s.as(quartermaster, "POST",
		"/items").json(`{"code":"SUCTION","name":"Suction unit","category":"tool","unit":"each","tracked_by":"serial"}`).
		want(201)
	issue = s.receive(`{"place":"N1-STORE","item":"SUCTION","serial":"SN-1","qty":1}`)
	training = s.receive(`{"place":"N1-TRAINING","item":"SUCTION","serial":"SN-2","qty":1}`)
	return s, issue, training
}

func TestLabelPlan(t *testing.T) {
	s, issue, training := withDevices(t)
	plan := func(query string) api.LabelPlan {
		return decoded[api.LabelPlan](s.as(manager, "GET", "/labels?"+query).want(200))
	}
	assert.Equal(t, api.LabelPlan{Kind: "bag", Sheet: "a4-3x7", Labels: 1, Pages: 1, ModuleMM: 0.92, DistanceCM: 27,
		Warnings: []api.LabelWarning{}}, plan(""))
	assert.Equal(t, 2, plan("bag=KD7-442,kd7-442&start=21").Pages)
	assert.Equal(t, 2, plan("kind=shelf&place=n1-store&item=tq-adult&item=GAUZE-10").Labels)
	assert.Equal(t, 3, plan("kind=shelf&place=N1-STORE").Labels, "what lies there")
	assert.Equal(t, 2, plan("kind=device&station=N1").Labels)
	assert.Equal(t, 1, plan(fmt.Sprintf("kind=device&device=%d", training)).Labels)
	assert.Equal(t, 2, plan(fmt.Sprintf("device=%d,%d", issue, training)).Labels, "naming devices is enough")
	assert.Equal(t, 3, plan(fmt.Sprintf("bag=KD7-442&device=%d&device=%d", issue, training)).Labels, "bags, then devices")
	assert.Greater(t, plan("kind=card&sheet=a4-2x2").DistanceCM, plan("kind=card").DistanceCM)
	assert.NotEmpty(t, plan("kind=card&sheet=letter-3x10").Warnings)

	for query, location := range map[string]string{
		"kind=poster": "query.kind", "sheet=a3": "query.sheet", "start=22": "query.start", "offset_x=6": "query.offset_x",
		"offset_y=NaN": "query.offset_y",
		"kind=shelf":   "query.place", "kind=shelf&place=N1-STORE&item=NONE": "query.item",
		"kind=device&device=999": "query.device", "kind=device&device=x": "query.device",
		fmt.Sprintf("kind=device&device=%d&device=%d", issue, s.gauze): "query.device", "printer=NOWHERE": "query.station",
	} {
		a := s.as(administrator, "GET", "/labels?"+query)
		p := a.want(422).problem()
		require.NotEmpty(t, p.Errors, query)
		assert.Equal(t, location, p.Errors[0].Location, query)
	}
	s.as(manager, "GET", "/labels?printer=S2").want(403)
}

// An empty bag has nothing to say on a card: the problem names the bag.
func TestCardOfAnEmptyBag(t *testing.T) {
	s := newStocked(t)
	p := s.as(manager, "GET", "/labels.pdf?kind=card&bag=KD7-442").want(422).problem()
	assert.Equal(t, []api.FieldProblem{{Location: "query.bag",
		Message: "label 1: fill this in"}}, p.Errors)
}

// TestEveryKindOfLabel asks for each kind as PDF and as a picture for the
// screen, and reads the contents card.
func TestEveryKindOfLabel(t *testing.T) {
	s, _, _ := withDevices(t)
	for kind, words := range map[string]string{"kind=bag": "KD7-442", "kind=card": "KD7-442",
		"kind=shelf&place=N1-STORE": "SUCTION", "kind=device": "SN-2"} {
		pdf := s.as(quartermaster, "GET", "/labels.pdf?"+kind).want(200)
		assert.True(t, strings.HasPrefix(string(pdf.body), "%PDF-"), kind)
		svg := s.as(quartermaster, "GET", "/labels.svg?"+kind).want(200)
		assert.Equal(t, "image/svg+xml; charset=utf-8", svg.header.Get("Content-Type"))
		assert.Contains(t, string(svg.body), "<title>a4-3x7, page 1 of 1</title>", "%s %s", kind, words)
		s.as(quartermaster, "GET", "/labels.svg?page=2&"+kind).want(422)
	}
	card := s.as(manager, "GET", "/bags/KD7-442/label.svg?kind=card&sheet=a4-2x2").want(200)
	for _, words := range []string{"<title>contents card: ", "A-100", "31 Aug 2027", "Gauze swab 10 cm"} {
		assert.Contains(t, string(card.body), words)
	}
	assert.Contains(t, string(card.body), "Last full check ____", "none was made")
}

// What is remembered for a station and a sheet is used unless the request says
// otherwise: by the station of the labels, or by the one that prints.
func TestOffsetsAreRemembered(t *testing.T) {
	s := newPacked(t)
	get := func(path string) string { return string(s.as(administrator, "GET", path).want(200).body) }
	plain := get("/labels.pdf")
	kept := s.as(manager, "PUT", "/label-sheets/a4-3x7/offset").json(`{"station":"n1","offset_x":1.234,"offset_y":-0.5}`).
		want(200)
	assert.Equal(t, inventory.SheetOffset{Station: "N1", Sheet: "a4-3x7", X: 1.23, Y: -0.5},
		decoded[inventory.SheetOffset](kept))
	assert.Equal(t, get("/labels.pdf?offset_x=1.23&offset_y=-0.5&printer=S2"), get("/labels.pdf"))
	assert.Equal(t, plain, get("/labels.pdf?offset_x=0&offset_y=0"), "zero is an offset too")
	assert.Equal(t, plain, get("/labels.pdf?printer=S2"))
	assert.Equal(t, get("/labels.pdf?sheet=a4-2x4&offset_x=0&offset_y=0"), get("/labels.pdf?sheet=a4-2x4"),
		"another sheet")
	assert.Equal(t, get("/labels/calibration.pdf?offset_x=1.23&offset_y=-0.5"), get("/labels/calibration.pdf?printer=N1"))
	assert.NotEqual(t, get("/labels/calibration.pdf"), get("/labels/calibration.pdf?printer=N1"))

	list := decoded[listOf[api.LabelSheet]](s.as(manager, "GET", "/label-sheets?station=N1").want(200)).Data
	require.Len(t, list, 7)
	assert.Equal(t, api.LabelSheet{Name: "a4-3x7", Text: "A4, 3 × 7 labels of 63.5 × 38.1 mm", Columns: 3, Rows: 7,
		WidthMM: 63.5, HeightMM: 38.1, OffsetX: 1.23, OffsetY: -0.5}, list[0])
	assert.Zero(t, decoded[listOf[api.LabelSheet]](s.as(manager, "GET", "/label-sheets").want(200)).Data[0].OffsetX)

	s.as(manager, "PUT", "/label-sheets/a3/offset").json(`{"station":"N1","offset_x":0,"offset_y":0}`).want(404)
	s.as(manager, "PUT", "/label-sheets/a4-3x7/offset").json(`{"station":"S2","offset_x":0,"offset_y":0}`).want(403)
	s.as(manager, "PUT", "/label-sheets/a4-3x7/offset").json(`{"station":"N1","offset_x":5.5,"offset_y":0}`).want(422)
	s.as(crew, "PUT", "/label-sheets/a4-3x7/offset").json(`{"station":"N1","offset_x":0,"offset_y":0}`).want(403)
}

// A combination that cannot be read is refused with the reason and the nearest
// one that can.
func TestLabelThatCannotBeRead(t *testing.T) {
	s := newPacked(t)
	s.engine = gin.New()
	api.Mount(s.engine, s.svc, api.Options{BaseURL: "https://" + strings.Repeat("a-department.",
		8) + "example.org/equipment", Logger: slog.New(slog.DiscardHandler)})
	for _, path := range []string{"/labels", "/labels.pdf", "/labels.svg"} {
		p := s.as(manager, "GET", path+"?sheet=letter-3x10").want(422).problem()
		require.Len(t, p.Errors, 1)
		assert.Equal(t, "query.sheet", p.Errors[0].Location)
		assert.Regexp(t, `^label 1: QR code too dense: 0\.[0-4]\d mm, at least 0\.50 mm needed; `+
			`use sheet letter-2x5 \(101\.6 × 50\.8 mm\)$`, p.Errors[0].Message)
		s.as(manager, "GET", path+"?sheet=letter-2x5").want(200)
	}
}

// A bag that is retired leaves the lists; its page stays and names what took
// its place.
func TestRetiredBag(t *testing.T) {
	s := newStocked(t)
	s.as(quartermaster, "POST", "/bags").json(strings.Replace(responseBag, "KD7-442", "KD7-443", 1)).want(201)
	retire := func(body string) *call {
		return s.as(quartermaster, "PATCH", "/bags/KD7-442").set("If-Match", "*").json(body)
	}
	s.as(crew, "PATCH", "/bags/KD7-442").set("If-Match", "*").json(`{"retired":true}`).want(403)
	assert.Equal(t, "body.successor", retire(`{"retired":true,"successor":"KD7-442"}`).want(422).problem().
		Errors[0].Location)
	b := decoded[inventory.Bag](retire(`{"retired":true,"successor":"kd7-443"}`).want(200))
	assert.Equal(t, []any{s.now, string(quartermaster) + " N1", "KD7-443"}, []any{b.RetiredAt, b.RetiredBy, b.Successor})

	sheet := s.bag()
	assert.Equal(t, []any{inventory.OutOfService, "Retired: use KD7-443 instead", "KD7-443"}, []any{sheet.State,
		sheet.Headline, sheet.Successor})
	bags := func(query string) (out []string) {
		for _, b := range decoded[listOf[inventory.BagSummary]](s.as(crew, "GET", "/bags"+query).want(200)).Data {
			out = append(out, b.Code)
		}
		return out
	}
	assert.Equal(t, []string{"KD7-443"}, bags(""))
	assert.Equal(t, []string{"KD7-442", "KD7-443"}, bags("?retired=true"))
	assert.Contains(t, s.as(manager, "GET", "/labels.pdf?bag=KD7-442").want(409).problem().Detail, "retired")
	s.as(quartermaster, "POST", "/bags/KD7-442/restocks").json(`{"seal_set":"A-1"}`).want(409)
	retire(`{"retired":false}`).want(200)
	assert.Len(t, bags(""), 2)
}

// A wrong code is answered with the nearest that there are.
func TestWrongBagCode(t *testing.T) {
	s := newStocked(t)
	for _, rt := range []string{"/bags/KD7-424", "/bags/KD7-44/readiness", "/bags/D7-442/checks",
		"/labels.pdf?bag=KD7442"} {
		assert.Equal(t, "no bag has this code; the nearest: KD7-442", s.as(manager, "GET", rt).want(404).problem().Detail, rt)
	}
	assert.Equal(t, "no bag has this code", s.as(manager, "GET", "/bags/SOMETHING-ELSE").want(404).problem().Detail)
	other := s.token(crew, "S2")
	assert.Equal(t, "no bag has this code", s.with(other, "GET", "/bags/KD7-424").want(404).problem().Detail,
		"of other stations nothing is told")
}
