package stock_test

import (
	"cmp"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stowkeeper/inventory"
	"stowkeeper/inventory/fixture"
	"stowkeeper/inventory/inventorytest"
	"stowkeeper/inventory/lists"
	"stowkeeper/inventory/stock"
	"stowkeeper/inventory/store/storetest"
)

// TestDeviceStory: one answer tells all that ever happened to a device, by any
// of its lots, also when it is gone.
func TestDeviceStory(t *testing.T) {
	t.Parallel()
	storetest.Engines(t, func(t *testing.T, s inventory.Store) {
		h := fixture.New(t, s)
		strap := h.Receive("STRAP", "X-1", 1, "2031-06")
		h.Pass(time.Hour)
		stowed := h.Move(strap.ID, 1, "NORTH-STORE", "N-01", inventory.ReasonStow).IntoLotID
		h.Pass(time.Hour)
		h.Inspect(fixture.Crew, stowed, "", lists.WindlassPoints...)
		h.Pass(time.Hour)
		n := h.Issue(inventory.Notice{Reference: "FSN-8", Action: inventory.NoticeInform, Item: "STRAP",
			NoticeScope: inventory.NoticeScope{Serials: []string{"X-1"}}, Text: "read the leaflet"})
		h.Issue(inventory.Notice{Reference: "FSN-9", Action: inventory.NoticeInform, Item: "STRAP",
			NoticeScope: inventory.NoticeScope{Serials: []string{"X-2"}}})
		h.Pass(time.Hour)
		given := h.Move(stowed, 1, "N-01", "NORTH-TRAINING", inventory.ReasonToTraining).IntoLotID
		h.Pass(time.Hour)
		_, err := h.S.Ledger.Train(h.Ctx, fixture.Keeper, strap.ID, inventory.TrainingUse{Cycles: 1, Class: "A"})
		require.NoError(t, err)
		h.Pass(time.Hour)
		_, err = h.S.Notice.CancelNotice(h.Ctx, fixture.Keeper, n.ID, "not ours")
		require.NoError(t, err)
		h.Move(given, 1, "NORTH-TRAINING", "disposed", inventory.ReasonDisposed)

		d := h.Device(strap.ID)
		assert.Equal(t, d, h.Device(given))
		assert.Equal(t, []any{given, "disposed of", false, true}, []any{d.ID, d.Standing.String(), d.Fit, d.Training})
		assert.Equal(t, "Tourniquet, single use", d.Name)
		assert.Equal(t, "2031-06-30 printed", d.UsableThrough.String()+" "+string(d.Rule))
		assert.Len(t, d.Ends, 2, "every other end date is listed")
		var texts []string
		for _, l := range d.Story {
			texts = append(texts, l.Text.String()+" · "+l.By)
		}
		assert.Equal(t, []string{
			"received into NORTH-STORE · Quinn", "put into N-01 from NORTH-STORE · Quinn",
			"inspected at N-01: passed · Cleo", "notice FSN-8: inform · Quinn",
			"moved to training from N-01 to NORTH-TRAINING · Quinn", "1 application in training, class A · Quinn",
			"notice FSN-8 cancelled: not ours · Quinn",
			"disposed of from NORTH-TRAINING, damaged · Quinn",
		}, texts)
		assert.Equal(t, []int{4, 1, 1, 1}, []int{len(d.History), len(d.Inspections), len(d.TrainingUses), len(d.Notices)})

		seen, err := h.S.Stock.Device(h.Ctx, fixture.Crew, strap.ID)
		require.NoError(t, err)
		assert.Equal(t, []int{0, 1, 0}, []int{len(seen.History), len(seen.Inspections), len(seen.TrainingUses)},
			"crew do not read the history")
		_, err = h.S.Stock.Device(h.Ctx, fixture.Nobody, strap.ID)
		inventorytest.RequireKind(t, inventory.SignedOut, err)
		_, err = h.S.Stock.Device(h.Ctx, fixture.Crew, 99)
		inventorytest.RequireKind(t, inventory.NotFound, err)
		_, err = h.S.Stock.Device(h.Ctx, fixture.Crew, h.Receive("PEN", "", 1, "").ID)
		inventorytest.RequireKind(t, inventory.NotFound, err)
		h.Verify()
	})
}

// TestDeviceStoryOfOneInstant: what happened at one instant is told as it was
// recorded, each cause before what it caused.
func TestDeviceStoryOfOneInstant(t *testing.T) {
	t.Parallel()
	storetest.Engines(t, func(t *testing.T, s inventory.Store) {
		h := fixture.New(t, s)
		strap := h.Receive("STRAP", "X-1", 1, "2031-06")
		h.Move(strap.ID, 1, "NORTH-STORE", "N-01", inventory.ReasonStow)
		h.Inspect(fixture.Crew, strap.ID, "", "!"+lists.WindlassPoints[0])
		h.Inspect(fixture.Keeper, strap.ID, "NORTH-STORE", lists.WindlassPoints...)
		given := h.Move(h.Device(strap.ID).ID, 1, "NORTH-STORE", "NORTH-TRAINING", inventory.ReasonToTraining).IntoLotID
		_, err := h.S.Ledger.Train(h.Ctx, fixture.Keeper, given, inventory.TrainingUse{Cycles: 2})
		require.NoError(t, err)
		h.Issue(inventory.Notice{Reference: "FSN-8", Action: inventory.NoticeWithdraw, Item: "STRAP",
			NoticeScope: inventory.NoticeScope{Serials: []string{"X-1"}}})
		_, err = h.S.Notice.Pull(h.Ctx, fixture.Keeper, 1, "NORTH-TRAINING")
		require.NoError(t, err)
		var kinds []string
		for _, l := range h.Device(strap.ID).Story {
			first, _, _ := strings.Cut(l.Text.String(), " ")
			kinds = append(kinds, first)
			assert.Equal(t, h.Now, l.HappenedAt)
		}
		assert.Equal(t, []string{"received", "put", "inspected", "to", "inspected", "released", "moved", "2", "notice",
			"to"}, kinds)
		h.Verify()
	})
}

// TestDeviceOfAnotherStation: whoever sees a device that comes from another
// station learns that it was inspected, and how, but not the places there.
func TestDeviceOfAnotherStation(t *testing.T) {
	t.Parallel()
	storetest.Engines(t, func(t *testing.T, s inventory.Store) {
		h := fixture.New(t, s)
		strap := h.Receive("STRAP", "X-1", 1, "2031-06")
		h.Inspect(fixture.Keeper, strap.ID, "", lists.WindlassPoints...)
		h.Move(strap.ID, 1, "NORTH-STORE", "SOUTH-STORE", inventory.ReasonTransfer)
		h.Pass(time.Hour)
		h.Inspect(fixture.Keeper, strap.ID, "", lists.WindlassPoints...)
		for who, want := range map[string][]string{"NORTH": {"", "NORTH-STORE"}, "SOUTH": {"SOUTH-STORE", ""}} {
			d, err := h.S.Stock.Device(h.Ctx, inventory.Actor{Name: "Sol", Role: inventory.Crew, Stations: []string{who}},
				strap.ID)
			require.NoError(t, err)
			require.Len(t, d.Inspections, 2)
			assert.Equal(t, want, []string{d.Inspections[0].Place, d.Inspections[1].Place}, who)
			for i, line := range d.Story {
				assert.Equal(t, "inspected at "+cmp.Or(want[len(want)-1-i], "another station")+": passed", line.Text.String())
			}
		}
		assert.Equal(t, "NORTH-STORE", h.Device(strap.ID).Inspections[1].Place, "who belongs to both sees both")
	})
}

// TestDevicesList: what is in the service at one's stations, and, by its serial
// number, also what has left it.
func TestDevicesList(t *testing.T) {
	t.Parallel()
	storetest.Engines(t, func(t *testing.T, s inventory.Store) {
		h := fixture.New(t, s)
		north, south, gone := h.Receive("SPLINT", "SP-1", 1, ""), h.Receive("SPLINT", "SP-2", 1, ""), h.Receive("STRAP",
			"X-1", 1, "")
		h.Receive("DRESSING", "B1", 5, "2030-01")
		h.Move(south.ID, 1, "NORTH-STORE", "SOUTH-STORE", inventory.ReasonTransfer)
		stowed := h.Move(gone.ID, 1, "NORTH-STORE", "N-01", inventory.ReasonStow)
		h.Move(stowed.IntoLotID, 1, "N-01", "used", inventory.ReasonUsed)
		list := func(by inventory.Actor, f stock.DeviceFilter, p inventory.Page) (out []string) {
			devices, err := h.S.Stock.Devices(h.Ctx, by, f, p)
			require.NoError(t, err)
			for _, d := range devices {
				out = append(out, d.Serial+": "+d.Standing.String())
			}
			return out
		}
		one, two := "SP-1: fit for issue", "SP-2: fit for issue"
		assert.Equal(t, []string{one, two}, list(fixture.Keeper, stock.DeviceFilter{}, inventory.Page{}))
		assert.Equal(t, []string{one}, list(fixture.Keeper, stock.DeviceFilter{}, inventory.Page{Limit: 1}))
		assert.Equal(t, []string{two}, list(fixture.Keeper, stock.DeviceFilter{},
			inventory.Page{After: fixture.Id(north.ID)}))
		assert.Equal(t, []string{one}, list(fixture.Crew, stock.DeviceFilter{}, inventory.Page{}), "at one's own station")
		assert.Equal(t, []string{two}, list(fixture.Keeper, stock.DeviceFilter{Stations: []string{"SOUTH"}},
			inventory.Page{}))
		assert.Equal(t, []string{two}, list(fixture.Keeper, stock.DeviceFilter{Place: "SOUTH-STORE"}, inventory.Page{}))
		assert.Empty(t, list(fixture.Keeper, stock.DeviceFilter{Item: "STRAP"}, inventory.Page{}))
		assert.Equal(t, []string{"X-1: used"}, list(fixture.Keeper, stock.DeviceFilter{Serial: "X-1"},
			inventory.Page{}), "one, whatever lots it has been")
		assert.Equal(t, []string{"SP-2: at another station"}, list(fixture.Crew, stock.DeviceFilter{Serial: "SP-2"},
			inventory.Page{}))
		assert.Empty(t, list(fixture.Keeper, stock.DeviceFilter{Serial: "SP-3"}, inventory.Page{}))
		assert.Equal(t, []string{one}, list(fixture.Keeper, stock.DeviceFilter{DueBefore: inventorytest.Day("2027-09-13")},
			inventory.Page{Limit: 1}))
		assert.Empty(t, list(fixture.Keeper, stock.DeviceFilter{DueBefore: inventorytest.Day("2027-09-12")},
			inventory.Page{}))
		_, err := h.S.Stock.Devices(h.Ctx, fixture.Crew, stock.DeviceFilter{Stations: []string{"SOUTH"}}, inventory.Page{})
		inventorytest.RequireKind(t, inventory.Forbidden, err)
		_, err = h.S.Stock.Devices(h.Ctx, fixture.Nobody, stock.DeviceFilter{}, inventory.Page{})
		inventorytest.RequireKind(t, inventory.SignedOut, err)
	})
}

// TestTraceOfABatch: which incidents used it, and where the rest is, in one
// request, from any of its lots.
func TestTraceOfABatch(t *testing.T) {
	t.Parallel()
	storetest.Engines(t, func(t *testing.T, s inventory.Store) {
		h := fixture.NewStowed(t, s)
		h.RecordUse(h.Use(inventory.UseLine{LotID: h.Dressings.ID, Qty: 2}))
		h.Pass(time.Hour)
		wrong := h.Move(h.Dressings.ID, 1, "N-01", "used", inventory.ReasonUsed)
		undo := inventory.Movement{LotID: h.Dressings.ID, Qty: 1, From: "used", To: "N-01",
			Reason: inventory.ReasonCorrection, Corrects: wrong.ID}
		_, err := h.S.Ledger.Move(h.Ctx, fixture.Keeper, []inventory.Movement{undo})
		require.NoError(t, err)
		c := fixture.Counting(h.FullCheck(), h.Dressings.ID, 3, inventory.CountUsed)
		for i := range c.Lines {
			if c.Lines[i].LotID == h.Dressings.ID {
				c.Lines[i].Incident = "I-8"
			}
		}
		h.Record(c)
		h.Move(h.Dressings.ID, 1, "NORTH-STORE", "NORTH-QUARANTINE", inventory.ReasonQuarantine)
		given := h.Move(h.Dressings.ID, 2, "NORTH-STORE", "NORTH-TRAINING", inventory.ReasonToTraining)
		for _, lot := range []int64{h.Dressings.ID, given.IntoLotID} {
			story := h.Lot(lot)
			var used []string
			for _, u := range story.Incidents {
				used = append(used, u.Incident+" "+u.Bag+" "+fixture.Id(int64(u.Qty)))
			}
			assert.Equal(t, []string{"I-7 N-01 2", "I-8 N-01 1"}, used, "without what was corrected")
			assert.Equal(t, 17, fixture.Units(story))
		}
		seen, err := h.S.Stock.Lot(h.Ctx, fixture.Crew, h.Dressings.ID)
		require.NoError(t, err)
		assert.Empty(t, seen.Incidents)
		h.Verify()
	})
}
