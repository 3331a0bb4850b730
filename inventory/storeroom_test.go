package inventory_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stowkeeper/inventory"
	"stowkeeper/inventory/ledger"
	"stowkeeper/inventory/report"
	"stowkeeper/inventory/shift"
	"stowkeeper/inventory/stock"
	"stowkeeper/inventory/store/storetest"
)

// TestOverdueBack: the day due back itself is not too late.
func TestOverdueBack(t *testing.T) {
	p := inventory.Place{Kind: inventory.KindAway, DueBack: day("2027-06-16")}
	assert.False(t, shift.OverdueBack(p, day("2027-06-16")))
	assert.True(t, shift.OverdueBack(p, day("2027-06-17")))
	p.DueBack = 0
	assert.False(t, shift.OverdueBack(p, day("2199-12-31")), "what has no day is never overdue")
	assert.False(t, shift.OverdueBack(inventory.Place{Kind: inventory.KindStore, DueBack: 1}, day("2027-06-17")))
}

func TestJudgeCarrier(t *testing.T) {
	items := map[string]inventory.Item{"TQ": {Code: "TQ", Name: "Tourniquet", Life: inventory.Life{InspectDays: 30},
		InspectionPoints: []string{"buckle"}}}
	stock := func(change func(*inventory.Lot)) []inventory.Stock {
		l := inventory.Lot{ID: 1, ReceivedOn: day("2027-01-01")}
		l.Item, l.LastUsable = "TQ", day("2027-06-30")
		change(&l)
		return []inventory.Stock{{Place: "BELT", Lot: l, Qty: 1}}
	}
	for name, c := range map[string]struct {
		change func(*inventory.Lot)
		on     string
		want   inventory.State
	}{
		"as it should be": {func(*inventory.Lot) {}, "2027-06-30", inventory.Ready},
		"past its end":    {func(*inventory.Lot) {}, "2027-07-01", inventory.NotReady},
		"under notice":    {func(l *inventory.Lot) { l.Withdrawn = []string{"FSN"} }, "2027-06-01", inventory.NotReady},
		"inspection due":  {func(l *inventory.Lot) { l.Serial = "S" }, "2027-02-01", inventory.ReadyWithGaps},
		"a notice asks for it": {func(l *inventory.Lot) { l.Serial, l.InspectBy = "S", day("2027-01-10") }, "2027-01-10",
			inventory.ReadyWithGaps},
		"inspection due then": {func(l *inventory.Lot) { l.Serial = "S" }, "2027-01-31", inventory.Ready},
	} {
		assert.Equal(t, c.want, inventory.JudgeCarrier(inventory.Place{Code: "BELT"}, stock(c.change), items,
			day(c.on)).State, name)
	}
}

func TestJudgeVehicle(t *testing.T) {
	bag := func(code string, state inventory.State) inventory.BagSummary {
		return inventory.BagSummary{Bag: inventory.Bag{Code: code}, State: state, Headline: string(state)}
	}
	judge := func(bags ...inventory.BagSummary) inventory.VehicleState {
		return inventory.JudgeVehicle("N", "Van", nil, bags, nil)
	}
	assert.Equal(t, inventory.Ready, judge(bag("A", inventory.Ready)).State)
	assert.Equal(t, inventory.ReadyWithGaps, judge(bag("A", inventory.Ready), bag("B", inventory.ReadyWithGaps)).State)
	off := judge(bag("A", inventory.ReadyWithGaps), bag("B", inventory.OutOfService))
	assert.Equal(t, inventory.NotReady, off.State, "a bag that was taken off may not go, so neither may the vehicle")
	assert.Equal(t, "B", off.Bags[0].Code, "worst first")
	assert.Equal(t, "Must not go out: B: out_of_service", off.Headline)
	bad := inventory.Carrier{Place: inventory.Place{Code: "BELT"}, State: inventory.NotReady,
		Findings: []inventory.Finding{{Text: "old"}}}
	assert.Equal(t, "Must not go out: BELT: old", inventory.JudgeVehicle("N", "Van", nil, nil, []inventory.Carrier{bad}).
		Headline)
	whole := inventory.JudgeVehicle("N", "Van", &inventory.ServicePause{Reason: "brakes"}, []inventory.BagSummary{bag("A",
		inventory.NotReady)}, nil)
	assert.Equal(t, inventory.OutOfService, whole.State)
	assert.Equal(t, "Taken off: brakes", whole.Headline)
}

// TestFlowsOf adds up movements that were written down by hand.
func TestFlowsOf(t *testing.T) {
	places := map[string]inventory.Place{"STORE": {Code: "STORE", Purpose: inventory.ForIssue}, "CLASS": {Code: "CLASS",
		Purpose: inventory.ForTraining}}
	move := func(id int64, qty int, from, to string, reason inventory.Reason, cause inventory.Cause,
		d string) inventory.Movement {
		return inventory.Movement{ID: id, LotID: 1, Qty: qty, From: from, To: to, Reason: reason, Cause: cause,
			HappenedAt: at(d + "T12:00:00Z")}
	}
	ms := []inventory.Movement{
		move(1, 100, "supplier", "STORE", inventory.ReasonReceipt, "", "2027-01-01"),
		move(2, 7, "STORE", "used", inventory.ReasonUsed, "", "2027-01-02"),
		move(3, 20, "STORE", "CLASS", inventory.ReasonToTraining, "", "2027-02-01"),
		move(4, 5, "CLASS", "used", inventory.ReasonUsed, "", "2027-02-02"),
		move(5, 2, "CLASS", "disposed", inventory.ReasonDisposed, inventory.CauseDamaged, "2027-02-03"),
		move(6, 3, "STORE", "disposed", inventory.ReasonDisposed, inventory.CauseExpired, "2027-02-04"),
		move(7, 4, "STORE", "disposed", inventory.ReasonDisposed, inventory.CauseTraining, "2027-02-04"),
		move(8, 6, "STORE", "lost", inventory.ReasonLost, inventory.CauseMissing, "2027-02-05"),
		move(9, 1, "found", "STORE", inventory.ReasonFound, "", "2027-02-06"),
		move(10, 8, "STORE", "ELSEWHERE", inventory.ReasonTransfer, "", "2027-02-07"),
		move(11, 2, "ELSEWHERE", "STORE", inventory.ReasonTransfer, "", "2027-02-08"),
		move(12, 1, "lost", "STORE", inventory.ReasonFound, "", "2027-02-09"),
		{ID: 13, LotID: 1, Qty: 3, From: "disposed", To: "STORE", Reason: inventory.ReasonCorrection, Corrects: 6,
			HappenedAt: at("2027-02-10T12:00:00Z")},
		move(14, 50, "STORE", "used", inventory.ReasonUsed, "", "2027-03-01"),
	}
	dayOf := func(m inventory.Movement) inventory.Day { return m.HappenedAt.In(utcZone) }
	items := map[int64]string{1: "GAUZE"}
	got := report.FlowsOf(ms, items, places, dayOf, day("2027-02-01"), day("2027-02-28"))
	want := report.Flow{Item: "GAUZE", Before: 93, Found: 1, MovedIn: 2, Trained: 9, Wasted: map[inventory.Cause]int{},
		TrainingWasted: 2, Lost: 5, MovedOut: 8, Stock: 72}
	require.Len(t, got.Rows, 1)
	assert.Equal(t, want, got.Rows[0])
	assert.True(t, got.Rows[0].Balanced())
	before := report.FlowsOf(ms, items, places, dayOf, 0, day("2027-02-04"))
	assert.Equal(t, map[inventory.Cause]int{inventory.CauseExpired: 3}, before.Rows[0].Wasted, "until it was corrected")
	assert.Equal(t, 3, before.Total.Waste())
	all := report.FlowsOf(ms, items, places, dayOf, 0, 0)
	assert.Equal(t, 57, all.Rows[0].Used)
	assert.Equal(t, 22, all.Total.Stock)
	assert.True(t, all.Total.Balanced())
	broken := all.Total
	broken.Used++
	assert.False(t, broken.Balanced())
}

// moduleViews is a rucksack that asks for one module, with one in it that holds
// two swabs until the end of August.
func moduleViews() inventory.BagView {
	station := inventory.Station{Code: "N", Timezone: "UTC"}
	items := map[string]inventory.Item{"GAUZE": {Code: "GAUZE", Name: "Gauze", Category: inventory.CategoryPlainDressing}}
	lot := inventory.Lot{ID: 7}
	lot.Item, lot.LastUsable = "GAUZE", day("2027-08-31")
	module := inventory.BagView{Bag: inventory.Bag{Code: "M", Name: "Module", KitList: "POD", Purpose: inventory.ForIssue,
		Inside: "R"}, Station: station, Items: items,
		List:  inventory.KitList{Code: "POD", Lines: []inventory.Line{{Item: "GAUZE", Par: 2, Minimum: 1}}},
		Stock: []inventory.Stock{{Place: "M", Lot: lot, Qty: 2}}}
	return inventory.BagView{Bag: inventory.Bag{Code: "R", KitList: "SACK", Purpose: inventory.ForIssue}, Station: station,
		Items: items, Modules: []inventory.BagView{module},
		List: inventory.KitList{Code: "SACK", Modules: []inventory.Module{{KitList: "POD", Count: 1}}}}
}

func TestModulesInReadiness(t *testing.T) {
	now := at("2027-06-14T07:00:00Z")
	judge := func(change func(*inventory.BagView)) inventory.Readiness {
		v := moduleViews()
		change(&v)
		return inventory.ReadinessOf(v, now, 0, 30)
	}
	r := judge(func(*inventory.BagView) {})
	assert.Equal(t, inventory.Ready, r.State)
	assert.Equal(t, &inventory.Change{Date: day("2027-09-01"), LotID: 7}, r.FirstStop, "it stops when its module does")
	assert.Equal(t, &inventory.Change{Date: day("2027-08-01"), LotID: 7}, r.NextChange, "and warns when its module does")
	require.Len(t, r.Modules, 1)
	assert.Equal(t, "May go out", r.Modules[0].Headline)

	kinds := func(r inventory.Readiness) (out []inventory.FindingKind) {
		for _, f := range r.Findings {
			out = append(out, f.Kind)
		}
		return out
	}
	r = judge(func(v *inventory.BagView) { v.Modules = nil })
	assert.Equal(t, []inventory.FindingKind{inventory.FindModuleMissing}, kinds(r))
	assert.Equal(t, inventory.NotReady, r.State)
	r = judge(func(v *inventory.BagView) { v.Modules[0].Stock[0].Qty = 1 })
	assert.Equal(t, inventory.ReadyWithGaps, r.State, "a module's gaps warn")
	r = judge(func(v *inventory.BagView) { v.Modules[0].Stock = nil })
	assert.Equal(t, inventory.NotReady, r.State, "a module's stop stops")
	r = judge(func(v *inventory.BagView) { v.Modules[0].Bag.OutOfService = &inventory.ServicePause{Reason: "wet"} })
	assert.Equal(t, inventory.NotReady, r.State, "a module that was taken off stops")
	assert.Equal(t, "M", r.Findings[0].Module)
	r = judge(func(v *inventory.BagView) { v.List.Modules = nil })
	assert.Equal(t, []inventory.FindingKind{inventory.FindNotOnList}, kinds(r))

	rule := inventory.KitRule{NeedCategory: inventory.CategoryPlainDressing, AtLeast: 2, Severity: inventory.SeverityStop,
		Because: "two are wanted"}
	r = judge(func(v *inventory.BagView) { v.List.Rules = []inventory.KitRule{rule} })
	assert.Equal(t, inventory.Ready, r.State, "what lies in a module counts for the rules")
	rule.AtLeast = 3
	r = judge(func(v *inventory.BagView) { v.List.Rules = []inventory.KitRule{rule} })
	assert.Equal(t, []inventory.FindingKind{inventory.FindKitRule}, kinds(r))
}

// TestSealReportAlone tries each thing that a report of a seal can say on each
// thing that may be known of it.
func TestSealReportAlone(t *testing.T) {
	h := newStowed(t, storetest.OpenSQLite(t))
	report := func(in shift.SealReport) (inventory.Bag, error) {
		h.pass(time.Minute)
		return h.s.Shift.ReportSeal(h.ctx, crew, "N-01", in)
	}
	_, err := report(shift.SealReport{})
	requireKind(t, inventory.Invalid, err)
	_, err = report(shift.SealReport{SealSet: "9"})
	requireKind(t, inventory.Invalid, err)
	b, err := report(shift.SealReport{Opened: true})
	require.NoError(t, err)
	assert.Equal(t, inventory.SealNone, b.SealState, "opened, and not sealed again")
	b, err = report(shift.SealReport{SealSet: "9"})
	require.NoError(t, err)
	assert.Equal(t, inventory.SealIntact, b.SealState)
	b, err = report(shift.SealReport{SealSeen: "8", Opened: true, SealSet: "10"})
	require.NoError(t, err)
	assert.Equal(t, inventory.SealDifferent, b.SealState, "a new seal does not settle that another one was found")
	assert.Equal(t, "10", b.Seal)
	_, err = report(shift.SealReport{Opened: true, HappenedAt: h.now.Add(-time.Hour)})
	requireKind(t, inventory.Conflict, err)
	_, err = report(shift.SealReport{Opened: true, HappenedAt: h.now.Add(time.Hour)})
	requireKind(t, inventory.Invalid, err)
	h.verify()
}

// TestCorrectionsAndNotices: a correction makes a batch one that a notice means,
// and takes it out again; every trace tells it.
func TestCorrectionsAndNotices(t *testing.T) {
	h := newHouse(t, storetest.OpenSQLite(t))
	lot := h.receive("DRESSING", "B1", 4, "2029-02")
	n, err := h.s.Notice.CreateNotice(h.ctx, keeper, inventory.Notice{Reference: "FSN-1", Action: inventory.NoticeWithdraw,
		Item: "DRESSING", BatchNos: []string{"B7"}})
	require.NoError(t, err)
	withdrawn := func() []string {
		s, err := h.s.Stock.Lot(h.ctx, keeper, lot.ID)
		require.NoError(t, err)
		return s.Withdrawn
	}
	assert.Empty(t, withdrawn())
	correct := func(no string) {
		_, err := h.s.Ledger.CorrectLot(h.ctx, keeper, lot.ID, inventory.LotCorrection{BatchNo: &no, Reason: "misread"})
		require.NoError(t, err)
	}
	correct("B7")
	assert.Equal(t, []string{"FSN-1"}, withdrawn())
	story, err := h.s.Notice.Notice(h.ctx, keeper, n.ID)
	require.NoError(t, err)
	require.Len(t, story.Corrections, 1)
	assert.Equal(t, "corrected: batch number B1 to B7, because: misread", inventory.CorrectionText(story.Corrections[0]))
	correct("B8")
	assert.Empty(t, withdrawn())

	tq := h.receive("TQ", "S1", 1, "")
	serial, made := "S2", "2026-05"
	_, err = h.s.Ledger.CorrectLot(h.ctx, keeper, tq.ID, inventory.LotCorrection{Serial: &serial, MadeOn: &made,
		Reason: "worn print"})
	require.NoError(t, err)
	d, err := h.s.Stock.Device(h.ctx, keeper, tq.ID)
	require.NoError(t, err)
	assert.Equal(t, "S2", d.Serial)
	assert.Equal(t, stock.StoryLine{HappenedAt: h.now, Kind: "correction",
		Text: "corrected: serial number S1 to S2, made on none to 2026-05-01, because: worn print", By: "Quinn"},
		d.Story[len(d.Story)-1], "after the receipt that it corrects")
	_, err = h.s.Ledger.CorrectLot(h.ctx, keeper, 999, inventory.LotCorrection{Reason: "x"})
	requireKind(t, inventory.NotFound, err)
	h.verify()
}

// TestIdentifyDevice: a device without its number turns out to be the one that
// was lost.
func TestIdentifyDevice(t *testing.T) {
	h := newHouse(t, storetest.OpenSQLite(t))
	lost := h.receive("TQ", "S1", 1, "")
	kept := h.receive("TQ", "S2", 1, "")
	h.move(lost.ID, 1, "NORTH-STORE", "lost", inventory.ReasonLost)
	blank, err := h.s.Ledger.Receive(h.ctx, keeper, inventory.Receipt{Place: "NORTH-QUARANTINE", Item: "TQ", Qty: 1,
		Unidentified: true})
	require.NoError(t, err)
	as := func(serial string) (inventory.Lot, error) {
		return h.s.Ledger.Identify(h.ctx, keeper, blank.ID, ledger.Identification{Place: "NORTH-QUARANTINE", Qty: 1,
			Serial: serial, Note: "read with a lamp"})
	}
	_, err = as(kept.Serial)
	requireKind(t, inventory.Conflict, err)
	lot, err := as("S1")
	require.NoError(t, err)
	assert.Equal(t, lost.ID, lot.ID)
	assert.Equal(t, map[int64]int{lost.ID: 1}, h.holds("NORTH-QUARANTINE"))
	_, err = as("S3")
	requireKind(t, inventory.Conflict, err)
	h.verify()
}
