package main

import (
	"fmt"
	"net/http"
	"slices"
	"strings"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// record is what a check, use or restock answers.
type record struct {
	ID            int64
	Status        string
	ReviewBecause string `json:"review_because"`
	Decision      *struct{ Decision, Reason, By string }
}

// restockBy stows what a pick list says and sets a seal.
func (w *walk) restockBy(p wirePickList, seal string) fields {
	lines := []fields{}
	for _, l := range p.Lines {
		lines = append(lines, fields{"lot_id": l.LotID, "qty": l.Qty, "from": l.From})
	}
	return fields{"seen_position": p.Position, "lines": lines, "seal_set": seal}
}

// lotID returns the id of a lot that the test gave a name.
func (w *walk) lotID(name string) int64 {
	w.Helper()
	for id, n := range w.lots {
		if n == name {
			return id
		}
	}
	require.Fail(w, "no such lot", name)
	return 0
}

// stow packs TR1 from its pick list. The list looks at its bag alone, and says
// that TR2 has a claim on some of the gauzes that it takes up to par. The
// tourniquets get a stowed limit of 24 months and so become a lot of their own.
func (w *walk) stow() {
	tq := w.day(w.endOf("tq"))
	p := w.picks("", `
		TR1 as of +0
		in 1 TQ/Front tq (T-01) through `+tq+` from N1-STORE
		in 1 TQ/Leg tq (T-01) through `+tq+` from N1-STORE
		in 4 GAUZE/Main early (G-01) through +100 from N1-STORE claimed by TR2
		missing 1 MARKER/Front`)
	w.quartermaster.post("/bags/TR1/restocks", w.restockBy(p, "100001"))
	w.quartermaster.want(http.StatusConflict, http.MethodPost, "/bags/TR1/restocks", w.restockBy(p, "100009"))
	w.nameSplit("tq", "tq stowed", w.stowedThrough)

	w.readiness("", `
		TR1 as of +0, horizon 30: ready_with_gaps
		warn below_par MARKER 1 - -
		warn kit_rule  1 - -
		warn full_check_overdue  0 - -
		TQ/Front par 1 min 1 has 1 lacks 0 critical; 1 TQ tq stowed (T-01) through `+w.stowedThrough+` by stowed
		TQ/Leg par 1 min 1 has 1 lacks 0; 1 TQ tq stowed (T-01) through `+w.stowedThrough+` by stowed
		GAUZE/Main par 4 min 2 has 4 lacks 0; 4 GAUZE early (G-01) through +100 by printed
		MARKER/Front par 1 min 0 has 0 lacks 1
		next change +101 early
		first stop +101 early`)
	w.report("?station=N1", `
		as of -, horizon 30
		bags 0 ready 1 gaps 1 not 0 off
		row N1 TR1 MARKER/Front par 1 min 0 has 0 lacks 1
		row N1 TR2 TQ/Front par 1 min 1 has 0 lacks 1 below critical
		row N1 TR2 TQ/Leg par 1 min 1 has 0 lacks 1 below
		row N1 TR2 GAUZE/Main par 4 min 2 has 0 lacks 4 below
		row N1 TR2 MARKER/Front par 1 min 0 has 0 lacks 1
		fill TR2 1 TQ tq (T-01) through `+tq+` from N1-STORE restock
		fill TR2 1 GAUZE early (G-01) through +100 from N1-STORE restock
		fill TR2 1 GAUZE later (G-02) through +400 from N1-STORE restock
		buy N1 2 GAUZE: 1 packs of 5
		buy N1 2 MARKER: 1 packs of 10
		buy N1 1 TQ: 1 packs of 2
		stop TR1 +101 early`)
}

// endOf returns the day through which a lot is usable.
func (w *walk) endOf(name string) string {
	w.Helper()
	return part[struct {
		UsableThrough string `json:"usable_through"`
	}](w.crew.get(fmt.Sprintf("/lots/%d", w.lotID(name)))).UsableThrough
}

// nameSplit finds the one other lot of a lot's batch, which was split from it,
// and gives it a name.
func (w *walk) nameSplit(from, name, through string) {
	w.Helper()
	type summary struct {
		ID, Parent    int64
		UsableThrough string `json:"usable_through"`
		Rule          string
		StowedOn      string `json:"stowed_on"`
	}
	split := part[struct {
		Same []summary `json:"same_batch"`
	}](w.quartermaster.get(fmt.Sprintf("/lots/%d", w.lotID(from)))).Same
	require.Len(w, split, 1)
	w.lots[split[0].ID] = name
	assert.Equal(w, w.lotID(from), split[0].Parent)
	assert.Equal(w, through, w.day(split[0].UsableThrough))
	assert.Equal(w, "+0", w.day(split[0].StowedOn))
}

// lookAhead judges what is in the bags now on other days: the last day of the
// early gauze, and the day after it.
func (w *walk) lookAhead() {
	tq := w.day(w.endOf("tq"))
	// On its last day the early gauze still counts in the bag, but what the
	// store has of it would not last: it is not needed to any minimum.
	w.report("?station=N1&horizon_days=0&as_of="+w.in(100), `
		as of +100, horizon 0 clock left out
		bags 0 ready 1 gaps 1 not 0 off
		row N1 TR1 MARKER/Front par 1 min 0 has 0 lacks 1
		row N1 TR2 TQ/Front par 1 min 1 has 0 lacks 1 below critical
		row N1 TR2 TQ/Leg par 1 min 1 has 0 lacks 1 below
		row N1 TR2 GAUZE/Main par 4 min 2 has 0 lacks 4 below
		row N1 TR2 MARKER/Front par 1 min 0 has 0 lacks 1
		fill TR2 1 TQ tq (T-01) through `+tq+` from N1-STORE restock
		fill TR2 2 GAUZE later (G-02) through +400 from N1-STORE restock
		buy N1 2 GAUZE: 1 packs of 5
		buy N1 2 MARKER: 1 packs of 10
		buy N1 1 TQ: 1 packs of 2
		stop TR1 +101 early`)
	w.report("?station=N1&horizon_days=0&as_of="+w.in(101), `
		as of +101, horizon 0 clock left out
		bags 0 ready 0 gaps 2 not 0 off
		row N1 TR1 GAUZE/Main par 4 min 2 has 0 lacks 4 below
		row N1 TR1 MARKER/Front par 1 min 0 has 0 lacks 1
		row N1 TR2 TQ/Front par 1 min 1 has 0 lacks 1 below critical
		row N1 TR2 TQ/Leg par 1 min 1 has 0 lacks 1 below
		row N1 TR2 GAUZE/Main par 4 min 2 has 0 lacks 4 below
		row N1 TR2 MARKER/Front par 1 min 0 has 0 lacks 1
		fill TR2 1 TQ tq (T-01) through `+tq+` from N1-STORE restock
		fill TR1 2 GAUZE later (G-02) through +400 from N1-STORE restock
		buy N1 6 GAUZE: 2 packs of 5
		buy N1 2 MARKER: 1 packs of 10
		buy N1 1 TQ: 1 packs of 2`)
	w.picks("?as_of="+w.in(101), `
		TR1 as of +101
		in 2 GAUZE/Main later (G-02) through +400 from N1-STORE
		out 4 GAUZE early (G-01) through +100 to disposed: disposed expired
		missing 2 GAUZE/Main
		missing 1 MARKER/Front`)
}

// sealCheck is one tap, and counts once however often the phone sends it.
func (w *walk) sealCheck() {
	before := w.position()
	check := fields{"kind": "seal", "seen_position": before, "seal_seen": "100001"}
	first := w.crew.keyed("seal-1", "/bags/TR1/checks", check)
	assert.Equal(w, "accepted", part[record](first).Status)
	again := w.crew.keyed("seal-1", "/bags/TR1/checks", check)
	assert.Equal(w, "true", again.header.Get("Idempotent-Replay"))
	assert.JSONEq(w, string(first.body), string(again.body))
	assert.Len(w, all[record](w.crew, "/checks?bag=TR1"), 1)
	assert.Equal(w, before, w.position(), "a seal that was seen in order changes nothing")
}

// fullCheck counts every lot and misses one gauze.
func (w *walk) fullCheck() {
	check := fields{"kind": "full", "seen_position": w.position(), "seal_seen": "100001", "seal_set": "100002",
		"lines": []fields{{"lot_id": w.lotID("tq stowed"), "counted": 2}, {"lot_id": w.lotID("early"), "counted": 3,
			"reason": "missing"}}}
	assert.Equal(w, "accepted", part[record](w.crew.keyed("full-1", "/bags/TR1/checks", check)).Status)
	w.late = fields{ // made straight after it, sent only after the next use
		"kind": "full", "happened_at": time.Now().UTC().Format(time.RFC3339Nano), "seal_seen": "100002",
		"seen_position": w.position(),
		"lines": []fields{{"lot_id": w.lotID("tq stowed"), "counted": 2}, {"lot_id": w.lotID("early"), "counted": 2,
			"reason": "missing"}},
	}

	w.readiness("", `
		TR1 as of +0, horizon 30: ready_with_gaps
		warn below_par GAUZE 1 - -
		warn below_par MARKER 1 - -
		warn kit_rule  1 - -
		TQ/Front par 1 min 1 has 1 lacks 0 critical; 1 TQ tq stowed (T-01) through `+w.stowedThrough+` by stowed
		TQ/Leg par 1 min 1 has 1 lacks 0; 1 TQ tq stowed (T-01) through `+w.stowedThrough+` by stowed
		GAUZE/Main par 4 min 2 has 3 lacks 1; 3 GAUZE early (G-01) through +100 by printed
		MARKER/Front par 1 min 0 has 0 lacks 1
		next change +101 early
		first stop +101 early`)
	w.report("?station=N1", `
		as of -, horizon 30
		bags 0 ready 1 gaps 1 not 0 off
		row N1 TR1 GAUZE/Main par 4 min 2 has 3 lacks 1
		row N1 TR1 MARKER/Front par 1 min 0 has 0 lacks 1
		row N1 TR2 TQ/Front par 1 min 1 has 0 lacks 1 below critical
		row N1 TR2 TQ/Leg par 1 min 1 has 0 lacks 1 below
		row N1 TR2 GAUZE/Main par 4 min 2 has 0 lacks 4 below
		row N1 TR2 MARKER/Front par 1 min 0 has 0 lacks 1
		fill TR2 1 TQ tq (T-01) through `+w.day(w.endOf("tq"))+` from N1-STORE restock
		fill TR2 1 GAUZE early (G-01) through +100 from N1-STORE restock
		fill TR2 1 GAUZE later (G-02) through +400 from N1-STORE restock
		buy N1 3 GAUZE: 1 packs of 5
		buy N1 2 MARKER: 1 packs of 10
		buy N1 1 TQ: 1 packs of 2
		stop TR1 +101 early`)
}

// use takes a tourniquet and two gauzes to an incident: the bag stops.
func (w *walk) use() {
	use := fields{"incident": "I-0001", "seen_position": w.position(), "seal_seen": "100002",
		"lines": []fields{{"lot_id": w.lotID("tq stowed"), "qty": 1}, {"lot_id": w.lotID("early"), "qty": 2}}}
	assert.Equal(w, "accepted", part[record](w.crew.keyed("use-1", "/bags/TR1/uses", use)).Status)
	w.readiness("", `
		TR1 as of +0, horizon 30: not_ready
		stop below_minimum TQ 1 - -
		stop below_minimum GAUZE 3 - -
		stop kit_rule  1 - -
		warn below_par MARKER 1 - -
		warn kit_rule  1 - -
		warn no_seal  0 - -
		TQ/Front par 1 min 1 has 1 lacks 0 critical; 1 TQ tq stowed (T-01) through `+w.stowedThrough+` by stowed
		TQ/Leg par 1 min 1 has 0 lacks 1
		GAUZE/Main par 4 min 2 has 1 lacks 3; 1 GAUZE early (G-01) through +100 by printed
		MARKER/Front par 1 min 0 has 0 lacks 1`)
	// The critical front pouch of TR2 comes before the leg pouch of TR1.
	w.report("?station=N1", w.afterUse())
}

func (w *walk) afterUse() string {
	return `
		as of -, horizon 30
		bags 0 ready 0 gaps 2 not 0 off
		row N1 TR1 TQ/Leg par 1 min 1 has 0 lacks 1 below
		row N1 TR1 GAUZE/Main par 4 min 2 has 1 lacks 3 below
		row N1 TR1 MARKER/Front par 1 min 0 has 0 lacks 1
		row N1 TR2 TQ/Front par 1 min 1 has 0 lacks 1 below critical
		row N1 TR2 TQ/Leg par 1 min 1 has 0 lacks 1 below
		row N1 TR2 GAUZE/Main par 4 min 2 has 0 lacks 4 below
		row N1 TR2 MARKER/Front par 1 min 0 has 0 lacks 1
		fill TR2 1 TQ tq (T-01) through ` + w.day(w.endOf("tq")) + ` from N1-STORE restock
		fill TR1 1 GAUZE early (G-01) through +100 from N1-STORE restock
		fill TR2 2 GAUZE later (G-02) through +400 from N1-STORE restock
		buy N1 4 GAUZE: 1 packs of 5
		buy N1 2 MARKER: 1 packs of 10
		buy N1 2 TQ: 1 packs of 2`
}

// afterReports is what two reports leave of TR1, from the moment they are sent: the last gauze and the last tourniquet.
func (w *walk) afterReports() string {
	return `
		as of -, horizon 30
		bags 0 ready 0 gaps 2 not 0 off
		row N1 TR1 TQ/Front par 1 min 1 has 0 lacks 1 below critical
		row N1 TR1 TQ/Leg par 1 min 1 has 0 lacks 1 below
		row N1 TR1 GAUZE/Main par 4 min 2 has 0 lacks 4 below
		row N1 TR1 MARKER/Front par 1 min 0 has 0 lacks 1
		row N1 TR2 TQ/Front par 1 min 1 has 0 lacks 1 below critical
		row N1 TR2 TQ/Leg par 1 min 1 has 0 lacks 1 below
		row N1 TR2 GAUZE/Main par 4 min 2 has 0 lacks 4 below
		row N1 TR2 MARKER/Front par 1 min 0 has 0 lacks 1
		fill TR1 1 TQ tq (T-01) through ` + w.day(w.endOf("tq")) + ` from N1-STORE restock
		fill TR1 1 GAUZE early (G-01) through +100 from N1-STORE restock
		fill TR1 1 GAUZE later (G-02) through +400 from N1-STORE restock
		fill TR2 1 GAUZE later (G-02) through +400 from N1-STORE restock
		buy N1 5 GAUZE: 1 packs of 5
		buy N1 2 MARKER: 1 packs of 10
		buy N1 3 TQ: 2 packs of 2`
}

// waiting sends a use that the ledger lacks the stock for and the check that
// was made before the last use: both are kept and post nothing, and what they
// report is not counted on.
func (w *walk) waiting() {
	before := w.position()
	use := part[record](w.crew.keyed("use-2", "/bags/TR1/uses", fields{"incident": "I-0002", "seen_position": before,
		"lines": []fields{{"lot_id": w.lotID("tq stowed"), "qty": 2}}}))
	check := part[record](w.crew.keyed("full-2", "/bags/TR1/checks", w.late))
	for _, r := range []record{use, check} {
		assert.Equal(w, "to_review", r.Status)
		assert.NotEmpty(w, r.ReviewBecause)
	}
	assert.Equal(w, []record{use}, all[record](w.quartermaster, "/uses?status=to_review"))
	assert.Equal(w, []record{check}, all[record](w.quartermaster, "/checks?status=to_review"))
	assert.Equal(w, before, w.position())
	w.report("?station=N1", w.afterReports())
}

// decide ends the waiting. The late check saw one gauze less than was there
// then, and that difference still holds: it is posted. The use cannot be posted
// as it is; the quartermaster puts one tourniquet instead of two.
func (w *walk) decide() {
	check := all[record](w.quartermaster, "/checks?status=to_review")[0]
	use := all[record](w.quartermaster, "/uses?status=to_review")[0]
	w.crew.want(http.StatusForbidden, http.MethodPost, fmt.Sprintf("/checks/%d/decision", check.ID),
		fields{"decision": "accept", "reason": "me"})
	toCheck, toUse := fmt.Sprintf("/checks/%d/decision", check.ID), fmt.Sprintf("/uses/%d/decision", use.ID)
	posted := part[record](w.quartermaster.want(http.StatusOK, http.MethodPost, toCheck, fields{"decision": "accept",
		"reason": "the drive had no signal"}))
	assert.Equal(w, "accepted", posted.Status)
	assert.Equal(w, "desk", posted.Decision.By)
	w.quartermaster.want(http.StatusConflict, http.MethodPost, toCheck, fields{"decision": "reject", "reason": "again"})
	w.quartermaster.want(http.StatusConflict, http.MethodPost, toUse, fields{"decision": "accept", "reason": "as it is"})
	adjusted := part[record](w.quartermaster.want(http.StatusOK, http.MethodPost, toUse,
		fields{"decision": "edit", "reason": "one wrapper was from training",
			"lines": []fields{{"lot_id": w.lotID("tq stowed"), "qty": 1}}}))
	assert.Equal(w, "accepted", adjusted.Status)
	assert.Empty(w, all[record](w.quartermaster, "/uses?status=to_review"))
	w.report("?station=N1", w.afterReports())
}

// secondDelivery brings another gauze that the list accepts and markers to N1,
// and tourniquets that end sooner to S2. What N1 lacks S2 can spare, and the
// other way round, once each station's own needs are met.
func (w *walk) secondDelivery() {
	w.receipt("z", fields{"place": "N1-STORE", "item": "GAUZE-Z", "batch_no": "Z-01", "end_printed": w.in(201),
		"end_wording": "use_before", "qty": 6}, "+200")
	w.receipt("marker", fields{"place": "N1-STORE", "item": "MARKER", "qty": 10}, "-")
	w.receipt("tq sooner", fields{"place": "S2-STORE", "item": "TQ", "batch_no": "T-02", "end_printed": w.in(300),
		"end_wording": "expiry", "qty": 5}, "+300")
	tq := w.day(w.endOf("tq"))
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
		fill TR1 1 TQ tq (T-01) through `+tq+` from N1-STORE restock
		fill TR9 1 TQ tq sooner (T-02) through +300 from S2-STORE restock
		fill TR1 1 GAUZE early (G-01) through +100 from N1-STORE restock
		fill TR1 1 GAUZE later (G-02) through +400 from N1-STORE restock
		fill TR9 1 TQ tq sooner (T-02) through +300 from S2-STORE restock
		fill TR2 1 GAUZE later (G-02) through +400 from N1-STORE restock
		fill TR2 1 GAUZE-Z z (Z-01) through +200 from N1-STORE restock
		fill TR2 1 TQ tq sooner (T-02) through +300 from S2-STORE transfer
		fill TR1 1 TQ tq sooner (T-02) through +300 from S2-STORE transfer
		fill TR9 2 GAUZE-Z z (Z-01) through +200 from N1-STORE transfer
		fill TR2 1 TQ tq sooner (T-02) through +300 from S2-STORE transfer
		fill TR1 2 GAUZE-Z z (Z-01) through +200 from N1-STORE restock
		fill TR1 1 MARKER marker () through - from N1-STORE restock
		fill TR2 1 GAUZE-Z z (Z-01) through +200 from N1-STORE restock
		fill TR2 1 MARKER marker () through - from N1-STORE restock
		fill TR9 1 MARKER marker () through - from N1-STORE transfer
		buy N1 5 GAUZE: 1 packs of 5, 4 covered
		buy S2 4 GAUZE: 1 packs of 5, 2 covered`)
}

// restock moves two tourniquets over and packs TR1 again: what ends first goes
// in first, and the list's own gauze before the accepted one. The bag is ready.
func (w *walk) restock() {
	w.quartermaster.post("/movements", fields{"movements": []fields{{"lot_id": w.lotID("tq sooner"), "qty": 2,
		"from": "S2-STORE", "to": "N1-STORE", "reason": "transfer"}}})
	p := w.picks("", `
		TR1 as of +0
		in 1 TQ/Front tq sooner (T-02) through +300 from N1-STORE
		in 1 TQ/Leg tq sooner (T-02) through +300 from N1-STORE claimed by TR2
		in 1 GAUZE/Main early (G-01) through +100 from N1-STORE
		in 2 GAUZE/Main later (G-02) through +400 from N1-STORE claimed by TR2
		in 1 MARKER/Front marker () through - from N1-STORE
		in 1 GAUZE-Z/Main z (Z-01) through +200 from N1-STORE
		1 GAUZE-Z stand in for GAUZE/Main`)
	w.quartermaster.post("/bags/TR1/restocks", w.restockBy(p, "100003"))
	w.nameSplit("tq sooner", "sooner stowed", "+300")
	w.readiness("", `
		TR1 as of +0, horizon 30: ready
		TQ/Front par 1 min 1 has 1 lacks 0 critical; 1 TQ sooner stowed (T-02) through +300 by printed
		TQ/Leg par 1 min 1 has 1 lacks 0; 1 TQ sooner stowed (T-02) through +300 by printed
		GAUZE/Main par 4 min 2 has 4 lacks 0; 1 GAUZE early (G-01) through +100 by printed; `+
		`2 GAUZE later (G-02) through +400 by printed; 1 GAUZE-Z z (Z-01) through +200 by printed
		MARKER/Front par 1 min 0 has 1 lacks 0; 1 MARKER marker () through - by none
		next change +70 early
		first stop +301 sooner stowed`)
	w.report("?station=N1", `
		as of -, horizon 30
		bags 1 ready 0 gaps 1 not 0 off
		row N1 TR2 TQ/Front par 1 min 1 has 0 lacks 1 below critical
		row N1 TR2 TQ/Leg par 1 min 1 has 0 lacks 1 below
		row N1 TR2 GAUZE/Main par 4 min 2 has 0 lacks 4 below
		row N1 TR2 MARKER/Front par 1 min 0 has 0 lacks 1
		fill TR2 1 TQ tq (T-01) through `+w.day(w.endOf("tq"))+` from N1-STORE restock
		fill TR2 2 GAUZE-Z z (Z-01) through +200 from N1-STORE restock
		fill TR2 1 TQ tq sooner (T-02) through +300 from S2-STORE transfer
		fill TR2 1 GAUZE-Z z (Z-01) through +200 from N1-STORE restock
		fill TR2 1 MARKER marker () through - from N1-STORE restock
		buy N1 5 GAUZE: 1 packs of 5, 4 covered
		stop TR1 +301 sooner stowed`)
}

// books adds the ledger up: every movement that the walk made is there, every
// unit is in one place, and verify agrees.
func (w *walk) books() {
	type movement struct {
		Qty    int
		Reason string
	}
	count := map[string]int{}
	for _, m := range all[movement](w.quartermaster, "/movements?item=") {
		count[m.Reason] += m.Qty
	}
	assert.Equal(w, map[string]int{"receipt": 31, "stow": 13, "lost": 2, "used": 4, "transfer": 2}, count,
		"units by reason")

	type lot struct {
		ID    int64
		Where []struct {
			Place string
			Qty   int
		}
	}
	var where []string
	for _, l := range all[lot](w.quartermaster, "/lots?item=") {
		for _, x := range l.Where {
			where = append(where, fmt.Sprintf("%s %s %d", x.Place, w.lot(l.ID), x.Qty))
		}
	}
	slices.Sort(where)
	assert.Equal(w, []string{"N1-STORE marker 9", "N1-STORE tq 1", "N1-STORE z 5", "S2-STORE tq sooner 3",
		"TR1 early 1", "TR1 later 2", "TR1 marker 1", "TR1 sooner stowed 2", "TR1 z 1"}, where)
	seals := all[struct{ Event, Number string }](w.crew, "/bags/TR1/seals?")
	assert.Equal(w, "set 100003", seals[0].Event+" "+seals[0].Number)
	last := strings.TrimSpace(succeed(w, "verify", "--db", w.db))
	assert.Contains(w, last, " 21 stock records, 9 balances, 3 bags, 0 faults")
}
