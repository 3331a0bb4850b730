package inventory_test

import (
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"stowkeeper/inventory"
	"stowkeeper/inventory/inventorytest"
)

// listing is the table of allowed movements written a second time, by reason
// and from the ledger's description rather than from the code. Between inside
// places it is about places of one purpose, except to_training, which is about
// an issue place and a training place.
const listing = `
receipt      supplier>store supplier>quarantine
opening      supplier>store supplier>quarantine supplier>bag supplier>carrier supplier>away
stow         store>bag store>carrier carrier>bag
return       bag>store carrier>store away>store away>bag away>carrier transit>store
transfer     store>transit transit>store store>store bag>bag bag>carrier carrier>carrier quarantine>quarantine away>away
to_training  store>store store>bag store>carrier bag>store bag>bag bag>carrier carrier>store carrier>bag
to_training  carrier>carrier quarantine>store quarantine>quarantine
quarantine   store>quarantine bag>quarantine carrier>quarantine away>quarantine transit>quarantine
release      quarantine>store
away         store>away bag>away carrier>away quarantine>away
used         store>used bag>used carrier>used away>used
used         store>quarantine bag>quarantine carrier>quarantine away>quarantine
disposed     store>disposed bag>disposed carrier>disposed quarantine>disposed away>disposed
lost         store>lost bag>lost carrier>lost quarantine>lost away>lost transit>lost
found        found>store found>bag found>carrier found>quarantine quarantine>found
found        lost>store lost>bag lost>carrier lost>quarantine
correction
converted
to_supplier  store>supplier quarantine>supplier away>supplier
`

var allKinds = slices.Concat(inventory.InsideKinds, inventory.OutsideKinds)

func isOutside(k inventory.PlaceKind) bool { return slices.Contains(inventory.OutsideKinds, k) }

// listed reads the listing: reason and route, both as text.
func listed(t *testing.T) map[string]bool {
	ok, reasons := map[string]bool{}, map[string]bool{}
	for line := range strings.Lines(listing) {
		words := strings.Fields(line)
		if len(words) == 0 {
			continue
		}
		reasons[words[0]] = true
		for _, route := range words[1:] {
			ok[words[0]+" "+route] = true
		}
	}
	require.Len(t, reasons, len(inventory.Reasons), "every reason has a line")
	return ok
}

// somewhere returns a place of a kind; outside places have no purpose.
func somewhere(k inventory.PlaceKind, p inventory.Purpose, code string) inventory.Place {
	if isOutside(k) {
		return inventory.OutsidePlace(k)
	}
	return inventory.Place{Code: code, Station: "S", Kind: k, Purpose: p}
}

var bothPurposes = []inventory.Purpose{inventory.ForIssue, inventory.ForTraining}

// TestAllowedMatrix compares every from × to × reason × purpose × purpose with
// the listing.
func TestAllowedMatrix(t *testing.T) {
	ok, seen, combinations := listed(t), map[string]bool{}, 0
	for _, from := range allKinds {
		for _, to := range allKinds {
			for _, reason := range inventory.Reasons {
				for _, pf := range bothPurposes {
					for _, pt := range bothPurposes {
						combinations++
						key := string(reason) + " " + string(from) + ">" + string(to)
						inside := !isOutside(from) && !isOutside(to)
						want := ok[key]
						switch {
						case reason == inventory.ReasonToTraining:
							want = want && pf == inventory.ForIssue && pt == inventory.ForTraining
						case inside:
							want = want && pf == pt
						}
						err := inventory.Allowed(somewhere(from, pf, "A"), somewhere(to, pt, "B"), reason, inventorytest.CauseFor(reason))
						if want {
							seen[key] = true
							assert.NoError(t, err, "%s, %s to %s", key, pf, pt)
						} else if assert.Equal(t, inventory.Conflict, inventory.KindOf(err), "%s, %s to %s", key, pf, pt) {
							inventorytest.RequireKind(t, inventory.Conflict, err)
						}
					}
				}
			}
		}
	}
	assert.Equal(t, 11*11*16*4, combinations)
	assert.Len(t, seen, len(ok), "every route of the listing was tried")
}

// TestNothingLeavesTraining: no reason and no correction brings stock from a
// training place to an issue place.
func TestNothingLeavesTraining(t *testing.T) {
	for _, from := range inventory.InsideKinds {
		for _, to := range inventory.InsideKinds {
			training, issue := somewhere(from, inventory.ForTraining, "T"), somewhere(to, inventory.ForIssue, "I")
			for _, reason := range inventory.Reasons {
				err := inventory.Allowed(training, issue, reason, inventorytest.CauseFor(reason))
				inventorytest.RequireKind(t, inventory.Conflict, err)
				assert.Contains(t, err.Error(), "never returns to issue")
			}
			for _, reason := range inventory.Reasons {
				_, err := inventory.CorrectionOf(inventory.Movement{ID: 7, Reason: reason, From: "I", To: "T"}, issue, training)
				inventorytest.RequireKind(t, inventory.Conflict, err)
			}
		}
	}
}

func TestAllowedCauses(t *testing.T) {
	causes := map[inventory.Reason]string{
		inventory.ReasonDisposed: "expired damaged wasted training recalled other",
		inventory.ReasonLost:     "missing training other",
	}
	bag := somewhere(inventory.KindBag, inventory.ForIssue, "A")
	for reason, to := range map[inventory.Reason]inventory.PlaceKind{
		inventory.ReasonDisposed: inventory.KindDisposed, inventory.ReasonLost: inventory.KindLost,
		inventory.ReasonUsed: inventory.KindUsed, inventory.ReasonReturn: inventory.KindStore,
	} {
		for _, cause := range []inventory.Cause{"", "expired", "damaged", "wasted", "training", "recalled", "missing",
			"other", "nonsense"} {
			fine := cause == ""
			if list, asked := causes[reason]; asked {
				fine = slices.Contains(strings.Fields(list), string(cause))
			}
			err := inventory.Allowed(bag, somewhere(to, inventory.ForIssue, "B"), reason, cause)
			if fine {
				assert.NoError(t, err, "%s, %s", reason, cause)
			} else {
				inventorytest.RequireFields(t, err, "cause")
			}
		}
	}
}

func TestAllowedSaysWhatWouldDo(t *testing.T) {
	store, bag := somewhere(inventory.KindStore, inventory.ForIssue, "A"), somewhere(inventory.KindBag, inventory.ForIssue,
		"B")
	err := inventory.Allowed(store, bag, inventory.ReasonReturn, "")
	assert.ErrorContains(t, err, "from a store to a bag, choose one of stow, to_training")
	err = inventory.Allowed(inventory.OutsidePlace(inventory.KindUsed), store, inventory.ReasonReturn, "")
	assert.ErrorContains(t, err, "stock cannot move from used to a store")
	err = inventory.Allowed(store, somewhere(inventory.KindAway, inventory.ForIssue, "C"), inventory.ReasonStow, "")
	assert.ErrorContains(t, err, "from a store to away, choose one of away")
}

func TestCorrectionUndoesExactly(t *testing.T) {
	m := inventory.Movement{ID: 12, LotID: 3, IntoLotID: 4, Qty: 5, From: "S-STORE", To: "BAG-1",
		Reason: inventory.ReasonStow, Reference: "R", Note: "N", Witness: "W"}
	undo, err := inventory.CorrectionOf(m, somewhere(inventory.KindStore, inventory.ForIssue, "S-STORE"),
		somewhere(inventory.KindBag, inventory.ForIssue, "BAG-1"))
	require.NoError(t, err)
	assert.Equal(t, inventory.Movement{LotID: 4, IntoLotID: 3, Qty: 5, From: "BAG-1", To: "S-STORE",
		Reason: inventory.ReasonCorrection, Corrects: 12}, undo)

	m.Reason = inventory.ReasonCorrection
	_, err = inventory.CorrectionOf(m, inventory.OutsidePlace(inventory.KindUsed), somewhere(inventory.KindBag,
		inventory.ForIssue, "B"))
	inventorytest.RequireKind(t, inventory.Conflict, err)
}

// TestCorrectionBringsBackFromOutside: used, disposed and lost stock comes
// back to the place that it left, of either purpose.
func TestCorrectionBringsBackFromOutside(t *testing.T) {
	for _, out := range []inventory.PlaceKind{inventory.KindUsed, inventory.KindDisposed, inventory.KindLost,
		inventory.KindSupplier} {
		for _, p := range bothPurposes {
			undo, err := inventory.CorrectionOf(inventory.Movement{ID: 1, LotID: 2, IntoLotID: 2, Qty: 1, From: "B",
				To: string(out), Reason: inventory.ReasonUsed},
				somewhere(inventory.KindBag, p, "B"), inventory.OutsidePlace(out))
			require.NoError(t, err)
			assert.Equal(t, "B", undo.To)
		}
	}
}

func TestAllowedLot(t *testing.T) {
	dressing, ampoule := inventory.Item{Category: inventory.CategoryPlainDressing},
		inventory.Item{Category: inventory.CategoryMedicine}
	analgesic := inventory.Item{Category: inventory.CategoryPainRelief}
	plain := inventory.Lot{}
	training := inventory.Lot{Clocks: inventory.Clocks{Training: true}}
	unknown := inventory.Lot{Clocks: inventory.Clocks{Unidentified: true}}
	withdrawn := inventory.Lot{Batch: inventory.Batch{BatchRecord: inventory.BatchRecord{Withdrawn: []string{"FSN-1"}}}}
	device := inventory.Lot{Batch: inventory.Batch{Serial: "S1"}}
	worn := inventory.Lot{Batch: inventory.Batch{Serial: "S1", BatchRecord: inventory.BatchRecord{Cycles: 200}},
		Clocks: inventory.Clocks{Training: true}}
	reusable := inventory.Item{Category: inventory.CategoryTourniquet, Life: inventory.Life{TrainingCycles: 200}}
	singleUse := inventory.Item{Category: inventory.CategoryTourniquet, SingleUse: true}
	for _, kind := range allKinds {
		for _, p := range bothPurposes {
			to := somewhere(kind, p, "X")
			inside := !isOutside(kind)
			assert.NoError(t, inventory.AllowedLot(dressing, plain, to, inventory.ReasonFound), "plain units go anywhere")
			check := func(bad bool, it inventory.Item, l inventory.Lot, r inventory.Reason) {
				t.Helper()
				if err := inventory.AllowedLot(it, l, to, r); bad {
					inventorytest.RequireKind(t, inventory.Conflict, err)
				} else {
					assert.NoError(t, err, "%s %s %s", kind, p, r)
				}
			}
			check(inside && p == inventory.ForIssue, dressing, training, inventory.ReasonFound)
			check(inside && kind != inventory.KindQuarantine, dressing, unknown, inventory.ReasonFound)
			check(inside && kind != inventory.KindQuarantine, dressing, unknown, inventory.ReasonRelease)
			check(true, ampoule, plain, inventory.ReasonToTraining)
			check(true, analgesic, plain, inventory.ReasonToTraining)
			check(false, dressing, plain, inventory.ReasonToTraining)

			check(inside && kind != inventory.KindQuarantine && kind != inventory.KindAway, dressing, withdrawn,
				inventory.ReasonRelease)
			check(kind == inventory.KindQuarantine, dressing, plain, inventory.ReasonUsed)
			check(kind == inventory.KindQuarantine, singleUse, device, inventory.ReasonUsed)
			check(false, reusable, device, inventory.ReasonUsed)
			check(inside && p == inventory.ForTraining, reusable, device, inventory.ReasonFound)
			if p == inventory.ForTraining {
				check(kind == inventory.KindBag || kind == inventory.KindCarrier, reusable, worn, inventory.ReasonTransfer)
				check(false, reusable, worn, inventory.ReasonFound)
			}
		}
	}
}

func TestClocksAfter(t *testing.T) {
	limits := inventory.Item{Life: everyLimit}
	none := inventory.Item{}
	riding := inventory.Clocks{ExposedSince: inventorytest.Day("2027-03-01"), ExposedDays: 10,
		ExposedLast: inventorytest.Day("2027-01-01")}
	for _, c := range []struct {
		name    string
		item    inventory.Item
		before  inventory.Clocks
		kind    inventory.PlaceKind
		purpose inventory.Purpose
		want    inventory.Clocks
	}{
		{"stowed first", limits, inventory.Clocks{}, inventory.KindBag, inventory.ForIssue,
			inventory.Clocks{StowedOn: inventorytest.Day("2027-03-11")}},
		{"stowed again keeps the first day", limits, inventory.Clocks{StowedOn: inventorytest.Day("2026-01-01")},
			inventory.KindBag,
			inventory.ForIssue, inventory.Clocks{StowedOn: inventorytest.Day("2026-01-01")}},
		{"stowed without such a limit", none, inventory.Clocks{}, inventory.KindBag, inventory.ForIssue, inventory.Clocks{}},
		{"back in the store keeps the stowed day", limits, inventory.Clocks{StowedOn: inventorytest.Day("2026-01-01")},
			inventory.KindStore,
			inventory.ForIssue, inventory.Clocks{StowedOn: inventorytest.Day("2026-01-01")}},
		{"onto a carrier", limits, inventory.Clocks{}, inventory.KindCarrier, inventory.ForIssue,
			inventory.Clocks{ExposedSince: inventorytest.Day("2027-03-11")}},
		{"onto a carrier without such a limit", none, inventory.Clocks{}, inventory.KindCarrier, inventory.ForIssue,
			inventory.Clocks{}},
		{"from carrier to carrier rides on", limits, riding, inventory.KindCarrier, inventory.ForIssue, riding},
		{"off the carrier, into the store", limits, riding, inventory.KindStore, inventory.ForIssue,
			inventory.Clocks{ExposedDays: 20, ExposedLast: inventorytest.Day("2027-03-10")}},
		{"off the carrier, into a bag", limits, riding, inventory.KindBag, inventory.ForIssue,
			inventory.Clocks{ExposedDays: 20, ExposedLast: inventorytest.Day("2027-03-10"),
				StowedOn: inventorytest.Day("2027-03-11")}},
		{"off the carrier after the limit was taken away", none, riding, inventory.KindStore, inventory.ForIssue,
			inventory.Clocks{ExposedDays: 20, ExposedLast: inventorytest.Day("2027-03-10")}},
		{"given to training", none, inventory.Clocks{}, inventory.KindStore, inventory.ForTraining,
			inventory.Clocks{Training: true}},
		{"given to training, into a bag", limits, inventory.Clocks{}, inventory.KindBag, inventory.ForTraining,
			inventory.Clocks{Training: true, StowedOn: inventorytest.Day("2027-03-11")}},
		{"used from a carrier keeps its clocks", limits, riding, inventory.KindUsed, "", riding},
		{"opened units stay opened", limits, inventory.Clocks{OpenedOn: inventorytest.Day("2027-03-01")}, inventory.KindStore,
			inventory.ForIssue, inventory.Clocks{OpenedOn: inventorytest.Day("2027-03-01")}},
	} {
		got := inventory.ClocksAfter(c.item, c.before, somewhere(c.kind, c.purpose, "X"), inventorytest.Day("2027-03-11"),
			inventorytest.Day("2027-03-10"))
		assert.Equal(t, c.want, got, c.name)
	}
}

// TestClocksProperty: on any walk from place to place, training never ends,
// the first stowing stays, and the days exposed are those from coming onto a
// carrier to leaving it, each once.
func TestClocksProperty(t *testing.T) {
	it := inventory.Item{Life: everyLimit}
	rapid.Check(t, func(t *rapid.T) {
		var c inventory.Clocks
		today := inventorytest.Day("2026-01-01")
		firstStowed, exposed, training := inventory.Day(0), map[inventory.Day]bool{}, false
		onCarrier := false
		for range rapid.IntRange(1, 12).Draw(t, "moves") {
			passed := rapid.IntRange(0, 40).Draw(t, "days later")
			for range passed {
				today++
				if onCarrier {
					exposed[today] = true
				}
			}
			kind := rapid.SampledFrom(inventory.InsideKinds).Draw(t, "kind")
			purpose := inventory.ForIssue
			if training = training || rapid.IntRange(0, 9).Draw(t, "to training") == 0; training {
				purpose = inventory.ForTraining
			}
			c = inventory.ClocksAfter(it, c, somewhere(kind, purpose, "X"), today, today)
			if kind == inventory.KindCarrier {
				exposed[today] = true
			}
			if kind == inventory.KindBag && firstStowed == 0 {
				firstStowed = today
			}
			onCarrier = kind == inventory.KindCarrier
			require.Equal(t, training, c.Training)
			require.Equal(t, firstStowed, c.StowedOn)
			require.Equal(t, len(exposed), c.DaysExposed(today))
			require.Equal(t, onCarrier, c.ExposedSince != 0)
		}
	})
}
