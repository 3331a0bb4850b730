package services_test

import (
	"fmt"
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"stowkeeper/inventory"
	"stowkeeper/inventory/account"
	"stowkeeper/inventory/amount"
	"stowkeeper/inventory/fixture"
	"stowkeeper/inventory/register"
	"stowkeeper/inventory/store/storetest"
)

// registerWalk walks at random over the register of one item, and knows what it
// should say without reading it.
type registerWalk struct {
	*fixture.House
	rt   *rapid.T
	lot  int64
	held map[string]int                      // place → units
	seen map[string][]register.RegisterEntry // place → the entries as first read
	did  map[string]int
}

var registerPlaces = []string{"NORTH-STORE", "N-01", "N-02", "N-CLEO"}

// step makes one request by two people, or, now and then, by one.
func (w *registerWalk) step() {
	rt := w.rt
	two := rapid.IntRange(0, 4).Draw(rt, "signatures") > 0
	n := rapid.IntRange(1, 3).Draw(rt, "units")
	from := rapid.SampledFrom(registerPlaces).Draw(rt, "from")
	by := func(a inventory.Actor) inventory.Actor {
		if two {
			return w.Signed(a, witnessOf(a))
		}
		return a
	}
	kind := rapid.SampledFrom([]string{"receive", "move", "use", "sign out", "sign back", "carrier use", "correct",
		"count", "destroy", "sign owed"}).Draw(rt, "kind")
	var err error
	change := map[string]int{}
	switch kind {
	case "receive":
		change["NORTH-STORE"] = n
		_, err = w.S.Ledger.Receive(w.Ctx, by(fixture.Keeper), inventory.Receipt{Place: "NORTH-STORE", Item: "AMP",
			BatchNo:    "A1",
			EndPrinted: "2029-01", EndWording: "expiry", Qty: n})
	case "move":
		to, reason := "N-01", inventory.ReasonStow
		if from != "NORTH-STORE" {
			to, reason = "NORTH-STORE", inventory.ReasonReturn
		}
		change[from], change[to] = -n, n
		_, err = w.S.Ledger.Move(w.Ctx, by(fixture.Keeper), []inventory.Movement{{LotID: w.lot, Qty: n, From: from, To: to,
			Reason: reason}})
	case "use":
		change["N-01"] = -n
		var u inventory.Use
		u, err = w.S.Shift.RecordUse(w.Ctx, by(fixture.Crew), inventory.Use{Bag: "N-01", Incident: "I",
			SeenPosition: w.Bag("N-01").Position,
			Lines: []inventory.UseLine{{LotID: w.lot, Qty: n, Given: amount.Amount(fmt.Sprint(10*n - 4)),
				Wasted: "4 mg"}}}, "")
		if err == nil && u.Status != inventory.StatusAccepted {
			change["N-01"] = 0
		}
		two = true // one person may
	case "sign out":
		change[from], change["N-CLEO"] = -n, n
		if from == "N-CLEO" {
			return
		}
		_, err = w.S.Register.RecordEntry(w.Ctx, by(fixture.Crew), register.EntryRequest{Kind: register.RequestSignOut,
			Place: from,
			Lines: []register.EntryRequestLine{{LotID: w.lot, Qty: n}}})
	case "sign back":
		change["N-CLEO"], change["NORTH-STORE"] = -n, n
		_, err = w.S.Register.RecordEntry(w.Ctx, by(fixture.Crew), register.EntryRequest{Kind: register.RequestBack,
			Place: "N-CLEO",
			Lines: []register.EntryRequestLine{{LotID: w.lot, Qty: n}}})
	case "carrier use":
		change["N-CLEO"] = -n
		_, err = w.S.Register.RecordEntry(w.Ctx, by(fixture.Crew), register.EntryRequest{Kind: register.RequestUse,
			Place:     "N-CLEO",
			Reference: "I", Lines: []register.EntryRequestLine{{LotID: w.lot, Qty: n, Given: "10 mg"}}})
		two = true
	case "destroy":
		change[from] = -n
		_, err = w.S.Register.RecordEntry(w.Ctx, by(fixture.Keeper), register.EntryRequest{Kind: register.RequestDestroy,
			Place: from,
			Cause: inventory.CauseDamaged, Authorised: "Ada", Lines: []register.EntryRequestLine{{LotID: w.lot, Qty: n}}})
	case "correct":
		err = w.correct(by(fixture.Keeper), change)
	case "count":
		counted := max(0, w.held[from]+rapid.IntRange(-1, 1).Draw(rt, "off by"))
		var c inventory.BalanceCheck
		c, err = w.S.Register.RecordBalanceCheck(w.Ctx, by(fixture.Crew), inventory.BalanceCheck{Item: "AMP", Place: from,
			Counted: counted})
		if err == nil {
			require.Equal(rt, w.held[from], c.Expected)
		}
	case "sign owed":
		w.signOwed()
		return
	}
	if err != nil {
		require.Contains(rt, []inventory.ErrorKind{inventory.Conflict, inventory.Invalid, inventory.Forbidden},
			inventory.KindOf(err), "%s: %v", kind, err)
		w.did[kind+" refused"]++
		return
	}
	require.True(rt, two, "%s went through on one signature", kind)
	w.did[kind]++
	for place, d := range change {
		w.held[place] += d
	}
}

func (w *registerWalk) correct(by inventory.Actor, change map[string]int) error {
	ms, err := w.S.Ledger.Movements(w.Ctx, fixture.Admin, inventory.MovementFilter{Item: "AMP"}, inventory.Page{})
	require.NoError(w.rt, err)
	m := rapid.SampledFrom(ms).Draw(w.rt, "to correct")
	change[m.From], change[m.To] = change[m.From]+m.Qty, change[m.To]-m.Qty
	_, err = w.S.Register.CorrectEntry(w.Ctx, by, m.ID, "it was not so")
	return err
}

// signOwed has each person try to sign the first entry that lacks a signature.
func (w *registerWalk) signOwed() {
	rows, err := w.S.Register.OwedRows(w.Ctx, fixture.Crew, nil)
	require.NoError(w.rt, err)
	if len(rows) == 0 {
		return
	}
	who := rapid.SampledFrom([]string{"Cleo", "Wil"}).Draw(w.rt, "signs")
	by, err := w.S.Account.SignAlone(w.Ctx, fixture.Crew, account.Signature{Person: who, PIN: fixture.Pins[who]},
		fixture.Reversed{})
	require.NoError(w.rt, err)
	row := rows[0]
	may := row.SecondOwed && who != row.By || row.OwnOwed && who == row.By
	_, err = w.S.Register.SignEntry(w.Ctx, by, row.Entry)
	require.Equal(w.rt, may, err == nil, "%s signs %+v: %v", who, row, err)
	w.did["sign owed"]++
}

// judge reads every page and compares it with what is known.
func (w *registerWalk) judge() {
	for _, place := range registerPlaces {
		p := page(w.House, place)
		require.Equal(w.rt, w.held[place], p.Balance, place)
		sum, last := 0, (*register.RegisterEntry)(nil)
		for i, e := range p.Entries {
			require.Equal(w.rt, i+1, e.No)
			sum += e.In - e.Out
			require.Equal(w.rt, sum, e.Balance, "%s entry %d", place, e.No)
			require.NotEqual(w.rt, e.By, e.Witness)
			if e.Kind == register.EntryCheck {
				require.NotEmpty(w.rt, e.Witness)
				require.Equal(w.rt, *e.Counted != e.Balance, e.Differs)
				last = &p.Entries[i]
			}
			if e.Reason == inventory.ReasonCorrection {
				require.Positive(w.rt, e.Corrects, "it points at an entry of the same page")
				require.Less(w.rt, e.Corrects, e.No, "an earlier one")
				was := p.Entries[e.Corrects-1]
				require.Equal(w.rt, []int{e.Out, e.In, e.No}, []int{was.In, was.Out, was.CorrectedBy})
			}
			require.False(w.rt, e.Witness == "" && !e.SecondOwed && len(e.Signatures) == 0, "one signature and none owed: %+v",
				e)
		}
		require.Equal(w.rt, last != nil && last.Differs, p.Differs)
		w.unchanged(place, p.Entries)
	}
	differs := page(w.House, "N-01").Differs
	stops := false
	for _, f := range w.Readiness("N-01").Findings {
		stops = stops || f.Kind == inventory.FindRegister && f.Severity == inventory.SeverityStop
	}
	require.Equal(w.rt, differs, stops, "a register that does not balance stops its bag, and nothing else does")
}

// unchanged compares each entry with how it was first read: only the marks that
// later entries and signatures put on it may be new.
func (w *registerWalk) unchanged(place string, now []register.RegisterEntry) {
	bare := func(e register.RegisterEntry) register.RegisterEntry {
		e.CorrectedBy, e.OwnOwed, e.SecondOwed, e.Signatures = 0, false, false, nil
		return e
	}
	require.GreaterOrEqual(w.rt, len(now), len(w.seen[place]), "no entry goes away")
	for i, was := range w.seen[place] {
		require.Equal(w.rt, bare(was), bare(now[i]))
	}
	w.seen[place] = now
}

// registerSteps are what the walk does.
var registerSteps = []string{"receive", "move", "use", "sign out", "sign back", "carrier use", "correct", "count",
	"destroy", "sign owed"}

// TestRegisterProperty: on a random walk over a register (receipts, moves, uses
// with parts given and wasted, signing out and back, corrections, counts,
// signatures that were owed), the balance is always the sum of what came in and
// went out; no entry ever changes and none goes away (UK Misuse of Drugs
// Regulations 2001, reg. 20(c)); a correction points at an earlier entry of the
// same page; nobody is both signatures; a count that differs stops the bag.
func TestRegisterProperty(t *testing.T) {
	t.Parallel()
	done := map[string]int{}
	storetest.Engines(t, func(t *testing.T, s inventory.Store) {
		h := fixture.NewDispensary(t, s)
		_, err := h.S.Lists.CreatePlace(h.Ctx, fixture.Admin, inventory.Place{Code: "N-CLEO", Station: "NORTH",
			Kind: inventory.KindCarrier, Purpose: inventory.ForIssue, Name: "Cleo's pouch", Holder: "Cleo"})
		require.NoError(t, err)
		w := &registerWalk{House: h, held: map[string]int{}, seen: map[string][]register.RegisterEntry{}, did: done}
		w.lot = h.ReceiveAmps(60).ID
		h.Amps(w.lot, 10, "NORTH-STORE", "N-01", inventory.ReasonStow)
		h.Amps(w.lot, 10, "NORTH-STORE", "N-CLEO", inventory.ReasonStow)
		w.held["NORTH-STORE"], w.held["N-01"], w.held["N-CLEO"] = 40, 10, 10
		runs := 0
		rapid.Check(t, func(rt *rapid.T) {
			// One book, many walks over it, until each kind of step went through.
			if runs++; runs > 14 && !slices.ContainsFunc(registerSteps, func(kind string) bool { return done[kind] == 0 }) {
				return
			}
			w.rt, h.T = rt, rt
			for range 8 {
				h.Pass(time.Minute)
				w.step()
				w.judge()
			}
		})
		h.T = t
		h.Verify()
	})
	for _, kind := range registerSteps {
		assert.Positive(t, done[kind], "%s never went through: %v", kind, done)
	}
}
