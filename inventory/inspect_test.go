package inventory_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stowkeeper/inventory"
	"stowkeeper/inventory/ledger"
	"stowkeeper/inventory/lists"
	"stowkeeper/inventory/stock"
	"stowkeeper/inventory/store/storetest"
)

// inspect records an inspection that must be taken.
func (h *house) inspect(by inventory.Actor, lot int64, releaseTo string, points ...string) inventory.Inspection {
	i, err := h.s.Ledger.Inspect(h.ctx, by, lot, ledger.InspectionReport{Points: answers(points...), ReleaseTo: releaseTo})
	require.NoError(h.t, err)
	return i
}

// device returns where a device is and what is known of it.
func (h *house) device(lot int64) stock.DeviceStory {
	d, err := h.s.Stock.Device(h.ctx, admin, lot)
	require.NoError(h.t, err)
	return d
}

func (h *house) where(lot int64) string {
	if d := h.device(lot); len(d.Where) == 1 {
		return d.Where[0].Place
	}
	return ""
}

func (h *house) open(bag string) []inventory.Observation {
	open, err := h.s.Storeroom.Observations(h.ctx, admin, bag, inventory.ObservationFilter{Open: true})
	require.NoError(h.t, err)
	return open
}

// back is the movement of a device from one place to another.
func back(lot int64, from, to string, reason inventory.Reason) inventory.Movement {
	return inventory.Movement{LotID: lot, Qty: 1, From: from, To: to, Reason: reason}
}

// TestFailedInspection: a failed point sends the device to the quarantine of
// its purpose at once, stops the bag that it came from, and is told in its
// story; from there only a quartermaster's inspection brings it back.
func TestFailedInspection(t *testing.T) {
	t.Parallel()
	storetest.Engines(t, func(t *testing.T, s inventory.Store) {
		h := newHouse(t, s)
		splint := h.receive("SPLINT", "SP-1", 1, "")
		h.move(splint.ID, 1, "NORTH-STORE", "N-01", inventory.ReasonStow)
		h.pass(time.Hour)

		failed := h.inspect(crew, splint.ID, "", "frame whole", "!straps hold", "!bag clean")
		assert.False(t, failed.Passed)
		assert.Equal(t, []any{"N-01", "Cleo", inventory.Crew, h.now}, []any{failed.Place, failed.By, failed.Role,
			failed.HappenedAt})
		assert.Equal(t, "NORTH-QUARANTINE", h.where(splint.ID))
		require.Len(t, h.open("N-01"), 1)
		o := h.open("N-01")[0]
		assert.Equal(t, inventory.SawFailedPoint, o.Kind)
		assert.Equal(t, "Splint, traction, serial SP-1, failed on “straps hold”", o.Text, "the note point is no reason")
		assert.Equal(t, []any{splint.ID, "inspection 1", "Cleo"}, []any{o.LotID, o.Source, o.OpenedBy})
		assert.Contains(t, findings(h.readiness("N-01")), "stop observation SPLINT 1 0  ")
		assert.Equal(t, "set apart in quarantine", h.device(splint.ID).Standing)
		assert.False(t, h.device(splint.ID).Fit)

		toStore := back(splint.ID, "NORTH-QUARANTINE", "NORTH-STORE", inventory.ReasonRelease)
		h.refuse(inventory.Conflict, toStore) // it failed
		h.pass(time.Hour)
		h.inspect(crew, splint.ID, "", "frame whole", "straps hold")
		h.refuse(inventory.Conflict, toStore) // the crew's does not release
		h.pass(time.Hour)
		h.inspect(keeper, splint.ID, "", "frame whole", "!straps hold")
		h.refuse(inventory.Conflict, toStore) // it failed again, and stays where it is
		assert.Len(t, h.open("N-01"), 1, "no bag to tell twice")
		h.pass(time.Hour)
		h.inspect(keeper, splint.ID, "", "frame whole", "straps hold")
		_, err := h.s.Ledger.Move(h.ctx, keeper, []inventory.Movement{toStore})
		require.NoError(t, err)
		d := h.device(splint.ID)
		assert.Equal(t, []any{"fit for issue", true, day("2027-06-14")}, []any{d.Standing, d.Fit, d.InspectedOn})
		assert.Len(t, d.Inspections, 4)
		var kinds []string
		for _, l := range d.Story {
			kinds = append(kinds, l.Kind)
		}
		assert.Equal(t, []string{"movement", "movement", "inspection", "movement", "inspection", "inspection", "inspection",
			"movement"}, kinds)
		assert.Equal(t, "inspected at N-01: failed on “straps hold”", d.Story[2].Text)
		assert.Equal(t, "set apart, from N-01 to NORTH-QUARANTINE (failed on “straps hold”)", d.Story[3].Text,
			"what it led to comes after it")
		h.verify()
	})
}

// TestPassedBeforeItCame: an inspection from before the device was set apart
// releases nothing, whatever times people give.
func TestPassedBeforeItCame(t *testing.T) {
	t.Parallel()
	h := newHouse(t, storetest.OpenSQLite(t))
	splint := h.receive("SPLINT", "SP-1", 1, "")
	h.pass(time.Hour)
	h.inspect(keeper, splint.ID, "", "frame whole", "straps hold")
	h.pass(time.Hour)
	late := back(splint.ID, "NORTH-STORE", "NORTH-QUARANTINE", inventory.ReasonQuarantine)
	late.HappenedAt = noon.Add(time.Minute) // recorded late, and before the inspection by its own account
	_, err := h.s.Ledger.Move(h.ctx, keeper, []inventory.Movement{late})
	require.NoError(t, err)
	toStore := back(splint.ID, "NORTH-QUARANTINE", "NORTH-STORE", inventory.ReasonRelease)
	h.refuse(inventory.Conflict, toStore)
	_, err = h.s.Ledger.Inspect(h.ctx, keeper, splint.ID, ledger.InspectionReport{Points: answers("frame whole",
		"straps hold"), HappenedAt: noon.Add(30 * time.Second)})
	require.NoError(t, err)
	h.refuse(inventory.Conflict, toStore) // made before it came
	h.pass(time.Hour)
	h.inspect(keeper, splint.ID, "NORTH-STORE", "frame whole", "straps hold")
	assert.Equal(t, "NORTH-STORE", h.where(splint.ID))

	// Both at once: the device is judged by where it is then.
	h.pass(time.Hour)
	_, err = h.s.Ledger.Move(h.ctx, keeper, []inventory.Movement{back(splint.ID, "NORTH-STORE", "NORTH-QUARANTINE",
		inventory.ReasonQuarantine), toStore})
	requireKind(t, inventory.Conflict, err)
	assert.Equal(t, "NORTH-STORE", h.where(splint.ID))
	h.verify()
}

// TestReleaseInOneStep: who inspects says where it goes; the rules of movements
// hold, and nothing is recorded where they refuse it.
func TestReleaseInOneStep(t *testing.T) {
	t.Parallel()
	h := newHouse(t, storetest.OpenSQLite(t))
	for _, c := range []struct {
		at, reason string
		to         string
		by         inventory.Actor
		refused    inventory.ErrorKind
	}{
		{"NORTH-QUARANTINE", "quarantine", "NORTH-STORE", keeper, ""},
		{"NORTH-QUARANTINE", "quarantine", "N-01", keeper, inventory.Conflict}, // by way of the store
		{"NORTH-QUARANTINE", "quarantine", "NORTH-TRAINING", keeper, inventory.Conflict},
		{"NORTH-QUARANTINE", "quarantine", "NOWHERE", keeper, inventory.Invalid},
		{"NORTH-QUARANTINE", "quarantine", "used", keeper, inventory.Invalid},
		{"NORTH-QUARANTINE", "quarantine", "NORTH-STORE", crew, inventory.Forbidden},
		{"N-REPAIR", "away", "NORTH-STORE", keeper, ""},
		{"N-REPAIR", "away", "N-01", keeper, ""},
		{"N-REPAIR", "away", "N-BELT", keeper, ""},
		{"N-BELT", "stow", "N-01", keeper, ""},
		{"N-01", "stow", "NORTH-STORE", keeper, ""},
		{"N-01", "stow", "N-02", keeper, ""},
		{"N-01", "stow", "N-BELT", keeper, ""},
		{"NORTH-STORE", "", "N-01", keeper, ""},
		{"NORTH-STORE", "", "N-BELT", keeper, ""},
		{"NORTH-STORE", "", "SOUTH-STORE", keeper, ""},
		{"NORTH-STORE", "", "SOUTH-STORE", inventory.Actor{Name: "Nor", Role: inventory.Quartermaster,
			Stations: []string{"NORTH"}}, inventory.Forbidden},
	} {
		h.pass(time.Hour)
		splint := h.receive("SPLINT", c.at+c.to+c.by.Name, 1, "")
		if c.reason != "" {
			h.move(splint.ID, 1, "NORTH-STORE", c.at, inventory.Reason(c.reason))
		}
		h.pass(time.Minute)
		before := h.everything()
		_, err := h.s.Ledger.Inspect(h.ctx, c.by, splint.ID, ledger.InspectionReport{Points: answers("frame whole",
			"straps hold"), ReleaseTo: c.to})
		if c.refused != "" {
			requireKind(t, c.refused, err)
			assert.Equal(t, before, h.everything())
			assert.Empty(t, h.device(splint.ID).Inspections)
			continue
		}
		require.NoError(t, err, "%s to %s", c.at, c.to)
		assert.Equal(t, c.to, h.where(splint.ID))
	}
	h.verify()
}

// TestAwayAndUseReturnThroughAnInspection: a reusable device that was used goes
// to quarantine; one that was away is inspected before it comes back; anybody
// who may check may do that, unless it had failed.
func TestAwayAndUseReturnThroughAnInspection(t *testing.T) {
	t.Parallel()
	storetest.Engines(t, func(t *testing.T, s inventory.Store) {
		h := newHouse(t, s)
		splint := h.receive("SPLINT", "SP-1", 1, "")
		h.move(splint.ID, 1, "NORTH-STORE", "N-01", inventory.ReasonStow)
		h.pass(time.Hour)
		u, err := h.s.Shift.RecordUse(h.ctx, crew, inventory.Use{Bag: "N-01", Incident: "I-7",
			SeenPosition: h.bag("N-01").Position,
			Lines:        []inventory.UseLine{{LotID: splint.ID, Qty: 1}}}, "")
		require.NoError(t, err)
		require.Equal(t, inventory.StatusAccepted, u.Status)
		assert.Equal(t, "NORTH-QUARANTINE", h.where(splint.ID))
		story, err := h.s.Stock.Lot(h.ctx, manager, splint.ID)
		require.NoError(t, err)
		assert.Equal(t, []stock.UsedUnits{{Incident: "I-7", Bag: "N-01", HappenedAt: h.now, By: "Cleo", LotID: splint.ID,
			Serial: "SP-1", Qty: 1}}, story.Incidents, "the incident is traced")
		assert.Contains(t, h.device(splint.ID).Story[2].Text,
			"used from N-01, to NORTH-QUARANTINE until it is inspected, I-7")

		h.pass(time.Hour)
		h.move(splint.ID, 1, "NORTH-QUARANTINE", "N-REPAIR", inventory.ReasonAway)
		h.refuse(inventory.Conflict, back(splint.ID, "N-REPAIR", "NORTH-STORE", inventory.ReasonReturn))
		h.refuse(inventory.Conflict, back(splint.ID, "N-REPAIR", "N-01", inventory.ReasonReturn))
		h.move(splint.ID, 1, "N-REPAIR", "NORTH-QUARANTINE", inventory.ReasonQuarantine) // that is open
		h.move(splint.ID, 1, "NORTH-QUARANTINE", "N-REPAIR", inventory.ReasonAway)
		h.pass(time.Hour)
		h.inspect(crew, splint.ID, "", "frame whole", "straps hold")
		h.move(splint.ID, 1, "N-REPAIR", "N-01", inventory.ReasonReturn)

		// Once it failed, a way round quarantine does not help.
		h.pass(time.Hour)
		h.inspect(crew, splint.ID, "", "!frame whole")
		h.pass(time.Hour)
		h.move(splint.ID, 1, "NORTH-QUARANTINE", "N-REPAIR", inventory.ReasonAway)
		h.pass(time.Hour)
		h.inspect(crew, splint.ID, "", "frame whole", "straps hold")
		h.refuse(inventory.Conflict, back(splint.ID, "N-REPAIR", "N-01", inventory.ReasonReturn))
		h.pass(time.Hour)
		h.inspect(keeper, splint.ID, "N-01", "frame whole", "straps hold")
		assert.Equal(t, "N-01", h.where(splint.ID))

		// What is not a device comes and goes without.
		dressings := h.receive("DRESSING", "B1", 2, "2030-01")
		h.move(dressings.ID, 1, "NORTH-STORE", "NORTH-QUARANTINE", inventory.ReasonQuarantine)
		h.move(dressings.ID, 1, "NORTH-QUARANTINE", "NORTH-STORE", inventory.ReasonRelease)
		// A device without points comes back from away, and from quarantine
		// when it is in order as a whole.
		tq := h.receive("TQ", "T-1", 1, "")
		h.move(tq.ID, 1, "NORTH-STORE", "N-REPAIR", inventory.ReasonAway)
		h.move(tq.ID, 1, "N-REPAIR", "NORTH-STORE", inventory.ReasonReturn)
		h.move(tq.ID, 1, "NORTH-STORE", "NORTH-QUARANTINE", inventory.ReasonQuarantine)
		h.refuse(inventory.Conflict, back(tq.ID, "NORTH-QUARANTINE", "NORTH-STORE", inventory.ReasonRelease))
		h.pass(time.Hour)
		h.inspect(keeper, tq.ID, "NORTH-STORE", inventory.WholePoint)
		h.verify()
	})
}

// TestNoWayRoundQuarantine: neither a correction nor getting lost and found
// brings a device past the inspection that it needs.
func TestNoWayRoundQuarantine(t *testing.T) {
	t.Parallel()
	storetest.Engines(t, func(t *testing.T, s inventory.Store) {
		h := newHouse(t, s)
		splint := h.receive("SPLINT", "SP-1", 1, "")
		h.move(splint.ID, 1, "NORTH-STORE", "N-01", inventory.ReasonStow)
		h.pass(time.Hour)
		h.inspect(crew, splint.ID, "", "!frame whole")
		ms, err := h.s.Ledger.Movements(h.ctx, admin, inventory.MovementFilter{Reason: inventory.ReasonQuarantine},
			inventory.Page{})
		require.NoError(t, err)
		undo := back(splint.ID, "NORTH-QUARANTINE", "N-01", inventory.ReasonCorrection)
		undo.Corrects = ms[0].ID
		h.refuse(inventory.Conflict, undo)

		h.pass(time.Hour)
		h.move(splint.ID, 1, "NORTH-QUARANTINE", "lost", inventory.ReasonLost)
		assert.Equal(t, "lost", h.device(splint.ID).Standing)
		for _, to := range []string{"N-01", "NORTH-STORE", "N-BELT"} {
			h.refuse(inventory.Conflict, back(splint.ID, "lost", to, inventory.ReasonFound))
		}
		h.move(splint.ID, 1, "lost", "NORTH-QUARANTINE", inventory.ReasonFound)
		h.pass(time.Hour)
		h.inspect(keeper, splint.ID, "", "frame whole", "straps hold")
		_, err = h.s.Ledger.Move(h.ctx, keeper, []inventory.Movement{undo})
		requireKind(t, inventory.Conflict, err) // by now other movements came after it
		h.move(splint.ID, 1, "NORTH-QUARANTINE", "NORTH-STORE", inventory.ReasonRelease)
		h.verify()
	})
}

// TestOverdueIsNotStowed: a device whose inspection is overdue is inspected
// before it goes into a bag or onto a carrier; one that is there stays, with a
// warning; the pick list says so.
func TestOverdueIsNotStowed(t *testing.T) {
	t.Parallel()
	h := newHouse(t, storetest.OpenSQLite(t))
	_, err := h.s.Lists.CreateKitList(h.ctx, admin, inventory.KitList{Code: "SPLINTS", Name: "Splints",
		Lines: []inventory.Line{{Item: "SPLINT", Par: 1, Minimum: 1}}})
	require.NoError(t, err)
	_, err = h.s.Lists.CreateBag(h.ctx, admin, inventory.Bag{Code: "N-03", Station: "NORTH", Name: "Splint bag",
		KitList: "SPLINTS"})
	require.NoError(t, err)
	inBag, inStore := h.receive("SPLINT", "SP-1", 1, ""), h.receive("SPLINT", "SP-2", 1, "")
	h.move(inBag.ID, 1, "NORTH-STORE", "N-01", inventory.ReasonStow)
	h.pass(91 * 24 * time.Hour)
	assert.Contains(t, findings(h.readiness("N-01")), "warn inspection_due SPLINT 1 1 2027-09-12 ")
	stow := back(inStore.ID, "NORTH-STORE", "N-03", inventory.ReasonStow)
	h.refuse(inventory.Conflict, stow)
	h.refuse(inventory.Conflict, back(inStore.ID, "NORTH-STORE", "N-BELT", inventory.ReasonStow))
	h.move(inStore.ID, 1, "NORTH-STORE", "SOUTH-STORE", inventory.ReasonTransfer)
	h.move(inStore.ID, 1, "SOUTH-STORE", "NORTH-STORE", inventory.ReasonTransfer)

	pl, err := h.s.Storeroom.RestockPlan(h.ctx, keeper, "N-03", lists.Outlook{})
	require.NoError(t, err)
	require.Len(t, pl.Lines, 1)
	assert.Equal(t, []any{"SP-2", true}, []any{pl.Lines[0].Serial, pl.Lines[0].InspectFirst})
	rep, err := h.s.Report.Shortages(h.ctx, keeper, nil, lists.Outlook{})
	require.NoError(t, err)
	fill := rep.Fill[0]
	assert.Equal(t, []any{"N-03", "SP-2", true}, []any{fill.Bag, fill.Serial, fill.InspectFirst},
		"it is no reason to buy another one")

	due, err := h.s.Stock.Devices(h.ctx, crew, stock.DeviceFilter{DueBefore: day("2027-09-14")}, inventory.Page{})
	require.NoError(t, err)
	assert.Len(t, due, 2)
	h.inspect(crew, inStore.ID, "", "frame whole", "straps hold")
	_, err = h.s.Ledger.Move(h.ctx, keeper, []inventory.Movement{stow})
	require.NoError(t, err)
	due, err = h.s.Stock.Devices(h.ctx, crew, stock.DeviceFilter{DueBefore: day("2027-09-14")}, inventory.Page{})
	require.NoError(t, err)
	require.Len(t, due, 1)
	assert.Equal(t, []any{"SP-1", true, "inspection due since 2027-09-12", true}, []any{due[0].Serial,
		due[0].InspectionOverdue, due[0].Standing, due[0].Fit})
	h.verify()
}

func TestInspectRefuses(t *testing.T) {
	t.Parallel()
	h := newHouse(t, storetest.OpenSQLite(t))
	splint, dressings := h.receive("SPLINT", "SP-1", 1, ""), h.receive("DRESSING", "B1", 2, "2030-01")
	fine := ledger.InspectionReport{Points: answers("frame whole", "straps hold")}
	try := func(by inventory.Actor, lot int64, in ledger.InspectionReport) error {
		before := h.everything()
		_, err := h.s.Ledger.Inspect(h.ctx, by, lot, in)
		assert.Equal(t, before, h.everything())
		return err
	}
	requireKind(t, inventory.SignedOut, try(nobody, splint.ID, fine))
	requireKind(t, inventory.Forbidden, try(manager, splint.ID, fine))
	requireKind(t, inventory.NotFound, try(keeper, 999, fine))
	requireKind(t, inventory.Conflict, try(keeper, dressings.ID, fine))
	requireFields(t, try(keeper, splint.ID, ledger.InspectionReport{Note: "\xff"}), "points", "note")
	requireFields(t, try(keeper, splint.ID, ledger.InspectionReport{Points: fine.Points, HappenedAt: noon.Add(time.Hour)}),
		"happened_at")
	h.move(splint.ID, 1, "NORTH-STORE", "SOUTH-STORE", inventory.ReasonTransfer)
	requireKind(t, inventory.Forbidden, try(crew, splint.ID, fine)) // not at their station
	h.move(splint.ID, 1, "SOUTH-STORE", "disposed", inventory.ReasonDisposed)
	requireKind(t, inventory.Conflict, try(keeper, splint.ID, fine))
}

// TestInspectInALentBag: a bag that is at another station has its devices
// inspected by that station's crew, and set apart there.
func TestInspectInALentBag(t *testing.T) {
	t.Parallel()
	h := newHouse(t, storetest.OpenSQLite(t))
	splint := h.receive("SPLINT", "SP-1", 1, "")
	h.move(splint.ID, 1, "NORTH-STORE", "N-01", inventory.ReasonStow)
	_, err := h.s.Lists.UpdateBag(h.ctx, admin, "N-01", 0, ledger.BagChange{AtStation: ptr("SOUTH")})
	require.NoError(t, err)
	_, err = h.s.Ledger.Inspect(h.ctx, crew, splint.ID, ledger.InspectionReport{Points: answers("!frame whole")})
	requireKind(t, inventory.Forbidden, err)
	southern := inventory.Actor{Name: "Sol", Role: inventory.Crew, Stations: []string{"SOUTH"}}
	h.inspect(southern, splint.ID, "", "!frame whole")
	assert.Equal(t, "SOUTH-QUARANTINE", h.where(splint.ID))
	assert.Len(t, h.open("N-01"), 1)
	h.verify()
}
