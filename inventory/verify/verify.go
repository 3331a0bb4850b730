package verify

import (
	"cmp"
	"context"
	"fmt"
	"maps"
	"reflect"
	"slices"

	"stowkeeper/inventory"
	"stowkeeper/inventory/ledger"
	"stowkeeper/inventory/lists"
)

// Fault is something that verify found wrong.
type Fault struct {
	Station string // empty for what belongs to no one station
	Row     int64  // movement id, 0 for none
	Text    string
}

func (f Fault) String() string {
	if f.Row != 0 {
		return fmt.Sprintf("station %s, movement %d: %s", f.Station, f.Row, f.Text)
	}
	if f.Station != "" {
		return fmt.Sprintf("station %s: %s", f.Station, f.Text)
	}
	return f.Text
}

// VerifyReport is the outcome of verify.
type VerifyReport struct {
	Entries   int // of the chains
	Facts     int // rows
	Movements int
	Balances  int
	Bags      int
	Faults    []Fault
	OutOfTime []Fault // rows from before times had to be in order: no faults
}

// Verify walks every chain, of entries and of movements, and compares every row that is a fact with what the chain last
// says of it; it recomputes every balance from the movements, what each balance check of the register expected, the
// record of every batch from its inspections, classes and notices, and the readiness of every bag from those balances,
// and compares them with what is stored. kept are heads that were kept elsewhere: without them only careless changes
// are found. It never refuses: what is wrong is in the report.
func (s *Service) Verify(ctx context.Context, kept ...inventory.Head) (VerifyReport, error) {
	return inventory.Read(ctx, s.store, func(r inventory.Reader) (VerifyReport, error) {
		v := verifier{r: r, kept: kept, gapless: s.store.Engine() == "sqlite", balances: map[inventory.PlaceLot]int{},
			lots: map[int64]inventory.Lot{}, places: map[string]inventory.Place{}, newest: map[row]said{}}
		err := v.run(s.now())
		return v.VerifyReport, err
	})
}

// Heads returns the ends of all chains, to be kept elsewhere. It never refuses.
func (s *Service) Heads(ctx context.Context) ([]inventory.Head, error) {
	return inventory.Read(ctx, s.store, inventory.Reader.Heads)
}

type verifier struct {
	VerifyReport
	r        inventory.Reader
	kept     []inventory.Head
	gapless  bool // the engine numbers movements without gaps
	balances map[inventory.PlaceLot]int
	lots     map[int64]inventory.Lot
	places   map[string]inventory.Place
	moved    []inventory.PlaceMove
	newest   map[row]said
	looked   int
}

func (v *verifier) fault(station string, row int64, format string, args ...any) {
	v.Faults = append(v.Faults, Fault{station, row, fmt.Sprintf(format, args...)})
}

// run goes on after something that cannot be read: what it is was altered too, and another step names it.
func (v *verifier) run(now inventory.Instant) error {
	var failed error
	for _, step := range []func() error{v.entries, v.gather, v.chains, v.replay, v.facts, v.records,
		func() error { return v.readiness(now) }} {
		failed = cmp.Or(failed, step())
	}
	if failed != nil && len(v.Faults) > 0 {
		v.fault("", 0, "not all could be read: %v", failed)
		return nil
	}
	return failed
}

// records works out again what inspections, classes and notices say of each
// batch, and compares it with what is kept beside the batch.
func (v *verifier) records() error {
	notices, err := v.r.Notices(inventory.NoticeFilter{}, inventory.Page{})
	if err != nil {
		return err
	}
	onItem := map[string][]inventory.Notice{}
	for _, n := range notices {
		onItem[n.Item] = append(onItem[n.Item], n)
	}
	corrections, err := v.r.BatchCorrections(inventory.BatchFilter{})
	if err != nil {
		return err
	}
	corrected := map[int64][]inventory.BatchFacts{}
	for _, c := range corrections {
		corrected[c.BatchID] = append(corrected[c.BatchID], c.Old)
	}
	done := map[int64]bool{}
	for _, id := range slices.Sorted(maps.Keys(v.lots)) {
		b := v.lots[id].Batch
		if done[b.ID] {
			continue
		}
		done[b.ID] = true
		want, err := ledger.RecordOf(v.r, b, everOn(onItem, b))
		if err != nil {
			return err
		}
		if !formerlyHas(b, corrected[b.ID]) {
			v.fault("", 0, "batch %d of %s: what was recorded of it before is not what its corrections say", b.ID, b.Item)
		}
		if !ledger.SameRecord(want, b.BatchRecord) {
			v.fault("", 0, "batch %d of %s: what is kept of its inspections, classes and notices is not what they say", b.ID,
				b.Item)
		}
	}
	return nil
}

// formerlyHas tells whether a batch bears all that it was corrected from. One that others were merged into, or that was
// imported, bears more.
func formerlyHas(b inventory.Batch, corrected []inventory.BatchFacts) bool {
	for _, old := range corrected {
		if old.Item == "" { // of a program that could not correct it
			old.Item, old.Product = b.Item, b.Product
		}
		if !slices.Contains(b.Formerly, old) {
			return false
		}
	}
	return true
}

// everOn are the notices on every item that a batch was ever recorded as of.
func everOn(onItem map[string][]inventory.Notice, b inventory.Batch) []inventory.Notice {
	out, done := []inventory.Notice(nil), map[string]bool{}
	for _, f := range b.Ever() {
		if !done[f.Item] {
			out, done[f.Item] = append(out, onItem[f.Item]...), true
		}
	}
	return out
}

func (v *verifier) gather() error {
	lots, err := v.r.Lots(inventory.LotFilter{}, inventory.Page{})
	if err != nil {
		return err
	}
	for _, l := range lots {
		v.lots[l.ID] = l
	}
	if v.moved, err = v.r.PlaceMoves(); err != nil {
		return err
	}
	places, err := v.r.Places(inventory.PlaceFilter{Retired: true}, inventory.Page{})
	for _, p := range places {
		v.places[p.Code] = p
	}
	for _, k := range inventory.OutsideKinds {
		v.places[string(k)] = inventory.OutsidePlace(k)
	}
	return err
}

func (v *verifier) chains() error {
	stations, err := v.r.Stations()
	if err != nil {
		return err
	}
	actors, err := v.r.Actors()
	if err != nil {
		return err
	}
	number := func(name string) int64 {
		if n := actors[name]; n != 0 || name == "" {
			return n
		}
		return -1 // a name that nobody wrote
	}
	for _, station := range stations {
		if err := v.chain(station.Code, number); err != nil {
			return err
		}
	}
	return nil
}

// chain walks one station's movements in order.
func (v *verifier) chain(station string, number func(string) int64) error {
	ms, err := v.r.Movements(inventory.MovementFilter{Station: station}, inventory.Page{})
	if err != nil {
		return err
	}
	slices.SortStableFunc(ms, func(a, b inventory.Movement) int { return cmp.Compare(a.Seq, b.Seq) })
	last := inventory.Movement{}
	late, hash := v.late(station)
	for _, m := range ms {
		v.Movements++
		if m.Seq > late {
			v.link(station, last, m, number)
		} else {
			v.link(station, last, m, nil)
			v.expect("movement", []any{m.ID}, []string{"hash", "id"}, []any{m.Hash, m.ID})
		}
		if m.Seq == late && m.Hash != hash {
			v.fault(station, m.ID, "its hash is not the one that was entered when the entries began")
		}
		last = m
	}
	if last.Seq < late {
		v.fault(station, last.ID, "the chain ends here, and %d movements were there when the entries began", late)
	}
	head, err := v.r.Head(station)
	if err != nil {
		return err
	}
	if head.Seq != last.Seq || head.Hash != last.Hash {
		v.fault(station, last.ID,
			"the chain ends here at number %d, its head says number %d: rows at the end are missing or altered", last.Seq,
			head.Seq)
	}
	return nil
}

// link checks one row of a chain against the one before it.
func (v *verifier) link(station string, last, m inventory.Movement, number func(string) int64) {
	if m.Seq != last.Seq+1 {
		v.fault(station, m.ID, "it has number %d where %d should stand: a row before it is missing or was put in", m.Seq,
			last.Seq+1)
	}
	if m.PrevHash != last.Hash {
		v.fault(station, m.ID, "it does not follow the row before it")
	}
	if m.ID <= last.ID {
		v.fault(station, last.ID, "its id stands after that of movement %d, which follows it", m.ID)
		v.fault(station, m.ID, "its id stands before that of movement %d, which it follows", last.ID)
	}
	if inventory.ChainHash(m.PrevHash, m, number) != m.Hash {
		v.fault(station, m.ID, "its content does not fit its hash: it was altered")
	}
}

// replay adds up the movements of all stations in the order of recording and compares the balances.
func (v *verifier) replay() error {
	ms, err := v.r.Movements(inventory.MovementFilter{}, inventory.Page{})
	if err != nil {
		return err
	}
	slices.SortStableFunc(ms, func(a, b inventory.Movement) int { return cmp.Compare(a.ID, b.ID) })
	for _, m := range ms {
		v.step(m)
	}
	if err := v.numbers(ms); err != nil {
		return err
	}
	v.inTime(ms)
	if err := cmp.Or(v.converted(ms), v.batches(ms)); err != nil {
		return err
	}
	return v.register(ms)
}

// numbers looks for ids that are left out, save those that were when SQLite took the movements over.
func (v *verifier) numbers(ms []inventory.Movement) error {
	before, err := v.r.MovementGaps()
	if err != nil || !v.gapless || len(ms) == 0 && before == 0 {
		return err
	}
	gaps := int64(0)
	for i, m := range ms {
		gaps = m.ID - int64(i+1)
		if before == 0 && gaps != 0 {
			v.fault(m.Station, m.ID, "its id should be %d: it was altered, or a row before it is missing or was put in", i+1)
			return nil // one fault tells it
		}
	}
	if gaps != before {
		v.fault("", 0, "chain service: %d ids of movements were left out when they were moved here, and %d are", before, gaps)
	}
	return nil
}

// inTime lists what left a place before it came there, by when it happened.
func (v *verifier) inTime(ms []inventory.Movement) {
	ms = slices.Clone(ms)
	slices.SortStableFunc(ms, func(a, b inventory.Movement) int { return cmp.Compare(a.HappenedAt, b.HappenedAt) })
	held := map[inventory.PlaceLot]int{}
	for _, m := range ms {
		from := inventory.PlaceLot{Place: m.From, Lot: m.LotID}
		if held[from] -= m.Qty; held[from] < 0 && !v.places[m.From].Outside() {
			v.OutOfTime = append(v.OutOfTime, Fault{m.Station, m.ID, fmt.Sprintf(
				"by the times of both, lot %d left %s before it came there", m.LotID, m.From)})
		}
		held[inventory.PlaceLot{Place: m.To, Lot: m.IntoLotID}] += m.Qty
	}
}

// converted checks that what came back of each lot in a new unit is what went out in the old one, and that nothing was
// undone since that had been recorded before.
func (v *verifier) converted(ms []inventory.Movement) error {
	all, err := v.r.Conversions()
	if err != nil || len(all) == 0 {
		return err
	}
	out := map[inventory.PlaceLot]int{}
	for _, m := range ms {
		item := v.lots[m.LotID].Item
		if m.Reason != inventory.ReasonConverted {
			if m.Corrects != 0 && slices.ContainsFunc(all, func(c inventory.Conversion) bool {
				return c.Item == item && !c.Renames() && m.Corrects <= c.Until && m.ID > c.Until
			}) {
				v.fault(m.Station, m.ID, "it corrects what was recorded in another unit of %s", item)
			}
			continue
		}
		if m.To == string(inventory.KindFound) {
			out[inventory.PlaceLot{Place: m.From, Lot: m.LotID}] = m.Qty
			continue
		}
		i := slices.IndexFunc(all, func(c inventory.Conversion) bool {
			return c.RecordedAt == m.RecordedAt && m.ID <= c.Until && slices.Contains(everOf(v.lots[m.LotID].Batch), c.Item)
		})
		at := inventory.PlaceLot{Place: m.To, Lot: m.LotID}
		if n, whole := 0, false; i >= 0 {
			if n, whole = all[i].Of(out[at]); whole && n == m.Qty {
				delete(out, at)
				continue
			}
		}
		v.fault(m.Station, m.ID, "it is not what went out of lot %d in the old unit", m.LotID)
	}
	for at := range out {
		v.fault("", 0, "lot %d in %s went out in an old unit, and did not come back in the new one", at.Lot, at.Place)
	}
	return nil
}

// everOf are the items that a batch was ever recorded as.
func everOf(b inventory.Batch) (items []string) {
	for _, f := range b.Ever() {
		items = append(items, f.Item)
	}
	return items
}

// batches checks that each movement is listed under the batch of its lot, since
// traces follow the batch and the hash does not cover it.
func (v *verifier) batches(ms []inventory.Movement) error {
	listed, done := map[int64]int64{}, map[int64]bool{}
	for _, l := range v.lots {
		id := l.Batch.ID
		if done[id] {
			continue
		}
		done[id] = true
		of, err := v.r.Movements(inventory.MovementFilter{Batch: id}, inventory.Page{})
		if err != nil {
			return err
		}
		for _, m := range of {
			listed[m.ID] = id
		}
	}
	for _, m := range ms {
		if listed[m.ID] != v.lots[m.LotID].Batch.ID {
			v.fault(m.Station, m.ID, "it is listed under another batch than that of lot %d", m.LotID)
		}
	}
	return nil
}

func comparePlaceLot(a, b inventory.PlaceLot) int {
	return cmp.Or(cmp.Compare(a.Place, b.Place), cmp.Compare(a.Lot, b.Lot))
}

// step replays one movement and checks what must hold of every one.
func (v *verifier) step(m inventory.Movement) {
	from, to := v.places[m.From], v.places[m.To]
	from.Station, to.Station = from.StationThen(m.ID, v.moved), to.StationThen(m.ID, v.moved)
	if m.Station != inventory.ChainStation(from, to) {
		v.fault(m.Station, m.ID, "it belongs to the chain of station %s", inventory.ChainStation(from, to))
	}
	if !from.Outside() {
		k := inventory.PlaceLot{Place: m.From, Lot: m.LotID}
		if v.balances[k] -= m.Qty; v.balances[k] < 0 {
			v.fault(m.Station, m.ID, "it takes more of lot %d out of %s than was there", m.LotID, m.From)
		}
	}
	if to.Outside() {
		return
	}
	v.balances[inventory.PlaceLot{Place: m.To, Lot: m.IntoLotID}] += m.Qty
	if into := v.lots[m.IntoLotID]; into.Training != (to.Purpose == inventory.ForTraining) {
		v.fault(m.Station, m.ID, "lot %d and place %s are not of one purpose", m.IntoLotID, m.To)
	}
}

// readiness judges every bag on what is stored and on what the movements say lies in it, and compares the answers.
func (v *verifier) readiness(now inventory.Instant) error {
	views, err := lists.LoadBags(v.r, inventory.BagFilter{}, inventory.Page{})
	if err != nil {
		return err
	}
	inBag := map[string][]inventory.Stock{}
	for _, k := range slices.SortedFunc(maps.Keys(v.balances), comparePlaceLot) {
		if n := v.balances[k]; n > 0 {
			inBag[k.Place] = append(inBag[k.Place], inventory.Stock{Place: k.Place, Lot: v.lots[k.Lot], Qty: n})
		}
	}
	kept, err := v.r.KeptOf(now, false)
	if err != nil {
		return err
	}
	judged := map[string]inventory.Kept{}
	for _, k := range kept {
		judged[k.Bag] = k
	}
	for _, view := range views {
		v.Bags++
		stored := inventory.ReadinessOf(view, now, 0, inventory.DefaultHorizonDays)
		view.Stock = inBag[view.Bag.Code]
		for i := range view.Modules {
			view.Modules[i].Stock = inBag[view.Modules[i].Bag.Code]
		}
		replayed := inventory.ReadinessOf(view, now, 0, inventory.DefaultHorizonDays)
		if stored.State != replayed.State {
			v.fault(view.Bag.AtStation, 0, "bag %s: %s by its balances, %s by the movements", view.Bag.Code, stored.State,
				replayed.State)
		}
		if k, ok := judged[view.Bag.Code]; ok && !reflect.DeepEqual(k, inventory.Keep(view, k.At)) {
			v.fault(view.Bag.AtStation, 0, "bag %s: what it was judged to be on %s is not what the records say", view.Bag.Code,
				k.At)
		}
		delete(judged, view.Bag.Code)
	}
	for _, k := range judged { // of retired bags nothing is counted
		if k.Purpose != "" || k.FirstStop != nil || k.Says() {
			v.fault(k.AtStation, 0, "bag %s: retired, and counted as %s", k.Bag, k.State)
		}
	}
	return nil
}
