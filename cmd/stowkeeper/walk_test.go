package main

import (
	"encoding/csv"
	"fmt"
	"net/http"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stowkeeper/inventory/store"
	"stowkeeper/inventory/store/storetest"
)

// TestWalk is a bag's whole life through the API of the running program, from
// an empty database. What each step should answer was worked out by hand from
// the rules; days are written as days from today.
func TestWalk(t *testing.T) {
	for _, engine := range []string{store.SQLite, store.Postgres} {
		t.Run(engine, func(t *testing.T) {
			w := beginWalk(t, storetest.Empty(t, engine))
			w.makeEverything()
			w.nothingReceived()
			w.receive()
			w.stow()
			w.lookAhead()
			w.sealCheck()
			w.fullCheck()
			w.use()
			w.waiting()
			w.decide()
			w.secondDelivery()
			w.restock()
			w.books()
		})
	}
}

// walk is one run of the story.
type walk struct {
	*testing.T
	db string
	names
	admin, quartermaster, crew *client
	stowedThrough              string // 24 months after today
	late                       fields // the full check that arrives late
}

func beginWalk(t *testing.T, db string) *walk {
	p := serve(t, db)
	token := succeed(t, "token", "create", "--db", db, "--role", "administrator", "--name", "walk")
	require.Regexp(t, `^sk_[A-Z2-7]{52}\n$`, token, "the token stands alone on standard output")
	t.Cleanup(func() {
		if !t.Failed() {
			p.stop()
		}
	})
	w := &walk{T: t, db: db, admin: newClient(t, p, strings.TrimSpace(token))}
	w.lots = map[int64]string{0: "-"}
	return w
}

// zones returns two time zones in which it is about noon and two o'clock in
// the afternoon, so that the walk does not cross a midnight, and the day there.
func zones(now time.Time) (noon, two string, today time.Time) {
	ahead := 12 - now.UTC().Hour()
	name := func(hours int) string { return fmt.Sprintf("Etc/GMT%+d", -hours) } // POSIX counts west of Greenwich
	y, m, d := now.UTC().Add(time.Duration(ahead) * time.Hour).Date()
	return name(ahead), name(ahead + 2), time.Date(y, m, d, 0, 0, 0, 0, time.UTC)
}

// in returns the day n days from today.
func (w *walk) in(n int) string { return w.today.AddDate(0, 0, n).Format(time.DateOnly) }

// monthsLater adds months and keeps within the month arrived at.
func monthsLater(d time.Time, n int) time.Time {
	first := time.Date(d.Year(), d.Month()+time.Month(n), 1, 0, 0, 0, 0, time.UTC)
	last := first.AddDate(0, 1, -1).Day()
	return first.AddDate(0, 0, min(d.Day(), last)-1)
}

// makeEverything makes stations, items, products, the kit list and the bags.
func (w *walk) makeEverything() {
	var noon, two string
	noon, two, w.today = zones(time.Now())
	w.stowedThrough = w.day(monthsLater(w.today, 24).Format(time.DateOnly))
	w.admin.post("/stations", fields{"code": "N1", "name": "North One", "timezone": noon})
	w.admin.post("/stations", fields{"code": "S2", "name": "South Two", "timezone": two})
	w.quartermaster = w.admin.as(newToken(w, w.db, "quartermaster", "desk"))
	w.crew = w.admin.as(newToken(w, w.db, "crew", "phone", "N1"))

	item := func(code, category string, dated bool, pack int, life fields) {
		w.quartermaster.post("/items", fields{"code": code, "name": strings.ToLower(code), "category": category,
			"unit": "each", "tracked_by": "lot", "dated": dated, "life": life})
		if pack == 0 {
			return
		}
		p := part[struct{ ID int64 }](w.quartermaster.post("/products", fields{"item": code, "supplier": "Alderbank",
			"pack_size": pack}))
		w.quartermaster.want(http.StatusOK, http.MethodPatch, "/items/"+code, fields{"preferred_product": p.ID}, "If-Match",
			`"1"`)
	}
	item("TQ", "tourniquet", true, 2, fields{"stowed_months": 24})
	item("GAUZE", "plain dressing", true, 5, fields{})
	item("GAUZE-Z", "plain dressing", true, 0, fields{})
	item("MARKER", "marker", false, 10, fields{})

	w.quartermaster.post("/kit-lists", fields{
		"code": "TRAUMA", "name": "Trauma bag", "edition": "1st", "sealed": true, "seal_check_hours": 24,
		"full_check_days": 7, "min_remaining_days": 60,
		"lines": []fields{
			{"item": "TQ", "pouch": "Front", "par": 1, "minimum": 1, "critical": true},
			{"item": "TQ", "pouch": "Leg", "par": 1, "minimum": 1},
			{"item": "GAUZE", "pouch": "Main", "par": 4, "minimum": 2, "accepts": []string{"GAUZE-Z"}},
			{"item": "MARKER", "pouch": "Front", "par": 1},
		},
		"rules": []fields{
			{"when_category": "tourniquet", "need_category": "tourniquet", "at_least": 2, "severity": "stop"},
			{"when_category": "tourniquet", "need_category": "marker", "at_least": 1, "severity": "warn"},
		},
	})
	for _, b := range []fields{{"code": "TR1", "station": "N1", "priority": 1}, {"code": "TR2", "station": "N1",
		"priority": 2}, {"code": "TR9", "station": "S2", "priority": 1}} {
		b["name"], b["kit_list"] = "Trauma bag", "TRAUMA"
		w.quartermaster.post("/bags", b)
	}
}

// report, readiness and picks compare an answer with what it should say, line
// by line.
func (w *walk) report(query, want string) {
	w.Helper()
	r := decode[wireReport](w.quartermaster.get("/reports/shortages" + query))
	assert.Equal(w, trimLines(want), r.lines(w.names))
	table, err := csv.NewReader(strings.NewReader(string(w.quartermaster.get("/reports/shortages.csv" + query).body))).
		ReadAll()
	require.NoError(w, err)
	require.Len(w, table, len(r.Rows)+1, "the same rows as CSV, under a header")
	for i, x := range r.Rows {
		assert.Equal(w, fmt.Sprint([]any{x.Station, x.Bag, x.Item, x.Pouch, x.Par, x.Minimum, x.Usable, x.Shortfall,
			x.BelowMinimum, x.Critical, ""}), fmt.Sprint(table[i+1]))
	}
}

func (w *walk) readiness(query, want string) {
	w.Helper()
	assert.Equal(w, trimLines(want), decode[wireReadiness](w.crew.get("/bags/TR1/readiness"+query)).lines(w.names))
}

func (w *walk) picks(query, want string) wirePickList {
	w.Helper()
	p := decode[wirePickList](w.quartermaster.get("/bags/TR1/pick-list" + query))
	assert.Equal(w, trimLines(want), p.lines(w.names))
	return p
}

// trimLines takes the indentation off a text of several lines.
func trimLines(s string) string {
	var out []string
	for line := range strings.Lines(strings.TrimSpace(s)) {
		out = append(out, strings.TrimSpace(line))
	}
	return strings.Join(out, "\n")
}

// position is what the crew sees of the bag before it acts.
func (w *walk) position() int64 {
	w.Helper()
	return part[struct{ Position int64 }](w.crew.get("/bags/TR1")).Position
}

func (w *walk) nothingReceived() {
	w.readiness("", `
		TR1 as of +0, horizon 30: not_ready
		stop below_minimum TQ 1 - -
		stop below_minimum TQ 1 - -
		stop below_minimum GAUZE 4 - -
		warn below_par MARKER 1 - -
		warn no_seal  0 - -
		warn full_check_overdue  0 - -
		TQ/Front par 1 min 1 has 0 lacks 1 critical
		TQ/Leg par 1 min 1 has 0 lacks 1
		GAUZE/Main par 4 min 2 has 0 lacks 4
		MARKER/Front par 1 min 0 has 0 lacks 1`)
	w.report("", `
		as of -, horizon 30
		bags 0 ready 0 gaps 3 not 0 off
		row N1 TR1 TQ/Front par 1 min 1 has 0 lacks 1 below critical
		row N1 TR1 TQ/Leg par 1 min 1 has 0 lacks 1 below
		row N1 TR1 GAUZE/Main par 4 min 2 has 0 lacks 4 below
		row N1 TR1 MARKER/Front par 1 min 0 has 0 lacks 1
		row N1 TR2 TQ/Front par 1 min 1 has 0 lacks 1 below critical
		row N1 TR2 TQ/Leg par 1 min 1 has 0 lacks 1 below
		row N1 TR2 GAUZE/Main par 4 min 2 has 0 lacks 4 below
		row N1 TR2 MARKER/Front par 1 min 0 has 0 lacks 1
		row S2 TR9 TQ/Front par 1 min 1 has 0 lacks 1 below critical
		row S2 TR9 TQ/Leg par 1 min 1 has 0 lacks 1 below
		row S2 TR9 GAUZE/Main par 4 min 2 has 0 lacks 4 below
		row S2 TR9 MARKER/Front par 1 min 0 has 0 lacks 1
		buy N1 8 GAUZE: 2 packs of 5
		buy N1 2 MARKER: 1 packs of 10
		buy N1 4 TQ: 2 packs of 2
		buy S2 4 GAUZE: 1 packs of 5
		buy S2 1 MARKER: 1 packs of 10
		buy S2 2 TQ: 1 packs of 2`)
}

// receipt receives units and gives their lot a name.
func (w *walk) receipt(name string, body fields, through string) {
	w.Helper()
	lot := part[struct {
		ID            int64
		UsableThrough string `json:"usable_through"`
		Rule          string
		Where         []struct {
			Place string
			Qty   int
		}
	}](w.quartermaster.post("/receipts", body))
	w.lots[lot.ID] = name
	assert.Equal(w, through, w.day(lot.UsableThrough), name)
	require.Len(w, lot.Where, 1)
	assert.Equal(w, fmt.Sprint(body["place"], body["qty"]), fmt.Sprint(lot.Where[0].Place, lot.Where[0].Qty))
}

// receive takes three lots into the store of N1: three tourniquets, whose
// month of expiry means its last day; five gauzes that end in 100 days and two
// that end in 400.
func (w *walk) receive() {
	month := time.Date(w.today.Year()+3, w.today.Month(), 1, 0, 0, 0, 0, time.UTC)
	last := month.AddDate(0, 1, -1).Format(time.DateOnly)
	w.receipt("tq", fields{"place": "N1-STORE", "item": "TQ", "batch_no": "T-01", "end_printed": month.Format("2006-01"),
		"end_wording": "expiry", "qty": 3}, w.day(last))
	w.receipt("early", fields{"place": "N1-STORE", "item": "GAUZE", "batch_no": "G-01", "end_printed": w.in(100),
		"end_wording": "use_by", "qty": 5}, "+100")
	w.receipt("later", fields{"place": "N1-STORE", "item": "GAUZE", "batch_no": "G-02", "end_printed": w.in(400),
		"end_wording": "hourglass", "qty": 2}, "+400")

	// Minimums first, critical lines before others, then TR1 before TR2: the
	// leg pouch of TR2 gets no tourniquet. Then another station's minimum, then par.
	w.report("", `
		as of -, horizon 30
		bags 0 ready 0 gaps 3 not 0 off
		row N1 TR1 TQ/Front par 1 min 1 has 0 lacks 1 below critical
		row N1 TR1 TQ/Leg par 1 min 1 has 0 lacks 1 below
		row N1 TR1 GAUZE/Main par 4 min 2 has 0 lacks 4 below
		row N1 TR1 MARKER/Front par 1 min 0 has 0 lacks 1
		row N1 TR2 TQ/Front par 1 min 1 has 0 lacks 1 below critical
		row N1 TR2 TQ/Leg par 1 min 1 has 0 lacks 1 below
		row N1 TR2 GAUZE/Main par 4 min 2 has 0 lacks 4 below
		row N1 TR2 MARKER/Front par 1 min 0 has 0 lacks 1
		row S2 TR9 TQ/Front par 1 min 1 has 0 lacks 1 below critical
		row S2 TR9 TQ/Leg par 1 min 1 has 0 lacks 1 below
		row S2 TR9 GAUZE/Main par 4 min 2 has 0 lacks 4 below
		row S2 TR9 MARKER/Front par 1 min 0 has 0 lacks 1
		fill TR1 1 TQ tq (T-01) through `+w.day(last)+` from N1-STORE restock
		fill TR2 1 TQ tq (T-01) through `+w.day(last)+` from N1-STORE restock
		fill TR1 1 TQ tq (T-01) through `+w.day(last)+` from N1-STORE restock
		fill TR1 2 GAUZE early (G-01) through +100 from N1-STORE restock
		fill TR2 2 GAUZE early (G-01) through +100 from N1-STORE restock
		fill TR9 1 GAUZE early (G-01) through +100 from N1-STORE transfer
		fill TR9 1 GAUZE later (G-02) through +400 from N1-STORE transfer
		fill TR1 1 GAUZE later (G-02) through +400 from N1-STORE restock
		buy N1 3 GAUZE: 1 packs of 5
		buy N1 2 MARKER: 1 packs of 10
		buy N1 1 TQ: 1 packs of 2
		buy S2 2 GAUZE: 1 packs of 5
		buy S2 1 MARKER: 1 packs of 10
		buy S2 2 TQ: 1 packs of 2`)
}
