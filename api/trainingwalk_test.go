package api_test

import (
	"cmp"
	"encoding/json"
	"flag"
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"stowkeeper/api"
	"stowkeeper/inventory"
	"stowkeeper/inventory/inventorytest"
	"stowkeeper/inventory/notice"
	"stowkeeper/inventory/stock"
)

// trainingWalk makes requests at random, most of them sensible, and watches
// where the devices are.
type trainingWalk struct {
	equipped
	t        *rapid.T
	lots     []int64           // every lot that a device has been
	serialOf map[int64]string  // by lot
	trained  map[string]bool   // serial numbers that were ever training stock
	used     map[string]bool   // of these, what was trained with or moved on
	at       map[string]string // serial → place
	present  map[string]int64  // serial → lot
	log      []string          // what was asked and answered
}

var (
	issuePlaces    = []string{"N1-STORE", "N1-QUARANTINE", "B-1", "B-2", "BELT", "REPAIR", "S2-STORE", "S2-QUARANTINE"}
	trainingPlaces = []string{"N1-TRAINING", "N1-TRAINING-QUARANTINE", "T-1", "T-BELT", "T-REPAIR", "S2-TRAINING",
		"S2-TRAINING-QUARANTINE"}
	everyPlace  = slices.Concat(issuePlaces, trainingPlaces, []string{"used", "disposed", "lost", "found", "supplier"})
	everyReason = []string{"stow", "return", "transfer", "to_training", "quarantine", "release", "away", "used",
		"disposed", "lost", "found"}
	walkBags    = []string{"B-1", "B-2", "T-1"}
	walkSerials = []string{"X-1", "X-2", "X-3", "x-1", " X-2"}
)

func anyOf[T any](w *trainingWalk, name string, from []T) T {
	return rapid.SampledFrom(from).Draw(w.t, name)
}

func (w *trainingWalk) oneIn(n int, name string) bool {
	return rapid.IntRange(1, n).Draw(w.t, name) == 1
}

// ask sends a request as the administrator, who may do everything.
func (w *trainingWalk) ask(method, path, body string) answer {
	c := w.as(administrator, method, path).set("If-Match", "*")
	if method != "GET" {
		c.json(body).key(fmt.Sprint("k", len(w.log)))
	}
	a := c.do()
	if a.status >= 500 {
		w.t.Fatalf("%s %s: %d %s", method, path, a.status, a.body)
	}
	w.log = append(w.log, fmt.Sprintf("%s %s %s → %d", method, path, body, a.status))
	return a
}

// watch reads where every device is, and stops the test when one that was ever
// training stock lies in a place for issue, or a training lot does.
func (w *trainingWalk) watch() {
	var all listOf[stock.DeviceSummary]
	read(w, "/devices?limit=1000", &all)
	was := w.at
	w.at, w.present = map[string]string{}, map[string]int64{}
	for _, d := range all.Data {
		place := d.Where[0].Place
		serial := strings.ToUpper(strings.TrimSpace(d.Serial))
		w.at[serial], w.present[serial] = place, d.ID
		if !slices.Contains(w.lots, d.ID) {
			w.lots = append(w.lots, d.ID)
		}
		w.serialOf[d.ID] = serial
		training := slices.Contains(trainingPlaces, place)
		w.used[serial] = w.used[serial] || training && was[serial] != "" && was[serial] != place
		w.trained[serial] = w.trained[serial] || training
		if w.trained[serial] && !training || d.Training != training {
			w.t.Fatalf("serial %s, trained with, is in %s:\n%s", serial, place, strings.Join(w.log, "\n"))
		}
	}
}

func read(w *trainingWalk, path string, v any) {
	a := w.as(administrator, "GET", path).do()
	if a.status != 200 {
		w.t.Fatalf("GET %s: %d %s", path, a.status, a.body)
	}
	if err := json.Unmarshal(a.body, v); err != nil {
		w.t.Fatal(err)
	}
}

// actions are what the walk does.
var walkActions = map[string]func(*trainingWalk) answer{
	"receive": (*trainingWalk).doReceive, "move": (*trainingWalk).doMove, "move2": (*trainingWalk).doMove,
	"move3":   (*trainingWalk).doMove,
	"correct": (*trainingWalk).doCorrect, "correct2": (*trainingWalk).doCorrect, "find": (*trainingWalk).doFind,
	"check": (*trainingWalk).doCheck,
	"use":   (*trainingWalk).doUse, "restock": (*trainingWalk).doRestock, "inspect": (*trainingWalk).doInspect,
	"decide": (*trainingWalk).doDecide,
	"wander": (*trainingWalk).doWander, "wander2": (*trainingWalk).doWander, "train": (*trainingWalk).doTrain,
	"bag": (*trainingWalk).doBag, "notice": (*trainingWalk).doNotice,
}

func (w *trainingWalk) doReceive() answer {
	place := anyOf(w, "place", append([]string{"N1-STORE", "N1-STORE", "N1-TRAINING"}, everyPlace...))
	serial := anyOf(w, "serial", walkSerials)
	if !w.oneIn(3, "one that is there") {
		serial = fmt.Sprint("NEW-", len(w.log))
	}
	return w.ask("POST", "/receipts", fmt.Sprintf(`{"place":%q,"item":"TQ-WIND","serial":%q,"qty":1}`, place, serial))
}

// doMove moves a device from where it is, or from where it is not.
func (w *trainingWalk) doMove() answer {
	lot := anyOf(w, "lot", w.lots)
	if now, ok := w.present[w.serialOf[lot]]; ok && !w.oneIn(5, "an old lot") {
		lot = now
	}
	from, known := w.at[w.serialOf[lot]]
	if !known || w.oneIn(6, "from elsewhere") {
		from = anyOf(w, "from", everyPlace)
	}
	to := w.placeFor(lot)
	return w.ask("POST", "/movements", oneMove(lot, from, to, w.reason(from, to)))
}

// placeFor is mostly a place of a device's purpose.
func (w *trainingWalk) placeFor(lot int64) string {
	switch trained := w.trained[w.serialOf[lot]]; {
	case w.oneIn(3, "any place"):
		return anyOf(w, "to", everyPlace)
	case trained:
		return anyOf(w, "to", trainingPlaces)
	}
	return anyOf(w, "to", issuePlaces)
}

// reason is mostly the one that the table names.
func (w *trainingWalk) reason(from, to string) string {
	if w.oneIn(5, "any reason") {
		return anyOf(w, "reason", everyReason)
	}
	kind := map[string]string{"B-1": "bag", "B-2": "bag", "T-1": "bag", "BELT": "carrier", "T-BELT": "carrier",
		"REPAIR": "away", "T-REPAIR": "away"}
	of := func(place string) string {
		switch {
		case strings.HasSuffix(place, "-QUARANTINE"):
			return "quarantine"
		case strings.HasSuffix(place, "-STORE"), strings.HasSuffix(place, "-TRAINING"):
			return "store"
		case kind[place] != "":
			return kind[place]
		}
		return place
	}
	f, t := of(from), of(to)
	switch {
	case slices.Contains(issuePlaces, from) && slices.Contains(trainingPlaces, to):
		return "to_training"
	case f == "lost" || f == "found":
		return "found"
	case t == "used" || t == "disposed" || t == "lost" || t == "quarantine" && f != "quarantine" || t == "away" &&
		f != "away":
		return t
	case f == "quarantine" && t == "store":
		return "release"
	case f == t:
		return "transfer"
	case f == "away" || t == "store":
		return "return"
	case f == "bag" && t == "carrier":
		return "transfer"
	}
	return "stow"
}

// doCorrect undoes one of the movements so far, or something near it.
func (w *trainingWalk) doCorrect() answer {
	var ms listOf[inventory.Movement]
	read(w, "/movements?limit=1000", &ms)
	if lost := slices.DeleteFunc(slices.Clone(ms.Data), func(m inventory.Movement) bool { return m.To != "lost" }); len(
		lost) > 0 && w.oneIn(2, "one that lost it") {
		ms.Data = lost
	}
	m := anyOf(w, "movement", ms.Data)
	lot, to := m.IntoLotID, m.From
	if w.oneIn(8, "another lot") {
		lot = anyOf(w, "lot", w.lots)
	}
	if w.oneIn(8, "elsewhere") {
		to = anyOf(w, "to", everyPlace)
	}
	a := w.ask("POST", "/movements",
		fmt.Sprintf(`{"movements":[{"lot_id":%d,"qty":1,"from":%q,"to":%q,"reason":"correction","corrects":%d}]}`, lot, m.To,
			to, m.ID))
	if serial := w.serialOf[lot]; a.status < 300 && to == "supplier" && !w.used[serial] {
		delete(w.trained, serial) // it was booked in by mistake: it never came
	}
	return a
}

// doFind finds what is lost, by any lot that the device has been.
func (w *trainingWalk) doFind() answer {
	lot := anyOf(w, "lot", w.lots)
	if serial := w.serialOf[lot]; w.at[serial] != "" && !w.oneIn(3, "where it is") {
		w.ask("POST", "/movements", oneMove(w.present[serial], w.at[serial], "lost", "lost"))
		lot = cmp.Or(w.present[serial], lot)
	}
	return w.ask("POST", "/movements", oneMove(lot, anyOf(w, "from", []string{"lost", "lost", "lost", "found"}),
		w.placeFor(lot), "found"))
}

// doWander takes a device through what leaves old movements and old lots
// behind: it is lost and found again, goes to training, and is lost from there.
func (w *trainingWalk) doWander() answer {
	lot := w.present[w.serialOf[anyOf(w, "lot", w.lots)]]
	serial := w.serialOf[lot]
	lose := oneMove(lot, w.at[serial], "lost", "lost")
	switch {
	case w.trained[serial]:
		return w.ask("POST", "/movements", lose)
	case w.oneIn(2, "found again"):
		w.ask("POST", "/movements", lose)
		return w.ask("POST", "/movements", oneMove(lot, "lost", "N1-STORE", "found"))
	}
	a := w.ask("POST", "/movements", oneMove(lot, w.at[serial], "N1-TRAINING", "to_training"))
	w.watch()
	w.ask("POST", "/movements", oneMove(w.present[serial], "N1-TRAINING", "lost", "lost"))
	return a
}

// doCheck counts a bag, with something missing, found or inspected.
func (w *trainingWalk) doCheck() answer {
	code := anyOf(w, "bag", walkBags)
	var bag api.BagSheet
	read(w, "/bags/"+code, &bag)
	var lines, inspections, found []string
	for _, lot := range lotsIn(bag) {
		switch n := rapid.IntRange(0, 9).Draw(w.t, "count"); {
		case n == 0:
			lines = append(lines, fmt.Sprintf(`{"lot_id":%d,"counted":0,"reason":%q}`, lot, anyOf(w, "why", []string{"missing",
				"used", "damaged"})))
		case n < 4:
			inspections = append(inspections,
				fmt.Sprintf(`{"lot_id":%d,"points":[{"point":"bar straight","pass":%t},{"point":"webbing whole","pass":true}]}`,
					lot, n == 1))
			fallthrough
		default:
			lines = append(lines, fmt.Sprintf(`{"lot_id":%d,"counted":1}`, lot))
		}
	}
	if len(w.lots) > 0 && w.oneIn(3, "count what is not there") {
		lines = append(lines, fmt.Sprintf(`{"lot_id":%d,"counted":1,"reason":"found"}`, anyOf(w, "lot", w.lots)))
	}
	if w.oneIn(3, "find") {
		found = append(found, fmt.Sprintf(`{"item":"TQ-WIND","serial":%q,"qty":1}`, anyOf(w, "serial", walkSerials)))
	}
	return w.ask("POST", "/bags/"+code+"/checks", fmt.Sprintf(
		`{"kind":"full","seen_position":%d,"lines":[%s],"found":[%s],"inspections":[%s]}`,
		max(0, bag.Position-int64(rapid.IntRange(0, 4).Draw(w.t, "late")/3)), strings.Join(lines, ","), strings.Join(found,
			","), strings.Join(inspections, ",")))
}

func lotsIn(bag api.BagSheet) (out []int64) {
	all := slices.Concat(bag.Surplus, bag.NotOnList)
	for _, p := range bag.Pouches {
		for _, l := range p.Lines {
			all = append(all, l.Lots...)
		}
	}
	for _, l := range all {
		if !slices.Contains(out, l.LotID) {
			out = append(out, l.LotID)
		}
	}
	return out
}

func (w *trainingWalk) doUse() answer {
	code := anyOf(w, "bag", walkBags)
	var bag api.BagSheet
	read(w, "/bags/"+code, &bag)
	lots := append(lotsIn(bag), w.lots...)
	return w.ask("POST", "/bags/"+code+"/uses", fmt.Sprintf(
		`{"incident":"I-1","seen_position":%d,"lines":[{"lot_id":%d,"qty":1,"came_from":%q}]}`,
		bag.Position, anyOf(w, "lot", lots), anyOf(w, "came from", []string{"", "", "B-2", "T-1"})))
}

func (w *trainingWalk) doRestock() answer {
	lot, out := anyOf(w, "lot", w.lots), anyOf(w, "lot out", w.lots)
	if w.oneIn(2, "a new one") {
		lot = w.strap(fmt.Sprint("NEW-", len(w.log)), "N1-STORE")
		w.watch()
	}
	from, ok := w.at[w.serialOf[lot]]
	if !ok {
		from = anyOf(w, "from", everyPlace)
	}
	take := ""
	if w.oneIn(3, "take out") {
		to := anyOf(w, "to", everyPlace)
		take = fmt.Sprintf(`{"lot_id":%d,"qty":1,"to":%q,"reason":%q}`, out, to, anyOf(w, "reason out", []string{"return",
			"quarantine", "to_training"}))
	}
	return w.ask("POST", "/bags/"+anyOf(w, "bag", walkBags)+"/restocks",
		fmt.Sprintf(`{"lines":[{"lot_id":%d,"qty":1,"from":%q}],"take_out":[%s]}`, lot, from, take))
}

func (w *trainingWalk) doInspect() answer {
	return w.ask("POST", fmt.Sprintf("/devices/%d/inspections", anyOf(w, "lot", w.lots)),
		fmt.Sprintf(`{"points":[{"point":"bar straight","pass":%t},{"point":"webbing whole","pass":true}],"release_to":%q}`,
			!w.oneIn(3, "fail"), anyOf(w, "to", append([]string{""}, everyPlace...))))
}

func (w *trainingWalk) doTrain() answer {
	lot := anyOf(w, "lot", w.lots)
	if w.oneIn(3, "a new one") {
		lot = w.strap(fmt.Sprint("NEW-", len(w.log)), "N1-TRAINING")
		w.watch()
	}
	a := w.ask("POST", fmt.Sprintf("/devices/%d/training-cycles", lot), `{"cycles":60}`)
	w.used[w.serialOf[lot]] = w.used[w.serialOf[lot]] || a.status < 300
	return a
}

// doDecide decides what waits.
func (w *trainingWalk) doDecide() answer {
	what := anyOf(w, "what", []string{"checks", "uses"})
	var waiting listOf[struct {
		ID    int64           `json:"id"`
		Lines json.RawMessage `json:"lines"`
	}]
	read(w, "/"+what+"?status=to_review", &waiting)
	if len(waiting.Data) == 0 {
		return w.doCheck()
	}
	r := anyOf(w, "record", waiting.Data)
	if r.Lines == nil {
		r.Lines = json.RawMessage("[]")
	}
	return w.ask("POST", fmt.Sprintf("/%s/%d/decision", what, r.ID),
		fmt.Sprintf(`{"decision":%q,"reason":"so","lines":%s}`, anyOf(w, "decision", []string{"accept", "accept", "edit",
			"reject"}), r.Lines))
}

// doBag changes a bag: what must not change, and where it is.
func (w *trainingWalk) doBag() answer {
	return w.ask("PATCH", "/bags/"+anyOf(w, "bag", walkBags), anyOf(w, "change", []string{`{"purpose":"issue"}`,
		`{"purpose":"training"}`, `{"at_station":"S2"}`, `{"at_station":"N1"}`, `{"station":"S2"}`}))
}

func (w *trainingWalk) doNotice() answer {
	var all listOf[notice.NoticeSummary]
	read(w, "/notices?status=open", &all)
	if len(all.Data) > 0 {
		return w.ask("POST", fmt.Sprintf("/notices/%d/%s", all.Data[0].ID, anyOf(w, "end", []string{"close", "cancel"})),
			`{"reason":"so"}`)
	}
	return w.ask("POST", "/notices", fmt.Sprintf(`{"reference":"R%d","action":%q,"item":"TQ-WIND","serials":[%q]}`,
		len(w.log), anyOf(w, "action", []string{"withdraw", "inspect"}), anyOf(w, "serial", walkSerials)))
}

// TestTrainingNeverReturnsOverTheAPI: through any sequence of requests, what
// was training stock once is never in a place for issue.
func TestTrainingNeverReturnsOverTheAPI(t *testing.T) {
	// a walk takes a fifth of a second
	most := "20"
	switch {
	case inventorytest.Long:
		most = "50"
	case inventorytest.Raced:
		most = "4"
	}
	if checks := flag.Lookup("rapid.checks"); checks.Value.String() == checks.DefValue {
		require.NoError(t, flag.Set("rapid.checks", most))
		defer func() { require.NoError(t, flag.Set("rapid.checks", checks.DefValue)) }()
	}
	answers := map[string]int{}
	trained, walks := 0, 0
	rapid.Check(t, func(rt *rapid.T) {
		world, end := openWorld(t)
		defer end()
		world.unchecked = true
		w := &trainingWalk{equipped: equip(world), t: rt, serialOf: map[int64]string{}, trained: map[string]bool{},
			used: map[string]bool{}}
		w.strap("X-1", "N1-STORE")
		w.strap("X-2", "N1-TRAINING")
		w.watch()
		for range 30 {
			name := rapid.SampledFrom(sortedNames(walkActions)).Draw(rt, "action")
			a := walkActions[name](w)
			answers[fmt.Sprintf("%s %d", strings.TrimRight(name, "23"), a.status/100)]++
			w.pass(time.Duration(rapid.IntRange(1, 3*24*60).Draw(rt, "minutes")) * time.Minute)
			w.watch()
		}
		for _, yes := range w.trained {
			if yes {
				trained++
			}
		}
		walks++
	})
	t.Log(walks, "walks,", trained, "training devices:", answers)
	if inventorytest.Raced { // the few are too narrow
		return
	}
	for name := range walkActions {
		if answers[strings.TrimRight(name, "23")+" 2"] == 0 {
			t.Errorf("no request to %s was taken: the walk is too narrow", name)
		}
	}
	for _, name := range []string{"receive", "move", "correct", "find", "inspect", "restock", "train"} {
		if answers[name+" 4"] == 0 {
			t.Errorf("no request to %s was refused: the walk is too narrow", name)
		}
	}
}

func sortedNames[V any](m map[string]V) []string {
	out := make([]string, 0, len(m))
	for k := range m {
		out = append(out, k)
	}
	slices.Sort(out)
	return out
}
