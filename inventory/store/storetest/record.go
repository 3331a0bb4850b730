package storetest

import (
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stowkeeper/inventory"
	"stowkeeper/inventory/message"
)

var recordPromises = []promise{
	{"a check is kept whole", checkKept},
	{"a check's key counts once", checkKey},
	{"what becomes of a check is stored", checkOutcome},
	{"checks are listed, newest first", checksListed},
	{"a use is kept whole", useKept},
	{"a use's key counts once", useKey},
	{"what becomes of a use is stored", useOutcome},
	{"uses are listed, newest first", usesListed},
	{"a restock is kept whole, newest first", restockKept},
	{"an observation is kept whole, and closed once", observationKept},
	{"observations are listed", observationsListed},
	{"what reports under review say is kept, settled, and gone once they are decided", reportedKept},
}

func decision() *inventory.Decision {
	return &inventory.Decision{
		Decision: inventory.DecideEdit, Reason: "counted again", By: "Q. Master", RecordedAt: noon + 5,
		Counts: []inventory.CheckLine{{LotID: 3, Counted: 1}}, Found: []inventory.FoundLine{{Item: bandage, Qty: 1}},
		Used: []inventory.UseLine{{LotID: 3, Qty: 1}}, Inspections: []inventory.InspectedLine{{LotID: 3,
			Points: []inventory.PointCheck{{Point: "no cracks"}}}},
	}
}

func fullCheck() inventory.Check {
	return inventory.Check{
		Bag: bagOne, Kind: inventory.FullCheck, HappenedAt: noon - 9, RecordedAt: noon, By: "A. Tester", SentBy: "Q. Master",
		SeenPosition: 4, SealSeen: "S-1", SealBroken: true, SealSet: "S-2", ReturnToService: true, NotCounted: 3,
		Lines: []inventory.CheckLine{{LotID: 3, Counted: 0, Reason: inventory.CountUsed, Incident: "INC 7"},
			{LotID: 4, Counted: 2}},
		Found: []inventory.FoundLine{{
			Item: bandage, Product: 7, BatchNo: "L", Serial: "S", EndPrinted: "2027-02", EndWording: inventory.WordUseBy, Qty: 2,
			Reason: inventory.FoundTrainingMark, Unidentified: true,
		}},
		Inspections: []inventory.InspectedLine{{LotID: 4, Points: []inventory.PointCheck{{Point: "no cracks", Pass: true,
			Note: "ü"}}}},
		Note: "noted", Status: inventory.StatusToReview, ReviewBecause: message.M("the bag changed"), Decision: decision(),
	}
}

func (c *scene) addCheck(k inventory.Check, key string) inventory.Check {
	c.t.Helper()
	c.write(func(w inventory.Writer) (err error) {
		k, err = w.AddCheck(k, key)
		return err
	})
	return k
}

func check(id int64) func(inventory.Reader) (inventory.Check, error) {
	return func(r inventory.Reader) (inventory.Check, error) { return r.Check(id) }
}

func checkKept(c *scene) {
	want := fullCheck()
	kept := c.addCheck(want, "k")
	require.NotZero(c.t, kept.ID)
	want.ID = kept.ID
	assert.Equal(c.t, want, kept)
	assert.Equal(c.t, want, got(c, check(kept.ID)))
	bare := c.addCheck(inventory.Check{
		Bag: bagOne, Kind: inventory.SealCheck, HappenedAt: noon, RecordedAt: noon, Status: inventory.StatusAccepted,
	}, "")
	assert.Equal(c.t, bare, got(c, check(bare.ID)))
	assert.Zero(c.t, c.position(bagOne), "a check alone moves nothing on")
	absent(c, check(bare.ID+1))
	for _, bad := range []inventory.Check{{Bag: "NONE", Kind: inventory.SealCheck}, {Bag: bagOne, Kind: "glance"}} {
		bad.HappenedAt, bad.RecordedAt, bad.Status = noon, noon, inventory.StatusAccepted
		c.refused(inventory.Conflict, func(w inventory.Writer) error {
			_, err := w.AddCheck(bad, "")
			return err
		})
	}
}

func checkKey(c *scene) {
	c.addCheck(fullCheck(), "k")
	c.refused(inventory.Conflict, func(w inventory.Writer) error {
		_, err := w.AddCheck(fullCheck(), "k")
		return err
	})
	c.addCheck(fullCheck(), "l")
	c.addCheck(fullCheck(), "")
	c.addCheck(fullCheck(), "") // none is no key
}

func checkOutcome(c *scene) {
	k := fullCheck()
	k.Decision = nil
	k = c.addCheck(k, "")
	for _, status := range []inventory.RecordStatus{inventory.StatusRejected, inventory.StatusAccepted,
		inventory.StatusWithdrawn, inventory.StatusToReview} {
		k.Status, k.ReviewBecause, k.Decision = status, nil, decision()
		c.write(func(w inventory.Writer) error { return w.SetCheckOutcome(k) })
		assert.Equal(c.t, k, got(c, check(k.ID)))
	}
	k.ID++
	c.refused(inventory.NotFound, func(w inventory.Writer) error { return w.SetCheckOutcome(k) })
}

func checksListed(c *scene) {
	waiting, posted := fullCheck(), fullCheck()
	posted.Status = inventory.StatusAccepted
	other := posted
	other.Bag = bagTwo
	waiting, posted, other = c.addCheck(waiting, ""), c.addCheck(posted, ""), c.addCheck(other, "")
	list := func(f inventory.RecordFilter, p inventory.Page) []inventory.Check {
		return got(c, func(r inventory.Reader) ([]inventory.Check, error) { return r.Checks(f, p) })
	}
	assert.Equal(c.t, []inventory.Check{other, posted, waiting}, list(inventory.RecordFilter{}, inventory.Page{}))
	assert.Equal(c.t, []inventory.Check{posted, waiting}, list(inventory.RecordFilter{Bag: bagOne}, inventory.Page{}))
	assert.Equal(c.t, []inventory.Check{waiting}, list(inventory.RecordFilter{Status: inventory.StatusToReview},
		inventory.Page{}))
	assert.Equal(c.t, []inventory.Check{other}, list(inventory.RecordFilter{AtStations: []string{south}},
		inventory.Page{}))
	assert.Equal(c.t, []inventory.Check{waiting}, list(inventory.RecordFilter{By: waiting.By,
		Status: inventory.StatusToReview}, inventory.Page{}))
	assert.Empty(c.t, list(inventory.RecordFilter{By: "B. Tester"}, inventory.Page{}))
	assert.Len(c.t, list(inventory.RecordFilter{Since: noon - 9}, inventory.Page{}), 3)
	assert.Empty(c.t, list(inventory.RecordFilter{Since: noon - 8}, inventory.Page{}))
	assert.Equal(c.t, []inventory.Check{other}, list(inventory.RecordFilter{}, inventory.Page{Limit: 1}))
}

func fullUse() inventory.Use {
	return inventory.Use{
		Bag: bagOne, Incident: "INC 7", HappenedAt: noon - 9, RecordedAt: noon, By: "A. Tester", SentBy: "Q. Master",
		SeenPosition: 4,
		SealSeen:     "S-1",
		SealSet:      "S-2", Lines: []inventory.UseLine{{LotID: 3, Qty: 2, CameFrom: bagTwo, Given: "5 mg", Wasted: "5 mg"}},
		Note:          "noted",
		Status:        inventory.StatusToReview,
		ReviewBecause: message.M("records show less stock than was reported used"), Decision: decision(),
	}
}

func (c *scene) addUse(u inventory.Use, key string) inventory.Use {
	c.t.Helper()
	c.write(func(w inventory.Writer) (err error) {
		u, err = w.AddUse(u, key)
		return err
	})
	return u
}

func use(id int64) func(inventory.Reader) (inventory.Use, error) {
	return func(r inventory.Reader) (inventory.Use, error) { return r.Use(id) }
}

func useKept(c *scene) {
	want := fullUse()
	kept := c.addUse(want, "k")
	require.NotZero(c.t, kept.ID)
	want.ID = kept.ID
	assert.Equal(c.t, want, kept)
	assert.Equal(c.t, want, got(c, use(kept.ID)))
	absent(c, use(kept.ID+1))
}

func useKey(c *scene) {
	c.addUse(fullUse(), "k")
	c.addCheck(fullCheck(), "k") // keys of checks and of uses do not meet
	c.refused(inventory.Conflict, func(w inventory.Writer) error {
		_, err := w.AddUse(fullUse(), "k")
		return err
	})
	c.addUse(fullUse(), "")
	c.addUse(fullUse(), "")
}

func useOutcome(c *scene) {
	u := fullUse()
	u.Decision = nil
	u = c.addUse(u, "")
	u.Status, u.ReviewBecause, u.Decision = inventory.StatusRejected, nil, decision()
	c.write(func(w inventory.Writer) error { return w.SetUseOutcome(u) })
	assert.Equal(c.t, u, got(c, use(u.ID)))
	u.ID++
	c.refused(inventory.NotFound, func(w inventory.Writer) error { return w.SetUseOutcome(u) })
}

func usesListed(c *scene) {
	first, second := c.addUse(fullUse(), ""), fullUse()
	second.Bag, second.Status = bagTwo, inventory.StatusAccepted
	second = c.addUse(second, "")
	list := func(f inventory.RecordFilter) []inventory.Use {
		return got(c, func(r inventory.Reader) ([]inventory.Use, error) { return r.Uses(f, inventory.Page{}) })
	}
	assert.Equal(c.t, []inventory.Use{second, first}, list(inventory.RecordFilter{}))
	assert.Equal(c.t, []inventory.Use{first}, list(inventory.RecordFilter{AtStations: []string{north}}))
	assert.Equal(c.t, []inventory.Use{second}, list(inventory.RecordFilter{Status: inventory.StatusAccepted}))
	assert.Empty(c.t, list(inventory.RecordFilter{Status: inventory.StatusAccepted, Bag: bagOne}))
}

func restockKept(c *scene) {
	want := inventory.Restock{
		Bag: bagOne, RecordedAt: noon, HappenedAt: noon - 7, By: "Q. Master",
		Lines: []inventory.RestockLine{{LotID: 3, Qty: 2, From: northStore}},
		TakeOut: []inventory.TakeOutLine{{
			LotID: 3, Qty: 1, To: "disposed", Reason: inventory.ReasonDisposed, Cause: inventory.CauseExpired,
		}},
		SealSet: "S-3", Note: "noted",
	}
	bare := inventory.Restock{Bag: bagOne, RecordedAt: noon}
	c.write(func(w inventory.Writer) (err error) {
		if want, err = w.AddRestock(want); err != nil {
			return err
		}
		bare, err = w.AddRestock(bare)
		return err
	})
	require.NotZero(c.t, want.ID)
	list := func(f inventory.RecordFilter) []inventory.Restock {
		return got(c, func(r inventory.Reader) ([]inventory.Restock, error) { return r.Restocks(f, inventory.Page{}) })
	}
	assert.Equal(c.t, []inventory.Restock{bare, want}, list(inventory.RecordFilter{Bag: bagOne}))
	assert.Equal(c.t, []inventory.Restock{bare, want}, list(inventory.RecordFilter{AtStations: []string{north}}))
	assert.Empty(c.t, list(inventory.RecordFilter{Bag: bagTwo}))
}

func (c *scene) observe(o inventory.Observation) inventory.Observation {
	c.t.Helper()
	c.write(func(w inventory.Writer) (err error) {
		o, err = w.AddObservation(o)
		return err
	})
	return o
}

func observationKept(c *scene) {
	want := inventory.Observation{
		Bag: bagOne, Kind: inventory.SawTrainingMark, Item: bandage, LotID: c.lot.ID, Text: message.M("blue mark"),
		Source:   "check 12",
		OpenedAt: noon, OpenedBy: "A. Tester",
	}
	kept := c.observe(want)
	require.NotZero(c.t, kept.ID)
	want.ID = kept.ID
	assert.Equal(c.t, want, kept)
	want.ClosedAt, want.ClosedBy, want.CloseReason = noon+1, "Q. Master", "taken out"
	closing := inventory.Observation{ID: kept.ID, ClosedAt: want.ClosedAt, ClosedBy: want.ClosedBy,
		CloseReason: want.CloseReason}
	c.write(func(w inventory.Writer) error { return w.CloseObservation(closing) })
	assert.Equal(c.t, []inventory.Observation{want}, got(c, func(r inventory.Reader) ([]inventory.Observation, error) {
		return r.Observations(inventory.ObservationFilter{})
	}))
	c.refused(inventory.Conflict, func(w inventory.Writer) error { return w.CloseObservation(closing) })
	closing.ID++
	c.refused(inventory.NotFound, func(w inventory.Writer) error { return w.CloseObservation(closing) })
}

func observationsListed(c *scene) {
	var all []inventory.Observation
	for _, kind := range []inventory.ObservationKind{
		inventory.SawTrainingMark, inventory.SawOtherSeal, inventory.SawFailedPoint, inventory.SawUnidentified,
	} {
		all = append(all, c.observe(inventory.Observation{Bag: bagOne, Kind: kind, OpenedAt: noon}))
	}
	other := c.observe(inventory.Observation{Bag: bagTwo, Kind: inventory.SawOtherSeal, OpenedAt: noon})
	c.write(func(w inventory.Writer) error {
		return w.CloseObservation(inventory.Observation{ID: all[0].ID, ClosedAt: noon, ClosedBy: "Q. Master",
			CloseReason: "seen to"})
	})
	list := func(f inventory.ObservationFilter) []inventory.Observation {
		return got(c, func(r inventory.Reader) ([]inventory.Observation, error) { return r.Observations(f) })
	}
	assert.Len(c.t, list(inventory.ObservationFilter{}), 5)
	assert.Equal(c.t, all[1:], list(inventory.ObservationFilter{Bags: []string{bagOne}, Open: true}))
	assert.Len(c.t, list(inventory.ObservationFilter{Bags: []string{bagOne, bagTwo}}), 5)
	assert.Equal(c.t, []inventory.Observation{other}, list(inventory.ObservationFilter{AtStations: []string{south}}))
}

// reportedKept: what a use took from another bag is said of that one too.
func reportedKept(c *scene) {
	use, check, decided := fullUse(), fullCheck(), fullUse()
	decided.Status = inventory.StatusWithdrawn
	decided = c.addUse(decided, "")
	use = c.addUse(use, "")
	check.RecordedAt++
	check = c.addCheck(check, "")
	said := func(key inventory.ReportKey, place string, lot int64, qty int) inventory.Reported {
		return inventory.Reported{ReportKey: key, Place: place, Kind: inventory.ReportedMoved, LotID: lot, Qty: qty, Pool: 6,
			Note: "BAG-1"}
	}
	k, l := inventory.ReportKey{UseID: use.ID}, inventory.ReportKey{CheckID: check.ID}
	c.write(func(w inventory.Writer) error {
		return w.AddReported([]inventory.Reported{said(k, bagOne, c.lot.ID, 2), said(k, bagTwo, c.lot.ID, 3),
			{ReportKey: l, Place: bagOne, Kind: inventory.ReportedTraining, Item: bandage, Qty: 1},
			said(inventory.ReportKey{UseID: decided.ID}, bagOne, c.lot.ID, 1)})
	})
	c.write(func(w inventory.Writer) error { return w.AddReported(nil) })
	list := func(f inventory.UnderReviewFilter) []inventory.UnderReview {
		return got(c, func(r inventory.Reader) ([]inventory.UnderReview, error) { return r.UnderReview(f) })
	}
	all := list(inventory.UnderReviewFilter{})
	require.Len(c.t, all, 2)
	require.Len(c.t, all[0].Says, 2)
	assert.Equal(c.t, inventory.UnderReview{ReportKey: k, Report: k.String(), Bag: bagOne, By: use.By, SentBy: use.SentBy,
		HappenedAt: use.HappenedAt, RecordedAt: use.RecordedAt, Says: all[0].Says}, all[0])
	assert.Equal(c.t, "check", all[1].Report[:5])
	assert.Equal(c.t, bandage, all[1].Says[0].Item)
	want := said(k, bagTwo, c.lot.ID, 3)
	want.ID = all[0].Says[1].ID
	assert.Equal(c.t, want, all[0].Says[1])
	for _, f := range []inventory.UnderReviewFilter{{Places: []string{bagTwo}}, {AtStations: []string{south}}} {
		assert.Equal(c.t, []inventory.Reported{want}, list(f)[0].Says)
		assert.Len(c.t, list(f), 1)
	}
	assert.Equal(c.t, all, list(inventory.UnderReviewFilter{AtStations: []string{north}, Places: []string{bagOne}}))
	assert.Equal(c.t, all[1:], list(inventory.UnderReviewFilter{Of: l}))
	want.Settled, want.Pool = 1, 5
	c.write(func(w inventory.Writer) error { return w.SetReported([]inventory.Reported{want}) })
	assert.Equal(c.t, want, list(inventory.UnderReviewFilter{Of: k})[0].Says[1])
	want.ID = 999
	c.refused(inventory.NotFound, func(w inventory.Writer) error { return w.SetReported([]inventory.Reported{want}) })
	use.Status = inventory.StatusRejected
	c.write(func(w inventory.Writer) error { return w.SetUseOutcome(use) })
	assert.Equal(c.t, all[1:], list(inventory.UnderReviewFilter{}))
}
