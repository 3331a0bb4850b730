package inventory_test

import (
	"context"
	"fmt"
	"time"

	"github.com/stretchr/testify/require"

	"stowkeeper/inventory"
	"stowkeeper/inventory/lists"
	"stowkeeper/inventory/services"
)

// house is an invented service over a real store, for the tests of use cases:
// two stations, one kit list, a few bags, a clock that the test moves.
type house struct {
	t   require.TestingT
	s   *services.All
	now inventory.Instant
	ctx context.Context

	terminal string // secret of the tablet that people sign in on, once there is one
}

// The people of the house. The crew belong to one station.
var (
	admin   = inventory.Actor{Name: "Ada", Role: inventory.Administrator}
	keeper  = inventory.Actor{Name: "Quinn", Role: inventory.Quartermaster, Stations: []string{"NORTH", "SOUTH"}}
	manager = inventory.Actor{Name: "Mo", Role: inventory.Manager}
	crew    = inventory.Actor{Name: "Cleo", Role: inventory.Crew, Stations: []string{"NORTH"}}
	nobody  inventory.Actor
)

// The items of the house, by what is special about them.
var houseItems = []inventory.Item{
	{Code: "DRESSING", Name: "Dressing, plain", Category: "plain dressing", Unit: "each", TrackedBy: inventory.ByLot,
		Dated: true},
	{Code: "GAUZE", Name: "Gauze, folded", Category: "plain dressing", Unit: "each", TrackedBy: inventory.ByLot,
		Dated: true, Life: inventory.Life{StowedMonths: 12, ExposedDays: 30}},
	{Code: "PEN", Name: "Marker", Category: "marker", Unit: "each", TrackedBy: inventory.ByLot},
	{Code: "TABLET", Name: "Tablet", Category: "medicine", Unit: "each", TrackedBy: inventory.ByLot, Dated: true},
	{Code: "SPLINT", Name: "Splint, traction", Category: "immobilisation", Unit: "each", TrackedBy: inventory.BySerial,
		Life: inventory.Life{InspectDays: 90, TrainingCycles: 100}, InspectionPoints: []string{"frame whole", "straps hold"},
		InspectionNotes: []string{"bag clean"}},
	{Code: "STRAP", Name: "Tourniquet, single use", Category: "tourniquet", Unit: "each", TrackedBy: inventory.BySerial,
		SingleUse:        true,
		Life:             inventory.Life{StowedMonths: 60, ExposedDays: 30, InspectDays: 90, TrainingCycles: 200},
		InspectionPoints: inventory.WindlassPoints, InspectionNotes: inventory.WindlassNotes},
	{Code: "WASH", Name: "Eyewash, bottle", Category: "medicine", Unit: "each", TrackedBy: inventory.ByLot, Dated: true,
		Life: inventory.Life{OpenedDays: 28}},
	{Code: "TQ", Name: "Tourniquet, windlass", Category: "tourniquet", Unit: "each", TrackedBy: inventory.BySerial,
		Life: inventory.Life{MadeMonths: 120}},
}

// newHouse fills an empty store.
func newHouse(t require.TestingT, store inventory.Store) *house {
	h := &house{t: t, now: noon, ctx: context.Background()}
	h.s = services.New(store, func() inventory.Instant { return h.now }, services.Options{})
	for _, station := range []inventory.Station{{Code: "NORTH", Name: "North", Timezone: "Europe/London"}, {Code: "SOUTH",
		Name: "South", Timezone: "Pacific/Auckland"}} {
		_, err := h.s.Lists.CreateStation(h.ctx, admin, station)
		require.NoError(t, err)
	}
	for _, it := range houseItems {
		_, err := h.s.Lists.CreateItem(h.ctx, admin, it)
		require.NoError(t, err)
	}
	_, err := h.s.Lists.CreateKitList(h.ctx, admin, houseList())
	require.NoError(t, err)
	for _, b := range []inventory.Bag{
		{Code: "N-01", Station: "NORTH", Priority: 1}, {Code: "N-02", Station: "NORTH", Priority: 2}, {Code: "S-01",
			Station: "SOUTH", Priority: 1},
		{Code: "T-01", Station: "NORTH", Purpose: inventory.ForTraining, Priority: 9},
	} {
		b.Name, b.KitList = "Bag "+b.Code, "GRAB"
		_, err := h.s.Lists.CreateBag(h.ctx, admin, b)
		require.NoError(t, err)
	}
	for _, p := range []inventory.Place{
		{Code: "N-BELT", Station: "NORTH", Kind: inventory.KindCarrier, Purpose: inventory.ForIssue, Name: "Belt"},
		{Code: "N-REPAIR", Station: "NORTH", Kind: inventory.KindAway, Purpose: inventory.ForIssue, Name: "In repair"},
	} {
		_, err := h.s.Lists.CreatePlace(h.ctx, admin, p)
		require.NoError(t, err)
	}
	return h
}

func houseList() inventory.KitList {
	return inventory.KitList{Code: "GRAB", Name: "Grab bag", Sealed: true, SealCheckHours: 24, FullCheckDays: 30,
		Lines: []inventory.Line{
			{Item: "TQ", Pouch: "Red", Par: 2, Minimum: 1, Critical: true},
			{Item: "DRESSING", Pouch: "Red", Par: 4, Minimum: 2, Accepts: []string{"GAUZE"}},
			{Item: "PEN", Pouch: "Blue", Par: 1},
			{Item: "DRESSING", Pouch: "Blue", Par: 2},
		}}
}

// pass lets time go by.
func (h *house) pass(d time.Duration) { h.now = h.now.Add(d) }

// receive books units of a batch into the store of NORTH.
func (h *house) receive(item, batchNo string, qty int, end string) inventory.Lot {
	in := inventory.Receipt{Place: "NORTH-STORE", Item: item, BatchNo: batchNo, Qty: qty, EndPrinted: end}
	if end != "" {
		in.EndWording = inventory.WordExpiry
	}
	if item == "TQ" || item == "SPLINT" || item == "STRAP" {
		in.BatchNo, in.Serial = "", batchNo
	}
	lot, err := h.s.Ledger.Receive(h.ctx, keeper, in)
	require.NoError(h.t, err)
	return lot
}

// move posts one movement that must be taken.
func (h *house) move(lot int64, qty int, from, to string, reason inventory.Reason) inventory.Movement {
	ms, err := h.s.Ledger.Move(h.ctx, keeper, []inventory.Movement{{LotID: lot, Qty: qty, From: from, To: to,
		Reason: reason, Cause: causeFor(reason)}})
	require.NoError(h.t, err)
	return ms[0]
}

// refuse posts one movement that must be refused with a kind of error.
func (h *house) refuse(kind inventory.ErrorKind, m inventory.Movement) {
	before := h.everything()
	_, err := h.s.Ledger.Move(h.ctx, keeper, []inventory.Movement{m})
	require.Equal(h.t, kind, inventory.KindOf(err), "%+v: %v", m, err)
	require.Equal(h.t, before, h.everything(), "a refused request changes nothing")
}

// restock brings lots into a bag and seals it.
func (h *house) restock(bag, seal string, lines ...inventory.RestockLine) {
	_, err := h.s.Storeroom.RecordRestock(h.ctx, keeper, inventory.Restock{Bag: bag, Lines: lines, SealSet: seal}, 0)
	require.NoError(h.t, err)
}

func (h *house) bag(code string) inventory.Bag {
	b, err := h.s.Lists.Bag(h.ctx, keeper, code)
	require.NoError(h.t, err)
	return b
}

// holds returns what lies in a place, as "lot × qty" by lot.
func (h *house) holds(place string) map[int64]int {
	lots, err := h.s.Stock.StockAt(h.ctx, admin, place)
	require.NoError(h.t, err)
	out := map[int64]int{}
	for _, l := range lots {
		for _, w := range l.Where {
			out[l.ID] += w.Qty
		}
	}
	return out
}

func (h *house) readiness(bag string) inventory.Readiness {
	r, err := h.s.Shift.Readiness(h.ctx, keeper, bag, lists.Outlook{Horizon: 30})
	require.NoError(h.t, err)
	return r
}

// allPlaces lists every place inside the service of the house.
var allPlaces = []string{
	"NORTH-STORE", "NORTH-QUARANTINE", "NORTH-TRAINING", "NORTH-TRAINING-QUARANTINE", "SOUTH-STORE", "SOUTH-QUARANTINE",
	"SOUTH-TRAINING",
	"SOUTH-TRAINING-QUARANTINE", "N-01", "N-02", "S-01", "T-01", "N-BELT", "N-REPAIR",
}

// everything reads all that a request could change: movements, stock, bags,
// records, seals and observations.
func (h *house) everything() string {
	ms, err := h.s.Ledger.Movements(h.ctx, admin, inventory.MovementFilter{}, inventory.Page{})
	require.NoError(h.t, err)
	lots, err := h.s.Stock.Lots(h.ctx, admin, inventory.LotFilter{}, 0, inventory.Page{})
	require.NoError(h.t, err)
	checks, err := h.s.Shift.Checks(h.ctx, admin, inventory.RecordFilter{}, inventory.Page{})
	require.NoError(h.t, err)
	uses, err := h.s.Shift.Uses(h.ctx, admin, inventory.RecordFilter{}, inventory.Page{})
	require.NoError(h.t, err)
	open, err := h.s.Storeroom.Observations(h.ctx, admin, "", inventory.ObservationFilter{})
	require.NoError(h.t, err)
	notices, err := h.s.Notice.Notices(h.ctx, admin, inventory.NoticeFilter{}, inventory.Page{})
	require.NoError(h.t, err)
	out := fmt.Sprintf("%+v\n%+v\n%+v\n%+v\n%+v\n%+v\n", ms, lots, checks, uses, open, notices)
	for _, code := range []string{"N-01", "N-02", "S-01", "T-01"} {
		seals, err := h.s.Storeroom.Seals(h.ctx, admin, code, inventory.Page{})
		require.NoError(h.t, err)
		restocks, err := h.s.Storeroom.Restocks(h.ctx, admin, code, inventory.Page{})
		require.NoError(h.t, err)
		out += fmt.Sprintf("%+v %+v %+v\n", h.bag(code), seals, restocks)
	}
	return out
}

// verify asserts that the books are in order.
func (h *house) verify() {
	rep, err := h.s.Verify.Verify(h.ctx)
	require.NoError(h.t, err)
	require.Empty(h.t, rep.Faults)
}
