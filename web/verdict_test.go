package web

import (
	"encoding/json"
	"fmt"
	"maps"
	"math/rand/v2"
	"net/url"
	"os"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stowkeeper/inventory"
	"stowkeeper/inventory/inventorytest"
	"stowkeeper/inventory/ledger"
	"stowkeeper/inventory/lists"
	"stowkeeper/inventory/rests"
)

// verdict is what is said of a bag.
type verdict struct {
	State    inventory.State `json:"state"`
	Headline string          `json:"headline"`
	Stops    []string        `json:"stops"`
	Gaps     []string        `json:"gaps"`
}

// What a phone says of a bag with records that it has not sent is what the service says once they are sent: on random
// lists, contents and records.
func TestOneVerdict(t *testing.T) {
	w := newWorld(t)
	b := newBrowser(t, w)
	script, err := pack(assetFiles, "assets/modules", "verdict.js")
	require.NoError(t, err)
	said := string(english(t).Script(script))
	ask[bool](b, strings.Replace(said, "const m_verdict =", "globalThis.m_verdict =", 1)+"\ntrue")
	seed := uint64(time.Now().UnixNano())
	if s, err := strconv.ParseUint(os.Getenv("STOWKEEPER_TEST_SEED"), 10, 64); err == nil {
		seed = s
	}
	t.Logf("seed %d", seed)
	x := &verdictWalk{t: t, w: w, dice: rand.New(rand.NewPCG(seed, 3)), kim: w.as("Kim Crew"), b: b}
	x.makeBags()
	x.makeModule()
	w.later(50 * time.Hour) // checks and inspections fall due
	x.kim = w.as("Kim Crew")
	rounds := map[bool]int{false: 150, true: 600}[inventorytest.Long]
	for i := range rounds {
		x.round(i)
	}
	t.Logf("%d rounds, said %v, %d went to review", rounds, x.said, x.waited)
	assert.GreaterOrEqual(t, len(x.said), 2, "states that were said")
}

type verdictWalk struct {
	t    *testing.T
	w    *world
	dice *rand.Rand
	kim  *client
	b    *browser
	bags []string
	said map[inventory.State]int

	waited int // records that went to review
}

// makeBags makes bags on random lists, some of which accept other items, ask for no seal, or have rules.
func (x *verdictWalk) makeBags() {
	x.t.Helper()
	x.said, x.bags = map[inventory.State]int{}, []string{"CEN-01", "CEN-02", "CEN-03"}
	lots := []string{"TQ/A2", "MARK/", "CARD/", "PRESS/P3", "PRESS/P4", "PLAIN/D3", "PLAIN/D4", "GLOVES/"}
	x.w.receive("GLOVES", "", "", 900)
	for i, of := range []string{"TQ A2", "PRESS P3", "PRESS P4", "PLAIN D3", "PLAIN D4"} {
		item, batch, _ := strings.Cut(of, " ")
		x.w.receive(item, batch, []string{"2028-05", "2026-12-01"}[i%2], 900)
	}
	items := []string{"TQ", "MARK", "CARD", "PRESS", "PLAIN", "GLOVES", "LAMP"}
	x.w.lamps(20)
	for i := range 5 {
		k := inventory.KitList{Code: fmt.Sprintf("R%d", i), Name: "Random", Sealed: x.dice.IntN(4) > 0, SealCheckHours: 24,
			FullCheckDays: 31, SealWarns: x.dice.IntN(3) == 0}
		for j := range 3 + x.dice.IntN(4) {
			l := inventory.Line{Item: items[x.dice.IntN(len(items))], Par: 1 + x.dice.IntN(4), Pouch: []string{"", "Lid",
				"Front"}[j%3]}
			l.Minimum = x.dice.IntN(l.Par + 1)
			if other := items[x.dice.IntN(len(items))]; other != l.Item && x.dice.IntN(2) == 0 {
				l.Accepts = []string{other}
			}
			if !slices.ContainsFunc(k.Lines, func(o inventory.Line) bool { return o.Item == l.Item && o.Pouch == l.Pouch }) {
				k.Lines = append(k.Lines, l)
			}
		}
		if x.dice.IntN(2) == 0 {
			k.Rules = []inventory.KitRule{{WhenCategory: inventory.CategoryTourniquet, NeedItem: "MARK", AtLeast: 2,
				Severity: inventory.SeverityStop, Because: "times are written"},
				{NeedCategory: inventory.CategoryPlainDressing, AtLeast: 3, Severity: inventory.SeverityWarn}}
		}
		_, err := x.w.svc.Lists.CreateKitList(x.t.Context(), admin, k)
		require.NoError(x.t, err)
		code := fmt.Sprintf("RND-%d", i)
		_, err = x.w.svc.Lists.CreateBag(x.t.Context(), admin, inventory.Bag{Code: code, Station: "CEN", Name: "Random",
			KitList: k.Code})
		require.NoError(x.t, err)
		var stow []any
		for _, lot := range lots {
			if n := x.dice.IntN(4); n > 0 {
				stow = append(stow, lot, n)
			}
		}
		for j := range x.dice.IntN(3) {
			stow = append(stow, fmt.Sprint("LAMP/L", 3*i+j), 1)
		}
		x.w.restock(code, map[bool]string{true: fmt.Sprint("7000", i)}[k.Sealed], append(stow, "GLOVES/", 1)...)
		x.bags = append(x.bags, code)
	}
}

// lamps receives devices that are inspected every day.
func (w *world) lamps(n int) {
	w.t.Helper()
	_, err := w.svc.Lists.CreateItem(w.t.Context(), admin, inventory.Item{Code: "LAMP", Name: "Head lamp",
		Category: inventory.CategoryTool, Unit: "each", TrackedBy: inventory.BySerial, Life: inventory.Life{InspectDays: 1},
		InspectionPoints: []string{"lights", "strap holds"}, InspectionNotes: []string{"pouch there"}})
	require.NoError(w.t, err)
	for i := range n {
		w.device("CEN-STORE", "LAMP", fmt.Sprint("L", i), "")
	}
}

// makeModule makes a bag with a module in it that holds devices to inspect.
func (x *verdictWalk) makeModule() {
	x.t.Helper()
	do := func(_ any, err error) { x.t.Helper(); require.NoError(x.t, err) }
	lists, ctx := x.w.svc.Lists, x.t.Context()
	do(lists.CreateKitList(ctx, admin, inventory.KitList{Code: "LIGHT", Name: "Light module", Sealed: true,
		FullCheckDays: 31, Lines: []inventory.Line{{Item: "LAMP", Par: 2, Minimum: 1}, {Item: "TQ", Par: 1, Minimum: 1}}}))
	do(lists.CreateKitList(ctx, admin, inventory.KitList{Code: "SACK", Name: "Rucksack",
		Lines: []inventory.Line{{Item: "GLOVES", Par: 2}}, Modules: []inventory.Module{{KitList: "LIGHT", Count: 1}}}))
	do(lists.CreateBag(ctx, admin, inventory.Bag{Code: outer, Station: "CEN", Name: "Rucksack 1", KitList: "SACK"}))
	do(lists.CreateBag(ctx, admin, inventory.Bag{Code: module, Station: "CEN", Name: "Light module", KitList: "LIGHT",
		Inside: outer}))
	x.w.restock(outer, "", "GLOVES/", 2)
	x.w.restock(module, "M100", "TQ/A2", 1, "LAMP/L18", 1, "LAMP/L19", 1)
	x.bags = append(x.bags, outer, module, module)
}

const outer, module = "SACK-1", "MOD-1"

func (x *verdictWalk) checklist(bag string) inventory.Checklist {
	x.t.Helper()
	c, err := x.w.svc.Shift.Checklist(x.t.Context(), admin, bag, lists.Outlook{Horizon: -1})
	require.NoError(x.t, err)
	return c
}

// round makes one random record of a random bag: on the phone first, then on the service.
func (x *verdictWalk) round(i int) {
	x.t.Helper()
	x.w.later(time.Minute)
	bag := x.bags[x.dice.IntN(len(x.bags))]
	if x.dice.IntN(8) == 0 {
		x.w.restock(bag, fmt.Sprint("8000", i), "GLOVES/", 1, "TQ/A2", 1, "PRESS/P4", 1, "PLAIN/D4", 1)
	}
	before, around := x.checklist(bag), x.checklist(outer)
	to, values, ok := x.record(i, before)
	if !ok {
		return
	}
	about := map[string]inventory.Checklist{bag: before} // the bags that the record is about
	for name := range values {
		if from, is := strings.CutPrefix(values.Get(name), fromPrefix); is {
			about[from] = x.checklist(from)
		}
	}
	row := map[string]any{"bag": bag, "path": to, "names": x.names(values)}
	var fields [][2]string
	for name, all := range values {
		fields = append(fields, [2]string{name, all[0]})
	}
	row["fields"] = fields
	here := map[string]verdict{}
	for code, c := range about {
		here[code] = x.onPhone("m_verdict.verdictOf", x.rests(c), code, []any{row})
	}
	if bag == module {
		here[outer] = x.onPhone(`((rests, bag, rows, around) => m_verdict.verdictOf(around, "`+outer+`", [], [m_verdict.`+
			`ofModule(bag, "Light module", m_verdict.verdictOf(rests, bag, rows))]))`, x.rests(before), bag, []any{row},
			x.rests(around))
	}
	x.kim.queue(to, values)
	require.Equal(x.t, 200, x.kim.res.Code, "%s %v: %s", to, values, x.kim.res.Body)
	if !strings.Contains(x.kim.res.Body.String(), `"status":"accepted"`) {
		x.waited++
		return
	}
	for code, v := range here {
		on, off := x.onService(code), plainVerdict(v)
		if code == outer && len(here[module].Stops) > 1 { // any of the module's may stand for it
			on, off = moduleAlone(on), moduleAlone(off)
		}
		require.Equal(x.t, on, off, "round %d, %s: %s %v\n%s", i, code, to, values,
			x.rests(before))
	}
	x.said[here[bag].State]++
}

// rests is what a page carries of what its verdict rests on.
func (x *verdictWalk) rests(c inventory.Checklist) string {
	x.t.Helper()
	on, err := json.Marshal(rests.Of(c, english(x.t).Text))
	require.NoError(x.t, err)
	return string(on)
}

// names are the items that were found, as the form on the phone calls them.
func (x *verdictWalk) names(values url.Values) map[string]string {
	out := map[string]string{}
	items, err := x.w.svc.Lists.Items(x.t.Context(), admin, inventory.ItemFilter{}, inventory.Page{})
	require.NoError(x.t, err)
	for _, it := range items {
		for name := range values {
			if strings.HasPrefix(name, "found[") && strings.HasSuffix(name, "].item") && values.Get(name) == it.Code {
				out[it.Code] = it.Name
			}
		}
	}
	return out
}

func (x *verdictWalk) onPhone(script string, args ...any) verdict {
	x.t.Helper()
	text, err := json.Marshal(args)
	require.NoError(x.t, err)
	return ask[verdict](x.b, script+"(..."+string(text)+")")
}

// onService is what the service says of a bag now.
func (x *verdictWalk) onService(bag string) verdict {
	x.t.Helper()
	after := x.checklist(bag)
	v := verdict{State: after.Readiness.State, Headline: english(x.t).Text(inventory.Headline(after.Bag, after.Readiness))}
	for _, f := range after.Readiness.Findings {
		to := &v.Gaps
		if f.Severity == inventory.SeverityStop {
			to = &v.Stops
		}
		*to = append(*to, english(x.t).Text(f.Text))
	}
	return plainVerdict(v)
}

// plainSays brings what a phone words otherwise to the words of the service: it may not know the batch that a find
// belongs to, writes dates as they were typed, and does not know the names of points.
var plainSays = []struct {
	words *regexp.Regexp
	plain string
}{
	{regexp.MustCompile(`, (batch|serial) [^ :]+: (more than needed|not on the list)`), ": $2"},
	{regexp.MustCompile(`\d+ units? of ([^:]+): (more than needed|not on the list)`), "$1: $2"},
	{regexp.MustCompile(`: \d+ reported .*`), ""}, // a partial check may settle some of it
	{regexp.MustCompile(` \(use by [^)]*\)`), ""},
	{regexp.MustCompile(`(?:1 unit of )?[^,:]+, serial ([^,:]+)` +
		`(?:, failed on “[^”]*”(?:, “[^”]*”)?|: Inspection failed)`), "$1 failed"},
	{regexp.MustCompile(`[^: ][^:]*: marked for training, found in this bag|marked for training`), "a mark"},
	{regexp.MustCompile(`\d+ gaps?$`), "gaps"}, // they are compared themselves
}

func plainVerdict(v verdict) verdict {
	for _, s := range plainSays {
		v.Headline = s.words.ReplaceAllString(v.Headline, s.plain)
	}
	for _, all := range []*[]string{&v.Stops, &v.Gaps} {
		*all = append([]string{}, *all...)
		for i := range *all {
			for _, s := range plainSays {
				(*all)[i] = s.words.ReplaceAllString((*all)[i], s.plain)
			}
		}
		slices.Sort(*all)
		*all = slices.Compact(*all)
	}
	if v.State == inventory.NotReady && len(v.Stops) > 1 { // any of them may be said first
		v.Headline = ""
	}
	return v
}

// moduleAlone leaves out what of a module stops the bag that it is in.
func moduleAlone(v verdict) verdict {
	for i, stop := range v.Stops {
		if strings.HasPrefix(stop, "module ") {
			v.Stops[i], _, _ = strings.Cut(stop, ": ")
		}
	}
	if !strings.HasPrefix(v.Headline, "Do not use: module ") {
		return v
	}
	v.Headline = "Do not use: a module"
	return v
}

// record fills in a form of the bag as a crew may, or puts the bag back into service.
func (x *verdictWalk) record(i int, c inventory.Checklist) (to string, values url.Values, ok bool) {
	x.t.Helper()
	bag, seal := c.Bag.Code, fmt.Sprint("S", i)
	sometimes := func(value string) []string { return []string{map[bool]string{true: value}[x.dice.IntN(2) == 0]} }
	switch x.dice.IntN(6) {
	case 0:
		if c.Bag.OutOfService != nil {
			none := ""
			_, err := x.w.svc.Lists.UpdateBag(x.t.Context(), admin, bag, 0, ledger.BagChange{OutOfService: &none})
			require.NoError(x.t, err)
			return "", nil, false
		}
		to, values = x.kim.get("/b/" + bag + "/out-of-service").form("/out-of-service")
		values.Set("reason", "zip torn")
	case 1, 2:
		to, values = x.kim.get("/b/" + bag + "/use").form("/use")
		values.Set("incident", "INC")
		used := 0
		for _, name := range slices.Sorted(maps.Keys(values)) {
			if strings.HasPrefix(name, usePrefix) && strings.HasSuffix(name, "@.qty") && x.dice.IntN(3) == 0 {
				values.Set(name, "1")
				used++
			}
		}
		if values.Has("seal_set") {
			values["seal_set"] = sometimes(seal)
		}
		return to, values, used > 0
	case 3:
		if c.Bag.Seal == "" || !c.KitList.Sealed {
			return "", nil, false
		}
		to, values = x.kim.get("/b/" + bag + "/seal-check").form("/seal-check")
		values.Set("seal_seen", []string{c.Bag.Seal, seal}[x.dice.IntN(2)])
	case 4:
		if !c.KitList.Sealed {
			return "", nil, false
		}
		to, values = x.kim.get("/b/" + bag + "/seal-check").form("/seal")
		values.Set("seal_set", seal)
	default:
		to, values = x.kim.get("/b/" + bag + "/full-check").form("/full-check")
		x.count(values)
		x.find(i, c, values)
		x.inspect(c, values)
		if values.Has("seal_set") {
			values["seal_set"] = sometimes(seal)
			values["seal_seen"] = sometimes(c.Bag.Seal)
		}
		if c.Bag.OutOfService != nil {
			values["return_to_service"] = sometimes("yes")
		}
		if x.dice.IntN(3) == 0 {
			values.Set("partial", "yes")
			values.Del("return_to_service")
			for _, name := range slices.Sorted(maps.Keys(values)) {
				if strings.HasPrefix(name, seenPrefix) && x.dice.IntN(2) == 0 {
					values.Del(name)
				}
			}
		}
	}
	return to, values, true
}

// count changes some of the counts.
func (x *verdictWalk) count(values url.Values) {
	for _, name := range slices.Sorted(maps.Keys(values)) {
		row, is := strings.CutSuffix(name, ".counted")
		if !is {
			continue
		}
		n := openForm(values).number(name)
		switch x.dice.IntN(4) {
		case 0:
			if n > 0 {
				values.Set(name, fmt.Sprint(n-1))
				values.Set(row+".reason", "missing")
			}
		case 1:
			values.Set(name, fmt.Sprint(n+1))
			values.Set(row+".reason", "found")
		}
	}
}

// Kim uses tourniquets and takes a bag off without signal: its page says so in one voice, so do the board and the
// vehicle's page, and the seal is not the first thing to do any more.
func TestOneVerdictWithoutSignal(t *testing.T) {
	w := newWorld(t)
	w.later(time.Hour)
	b := newBrowser(t, w)
	b.onTerminal(w)
	b.as(w, "Kim Crew")
	b.open("/board")
	b.kept(4)
	b.offline(true)
	b.open("/b/CEN-01/use")
	b.taken()
	b.do(chromedp.SetValue("[name=incident]", "INC-1"), chromedp.SetValue("[name=seal_set]", "500"))
	ask[bool](b, `document.querySelector(".stepper button:last-child").click() || document.querySelector(`+
		`"form[data-keep] > button.main").click() || true`)
	b.at("/b/CEN-01")
	b.sees("Do not use: Tourniquet, windlass, adult: 1 of 2 in Red pouch, at least 2 required")
	const page = `document.querySelector("main").innerText`
	assert.NotContains(t, ask[string](b, page), "OK to go out")
	assert.NotContains(t, ask[string](b, `document.querySelector(".verdict").innerText`), "\nReady")
	assert.Equal(t, "Full check", ask[string](b, `document.querySelector(".actions .main").innerText`))
	assert.Contains(t, ask[string](b, `document.querySelector(".actions form button").innerText`), "500")
	assert.Contains(t, ask[string](b, `document.querySelector(".contents details").innerText`), "needs 2, has 1")
	b.open("/board")
	b.sees("Do not use: Tourniquet, windlass, adult: 1 of 2")
	board := `[...document.querySelectorAll("li.bag")].find(e => e.innerText.includes("CEN-01")).className`
	b.until("the board says so", board+`.includes("not_ready")`)

	b.open("/b/CEN-02/out-of-service")
	b.taken()
	b.do(chromedp.SetValue("[name=reason]", "the zip is torn"), chromedp.Click("form[data-keep] > button.main"))
	b.at("/b/CEN-02")
	b.sees("Out of service: the zip is torn")
	assert.NotContains(t, ask[string](b, page), "OK to go out")
	b.open(vehiclePath("CEN", "Vehicle 02"))
	b.sees("Out of service: the zip is torn")
	assert.Contains(t, ask[string](b, `document.querySelector(".verdict").innerText`), "Do not use: CEN-02")

	// What the service refused mends nothing.
	askLater[bool](b, `new Promise(yes => indexedDB.open("stowkeeper").onsuccess = e => {
		const t = e.target.result.transaction("waiting", "readwrite");
		t.objectStore("waiting").put({ key: "refused-1", person: "Kim Crew", bag: "CEN-02", path: "/b/CEN-02/full-check",
			what: "Full check", fields: [["return_to_service", "yes"]], madeAt: Date.now(), state: "refused", message: "no" });
		t.oncomplete = () => { e.target.result.close(); yes(true); };
	})`)
	b.open("/b/CEN-02")
	b.sees("1 rejected: check")
	b.sees("Out of service: the zip is torn")
	assert.NotContains(t, ask[string](b, page), "OK to go out")
}

// Kim counts a bag on the phone that still waits with a use of it: that goes to review, so it mends nothing here. And
// what a second tab sends under the key of a record that waits is a record of its own.
func TestRecordsOfOneBagWaitInTurn(t *testing.T) {
	w := newWorld(t)
	w.later(time.Hour)
	b := newBrowser(t, w)
	b.onTerminal(w)
	b.as(w, "Kim Crew")
	b.open("/board")
	b.kept(4)
	b.offline(true)
	use := func(incident, before string) {
		b.open("/b/CEN-01/use")
		b.taken()
		b.do(chromedp.SetValue("[name=incident]", incident), chromedp.SetValue("[name=seal_set]", "500"))
		ask[bool](b, before+`document.querySelector(".stepper button:last-child").click() || document.querySelector(`+
			`"form[data-keep] > button.main").click() || true`)
		b.at("/b/CEN-01")
	}
	const waits = `new Promise(yes => indexedDB.open("stowkeeper").onsuccess = e => {
		e.target.result.transaction("waiting").objectStore("waiting").getAll().onsuccess = g => {
			e.target.result.close(); yes(g.target.result.map(%s).sort().join(" ")); } })`
	use("INC-1", "")
	key := askLater[string](b, fmt.Sprintf(waits, "r => r.key"))
	use("INC-2", fmt.Sprintf(`document.querySelector("form[data-keep] [name=key]").value = %q, `, key))
	assert.Equal(t, "INC-1 INC-2",
		askLater[string](b, fmt.Sprintf(waits, `r => r.fields.find(([n]) => n === "incident")[1]`)))
	b.open("/b/CEN-01/full-check")
	b.taken()
	b.tickAll()
	b.do(chromedp.SetValue("[name=seal_set]", "501"), chromedp.Click("form[data-keep] > button.main"))
	b.at("/b/CEN-01")
	b.sees("To review: Full check")
	b.sees("Do not use: Tourniquet, windlass, adult")
}

// find adds what lay in the bag besides.
// Not what a phone cannot know: of what date units of another bag are, and which rule asks for an item that neither
// list nor bag have.
func (x *verdictWalk) find(i int, c inventory.Checklist, values url.Values) {
	set := func(field, value string) { values.Set("found[0]."+field, value) }
	what := []string{"", "", "found", "found", "found", "unidentified", "training_mark",
		fromPrefix + "CEN-02"}[x.dice.IntN(8)]
	item := []string{"TQ", "GLOVES", "MARK", "SHEARS", "PRESS", "PLAIN"}[x.dice.IntN(6)]
	on := rests.Of(c, english(x.t).Text).Items
	name := x.names(url.Values{"found[0].item": {item}})[item]
	known := item == "GLOVES" || item == "SHEARS" || slices.Contains(on, name)
	if what == "" || !known || strings.HasPrefix(what, fromPrefix) && (what == fromPrefix+c.Bag.Code || item[0] == 'P') {
		return
	}
	set("what", what)
	set("item", item)
	set("qty", fmt.Sprint(1+x.dice.IntN(2)))
	if dated := item == "TQ" || item == "PRESS" || item == "PLAIN"; dated && what == "found" {
		known := map[string]string{"TQ": "A2", "PRESS": "P3", "PLAIN": "D3"}[item]
		set("batch_no", []string{fmt.Sprint("F", i), known}[x.dice.IntN(2)])
		set("end_printed", "2028-05")
		if values.Get("found[0].batch_no") == fmt.Sprint("F", i) {
			set("end_printed", []string{"2029-03-31", "2026-10"}[x.dice.IntN(2)])
		}
	}
}

// inspect answers the points of some devices in the bag.
func (x *verdictWalk) inspect(c inventory.Checklist, values url.Values) {
	for _, o := range inventory.InspectionsToOffer(c.Readiness) {
		how := x.dice.IntN(4)
		for name := range values {
			if row, is := strings.CutSuffix(name, fmt.Sprint(".", o.LotID, ".counted")); is && how < 3 { // it is there
				values.Set(name, values.Get(row+"."+formatID(o.LotID)+".expected"))
				values.Set(row+"."+formatID(o.LotID)+".reason", "")
			}
		}
		for n := range 3 {
			answer := answerPass
			if how == 1 && n == 1 || how == 2 && n == 2 { // a point, or one that is only noted
				answer = answerFail
			}
			if how < 3 {
				values.Set(pointRow(o.LotID, n), answer)
			}
		}
	}
}
