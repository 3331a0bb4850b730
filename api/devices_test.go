package api_test

import (
	"bytes"
	"fmt"
	"image/png"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stowkeeper/api"
	"stowkeeper/inventory"
	"stowkeeper/inventory/lists"
	"stowkeeper/inventory/stock"
)

const (
	strapItem = `{"code":"TQ-WIND","name":"tourniquet, windlass, adult","category":"tourniquet","unit":"each",
		"tracked_by":"serial","single_use":true,
		"life":{"stowed_months":60,"exposed_days":90,"inspect_days":90,"training_cycles":200},
		"inspection_points":["bar straight","webbing whole"],"inspection_notes":["time patch"]}`
	splintItem = `{"code":"SPLINT","name":"splint, traction","category":"immobilisation","unit":"each",` +
		`"tracked_by":"serial","inspection_points":["frame whole"]}`
	washItem = `{"code":"WASH","name":"eyewash","category":"medicine","unit":"each","tracked_by":"lot","dated":true,` +
		`"life":{"opened_days":28}}`
	grabList = `{"code":"GRAB","name":"Grab bag","lines":[{"item":"TQ-WIND","par":2,"minimum":1,"critical":true},` +
		`{"item":"WASH","par":2}]}`
	grabBag      = `{"code":"B-1","station":"N1","name":"Grab bag 1","kit_list":"GRAB","priority":2}`
	otherBag     = `{"code":"B-2","station":"N1","name":"Grab bag 2","kit_list":"GRAB","priority":1}`
	trainingBag  = `{"code":"T-1","station":"N1","name":"Training bag","kit_list":"GRAB","purpose":"training"}`
	belt         = `{"code":"BELT","station":"N1","kind":"carrier","purpose":"issue","name":"Belt"}`
	trainingBelt = `{"code":"T-BELT","station":"N1","kind":"carrier","purpose":"training","name":"Training belt"}`
	repair       = `{"code":"REPAIR","station":"N1","kind":"away","purpose":"issue","name":"In repair"}`
	trainingAway = `{"code":"T-REPAIR","station":"N1","kind":"away","purpose":"training","name":"In repair, training"}`
)

// equipped is a world with devices and places of every kind.
type equipped struct{ stocked }

func newEquipped(t *testing.T) equipped {
	t.Helper()
	return equip(newWorld(t))
}

func equip(w *world) equipped {
	w.t.Helper()
	for path, bodies := range map[string][]string{"/items": {strapItem, splintItem, washItem}, "/places": {belt,
		trainingBelt, repair, trainingAway}} {
		for _, body := range bodies {
			w.as(quartermaster, "POST", path).json(body).want(201)
		}
	}
	w.as(quartermaster, "POST", "/kit-lists").json(grabList).want(201)
	for _, body := range []string{grabBag, otherBag, trainingBag} {
		w.as(quartermaster, "POST", "/bags").json(body).want(201)
	}
	return equipped{stocked{world: w}}
}

// strap receives a tourniquet into a place.
func (s equipped) strap(serial, place string) int64 {
	s.t.Helper()
	return s.receive(fmt.Sprintf(`{"place":%q,"item":"TQ-WIND","serial":%q,"qty":1}`, place, serial))
}

// move posts one movement of a device and returns the lot that it is in then.
func (s equipped) move(lot int64, from, to, reason string) int64 {
	s.t.Helper()
	return decoded[listOf[inventory.Movement]](s.as(quartermaster, "POST", "/movements").json(oneMove(lot, from, to,
		reason)).want(201)).Data[0].IntoLotID
}

func oneMove(lot int64, from, to, reason string) string {
	cause := map[string]string{"disposed": `,"cause":"damaged"`, "lost": `,"cause":"missing"`}[reason]
	return fmt.Sprintf(`{"movements":[{"lot_id":%d,"qty":1,"from":%q,"to":%q,"reason":%q%s}]}`, lot, from, to, reason,
		cause)
}

func (s equipped) device(lot int64) stock.DeviceStory {
	s.t.Helper()
	return decoded[stock.DeviceStory](s.as(quartermaster, "GET", fmt.Sprintf("/devices/%d", lot)).want(200))
}

func (s equipped) bagNamed(code string) api.BagSheet {
	s.t.Helper()
	return decoded[api.BagSheet](s.as(crew, "GET", "/bags/"+code).want(200))
}

// TestDeviceThroughTheAPI takes one device through its life.
func TestDeviceThroughTheAPI(t *testing.T) {
	s := newEquipped(t)
	first := s.strap("X-1", "N1-STORE")
	stowed := s.move(first, "N1-STORE", "B-1", "stow")
	s.strap("X-2", "N1-STORE")
	s.pass(time.Hour)

	inspections := fmt.Sprintf("/devices/%d/inspections", first)
	passed := decoded[inventory.Inspection](s.as(crew, "POST", inspections).key("i1").
		json(`{"points":[{"point":"bar straight","pass":true},{"point":"webbing whole","pass":true},{"point":"time patch",` +
			`"pass":false,"note":"gone"}],"note":"at the shift's start"}`).want(201))
	assert.True(t, passed.Passed, "a note point does not fail it")
	again := s.as(crew, "POST", inspections).key("i1").
		json(`{"points":[{"point":"bar straight","pass":true},{"point":"webbing whole","pass":true},{"point":"time patch",` +
			`"pass":false,"note":"gone"}],"note":"at the shift's start"}`).want(201)
	assert.Equal(t, "true", again.header.Get("Idempotent-Replay"))
	assert.Len(t, s.device(stowed).Inspections, 1, "once")

	failed := decoded[inventory.Inspection](s.as(crew, "POST",
		inspections).json(`{"points":[{"point":"webbing whole","pass":false}]}`).want(201))
	assert.False(t, failed.Passed)
	d := s.device(first)
	assert.Equal(t, []any{stowed, "in quarantine", "N1-QUARANTINE"}, []any{d.ID, d.Standing.String(),
		d.Where[0].Place})
	assert.Equal(t, inventory.NotReady, s.bagNamed("B-1").State)
	open := decoded[listOf[inventory.Observation]](s.as(quartermaster, "GET", "/observations?open=true&bag=B-1").want(200))
	require.Len(t, open.Data, 1)
	assert.Equal(t, inventory.SawFailedPoint, open.Data[0].Kind)

	p := s.as(quartermaster, "POST", "/movements").json(oneMove(stowed, "N1-QUARANTINE", "N1-STORE", "release")).want(409).
		problem()
	assert.Contains(t, p.Detail, "last inspection failed")
	s.pass(time.Hour)
	released := decoded[inventory.Inspection](s.as(quartermaster, "POST", inspections).
		json(
			`{"points":[{"point":"bar straight","pass":true},{"point":"webbing whole","pass":true}],"release_to":"n1-store"}`).
		want(201))
	assert.True(t, released.Passed)
	assert.Equal(t, "N1-STORE", s.device(first).Where[0].Place)

	training := s.move(stowed, "N1-STORE", "N1-TRAINING", "to_training")
	class := decoded[inventory.TrainingUse](s.as(quartermaster, "POST", fmt.Sprintf("/devices/%d/training-cycles",
		training)).json(`{"cycles":40,"class":"spring"}`).want(201))
	assert.Equal(t, 40, class.Cycles)
	d = s.device(first)
	assert.Equal(t, []any{40, "fit for training only", true}, []any{d.Cycles, d.Standing.String(), d.Training})
	assert.Equal(t, []int{5, 3, 1}, []int{len(d.History), len(d.Inspections), len(d.TrainingUses)})
	assert.Equal(t, 200, d.Life.TrainingCycles)
	assert.Len(t, decoded[stock.DeviceStory](s.as(crew, "GET", fmt.Sprintf("/devices/%d", first)).want(200)).History, 0,
		"crew do not read the history")

	all := decoded[listOf[stock.DeviceSummary]](s.as(crew, "GET", "/devices?limit=1&item=tq-wind&station=N1").want(200))
	require.Len(t, all.Data, 1)
	next := decoded[listOf[stock.DeviceSummary]](s.as(crew, "GET", "/devices?limit=1&item=tq-wind&station=N1&cursor="+
		all.NextCursor).want(200))
	assert.NotEqual(t, all.Data[0].Serial, next.Data[0].Serial)
	assert.Empty(t, next.NextCursor)
	for query, want := range map[string]int{"serial=X-1": 1, "serial=X-3": 0, "place=N1-TRAINING": 1, "item=SPLINT": 0,
		"due_before=2027-09-13": 2, "due_before=2027-09-12": 0} {
		assert.Len(t, decoded[listOf[stock.DeviceSummary]](s.as(crew, "GET", "/devices?"+query).want(200)).Data, want, query)
	}
}

func TestDeviceProblems(t *testing.T) {
	s := newEquipped(t)
	strap := s.strap("X-1", "N1-STORE")
	wash := s.receive(
		`{"place":"N1-STORE","item":"WASH","batch_no":"W1","end_printed":"2029-01","end_wording":"expiry","qty":5}`)
	at := func(lot int64, what string) string { return fmt.Sprintf("/devices/%d/%s", lot, what) }
	s.as(crew, "GET", at(wash, "")[:len(at(wash, ""))-1]).want(404)
	s.as(crew, "GET", "/devices/999").want(404)
	s.as(crew, "POST", at(wash, "inspections")).json(`{"points":[{"point":"bar straight","pass":true}]}`).want(409)
	p := s.as(crew, "POST", at(strap, "inspections")).
		json(`{"points":[{"point":"bar straight","pass":true},{"point":"bell rings","pass":true}]}`).want(422).problem()
	assert.ElementsMatch(t, []string{"body.points[1].point", "body.points"}, locations(p))
	s.as(crew, "POST", at(strap, "inspections")).json(
		`{"points":[{"point":"bar straight","pass":true},{"point":"webbing whole","pass":true}],"release_to":"B-1"}`).
		want(403)
	s.as(crew, "POST", at(strap, "training-cycles")).json(`{"cycles":1}`).want(403)
	s.as(quartermaster, "POST", at(strap, "training-cycles")).json(`{"cycles":1}`).want(409)
	s.as(quartermaster, "POST", at(strap, "training-cycles")).json(`{"cycles":0}`).want(422)
	s.as(manager, "POST", at(strap, "inspections")).json(`{"points":[]}`).want(403)
	s.as(crew, "GET", "/devices?due_before=soon").want(422)
	s.as(crew, "GET", "/devices?station=S2").want(403)
	elsewhere := s.token(crew, "S2")
	s.with(elsewhere, "POST", at(strap, "inspections")).json(`{"points":[{"point":"bar straight","pass":false}]}`).
		want(403)
	assert.Empty(t, decoded[listOf[stock.DeviceSummary]](s.with(elsewhere, "GET", "/devices").want(200)).Data)
	s.with(elsewhere, "GET", fmt.Sprintf("/devices/%d", strap)).want(403)
	assert.Empty(t, s.device(strap).Inspections, "what was refused was not kept")
}

func locations(p api.Problem) (out []string) {
	for _, e := range p.Errors {
		out = append(out, e.Location)
	}
	return out
}

// TestCheckWithInspections: a full check carries them.
func TestCheckWithInspections(t *testing.T) {
	s := newEquipped(t)
	one, two := s.move(s.strap("X-1", "N1-STORE"), "N1-STORE", "B-1", "stow"), s.move(s.strap("X-2", "N1-STORE"),
		"N1-STORE", "B-1", "stow")
	body := `{"kind":"full","seen_position":%d,"lines":[{"lot_id":%d,"counted":1},{"lot_id":%d,"counted":1}],
		"inspections":[{"lot_id":%d,"points":[{"point":"bar straight","pass":true},
		{"point":"webbing whole","pass":true}]},{"lot_id":%d,"points":[{"point":"bar straight","pass":false}]}]}`
	c := decoded[inventory.Check](s.as(crew, "POST", "/bags/B-1/checks").key("c1").json(fmt.Sprintf(body,
		s.bagNamed("B-1").Position, one, two, one, two)).want(201))
	assert.Equal(t, inventory.StatusAccepted, c.Status)
	assert.Len(t, c.Inspections, 2)
	assert.Equal(t, "B-1", s.device(one).Where[0].Place)
	assert.Equal(t, "N1-QUARANTINE", s.device(two).Where[0].Place)
	assert.Equal(t, fmt.Sprint("check ", c.ID), s.device(two).Inspections[0].Source)
	sheet := s.bagNamed("B-1")
	assert.Equal(t, inventory.NotReady, sheet.State)
	assert.Equal(t, inventory.MustDay("2027-09-12"), sheet.Pouches[0].Lines[0].Lots[0].InspectionDue)

	p := s.as(crew, "POST", "/bags/B-1/checks").key("c2").
		json(fmt.Sprintf(`{"kind":"full","seen_position":%d,"lines":[{"lot_id":%d,"counted":0,"reason":"missing"}],
		"inspections":[{"lot_id":%d,"points":[{"point":"bar straight","pass":true}]}]}`, sheet.Position, one, one)).
		want(422).problem()
	assert.Equal(t, []string{"body.inspections[0].lot_id"}, locations(p))
}

func TestOpenings(t *testing.T) {
	s := newEquipped(t)
	wash := s.receive(
		`{"place":"N1-STORE","item":"WASH","batch_no":"W1","end_printed":"2029-01","end_wording":"expiry","qty":50}`)
	path := fmt.Sprintf("/lots/%d/openings", wash)
	opened := decoded[stock.LotSummary](s.as(crew, "POST", path).key("o1").json(`{"place":"n1-store","qty":1}`).want(201))
	assert.Equal(t, []any{"2027-07-12", inventory.RuleOpened, wash}, []any{opened.UsableThrough.String(), opened.Rule,
		opened.Parent})
	s.as(crew, "POST", path).key("o1").json(`{"place":"n1-store","qty":1}`).want(201)
	story := decoded[stock.LotStory](s.as(quartermaster, "GET", fmt.Sprintf("/lots/%d", wash)).want(200))
	assert.Equal(t, []stock.AtPlace{{Place: "N1-STORE", Qty: 49}}, story.Where, "one bottle of fifty, once")
	require.Len(t, story.SameBatch, 1)
	assert.Equal(t, []stock.AtPlace{{Place: "N1-STORE", Qty: 1}}, story.SameBatch[0].Where)
	s.as(crew, "POST", path).json(`{"place":"N1-STORE","qty":50}`).want(409)
	assert.Equal(t, []string{"body.place"}, locations(s.as(crew, "POST", path).json(`{"place":"NOWHERE","qty":1}`).
		want(422).problem()))
	s.as(crew, "POST", fmt.Sprintf("/lots/%d/openings", opened.ID)).json(`{"place":"N1-STORE","qty":1}`).want(409)
	s.as(manager, "POST", path).json(`{"place":"N1-STORE","qty":1}`).want(403)
}

func TestInspectionPoints(t *testing.T) {
	s := newEquipped(t)
	offered := decoded[listOf[lists.DefaultPoints]](s.as(crew, "GET", "/inspection-points").want(200))
	require.Len(t, offered.Data, 5)
	assert.Equal(t, "windlass tourniquet", offered.Data[4].Kind)
	assert.Equal(t, lists.WindlassPoints, offered.Data[4].Points)
	rest := decoded[listOf[lists.DefaultPoints]](s.as(crew, "GET", "/inspection-points?limit=4").want(200))
	assert.Len(t, decoded[listOf[lists.DefaultPoints]](s.as(crew, "GET", "/inspection-points?cursor="+rest.NextCursor).
		want(200)).Data, 1)

	it := decoded[inventory.Item](s.as(crew, "GET", "/items/TQ-WIND").want(200))
	assert.Equal(t, []string{"time patch"}, it.InspectionNotes)
	changed := decoded[inventory.Item](s.as(quartermaster, "PATCH", "/items/TQ-WIND").set("If-Match",
		`"1"`).json(`{"inspection_notes":["time patch","sheath"]}`).want(200))
	assert.Equal(t, []string{"time patch", "sheath"}, changed.InspectionNotes)
	assert.Equal(t, []string{"bar straight", "webbing whole"}, changed.InspectionPoints)
}

// TestDeviceLabels: an issue device and a training device, as pictures and on a
// sheet beside bags.
func TestDeviceLabels(t *testing.T) {
	s := newEquipped(t)
	issue, training := s.strap("X-1", "N1-STORE"), s.strap("X-2", "N1-TRAINING")
	drawn := func(lot int64) string {
		a := s.as(manager, "GET", fmt.Sprintf("/devices/%d/label.svg?sheet=a4-2x4", lot)).want(200)
		assert.Equal(t, "image/svg+xml; charset=utf-8", a.header.Get("Content-Type"))
		return string(a.body)
	}
	assert.True(t, strings.Contains(drawn(issue), "X-1"))
	assert.False(t, strings.Contains(drawn(issue), "TRAINING"))
	for _, word := range []string{"training device label", "TRAINING", "Never use on", "X-2"} {
		assert.True(t, strings.Contains(drawn(training), word), word)
	}
	pic, err := png.Decode(bytes.NewReader(s.as(manager, "GET", fmt.Sprintf("/devices/%d/label.png?dpi=300&sheet=a4-2x4",
		training)).want(200).body))
	require.NoError(t, err)
	assert.InDelta(t, 99.1/25.4*300, pic.Bounds().Dx(), 1)
	size := func(query string) int {
		a := s.as(manager, "GET", "/labels.pdf?"+query).want(200)
		assert.Equal(t, "application/pdf", a.header.Get("Content-Type"))
		assert.True(t, bytes.HasPrefix(a.body, []byte("%PDF-")))
		return len(a.body)
	}
	one, two := size(fmt.Sprintf("kind=device&device=%d", issue)), size(fmt.Sprintf("kind=device&device=%d&device=%d",
		issue, training))
	assert.Greater(t, two, one)
	s.as(manager, "GET", "/labels.pdf?kind=device&device=x").want(422)
	s.as(crew, "GET", fmt.Sprintf("/devices/%d/label.svg", issue)).want(403)
	s.as(manager, "GET", fmt.Sprintf("/devices/%d/label.svg?sheet=none", issue)).want(422)
}
