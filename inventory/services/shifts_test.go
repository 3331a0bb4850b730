package services_test

import (
	"flag"
	"maps"
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"stowkeeper/inventory"
	"stowkeeper/inventory/fixture"
	"stowkeeper/inventory/inventorytest"
	"stowkeeper/inventory/report"
	"stowkeeper/inventory/store/storetest"
)

var shiftSeed = flag.Uint64("shift-seed", 4, "the seed of the random shifts")

// shiftSteps is how many things happen in TestShifts, and how many where nobody
// asks for the long run.
const shiftSteps, shortShiftSteps = 10_000, 1_000

// shifts is a small service to which, step by step, something happens that
// happens every day or week: things are left at a hospital, dates are mistyped,
// crews help themselves from the next bag, bags are lent, modules are swapped.
type shifts struct {
	*fixture.House
	*inventorytest.Maker
	done, refused map[string]int
	serials       int

	received, sentBack, trained int // units, as the steps that were taken say
}

var (
	north = inventory.Actor{Name: "Nils", Role: inventory.Crew, Stations: []string{"NORTH"}}
	south = inventory.Actor{Name: "Sina", Role: inventory.Crew, Stations: []string{"SOUTH"}}

	shiftBags   = []string{"N-01", "N-02", "S-01", "K-1", "P-1", "P-2", "P-3"}
	shiftStores = []string{"NORTH-STORE", "SOUTH-STORE"}
)

func newShifts(t *testing.T, seed uint64) *shifts {
	s := &shifts{House: fixture.New(t, storetest.OpenSQLite(t)), Maker: inventorytest.NewMaker(seed),
		done:    map[string]int{},
		refused: map[string]int{}}
	_, err := s.S.Lists.CreateItem(s.Ctx, fixture.Admin, inventory.Item{Code: "BRACE", Name: "Brace",
		Category: "immobilisation",
		Unit:     "each", TrackedBy: inventory.BySerial,
		InspectionPoints: []string{"straps hold"}})
	require.NoError(t, err)
	for _, k := range []inventory.KitList{
		{Code: "POD", Name: "Pod", Sealed: true, Lines: []inventory.Line{{Item: "DRESSING", Par: 2, Minimum: 1}}},
		{Code: "SACK", Name: "Rucksack", Lines: []inventory.Line{{Item: "PEN", Par: 1}},
			Modules: []inventory.Module{{KitList: "POD", Count: 1}}},
	} {
		_, err := s.S.Lists.CreateKitList(s.Ctx, fixture.Admin, k)
		require.NoError(t, err)
	}
	for _, b := range []inventory.Bag{
		{Code: "K-1", KitList: "SACK", Vehicle: "Van 1"}, {Code: "P-1", KitList: "POD", Inside: "K-1"}, {Code: "P-2",
			KitList: "POD"}, {Code: "P-3", KitList: "POD"},
	} {
		b.Station, b.Name, b.Priority = "NORTH", b.Code, 3
		_, err := s.S.Lists.CreateBag(s.Ctx, fixture.Admin, b)
		require.NoError(t, err)
	}
	return s
}

// TestShifts lets ten thousand things happen in an order that no one chose,
// and looks at the books.
func TestShifts(t *testing.T) {
	t.Parallel()
	s, steps := newShifts(t, *shiftSeed), shortShiftSteps
	if inventorytest.Long {
		steps = shiftSteps
	}
	kinds := s.kinds()
	names := slices.Sorted(maps.Keys(kinds))
	for i := range steps {
		s.Pass(time.Duration(s.Between(0, 600)) * time.Second)
		name := inventorytest.Pick(s.Maker, names...)
		err := kinds[name]()
		if err != nil {
			require.NotEqual(t, inventory.Internal, inventory.KindOf(err), "step %d, %s: %v", i, name, err)
			s.refused[name]++
		} else {
			s.done[name]++
		}
		if (i+1)%(steps/4) == 0 {
			s.inOrder(t)
		}
	}
	t.Log("done", s.done, "refused", s.refused)
	for _, name := range names {
		require.Greater(t, s.done[name], steps/2000, "%s was hardly ever possible: %v", name, s.refused)
	}
}

// kinds lists what happens, the twelve kinds and what keeps the service going.
func (s *shifts) kinds() map[string]func() error {
	return map[string]func() error{
		"00 receive": s.receiveSome, "00 refill": func() error { return s.refill(shiftBags...) },
		"06 module refilled": func() error { return s.refill("P-1", "P-2", "P-3") }, "01 away": s.sendAway,
		"01 back": s.comeBack, "02 date corrected": s.correct,
		"02 another date": s.otherDate, "03 unidentified": s.unidentified, "03 identified": s.identify,
		"04 use from another": s.useOther, "04 found from another": s.foundOther,
		"05 seal": s.seal, "06 module used": s.useModule, "06 module swapped": s.swapModule, "07 vehicle": s.vehicle,
		"07 vehicle off": s.vehicleOff, "08 lent": s.lend,
		"09 taken off": s.takeOff, "09 full check": s.fullCheck, "10 surplus": s.surplus, "11 late": s.late,
		"11 decided": s.decide, "11 withdrawn": s.withdraw, "12 to training": s.toTraining,
		"12 class": s.class, "13 disposed": s.dispose, "26 returned": s.sendBack,
	}
}

// stock returns what lies in the service, or in some places.
func (s *shifts) stock(f inventory.StockFilter) []inventory.Stock {
	var out []inventory.Stock
	require.NoError(s.T, s.readAll(func(r inventory.Reader) (err error) {
		out, err = r.Stock(f)
		return err
	}))
	return out
}

// some returns one of what lies there and a quantity of it. Where nothing does
// it asks for a lot that is not there.
func (s *shifts) some(f inventory.StockFilter) (inventory.Stock, int) {
	all := s.stock(f)
	if len(all) == 0 {
		return inventory.Stock{Lot: inventory.Lot{ID: 1}}, 1
	}
	st := inventorytest.Pick(s.Maker, all...)
	return st, s.Between(1, min(st.Qty, 4))
}

func (s *shifts) in(places ...string) inventory.StockFilter {
	return inventory.StockFilter{Places: places}
}

func (s *shifts) kind(k inventory.PlaceKind) inventory.StockFilter {
	return inventory.StockFilter{Kinds: []inventory.PlaceKind{k}}
}

// crewAt is the crew that has a bag.
func (s *shifts) crewAt(bag string) inventory.Actor {
	if s.bag(bag).AtStation == "SOUTH" {
		return south
	}
	return north
}

// other is a bag that the same crew could take from.
func (s *shifts) other(bag string) string { return inventorytest.Pick(s.Maker, shiftBags...) }

// inOrder asserts what must be true at any time.
func (s *shifts) inOrder(t *testing.T) {
	s.Verify()
	flows, err := s.S.Report.Flows(s.Ctx, fixture.Manager, nil, 0, 0)
	require.NoError(t, err)
	total := flows.Total
	require.Equal(t, s.received, total.Received, "as received")
	require.Equal(t, s.sentBack, total.ToSupplier, "as returned")
	require.Equal(t, s.trained, total.Trained, "as the classes used up")
	require.Zero(t, total.MovedIn+total.MovedOut+total.Before)
	for _, f := range append(flows.Rows, total) {
		require.True(t, f.Balanced(), "%+v", f)
		require.Equal(t, f.Received+f.Found, f.Used+f.Trained+f.Waste()+f.TrainingWasted+f.Lost+f.ToSupplier+f.Stock,
			"received and found = used + trained + wasted + lost + returned + stock: %+v", f)
	}
	s.rowsBehind(t, total)
	s.everyUnit(t, total)
	s.underReview(t)
}

// underReview: what reports make unusable is there, and was when they came.
func (s *shifts) underReview(t *testing.T) {
	held, counts := map[inventory.PlaceLot]int{}, map[inventory.PlaceLot]int{}
	for _, st := range s.stock(inventory.StockFilter{}) {
		held[inventory.PlaceLot{Place: st.Place, Lot: st.Lot.ID}] += st.Qty
	}
	require.NoError(t, s.readAll(func(r inventory.Reader) error {
		reports, err := r.UnderReview(inventory.UnderReviewFilter{})
		for _, u := range inventory.CountReported(reports) {
			for _, x := range u.Says {
				k := inventory.PlaceLot{Place: x.Place, Lot: x.LotID}
				require.True(t, x.Over() || x.Pool <= held[k], "%s: %+v", u.Report, x)
				require.LessOrEqual(t, x.Settled, max(x.Qty, 1), "%s: %+v", u.Report, x)
				counts[k] += x.Counts
				require.LessOrEqual(t, counts[k], held[k], "%s: %+v", u.Report, x)
			}
		}
		return err
	}))
}

// rowsBehind adds up the movements behind each number of the report.
func (s *shifts) rowsBehind(t *testing.T, total report.Flow) {
	moves, err := s.S.Report.FlowMoves(s.Ctx, fixture.Manager, report.FlowAsk{})
	require.NoError(t, err)
	sum := map[report.FlowKind]int{}
	for _, m := range moves {
		sum[m.Kind] += m.Counts
	}
	require.Equal(t, []int{total.Received, total.Found, total.Used, total.Trained, total.Waste(), total.TrainingWasted,
		total.Lost, total.ToSupplier},
		[]int{sum[report.FlowReceived], sum[report.FlowFound], sum[report.FlowUsed], sum[report.FlowTrained],
			sum[report.FlowWasted],
			sum[report.FlowTrainingWasted], sum[report.FlowLost], sum[report.FlowToSupplier]})
}

// everyUnit adds the movements up once more by hand: every unit is in one
// place, and none ever came from training to issue.
func (s *shifts) everyUnit(t *testing.T, total report.Flow) {
	places, err := s.S.Lists.Places(s.Ctx, fixture.Admin, inventory.PlaceFilter{}, inventory.Page{})
	require.NoError(t, err)
	purpose := map[string]inventory.Purpose{}
	for _, p := range places {
		purpose[p.Code] = p.Purpose
	}
	all, err := s.S.Ledger.Movements(s.Ctx, fixture.Admin, inventory.MovementFilter{}, inventory.Page{})
	require.NoError(t, err)
	type spot struct {
		place string
		lot   int64
	}
	lies := map[spot]int{}
	for _, m := range all {
		require.False(t, purpose[m.From] == inventory.ForTraining && purpose[m.To] == inventory.ForIssue,
			"movement %d reached issue from training", m.ID)
		if purpose[m.From] != "" {
			lies[spot{m.From, m.LotID}] -= m.Qty
		}
		if purpose[m.To] != "" {
			lies[spot{m.To, m.IntoLotID}] += m.Qty
		}
	}
	maps.DeleteFunc(lies, func(_ spot, n int) bool { return n == 0 })
	stored, units, devices := map[spot]int{}, 0, map[int64]int{}
	for _, st := range s.stock(inventory.StockFilter{}) {
		stored[spot{st.Place, st.Lot.ID}] = st.Qty
		units += st.Qty
		if st.Lot.Device() {
			devices[st.Lot.Batch.ID]++
			require.Equal(t, 1, devices[st.Lot.Batch.ID], "a device is in one place")
		}
		require.Equal(t, purpose[st.Place] == inventory.ForTraining, st.Lot.Training,
			"training lots lie in training places, and only they do")
	}
	require.Equal(t, lies, stored, "what lies where is what the movements add up to")
	require.Equal(t, total.Stock, units)
}

func (s *shifts) bag(code string) inventory.Bag { return s.House.Bag(code) }
