package services_test

import (
	"fmt"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"stowkeeper/inventory"
	"stowkeeper/inventory/fixture"
	"stowkeeper/inventory/inventorytest"
	"stowkeeper/inventory/services"
	"stowkeeper/inventory/store/storetest"
)

// allPlaces lists every place inside the service of the house.
var allPlaces = []string{
	"NORTH-STORE", "NORTH-QUARANTINE", "NORTH-TRAINING", "NORTH-TRAINING-QUARANTINE", "SOUTH-STORE", "SOUTH-QUARANTINE",
	"SOUTH-TRAINING",
	"SOUTH-TRAINING-QUARANTINE", "N-01", "N-02", "S-01", "T-01", "N-BELT", "N-REPAIR",
}

// ledgerModel is what the property test knows of the books without reading
// them: where every unit of each batch went.
type ledgerModel struct {
	*fixture.House
	rnd      *inventorytest.Maker
	rt       *rapid.T
	places   map[string]inventory.Place
	lots     []inventory.Lot
	training map[int64]bool // lots that are training stock
	asked    map[string]int // requests by outcome
}

// anyOf returns one of a list, or the zero value of an empty one.
func anyOf[T any](m *ledgerModel, from []T) T {
	if len(from) == 0 {
		var zero T
		return zero
	}
	return inventorytest.Pick(m.rnd, from...)
}

var wildPlaces = slices.Concat(allPlaces, []string{"used", "disposed", "lost", "found", "supplier", "NOWHERE"})

// step makes one request, sensible or not, and checks that a refused one
// changed nothing.
func (m *ledgerModel) step() {
	requests := []struct {
		kind string
		make func() error
	}{
		{"receive", m.receiveAny}, {"receive", m.receiveAny}, {"move", m.moveAny}, {"move", m.moveSensibly},
		{"move", m.moveSensibly}, {"move", m.moveSensibly},
		{"move", m.moveMany}, {"correct", m.correctAny}, {"check", m.checkAny}, {"use", m.useAny}, {"restock", m.restockAny},
		{"restock", m.restockAny},
	}
	before, r := m.Everything(), inventorytest.Pick(m.rnd, requests...)
	err := r.make()
	if err == nil {
		m.asked[r.kind+" done"]++
		return
	}
	require.NotEqual(m.rt, inventory.Internal, inventory.KindOf(err), "%v", err)
	m.asked[r.kind+" refused"]++
	require.Equal(m.rt, before, m.Everything(), "a refused request changes nothing")
}

func (m *ledgerModel) lot() int64 {
	if len(m.lots) == 0 || m.rnd.Between(0, 19) == 0 {
		return int64(m.rnd.Between(-1, 40))
	}
	return anyOf(m, m.lots).ID
}

// know refreshes the list of lots after something was done.
func (m *ledgerModel) know() {
	all, err := m.S.Stock.Lots(m.Ctx, fixture.Admin, inventory.LotFilter{}, 0, inventory.Page{})
	require.NoError(m.rt, err)
	m.lots = m.lots[:0]
	for _, l := range all {
		m.lots = append(m.lots, l.Lot)
		require.False(m.rt, m.training[l.ID] && !l.Training, "a lot that was training stays training")
		m.training[l.ID] = l.Training
	}
}

func (m *ledgerModel) receiveAny() error {
	in := inventory.Receipt{Place: inventorytest.Pick(m.rnd, "NORTH-STORE", "SOUTH-STORE", "NORTH-STORE", "SOUTH-STORE",
		"NORTH-TRAINING", "NORTH-QUARANTINE", "N-01", "used"),
		Item: inventorytest.Pick(m.rnd, "DRESSING", "GAUZE", "PEN", "TABLET", "TQ"), Qty: m.rnd.Between(1, 9),
		EndPrinted: "2029-02",
		BatchNo:    inventorytest.Pick(m.rnd, "A", "B", "C")}
	if m.rnd.OneIn(5) {
		in.EndPrinted, in.Qty = inventorytest.Pick(m.rnd, "2027-06-14", "", "2020-01", "2027-13"), m.rnd.Between(-1, 3)
	}
	if in.Item == "TQ" {
		in.BatchNo, in.EndPrinted, in.Qty, in.Serial = "", "", 1, inventorytest.Pick(m.rnd, "S1", "S2", "S3", "S4", "S5",
			"S6")
	}
	_, err := m.S.Ledger.Receive(m.Ctx, fixture.Keeper, in)
	return err
}

func (m *ledgerModel) anyMovement() inventory.Movement {
	mv := inventory.Movement{LotID: m.lot(), Qty: m.rnd.Between(-1, 5), From: anyOf(m, wildPlaces), To: anyOf(m,
		wildPlaces), Reason: anyOf(m, inventory.Reasons)}
	if m.rnd.OneIn(3) {
		mv.HappenedAt = m.Now.Add(-time.Duration(m.rnd.Between(0, 90)) * time.Hour / 2)
	}
	if m.rnd.Between(0, 4) > 0 {
		mv.Cause = inventorytest.CauseFor(mv.Reason)
	}
	return mv
}

func (m *ledgerModel) post(ms ...inventory.Movement) error {
	_, err := m.S.Ledger.Move(m.Ctx, fixture.Keeper, ms)
	return err
}

func (m *ledgerModel) moveAny() error { return m.post(m.anyMovement()) }

// sensible is a movement of units from where they lie, mostly for a reason
// that fits.
func (m *ledgerModel) sensible() inventory.Movement {
	mv := inventory.Movement{From: inventorytest.Pick(m.rnd, allPlaces...), Qty: 1}
	held := m.Holds(mv.From)
	for range 10 { // where something lies, if anything lies anywhere
		if len(held) > 0 {
			break
		}
		mv.From = inventorytest.Pick(m.rnd, allPlaces...)
		held = m.Holds(mv.From)
	}
	mv.LotID = anyOf(m, slices.Sorted(maps.Keys(held)))
	if n := held[mv.LotID]; n > 0 {
		mv.Qty = m.rnd.Between(1, n)
	}
	type way struct {
		to     string
		reason inventory.Reason
	}
	ways := []way{{inventorytest.Pick(m.rnd, wildPlaces...), inventorytest.Pick(m.rnd, inventory.Reasons...)}}
	for _, to := range wildPlaces {
		for _, r := range inventory.Reasons {
			if inventory.Allowed(m.placeOf(mv.From), m.placeOf(to), r, inventorytest.CauseFor(r)) == nil {
				ways = append(ways, way{to, r})
			}
		}
	}
	if m.rnd.OneIn(2) {
		mv.HappenedAt = m.Now.Add(-time.Duration(m.rnd.Between(0, 60)) * time.Hour / 2)
	}
	w := inventorytest.Pick(m.rnd, ways...)
	mv.To, mv.Reason, mv.Cause = w.to, w.reason, inventorytest.CauseFor(w.reason)
	if mv.Reason.NeedsReference() {
		mv.Reference = "CN-1"
	}
	return mv
}

// placeOf returns a place of the house, which never changes.
func (m *ledgerModel) placeOf(code string) inventory.Place {
	if inventory.OutsideCode(code) {
		return inventory.OutsidePlace(inventory.PlaceKind(code))
	}
	if m.places == nil {
		m.places = map[string]inventory.Place{}
		all, err := m.S.Lists.Places(m.Ctx, fixture.Admin, inventory.PlaceFilter{}, inventory.Page{})
		require.NoError(m.rt, err)
		for _, p := range all {
			m.places[p.Code] = p
		}
	}
	return m.places[code]
}

func (m *ledgerModel) moveSensibly() error { return m.post(m.sensible()) }

func (m *ledgerModel) moveMany() error { return m.post(m.sensible(), m.sensible(), m.anyMovement()) }

func (m *ledgerModel) correctAny() error {
	all, err := m.S.Ledger.Movements(m.Ctx, fixture.Admin, inventory.MovementFilter{}, inventory.Page{})
	require.NoError(m.rt, err)
	x := anyOf(m, all)
	mv := inventory.Movement{LotID: x.IntoLotID, Qty: x.Qty, From: x.To, To: x.From, Reason: inventory.ReasonCorrection,
		Corrects: x.ID}
	switch m.rnd.Between(0, 7) {
	case 0:
		mv.Qty++
	case 1:
		mv.To = "NORTH-STORE"
	}
	return m.post(mv)
}

func (m *ledgerModel) checkAny() error {
	bag := anyOf(m, []string{"N-01", "N-02", "T-01"})
	c := inventory.Check{Bag: bag, Kind: inventory.FullCheck, SeenPosition: m.Bag(bag).Position - int64(m.rnd.Between(0,
		1))}
	held := m.Holds(bag)
	for _, lot := range slices.Sorted(maps.Keys(held)) {
		l := inventory.CheckLine{LotID: lot, Counted: m.rnd.Between(0, held[lot]+1)}
		if l.Counted < held[lot] {
			l.Reason = anyOf(m, []inventory.CountReason{"used", "missing", "damaged", "expired"})
		} else if l.Counted > held[lot] {
			l.Reason = inventory.CountFound
		}
		c.Lines = append(c.Lines, l)
	}
	if m.rnd.Between(0, 2) == 0 {
		c.Found = append(c.Found, inventory.FoundLine{Item: "DRESSING", BatchNo: "A", EndPrinted: "2029-02",
			Qty: m.rnd.Between(0, 2)})
	}
	if m.rnd.Between(0, 3) == 0 {
		c.Found = append(c.Found, inventory.FoundLine{Item: "TABLET", Qty: 1, Unidentified: true})
	}
	_, err := m.S.Shift.RecordCheck(m.Ctx, fixture.Crew, c, "")
	return err
}

func (m *ledgerModel) useAny() error {
	bag := anyOf(m, []string{"N-01", "N-02", "T-01"})
	u := inventory.Use{Bag: bag, Incident: "I", SeenPosition: m.Bag(bag).Position,
		HappenedAt: m.Now.Add(-time.Duration(m.rnd.Between(0, 4)) * time.Hour)}
	for range m.rnd.Between(0, 3) {
		u.Lines = append(u.Lines, inventory.UseLine{LotID: m.lot(), Qty: m.rnd.Between(1, 4), CameFrom: anyOf(m, []string{"",
			"", "N-02", "N-01"})})
	}
	_, err := m.S.Shift.RecordUse(m.Ctx, fixture.Crew, u, "")
	return err
}

func (m *ledgerModel) restockAny() error {
	in := inventory.Restock{Bag: inventorytest.Pick(m.rnd, "N-01", "N-02", "S-01", "T-01"),
		SealSet: inventorytest.Pick(m.rnd, "", "7")}
	for range m.rnd.Between(0, 2) {
		l := inventory.RestockLine{LotID: m.lot(), Qty: m.rnd.Between(1, 4), From: inventorytest.Pick(m.rnd, "NORTH-STORE",
			"NORTH-STORE",
			"NORTH-TRAINING", "SOUTH-STORE", "N-02", "N-BELT")}
		if held := m.Holds(l.From); len(held) > 0 && !m.rnd.OneIn(4) {
			l.LotID = anyOf(m, slices.Sorted(maps.Keys(held)))
			l.Qty = m.rnd.Between(1, held[l.LotID])
		}
		in.Lines = append(in.Lines, l)
	}
	if m.rnd.OneIn(3) {
		mv := m.sensible()
		in.TakeOut = append(in.TakeOut, inventory.TakeOutLine{LotID: mv.LotID, Qty: mv.Qty, To: mv.To, Reason: mv.Reason,
			Cause: mv.Cause})
	}
	_, err := m.S.Storeroom.RecordRestock(m.Ctx, fixture.Keeper, in, 0)
	return err
}

// check asserts what must hold of the books at any time, by adding the
// movements up once more.
func (m *ledgerModel) check() {
	all, err := m.S.Ledger.Movements(m.Ctx, fixture.Admin, inventory.MovementFilter{}, inventory.Page{})
	require.NoError(m.rt, err)
	type spot struct {
		place string
		lot   int64
	}
	batchOf, devices := map[int64]int64{}, map[int64]bool{}
	for _, l := range m.lots {
		batchOf[l.ID], devices[l.Batch.ID] = l.Batch.ID, l.Device()
	}
	balances, inside, outside := map[spot]int{}, map[int64]int{}, map[int64]map[string]int{}
	purpose := map[string]inventory.Purpose{}
	for _, code := range allPlaces {
		purpose[code] = m.placeOf(code).Purpose
	}
	for _, x := range all {
		batch := batchOf[x.LotID]
		require.Equal(m.rt, batch, batchOf[x.IntoLotID], "the batch cannot change")
		require.Positive(m.rt, x.Qty)
		if outside[batch] == nil {
			outside[batch] = map[string]int{}
		}
		for _, end := range []struct {
			code string
			lot  int64
			qty  int
		}{{x.From, x.LotID, -x.Qty}, {x.To, x.IntoLotID, x.Qty}} {
			if inventory.OutsideCode(end.code) {
				outside[batch][end.code] += end.qty
				continue
			}
			balances[spot{end.code, end.lot}] += end.qty
			require.GreaterOrEqual(m.rt, balances[spot{end.code, end.lot}], 0,
				"no balance is below zero, in the order of recording")
			inside[batch] += end.qty
		}
		if purpose[x.From] == inventory.ForTraining {
			require.NotEqual(m.rt, inventory.ForIssue, purpose[x.To], "nothing goes from training to issue")
		}
		if purpose[x.To] != "" {
			require.Equal(m.rt, purpose[x.To] == inventory.ForTraining, m.training[x.IntoLotID],
				"training lots lie in training places, and only they do")
		}
	}
	slices.SortStableFunc(all, func(a, b inventory.Movement) int { return int(a.HappenedAt - b.HappenedAt) })
	inTime := map[spot]int{}
	for _, x := range all {
		if from := (spot{x.From, x.LotID}); !inventory.OutsideCode(x.From) {
			inTime[from] -= x.Qty
			require.GreaterOrEqual(m.rt, inTime[from], 0, "no balance is below zero by when things happened")
		}
		inTime[spot{x.To, x.IntoLotID}] += x.Qty
	}
	for batch, out := range outside {
		require.Equal(m.rt, -out["supplier"]-out["found"], inside[batch]+out["used"]+out["disposed"]+out["lost"],
			"received and found = stock + used + disposed + lost")
		if devices[batch] {
			require.LessOrEqual(m.rt, inside[batch], 1, "a serial number is in one place")
		}
	}
	stock := map[spot]int{}
	for _, place := range allPlaces {
		for lot, n := range m.Holds(place) {
			stock[spot{place, lot}] = n
		}
	}
	maps.DeleteFunc(balances, func(_ spot, n int) bool { return n == 0 })
	require.Equal(m.rt, balances, stock, "what a place holds is what its movements add up to")
	m.Verify()
}

// stockedHouse makes a file of a house with some stock in it, to copy.
func stockedHouse(t *testing.T) []byte {
	file := filepath.Join(t.TempDir(), "house.db")
	s := storetest.Open(t, file)
	h := fixture.New(t, s)
	for _, item := range []string{"DRESSING", "GAUZE", "TABLET"} {
		h.Receive(item, "A", 20, "2029-02")
	}
	lot := h.Receive("DRESSING", "B", 20, "2027-09")
	h.Move(lot.ID, 6, "NORTH-STORE", "N-01", inventory.ReasonStow)
	h.Move(lot.ID, 6, "NORTH-STORE", "T-01", inventory.ReasonToTraining)
	h.Receive("TQ", "S1", 1, "")
	require.NoError(t, s.Close())
	b, err := os.ReadFile(file)
	require.NoError(t, err)
	return b
}

// TestLedgerProperty makes any sequence of valid and invalid requests and looks
// at the books after each.
func TestLedgerProperty(t *testing.T) {
	t.Parallel()
	asked, template, dir, sequence := map[string]int{}, stockedHouse(t), t.TempDir(), 0
	least, most := 5, 8
	if inventorytest.Long {
		least, most = 10, 16
	}
	rapid.Check(t, func(rt *rapid.T) {
		sequence++
		file := filepath.Join(dir, fmt.Sprintf("%d.db", sequence))
		require.NoError(rt, os.WriteFile(file, template, 0o600))
		s := storetest.Open(t, file)
		h := &fixture.House{T: rt, Now: inventorytest.Noon, Ctx: t.Context()}
		h.S = services.New(s, func() inventory.Instant { return h.Now }, services.Options{})
		m := &ledgerModel{House: h, rt: rt, training: map[int64]bool{}, asked: asked}
		m.know()
		for i, seed := range rapid.SliceOfN(rapid.Uint64(), least, most).Draw(rt, "requests") {
			m.rnd = inventorytest.NewMaker(seed + uint64(i)<<32)
			m.Pass(time.Duration(m.rnd.Between(0, 60)) * time.Hour)
			m.step()
			m.know()
		}
		m.check()
	})
	for _, kind := range []string{"receive", "move", "correct", "check", "use", "restock"} {
		require.Positive(t, asked[kind+" done"], "%v", asked)
		require.Positive(t, asked[kind+" refused"], "%v", asked)
	}
	t.Log(asked)
}
