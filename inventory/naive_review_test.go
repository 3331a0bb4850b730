package inventory_test

import (
	"fmt"
	"slices"
	"sort"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stowkeeper/inventory"
	"stowkeeper/inventory/inventorytest"
)

// naiveReported strikes out the units that reports under review say are gone, one by one, and returns how many each
// thing reported struck out. The oldest units of a lot come first.
func naiveReported(v inventory.BagView, units []naiveUnit) map[int64]int {
	counts, says := map[int64]int{}, []inventory.Reported(nil)
	for _, u := range v.Reports {
		says = append(says, u.Says...)
	}
	sort.Slice(says, func(i, j int) bool { return says[i].ID < says[j].ID })
	for _, r := range says {
		seen := 0
		for i := range units {
			if units[i].lot != r.LotID {
				continue
			}
			if seen++; seen <= r.Pool && !units[i].gone && counts[r.ID] < r.Qty-r.Settled {
				units[i].gone = true
				counts[r.ID]++
			}
		}
	}
	return counts
}

// judgeReports adds the reports under review, and what they say was seen.
func (a *naiveAnswer) judgeReports(v inventory.BagView, counts map[int64]int, today inventory.Day) {
	for _, u := range v.Reports {
		severity, qty := "warn", 0
		for _, r := range u.Says {
			qty += counts[r.ID]
			if counts[r.ID] > 0 && a.wouldHelp(v, r.LotID, today) {
				severity = "stop"
			}
			a.addSeen(v, r, counts[r.ID])
		}
		a.add(severity, "report_under_review", "", 0, qty, 0, "")
	}
}

// wouldHelp tells whether a line that is under its minimum could do with a lot in the bag.
func (a *naiveAnswer) wouldHelp(v inventory.BagView, lot int64, today inventory.Day) bool {
	for _, st := range v.Stock {
		if st.Lot.ID != lot {
			continue
		}
		unit := naiveUnits([]inventory.Stock{st}, v.Items, v.Bag.Purpose == "training")[0]
		for i, l := range v.List.Lines {
			_, minimum := naiveWanted(l)
			takes := unit.fit && unit.end >= today && slices.Contains(append([]string{l.Item}, l.Accepts...), unit.item)
			if takes && a.usable[i] < minimum {
				return true
			}
		}
	}
	return false
}

func (a *naiveAnswer) addSeen(v inventory.BagView, r inventory.Reported, counts int) {
	if r.Settled > 0 && r.Settled >= r.Qty {
		return
	}
	sealed := "stop"
	if v.List.SealWarns {
		sealed = "warn"
	}
	switch {
	case r.Kind == "training_mark":
		a.add("stop", "observation", r.Item, 0, 0, 0, "")
	case r.Kind == "unidentified":
		a.add("warn", "observation", r.Item, 0, 0, 0, "")
	case r.Kind == "failed" && (r.Qty == 0 || counts > 0):
		a.add("stop", "observation", r.Item, r.LotID, 0, 0, "")
	case v.List.Sealed && r.Kind == "opened":
		a.add("warn", "no_seal", "", 0, 0, 0, "")
	case v.List.Sealed && (r.Kind == "broken" || r.Kind == "different"):
		a.add(sealed, "seal", "", 0, 0, 0, "")
	}
}

// naiveClaim is a report about one lot: how many units it is about, and which were there then.
type naiveClaim struct {
	id    int64
	lot   int64
	left  int
	there map[int]bool
}

// reviewWalk lives through two years of a bag: stowed, used, reported, decided. Each unit has a number.
type reviewWalk struct {
	*inventorytest.Maker
	v      inventory.BagView
	now    inventory.Instant
	units  map[int64][]int // lot → the numbers of its units in the bag, the oldest first
	claims []naiveClaim    // in the order of recording
	number int
	ids    int64
	did    map[string]int
}

// marks says which units each claim is about now: the youngest that it can be, and that no earlier claim is about.
func (w *reviewWalk) marks() [][]int {
	taken, out := map[int]bool{}, make([][]int, len(w.claims))
	for i, c := range w.claims {
		of := w.units[c.lot]
		for j := len(of) - 1; j >= 0 && len(out[i]) < c.left; j-- {
			if c.there[of[j]] && !taken[of[j]] {
				taken[of[j]] = true
				out[i] = append(out[i], of[j])
			}
		}
	}
	return out
}

// drop lets a unit leave the bag.
func (w *reviewWalk) drop(lot int64, unit int) {
	w.units[lot] = slices.DeleteFunc(w.units[lot], func(u int) bool { return u == unit })
}

// youngest drops the youngest units of a lot, of those that are in a set, if any is given.
func (w *reviewWalk) youngest(lot int64, n int, in map[int]bool) {
	for j := len(w.units[lot]) - 1; j >= 0 && n > 0; j-- {
		if u := w.units[lot][j]; in == nil || in[u] {
			w.drop(lot, u)
			n--
		}
	}
}

func (w *reviewWalk) stow(row, n int) {
	st := &w.v.Stock[row]
	st.Qty += n
	for range n {
		w.number++
		w.units[st.Lot.ID] = append(w.units[st.Lot.ID], w.number)
	}
}

// leave moves units out of the bag by the rules.
func (w *reviewWalk) leave(row, n int, reason inventory.Reason, how inventory.Leaving) {
	st := &w.v.Stock[row]
	st.Qty -= n
	changed := inventory.LeaveBags(w.v.Reports, []inventory.Movement{{LotID: st.Lot.ID, Qty: n, From: w.v.Bag.Code,
		To: "elsewhere", Reason: reason}}, w.v.Stock, how)
	w.set(changed)
}

func (w *reviewWalk) set(changed []inventory.Reported) {
	for _, r := range changed {
		for _, u := range w.v.Reports {
			for i := range u.Says {
				if u.Says[i].ID == r.ID {
					u.Says[i] = r
				}
			}
		}
	}
}

// report keeps a use that comes to review.
func (w *reviewWalk) report(row, n int) {
	w.ids++
	st := w.v.Stock[row]
	k := inventory.ReportKey{UseID: w.ids}
	u := inventory.Use{ID: w.ids, Bag: w.v.Bag.Code, HappenedAt: w.now,
		Lines: []inventory.UseLine{{LotID: st.Lot.ID, Qty: n}}}
	says := u.Says(inventory.Bag{Code: u.Bag}, w.v.Stock)
	says[0].ID, says[0].ReportKey = w.ids, k
	w.v.Reports = append(w.v.Reports, inventory.UnderReview{ReportKey: k, Report: k.String(), Bag: u.Bag, By: "Cleo",
		HappenedAt: w.now, RecordedAt: w.now, Says: says})
	c := naiveClaim{w.ids, st.Lot.ID, min(n, st.Qty), map[int]bool{}}
	for _, unit := range w.units[c.lot] {
		c.there[unit] = true
	}
	w.claims = append(w.claims, c)
}

// end takes a report out of the review.
func (w *reviewWalk) end(i int) {
	w.claims = slices.Delete(w.claims, i, i+1)
	w.v.Reports = slices.Delete(w.v.Reports, i, i+1)
}

// writeOff is a quartermaster's removal: of what was reported first.
func (w *reviewWalk) writeOff(row, n int) {
	lot := w.v.Stock[row].Lot.ID
	w.leave(row, n, inventory.ReasonLost, inventory.Leaving{Removed: true})
	for i, of := range w.marks() {
		for _, unit := range of {
			if w.claims[i].lot == lot && n > 0 {
				w.drop(lot, unit)
				w.claims[i].left--
				n--
			}
		}
	}
	w.youngest(lot, n, nil)
}

// accept decides a report: what is left of it is used, if there is that much.
func (w *reviewWalk) accept(i int) bool {
	c, says := w.claims[i], w.v.Reports[i].Says
	row := slices.IndexFunc(w.v.Stock, func(st inventory.Stock) bool { return st.Lot.ID == c.lot })
	ms := inventory.Unsettled([]inventory.Movement{{LotID: c.lot, Qty: says[0].Qty, From: w.v.Bag.Code}}, says)
	n := 0
	for _, m := range ms {
		n += m.Qty
	}
	if n != c.left || n > w.v.Stock[row].Qty {
		return false
	}
	w.leave(row, n, inventory.ReasonUsed, inventory.Leaving{Of: w.v.Reports[i].ReportKey})
	here := len(w.units[c.lot])
	w.youngest(c.lot, n, c.there)
	w.youngest(c.lot, n-(here-len(w.units[c.lot])), nil)
	w.end(i)
	return true
}

// fullCheck counts everything as it is recorded, some time before now.
func (w *reviewWalk) fullCheck(at inventory.Instant) {
	c := inventory.Check{Bag: w.v.Bag.Code, Kind: inventory.FullCheck, HappenedAt: at, RecordedAt: w.now}
	for _, st := range w.v.Stock {
		c.Lines = append(c.Lines, inventory.CheckLine{LotID: st.Lot.ID, Counted: st.Qty})
	}
	for i, u := range w.v.Reports {
		if r := u.Says[0]; c.Settles(u, r) {
			u.Says[0] = r.Settle()
		}
		if u.HappenedAt < at {
			w.claims[i].left = 0
		}
	}
}

// step lets one thing happen.
func (w *reviewWalk) step() {
	row := w.IntN(len(w.v.Stock))
	had, n := w.v.Stock[row].Qty, w.Between(1, 4)
	did := inventorytest.Pick(w.Maker, "restocked", "reported", "reported", "used", "written off", "returned", "accepted",
		"withdrawn", "counted")
	open := len(w.claims)
	switch {
	case did == "restocked":
		w.stow(row, n)
	case did == "reported":
		w.report(row, n)
	case did == "used" && n <= had:
		w.leave(row, n, inventory.ReasonUsed, inventory.Leaving{})
		w.youngest(w.v.Stock[row].Lot.ID, n, nil)
	case did == "returned" && n <= had:
		w.leave(row, n, inventory.ReasonReturn, inventory.Leaving{Removed: true})
		w.youngest(w.v.Stock[row].Lot.ID, n, nil)
	case did == "written off" && n <= had:
		w.writeOff(row, n)
	case did == "accepted" && open > 0 && w.accept(w.IntN(open)), did == "withdrawn" && open > 0:
		if did == "withdrawn" {
			w.end(w.IntN(open))
		}
	case did == "counted" && w.OneIn(4):
		w.fullCheck(w.now - inventory.Instant(w.IntN(20))*24*3600e6)
	default:
		return
	}
	w.did[did]++
}

// TestTwoYearsOfReports lets reports come to a bag that is used and restocked meanwhile, and be accepted, withdrawn and
// settled, and compares each day with the units themselves and with the naive implementation.
func TestTwoYearsOfReports(t *testing.T) {
	t.Parallel()
	together, did := 0, map[string]int{}
	for seed := range uint64(24) {
		m := inventorytest.NewMaker(seed)
		station := inventory.Station{Code: "N", Timezone: inventorytest.WalkZones[seed%3]}
		w := &reviewWalk{Maker: m, v: m.KeptBag("N-01", station, m.Items()), units: map[int64][]int{}, did: did}
		for i := range w.v.Stock {
			n := w.v.Stock[i].Qty
			w.v.Stock[i].Qty = 0
			w.stow(i, n)
		}
		for i := range inventorytest.WalkDays {
			d := inventorytest.WalkFrom + inventory.Day(i)
			w.now = momentOn(m, station, d)
			if m.OneIn(3) {
				w.step()
			}
			if len(w.claims) > 1 {
				together++
			}
			w.compare(t, d, fmt.Sprintf("bag %d on %s: %v", seed, d, did))
		}
	}
	for _, what := range []string{"restocked", "reported", "used", "written off", "returned", "accepted", "withdrawn",
		"counted"} {
		assert.Greater(t, did[what], 20, "%s: %v", what, did)
	}
	assert.Greater(t, together, 1000, "two reports at once")
}

func (w *reviewWalk) compare(t *testing.T, d inventory.Day, when string) {
	v := w.v
	v.Stock = slices.DeleteFunc(slices.Clone(v.Stock), func(st inventory.Stock) bool { return st.Qty == 0 })
	marks := w.marks()
	for i, u := range inventory.CountReported(v.Reports) {
		require.Len(t, marks[i], u.Says[0].Counts, "%s, %+v", when, u)
	}
	r := inventory.ReadinessOf(v, w.now, 0, 30)
	want := naiveStill(v, d, 30).withClock(v, w.now)
	want.ended = nil
	require.Equal(t, want, shortAnswer(r), when)
}
