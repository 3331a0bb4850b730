package ledger_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stowkeeper/inventory"
	"stowkeeper/inventory/fixture"
	"stowkeeper/inventory/inventorytest"
	"stowkeeper/inventory/ledger"
	"stowkeeper/inventory/lists"
	"stowkeeper/inventory/stock"
	"stowkeeper/inventory/store/storetest"
)

// TestFailedInspection: a failed point sends the device to the quarantine of
// its purpose at once, stops the bag that it came from, and is told in its
// story; from there only a quartermaster's inspection brings it back.
func TestFailedInspection(t *testing.T) {
	t.Parallel()
	storetest.Engines(t, func(t *testing.T, s inventory.Store) {
		h := fixture.New(t, s)
		splint := h.Receive("SPLINT", "SP-1", 1, "")
		h.Move(splint.ID, 1, "NORTH-STORE", "N-01", inventory.ReasonStow)
		h.Pass(time.Hour)

		failed := h.Inspect(fixture.Crew, splint.ID, "", "frame whole", "!straps hold", "!bag clean")
		assert.False(t, failed.Passed)
		assert.Equal(t, []any{"N-01", "Cleo", inventory.Crew, h.Now}, []any{failed.Place, failed.By, failed.Role,
			failed.HappenedAt})
		assert.Equal(t, "NORTH-QUARANTINE", h.Where(splint.ID))
		require.Len(t, h.Open("N-01"), 1)
		o := h.Open("N-01")[0]
		assert.Equal(t, inventory.SawFailedPoint, o.Kind)
		assert.Equal(t, "Splint, traction, serial SP-1, failed on “straps hold”", o.Text.String(),
			"the note point is no reason")
		assert.Equal(t, []any{splint.ID, "inspection 1", "Cleo"}, []any{o.LotID, o.Source, o.OpenedBy})
		assert.Contains(t, inventorytest.Findings(h.Readiness("N-01")), "stop observation SPLINT 1 0  ")
		assert.Equal(t, "in quarantine", h.Device(splint.ID).Standing.String())
		assert.False(t, h.Device(splint.ID).Fit)

		toStore := fixture.Back(splint.ID, "NORTH-QUARANTINE", "NORTH-STORE", inventory.ReasonRelease)
		h.Refuse(inventory.Conflict, toStore) // it failed
		h.Pass(time.Hour)
		h.Inspect(fixture.Crew, splint.ID, "", "frame whole", "straps hold")
		h.Refuse(inventory.Conflict, toStore) // the crew's does not release
		h.Pass(time.Hour)
		h.Inspect(fixture.Keeper, splint.ID, "", "frame whole", "!straps hold")
		h.Refuse(inventory.Conflict, toStore) // it failed again, and stays where it is
		assert.Len(t, h.Open("N-01"), 1, "no bag to tell twice")
		h.Pass(time.Hour)
		h.Inspect(fixture.Keeper, splint.ID, "", "frame whole", "straps hold")
		_, err := h.S.Ledger.Move(h.Ctx, fixture.Keeper, []inventory.Movement{toStore})
		require.NoError(t, err)
		d := h.Device(splint.ID)
		assert.Equal(t, []any{"fit for issue", true, inventorytest.Day("2027-06-14")}, []any{d.Standing.String(), d.Fit,
			d.InspectedOn})
		assert.Len(t, d.Inspections, 4)
		var kinds []string
		for _, l := range d.Story {
			kinds = append(kinds, l.Kind)
		}
		assert.Equal(t, []string{"movement", "movement", "inspection", "movement", "inspection", "inspection", "inspection",
			"movement"}, kinds)
		assert.Equal(t, "inspected at N-01: failed on “straps hold”", d.Story[2].Text.String())
		assert.Equal(t, "to quarantine, from N-01 to NORTH-QUARANTINE (failed on “straps hold”)", d.Story[3].Text.String(),
			"what it led to comes after it")
		h.Verify()
	})
}

// TestPassedBeforeItCame: an inspection from before the device was set apart
// releases nothing, whatever times people give.
func TestPassedBeforeItCame(t *testing.T) {
	t.Parallel()
	h := fixture.New(t, storetest.OpenSQLite(t))
	splint := h.Receive("SPLINT", "SP-1", 1, "")
	h.Pass(time.Hour)
	h.Inspect(fixture.Keeper, splint.ID, "", "frame whole", "straps hold")
	h.Pass(time.Hour)
	late := fixture.Back(splint.ID, "NORTH-STORE", "NORTH-QUARANTINE", inventory.ReasonQuarantine)
	late.HappenedAt = inventorytest.Noon.Add(time.Minute) // recorded late, and before the inspection by its own account
	_, err := h.S.Ledger.Move(h.Ctx, fixture.Keeper, []inventory.Movement{late})
	require.NoError(t, err)
	toStore := fixture.Back(splint.ID, "NORTH-QUARANTINE", "NORTH-STORE", inventory.ReasonRelease)
	h.Refuse(inventory.Conflict, toStore)
	_, err = h.S.Ledger.Inspect(h.Ctx, fixture.Keeper, splint.ID,
		ledger.InspectionReport{Points: inventorytest.Answers("frame whole",
			"straps hold"), HappenedAt: inventorytest.Noon.Add(30 * time.Second)})
	require.NoError(t, err)
	h.Refuse(inventory.Conflict, toStore) // made before it came
	h.Pass(time.Hour)
	h.Inspect(fixture.Keeper, splint.ID, "NORTH-STORE", "frame whole", "straps hold")
	assert.Equal(t, "NORTH-STORE", h.Where(splint.ID))

	// Both at once: the device is judged by where it is then.
	h.Pass(time.Hour)
	_, err = h.S.Ledger.Move(h.Ctx, fixture.Keeper, []inventory.Movement{fixture.Back(splint.ID, "NORTH-STORE",
		"NORTH-QUARANTINE",
		inventory.ReasonQuarantine), toStore})
	inventorytest.RequireKind(t, inventory.Conflict, err)
	assert.Equal(t, "NORTH-STORE", h.Where(splint.ID))
	h.Verify()
}

// TestReleaseInOneStep: who inspects says where it goes; the rules of movements
// hold, and nothing is recorded where they refuse it.
func TestReleaseInOneStep(t *testing.T) {
	t.Parallel()
	h := fixture.New(t, storetest.OpenSQLite(t))
	for _, c := range []struct {
		at, reason string
		to         string
		by         inventory.Actor
		refused    inventory.ErrorKind
	}{
		{"NORTH-QUARANTINE", "quarantine", "NORTH-STORE", fixture.Keeper, ""},
		{"NORTH-QUARANTINE", "quarantine", "N-01", fixture.Keeper, inventory.Conflict}, // by way of the store
		{"NORTH-QUARANTINE", "quarantine", "NORTH-TRAINING", fixture.Keeper, inventory.Conflict},
		{"NORTH-QUARANTINE", "quarantine", "NOWHERE", fixture.Keeper, inventory.Invalid},
		{"NORTH-QUARANTINE", "quarantine", "used", fixture.Keeper, inventory.Invalid},
		{"NORTH-QUARANTINE", "quarantine", "NORTH-STORE", fixture.Crew, inventory.Forbidden},
		{"N-REPAIR", "away", "NORTH-STORE", fixture.Keeper, ""},
		{"N-REPAIR", "away", "N-01", fixture.Keeper, ""},
		{"N-REPAIR", "away", "N-BELT", fixture.Keeper, ""},
		{"N-BELT", "stow", "N-01", fixture.Keeper, ""},
		{"N-01", "stow", "NORTH-STORE", fixture.Keeper, ""},
		{"N-01", "stow", "N-02", fixture.Keeper, ""},
		{"N-01", "stow", "N-BELT", fixture.Keeper, ""},
		{"NORTH-STORE", "", "N-01", fixture.Keeper, ""},
		{"NORTH-STORE", "", "N-BELT", fixture.Keeper, ""},
		{"NORTH-STORE", "", "SOUTH-STORE", fixture.Keeper, ""},
		{"NORTH-STORE", "", "SOUTH-STORE", inventory.Actor{Name: "Nor", Role: inventory.Quartermaster,
			Stations: []string{"NORTH"}}, inventory.Forbidden},
	} {
		h.Pass(time.Hour)
		splint := h.Receive("SPLINT", c.at+c.to+c.by.Name, 1, "")
		if c.reason != "" {
			h.Move(splint.ID, 1, "NORTH-STORE", c.at, inventory.Reason(c.reason))
		}
		h.Pass(time.Minute)
		before := h.Everything()
		_, err := h.S.Ledger.Inspect(h.Ctx, c.by, splint.ID,
			ledger.InspectionReport{Points: inventorytest.Answers("frame whole",
				"straps hold"), ReleaseTo: c.to})
		if c.refused != "" {
			inventorytest.RequireKind(t, c.refused, err)
			assert.Equal(t, before, h.Everything())
			assert.Empty(t, h.Device(splint.ID).Inspections)
			continue
		}
		require.NoError(t, err, "%s to %s", c.at, c.to)
		assert.Equal(t, c.to, h.Where(splint.ID))
	}
	h.Verify()
}

// TestAwayAndUseReturnThroughAnInspection: a reusable device that was used goes
// to quarantine; one that was away is inspected before it comes back; anybody
// who may check may do that, unless it had failed.
func TestAwayAndUseReturnThroughAnInspection(t *testing.T) {
	t.Parallel()
	storetest.Engines(t, func(t *testing.T, s inventory.Store) {
		h := fixture.New(t, s)
		splint := h.Receive("SPLINT", "SP-1", 1, "")
		h.Move(splint.ID, 1, "NORTH-STORE", "N-01", inventory.ReasonStow)
		h.Pass(time.Hour)
		u, err := h.S.Shift.RecordUse(h.Ctx, fixture.Crew, inventory.Use{Bag: "N-01", Incident: "I-7",
			SeenPosition: h.Bag("N-01").Position,
			Lines:        []inventory.UseLine{{LotID: splint.ID, Qty: 1}}}, "")
		require.NoError(t, err)
		require.Equal(t, inventory.StatusAccepted, u.Status)
		assert.Equal(t, "NORTH-QUARANTINE", h.Where(splint.ID))
		story, err := h.S.Stock.Lot(h.Ctx, fixture.Manager, splint.ID)
		require.NoError(t, err)
		assert.Equal(t, []stock.UsedUnits{{Incident: "I-7", Bag: "N-01", HappenedAt: h.Now, By: "Cleo", LotID: splint.ID,
			Serial: "SP-1", Qty: 1}}, story.Incidents, "the incident is traced")
		assert.Contains(t, h.Device(splint.ID).Story[2].Text.String(),
			"used from N-01, to NORTH-QUARANTINE until it is inspected, I-7")

		h.Pass(time.Hour)
		h.Move(splint.ID, 1, "NORTH-QUARANTINE", "N-REPAIR", inventory.ReasonAway)
		h.Refuse(inventory.Conflict, fixture.Back(splint.ID, "N-REPAIR", "NORTH-STORE", inventory.ReasonReturn))
		h.Refuse(inventory.Conflict, fixture.Back(splint.ID, "N-REPAIR", "N-01", inventory.ReasonReturn))
		h.Move(splint.ID, 1, "N-REPAIR", "NORTH-QUARANTINE", inventory.ReasonQuarantine) // that is open
		h.Move(splint.ID, 1, "NORTH-QUARANTINE", "N-REPAIR", inventory.ReasonAway)
		h.Pass(time.Hour)
		h.Inspect(fixture.Crew, splint.ID, "", "frame whole", "straps hold")
		h.Move(splint.ID, 1, "N-REPAIR", "N-01", inventory.ReasonReturn)

		// Once it failed, a way round quarantine does not help.
		h.Pass(time.Hour)
		h.Inspect(fixture.Crew, splint.ID, "", "!frame whole")
		h.Pass(time.Hour)
		h.Move(splint.ID, 1, "NORTH-QUARANTINE", "N-REPAIR", inventory.ReasonAway)
		h.Pass(time.Hour)
		h.Inspect(fixture.Crew, splint.ID, "", "frame whole", "straps hold")
		h.Refuse(inventory.Conflict, fixture.Back(splint.ID, "N-REPAIR", "N-01", inventory.ReasonReturn))
		h.Pass(time.Hour)
		h.Inspect(fixture.Keeper, splint.ID, "N-01", "frame whole", "straps hold")
		assert.Equal(t, "N-01", h.Where(splint.ID))

		// What is not a device comes and goes without.
		dressings := h.Receive("DRESSING", "B1", 2, "2030-01")
		h.Move(dressings.ID, 1, "NORTH-STORE", "NORTH-QUARANTINE", inventory.ReasonQuarantine)
		h.Move(dressings.ID, 1, "NORTH-QUARANTINE", "NORTH-STORE", inventory.ReasonRelease)
		// A device without points comes back from away, and from quarantine
		// when it is in order as a whole.
		tq := h.Receive("TQ", "T-1", 1, "")
		h.Move(tq.ID, 1, "NORTH-STORE", "N-REPAIR", inventory.ReasonAway)
		h.Move(tq.ID, 1, "N-REPAIR", "NORTH-STORE", inventory.ReasonReturn)
		h.Move(tq.ID, 1, "NORTH-STORE", "NORTH-QUARANTINE", inventory.ReasonQuarantine)
		h.Refuse(inventory.Conflict, fixture.Back(tq.ID, "NORTH-QUARANTINE", "NORTH-STORE", inventory.ReasonRelease))
		h.Pass(time.Hour)
		h.Inspect(fixture.Keeper, tq.ID, "NORTH-STORE", inventory.WholePoint)
		h.Verify()
	})
}

// TestNoWayRoundQuarantine: neither a correction nor getting lost and found
// brings a device past the inspection that it needs.
func TestNoWayRoundQuarantine(t *testing.T) {
	t.Parallel()
	storetest.Engines(t, func(t *testing.T, s inventory.Store) {
		h := fixture.New(t, s)
		splint := h.Receive("SPLINT", "SP-1", 1, "")
		h.Move(splint.ID, 1, "NORTH-STORE", "N-01", inventory.ReasonStow)
		h.Pass(time.Hour)
		h.Inspect(fixture.Crew, splint.ID, "", "!frame whole")
		ms, err := h.S.Ledger.Movements(h.Ctx, fixture.Admin, inventory.MovementFilter{Reason: inventory.ReasonQuarantine},
			inventory.Page{})
		require.NoError(t, err)
		undo := fixture.Back(splint.ID, "NORTH-QUARANTINE", "N-01", inventory.ReasonCorrection)
		undo.Corrects = ms[0].ID
		h.Refuse(inventory.Conflict, undo)

		h.Pass(time.Hour)
		h.Move(splint.ID, 1, "NORTH-QUARANTINE", "lost", inventory.ReasonLost)
		assert.Equal(t, "lost", h.Device(splint.ID).Standing.String())
		for _, to := range []string{"N-01", "NORTH-STORE", "N-BELT"} {
			h.Refuse(inventory.Conflict, fixture.Back(splint.ID, "lost", to, inventory.ReasonFound))
		}
		h.Move(splint.ID, 1, "lost", "NORTH-QUARANTINE", inventory.ReasonFound)
		h.Pass(time.Hour)
		h.Inspect(fixture.Keeper, splint.ID, "", "frame whole", "straps hold")
		_, err = h.S.Ledger.Move(h.Ctx, fixture.Keeper, []inventory.Movement{undo})
		inventorytest.RequireKind(t, inventory.Conflict, err) // by now other movements came after it
		h.Move(splint.ID, 1, "NORTH-QUARANTINE", "NORTH-STORE", inventory.ReasonRelease)
		h.Verify()
	})
}

// TestOverdueIsNotStowed: a device whose inspection is overdue is inspected
// before it goes into a bag or onto a carrier; one that is there stays, with a
// warning; the pick list says so.
func TestOverdueIsNotStowed(t *testing.T) {
	t.Parallel()
	h := fixture.New(t, storetest.OpenSQLite(t))
	_, err := h.S.Lists.CreateKitList(h.Ctx, fixture.Admin, inventory.KitList{Code: "SPLINTS", Name: "Splints",
		Lines: []inventory.Line{{Item: "SPLINT", Par: 1, Minimum: 1}}})
	require.NoError(t, err)
	_, err = h.S.Lists.CreateBag(h.Ctx, fixture.Admin, inventory.Bag{Code: "N-03", Station: "NORTH", Name: "Splint bag",
		KitList: "SPLINTS"})
	require.NoError(t, err)
	inBag, inStore := h.Receive("SPLINT", "SP-1", 1, ""), h.Receive("SPLINT", "SP-2", 1, "")
	h.Move(inBag.ID, 1, "NORTH-STORE", "N-01", inventory.ReasonStow)
	h.Pass(91 * 24 * time.Hour)
	assert.Contains(t, inventorytest.Findings(h.Readiness("N-01")), "warn inspection_due SPLINT 1 1 2027-09-12 ")
	stow := fixture.Back(inStore.ID, "NORTH-STORE", "N-03", inventory.ReasonStow)
	h.Refuse(inventory.Conflict, stow)
	h.Refuse(inventory.Conflict, fixture.Back(inStore.ID, "NORTH-STORE", "N-BELT", inventory.ReasonStow))
	h.Move(inStore.ID, 1, "NORTH-STORE", "SOUTH-STORE", inventory.ReasonTransfer)
	h.Move(inStore.ID, 1, "SOUTH-STORE", "NORTH-STORE", inventory.ReasonTransfer)

	pl, err := h.S.Storeroom.RestockPlan(h.Ctx, fixture.Keeper, "N-03", lists.Outlook{})
	require.NoError(t, err)
	require.Len(t, pl.Lines, 1)
	assert.Equal(t, []any{"SP-2", true}, []any{pl.Lines[0].Serial, pl.Lines[0].InspectFirst})
	rep, err := h.S.Report.Shortages(h.Ctx, fixture.Keeper, nil, lists.Outlook{})
	require.NoError(t, err)
	fill := rep.Fill[0]
	assert.Equal(t, []any{"N-03", "SP-2", true}, []any{fill.Bag, fill.Serial, fill.InspectFirst},
		"it is no reason to buy another one")

	due, err := h.S.Stock.Devices(h.Ctx, fixture.Crew, stock.DeviceFilter{DueBefore: inventorytest.Day("2027-09-14")},
		inventory.Page{})
	require.NoError(t, err)
	assert.Len(t, due, 2)
	h.Inspect(fixture.Crew, inStore.ID, "", "frame whole", "straps hold")
	_, err = h.S.Ledger.Move(h.Ctx, fixture.Keeper, []inventory.Movement{stow})
	require.NoError(t, err)
	due, err = h.S.Stock.Devices(h.Ctx, fixture.Crew, stock.DeviceFilter{DueBefore: inventorytest.Day("2027-09-14")},
		inventory.Page{})
	require.NoError(t, err)
	require.Len(t, due, 1)
	assert.Equal(t, []any{"SP-1", true, "inspection due since 2027-09-12", true}, []any{due[0].Serial,
		due[0].InspectionOverdue, due[0].Standing.String(), due[0].Fit})
	h.Verify()
}

func TestInspectRefuses(t *testing.T) {
	t.Parallel()
	h := fixture.New(t, storetest.OpenSQLite(t))
	splint, dressings := h.Receive("SPLINT", "SP-1", 1, ""), h.Receive("DRESSING", "B1", 2, "2030-01")
	fine := ledger.InspectionReport{Points: inventorytest.Answers("frame whole", "straps hold")}
	try := func(by inventory.Actor, lot int64, in ledger.InspectionReport) error {
		before := h.Everything()
		_, err := h.S.Ledger.Inspect(h.Ctx, by, lot, in)
		assert.Equal(t, before, h.Everything())
		return err
	}
	inventorytest.RequireKind(t, inventory.SignedOut, try(fixture.Nobody, splint.ID, fine))
	inventorytest.RequireKind(t, inventory.Forbidden, try(fixture.Manager, splint.ID, fine))
	inventorytest.RequireKind(t, inventory.NotFound, try(fixture.Keeper, 999, fine))
	inventorytest.RequireKind(t, inventory.Conflict, try(fixture.Keeper, dressings.ID, fine))
	inventorytest.RequireFields(t, try(fixture.Keeper, splint.ID, ledger.InspectionReport{Note: "\xff"}), "points", "note")
	inventorytest.RequireFields(t, try(fixture.Keeper, splint.ID, ledger.InspectionReport{Points: fine.Points,
		HappenedAt: inventorytest.Noon.Add(time.Hour)}),
		"happened_at")
	h.Move(splint.ID, 1, "NORTH-STORE", "SOUTH-STORE", inventory.ReasonTransfer)
	inventorytest.RequireKind(t, inventory.Forbidden, try(fixture.Crew, splint.ID, fine)) // not at their station
	h.Move(splint.ID, 1, "SOUTH-STORE", "disposed", inventory.ReasonDisposed)
	inventorytest.RequireKind(t, inventory.Conflict, try(fixture.Keeper, splint.ID, fine))
}

// TestInspectInALentBag: a bag that is at another station has its devices
// inspected by that station's crew, and set apart there.
func TestInspectInALentBag(t *testing.T) {
	t.Parallel()
	h := fixture.New(t, storetest.OpenSQLite(t))
	splint := h.Receive("SPLINT", "SP-1", 1, "")
	h.Move(splint.ID, 1, "NORTH-STORE", "N-01", inventory.ReasonStow)
	_, err := h.S.Lists.UpdateBag(h.Ctx, fixture.Admin, "N-01", 0, ledger.BagChange{AtStation: inventorytest.Ptr("SOUTH")})
	require.NoError(t, err)
	_, err = h.S.Ledger.Inspect(h.Ctx, fixture.Crew, splint.ID,
		ledger.InspectionReport{Points: inventorytest.Answers("!frame whole")})
	inventorytest.RequireKind(t, inventory.Forbidden, err)
	southern := inventory.Actor{Name: "Sol", Role: inventory.Crew, Stations: []string{"SOUTH"}}
	h.Inspect(southern, splint.ID, "", "!frame whole")
	assert.Equal(t, "SOUTH-QUARANTINE", h.Where(splint.ID))
	assert.Len(t, h.Open("N-01"), 1)
	h.Verify()
}
