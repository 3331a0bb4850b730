package inventory_test

import (
	"fmt"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stowkeeper/inventory"
	"stowkeeper/inventory/inventorytest"
	"stowkeeper/inventory/message"
)

// aBag is a bag under judgement, put together by the tests.
type aBag struct{ inventory.BagView }

// newBag returns an unsealed issue bag in London with the lines of its list.
func newBag(lines ...inventory.Line) *aBag {
	b := &aBag{inventory.BagView{
		Bag:     inventory.Bag{Code: "N-01", Station: "N", AtStation: "N", Purpose: inventory.ForIssue, Priority: 5},
		Station: inventory.Station{Code: "N", Timezone: "Europe/London"},
		List:    inventory.KitList{Code: "GRAB", Version: 1, Lines: lines},
		Items:   map[string]inventory.Item{},
	}}
	for _, l := range lines {
		b.item(l.Item, inventory.CategoryOther)
		for _, a := range l.Accepts {
			b.item(a, inventory.CategoryOther)
		}
	}
	return b
}

// item makes an item known, of a category.
func (b *aBag) item(code string, c inventory.Category) *aBag {
	b.Items[code] = inventory.Item{Code: code, Name: code, Category: c}
	return b
}

// holds puts units of a new lot into the bag; end is a day through which it is
// usable, empty for none. Lots are numbered from 1.
func (b *aBag) holds(item string, qty int, end string, change ...func(*inventory.Lot)) *aBag {
	l := inventory.Lot{ID: int64(len(b.Stock) + 1)}
	l.Item, l.BatchNo = item, fmt.Sprint("L", l.ID)
	if end != "" {
		l.EndPrinted, l.EndWording, l.LastUsable = end, inventory.WordExpiry, inventorytest.Day(end)
	}
	for _, c := range change {
		c(&l)
	}
	b.Stock = append(b.Stock, inventory.Stock{Place: b.Bag.Code, Lot: l, Qty: qty})
	return b
}

func withdrawn(l *inventory.Lot) { l.Withdrawn = []string{"FSN-9"} }

func trainingStock(l *inventory.Lot) { l.Training = true }

func unidentified(l *inventory.Lot) { l.Unidentified = true }

func (b *aBag) seen(kind inventory.ObservationKind) *aBag {
	b.Observations = append(b.Observations, inventory.Observation{Kind: kind, Item: "A", LotID: 1,
		Text: message.M("seen")})
	return b
}

func (b *aBag) judge() inventory.Readiness {
	return inventory.ReadinessOf(b.BagView, inventorytest.Noon, 0, 30)
}

// TestReadinessFindings has a case for each row of the table of findings, and
// for what must give none.
func TestReadinessFindings(t *testing.T) {
	two := inventory.Line{Item: "A", Pouch: "Red", Par: 3, Minimum: 2}
	full := func() *aBag { return newBag(two).holds("A", 3, "") }
	rule := func(r inventory.KitRule) func(*aBag) *aBag {
		return func(b *aBag) *aBag {
			b.List.Rules = append(b.List.Rules, r)
			return b.item("A", "tourniquet").item("PEN", "marker")
		}
	}
	sealed := func(state inventory.SealState, change func(*inventory.BagView)) *aBag {
		b := full()
		b.List.Sealed, b.Bag.SealState = true, state
		if change != nil {
			change(&b.BagView)
		}
		return b
	}
	needPen := inventory.KitRule{WhenCategory: "tourniquet", NeedCategory: "marker", AtLeast: 1,
		Severity: inventory.SeverityStop}
	for _, c := range []struct {
		name  string
		bag   *aBag
		state inventory.State
		want  []string
	}{
		{"all there", full(), inventory.Ready, nil},
		{"nothing there", newBag(two), inventory.NotReady, []string{"stop below_minimum A 0 3  "}},
		{"one under the minimum", newBag(two).holds("A", 1, ""), inventory.NotReady, []string{"stop below_minimum A 0 2  "}},
		{"at the minimum", newBag(two).holds("A", 2, ""), inventory.ReadyWithGaps, []string{"warn below_par A 0 1  "}},
		{"under notice, nothing left", full().with(func(v *inventory.BagView) {
			v.Stock[0].Lot.Withdrawn = []string{
				"FSN-9"}
		}), inventory.NotReady,
			[]string{"stop below_minimum A 0 3  ", "stop under_notice A 1 3  "}},
		{"under notice beside enough good stock", full().holds("A", 1, "", withdrawn), inventory.NotReady,
			[]string{"stop under_notice A 2 1  "}},
		{"training stock never counts", newBag(two).holds("A", 3, "", trainingStock), inventory.NotReady,
			[]string{"stop below_minimum A 0 3  "}},
		{"unidentified units never count", newBag(two).holds("A", 3, "", unidentified), inventory.NotReady,
			[]string{"stop below_minimum A 0 3  "}},

		{"a rule broken that stops", rule(needPen)(full()), inventory.NotReady,
			[]string{"stop kit_rule  0 1  at least 1 marker"}},
		{"a rule broken that warns", rule(inventory.KitRule{NeedItem: "PEN", AtLeast: 2,
			Severity: inventory.SeverityWarn})(full()), inventory.ReadyWithGaps,
			[]string{"warn kit_rule PEN 0 2  at least 2 PEN"}},
		{"a rule kept by something not on the list", rule(needPen)(full().holds("PEN", 1, "")), inventory.ReadyWithGaps,
			[]string{"warn not_on_list PEN 2 1  "}},
		{"a rule whose condition does not hold", rule(needPen)(newBag(inventory.Line{Item: "B", Par: 1}).holds("B", 1, "")),
			inventory.Ready, nil},
		{"a rule kept only by stock past its end", rule(needPen)(full().holds("PEN", 1, "2027-06-13")), inventory.NotReady,
			[]string{"stop kit_rule  0 1  at least 1 marker", "warn past_end PEN 2 1 2027-06-13 printed",
				"warn not_on_list PEN 2 1  "}},
		{"a rule kept by what is carried elsewhere", rule(needPen)(newBag(two, inventory.Line{Item: "PEN",
			CarriedElsewhere: "vest"}).holds("A", 3, "")), inventory.Ready, nil},

		{"a training mark seen", full().seen(inventory.SawTrainingMark), inventory.NotReady,
			[]string{"stop observation A 1 0  "}},
		{"a failed point seen", full().seen(inventory.SawFailedPoint), inventory.NotReady,
			[]string{"stop observation A 1 0  "}},
		{"other observations do not stop", full().seen(inventory.SawOtherSeal).seen(inventory.SawUnidentified),
			inventory.Ready, nil},

		{"seal intact", sealed(inventory.SealIntact, nil), inventory.Ready, nil},
		{"seal broken", sealed(inventory.SealBroken, nil), inventory.NotReady, []string{"stop seal  0 0  "}},
		{"another seal", sealed(inventory.SealDifferent, nil), inventory.NotReady, []string{"stop seal  0 0  "}},
		{"seal broken, the list warns", sealed(inventory.SealBroken, func(v *inventory.BagView) { v.List.SealWarns = true }),
			inventory.ReadyWithGaps, []string{"warn seal  0 0  "}},
		{"no seal", sealed(inventory.SealNone, nil), inventory.ReadyWithGaps, []string{"warn no_seal  0 0  "}},
		{"no seal and none asked for", full(), inventory.Ready, nil},

		{"past its end", full().holds("A", 2, "2027-06-13"), inventory.ReadyWithGaps,
			[]string{"warn past_end A 2 2 2027-06-13 printed"}},
		{"ends today: within the horizon, and it counts", newBag(two).holds("A", 3, "2027-06-14"), inventory.ReadyWithGaps,
			[]string{"warn ends_soon A 1 3 2027-06-14 printed"}},
		{"ends on the last day of the horizon", newBag(two).holds("A", 3, "2027-07-14"), inventory.ReadyWithGaps,
			[]string{"warn ends_soon A 1 3 2027-07-14 printed"}},
		{"ends the day after the horizon", newBag(two).holds("A", 3, "2027-07-15"), inventory.Ready, nil},
		{"not on the list", full().holds("B", 2, ""), inventory.ReadyWithGaps, []string{"warn not_on_list B 2 2  "}},
		{"surplus", full().holds("A", 2, "2030-01-01"), inventory.ReadyWithGaps, []string{"warn surplus A 1 2  "}},
		{"list ended yesterday", full().with(func(v *inventory.BagView) { v.List.ValidTo = inventorytest.Day("2027-06-13") }),
			inventory.ReadyWithGaps, []string{"warn list_ended  0 0 2027-06-13 "}},
		{"list ends today", full().with(func(v *inventory.BagView) { v.List.ValidTo = inventorytest.Day("2027-06-14") }),
			inventory.Ready,
			nil},
	} {
		t.Run(c.name, func(t *testing.T) {
			r := c.bag.judge()
			assert.Equal(t, c.want, inventorytest.Findings(r))
			assert.Equal(t, c.state, r.State)
			for _, f := range r.Findings {
				assert.NotEmpty(t, f.Text)
			}
		})
	}
}

func (b *aBag) with(change func(*inventory.BagView)) *aBag {
	change(&b.BagView)
	return b
}

func TestReadinessOverdue(t *testing.T) {
	bag := func(change func(*inventory.BagView)) inventory.BagView {
		b := newBag(inventory.Line{Item: "A", Par: 1}).holds("A", 1, "")
		b.List.Sealed, b.List.SealCheckHours, b.List.FullCheckDays = true, 24, 30
		b.Bag.SealState, b.Bag.SealSeenAt = inventory.SealIntact, inventorytest.Noon
		b.Bag.LastFullCheck = inventorytest.Noon
		change(&b.BagView)
		return b.BagView
	}
	for _, c := range []struct {
		name string
		view inventory.BagView
		want []string
	}{
		{"all in time", bag(func(*inventory.BagView) {}), nil},
		{"seal check due this very moment", bag(func(v *inventory.BagView) {
			v.Bag.SealSeenAt = inventorytest.At(
				"2027-06-13T11:00:00Z")
		}),
			nil},
		{"seal check a moment late", bag(func(v *inventory.BagView) {
			v.Bag.SealSeenAt = inventorytest.At(
				"2027-06-13T10:59:59.999999Z")
		}),
			[]string{"warn seal_check_overdue  0 0 2027-06-14 "}},
		{"no seal to look at", bag(func(v *inventory.BagView) { v.Bag.SealState, v.Bag.SealSeenAt = inventory.SealNone, 0 }),
			[]string{"warn no_seal  0 0  "}},
		{"seal checks not asked for", bag(func(v *inventory.BagView) {
			v.Bag.SealSeenAt,
				v.List.SealCheckHours = inventorytest.At("2026-01-01T00:00:00Z"), 0
		}), nil},
		{"full check on its last day", bag(func(v *inventory.BagView) {
			v.Bag.LastFullCheck = inventorytest.At(
				"2027-05-15T00:00:00Z")
		}),
			nil},
		{"full check a day late; the day is that of the station",
			bag(func(v *inventory.BagView) { v.Bag.LastFullCheck = inventorytest.At("2027-05-14T22:59:59Z") }),
			[]string{"warn full_check_overdue  0 0 2027-06-13 "}},
		{"half past eleven in the evening in summer is the next day in UTC only",
			bag(func(v *inventory.BagView) { v.Bag.LastFullCheck = inventorytest.At("2027-05-14T23:30:00Z") }), nil},
		{"never a full check", bag(func(v *inventory.BagView) { v.Bag.LastFullCheck = 0 }),
			[]string{"warn full_check_overdue  0 0  "}},
	} {
		r := inventory.ReadinessOf(c.view, inventorytest.Noon, 0, 30)
		assert.Equal(t, c.want, inventorytest.Findings(r), c.name)
		assert.False(t, r.ClockLeft)

		tomorrow := inventory.ReadinessOf(c.view, inventorytest.Noon, inventorytest.Day("2027-06-15"), 30)
		assert.True(t, tomorrow.ClockLeft, "says that checks were left out")
		for _, f := range tomorrow.Findings {
			assert.Equal(t, inventory.FindNoSeal, f.Kind, c.name)
		}
	}
}

func TestReadinessOrderAndTakenOff(t *testing.T) {
	b := newBag(inventory.Line{Item: "A", Par: 1}, inventory.Line{Item: "B", Par: 1, Minimum: 1})
	r := b.judge()
	assert.Equal(t, []string{"stop below_minimum B 0 1  ", "warn below_par A 0 1  "}, inventorytest.Findings(r),
		"stops come first")
	b.Bag.OutOfService = &inventory.ServicePause{Reason: "wheel off", By: "Ada"}
	r = b.judge()
	assert.Equal(t, inventory.OutOfService, r.State)
	assert.Len(t, r.Findings, 2, "the reasons are still listed")
	assert.Nil(t, r.FirstStop)
	assert.Equal(t, "Out of service: wheel off", inventory.Headline(b.Bag, r).String())
}

func TestHeadline(t *testing.T) {
	line := inventory.Line{Item: "A", Par: 2, Minimum: 1}
	for want, b := range map[string]*aBag{
		"OK to go out":        newBag(line).holds("A", 2, ""),
		"OK to go out, 1 gap": newBag(line).holds("A", 1, ""),
		"Do not use: A: 0 of 2, at least 1 required": newBag(line).holds("B", 1, ""),
	} {
		assert.Equal(t, want, inventory.Headline(b.Bag, b.judge()).String())
	}
}

// TestReadinessDayFollowsTheZone: at one instant a lot that ends on 31 March is
// past its end in Auckland and not in London.
func TestReadinessDayFollowsTheZone(t *testing.T) {
	now := inventorytest.At("2027-03-31T11:30:00Z")
	b := newBag(inventory.Line{Item: "A", Par: 1, Minimum: 1}).holds("A", 1, "2027-03-31")
	assert.Equal(t, inventory.ReadyWithGaps, inventory.ReadinessOf(b.BagView, now, 0, 0).State)
	b.Station.Timezone = "Pacific/Auckland"
	r := inventory.ReadinessOf(b.BagView, now, 0, 0)
	assert.Equal(t, inventory.NotReady, r.State)
	assert.Equal(t, "2027-04-01", r.AsOf.String())
}

func TestReadinessAsOfChangesTheDayOnly(t *testing.T) {
	b := newBag(inventory.Line{Item: "A", Par: 1, Minimum: 1}).holds("A", 1, "2027-07-31")
	for asOf, want := range map[string]inventory.State{
		"2020-01-01": inventory.Ready, "2027-06-14": inventory.Ready, "2027-07-01": inventory.ReadyWithGaps,
		"2027-07-31": inventory.ReadyWithGaps, "2027-08-01": inventory.NotReady,
	} {
		r := inventory.ReadinessOf(b.BagView, inventorytest.Noon, inventorytest.Day(asOf), 30)
		assert.Equal(t, want, r.State, asOf)
		assert.Equal(t, asOf, r.AsOf.String())
		assert.Equal(t, asOf != "2027-06-14", r.ClockLeft)
	}
}

// TestKitRuleText: a broken rule says what is there and what is needed; a reason
// that the owner gave follows as typed.
func TestKitRuleText(t *testing.T) {
	for _, c := range []struct {
		held    int
		because string
		want    string
	}{
		{0, "", "tourniquet: none, at least 2 required"},
		{1, "", "tourniquet: 1, at least 2 required"},
		{1, "one rides on the {1} mount", "tourniquet: 1, at least 2 required (one rides on the {1} mount)"},
	} {
		b := newBag(inventory.Line{Item: "A", Par: 1}).item("A", "tourniquet")
		if c.held > 0 {
			b = b.holds("A", c.held, "")
		}
		b.List.Rules = []inventory.KitRule{{NeedCategory: "tourniquet", AtLeast: 2, Severity: inventory.SeverityStop,
			Because: c.because}}
		r := b.judge()
		require.Equal(t, inventory.FindKitRule, r.Findings[0].Kind)
		assert.Equal(t, c.want, r.Findings[0].Text.String())
	}
}

func TestNextChangeAndFirstStop(t *testing.T) {
	change := func(d string, lot int64) *inventory.Change {
		return &inventory.Change{Date: inventorytest.Day(d), LotID: lot}
	}
	one := inventory.Line{Item: "A", Par: 2, Minimum: 1}
	pen := inventory.KitRule{WhenCategory: "tourniquet", NeedCategory: "marker", AtLeast: 1,
		Severity: inventory.SeverityStop}
	for _, c := range []struct {
		name       string
		bag        *aBag
		next, stop *inventory.Change
	}{
		{"nothing is dated", newBag(one).holds("A", 2, ""), nil, nil},
		{"warned of at the horizon, stops the day after the end", newBag(one).holds("A", 2, "2027-12-31"),
			change("2027-12-01", 1), change("2028-01-01", 1)},
		{"within the horizon: the next change is the stop", newBag(one).holds("A", 2, "2027-06-30"), change("2027-07-01", 1),
			change("2027-07-01", 1)},
		{"ends today", newBag(one).holds("A", 2, "2027-06-14"), change("2027-06-15", 1), change("2027-06-15", 1)},
		{"the last of two lots stops it", newBag(one).holds("A", 1, "2027-09-30").holds("A", 1, "2027-12-31"),
			change("2027-08-31", 1), change("2028-01-01", 2)},
		{"a lot that does not matter to the minimum", newBag(one).holds("A", 1, "2027-09-30").holds("A", 1, ""),
			change("2027-08-31", 1), nil},
		{"an accepted item that ends", newBag(inventory.Line{Item: "A", Par: 1, Minimum: 1, Accepts: []string{"B"}}).
			holds("B", 1, "2027-12-31"), change("2027-12-01", 1), change("2028-01-01", 1)},
		{"the list ends first", newBag(one).holds("A", 2, "2027-12-31").with(func(v *inventory.BagView) {
			v.List.ValidTo = inventorytest.Day("2027-06-30")
		}), change("2027-07-01", 0), change("2028-01-01", 1)},
		{"a kit rule stops it", newBag(one, inventory.Line{Item: "PEN", Par: 1}).item("A", "tourniquet").item("PEN",
			"marker").holds("A", 2, "").holds("PEN", 1, "2027-12-31").
			with(func(v *inventory.BagView) { v.List.Rules = []inventory.KitRule{pen} }), change("2027-12-01", 2),
			change("2028-01-01", 2)},
		{"the rule's item ended, not the accepted one beside it", newBag(inventory.Line{Item: "PEN", Par: 2,
			Accepts: []string{"CHALK"}}).holds("CHALK", 1, "2027-12-31").holds("PEN", 1, "2027-12-31").
			with(func(v *inventory.BagView) {
				v.List.Rules = []inventory.KitRule{{NeedItem: "PEN", AtLeast: 1, Severity: inventory.SeverityStop}}
			}), change("2027-12-01", 1), change("2028-01-01", 2)},
		{"one line takes what another lived on", newBag(inventory.Line{Item: "A", Par: 1, Minimum: 1, Accepts: []string{"C"}},
			inventory.Line{Item: "B", Par: 1, Minimum: 1, Accepts: []string{"C"}}).
			holds("A", 1, "2027-12-31").holds("C", 1, ""), change("2027-12-01", 1), change("2028-01-01", 1)},
		{"not ready already", newBag(one).holds("B", 1, "2027-12-31"), nil, nil},
	} {
		r := c.bag.judge()
		assert.Equal(t, c.next, r.NextChange, c.name)
		assert.Equal(t, c.stop, r.FirstStop, c.name)
	}
}

func TestChecklist(t *testing.T) {
	b := newBag(inventory.Line{Item: "A", Pouch: "Red", Par: 1}, inventory.Line{Item: "B", Pouch: "Blue", Par: 1},
		inventory.Line{Item: "A", Pouch: "Red", Par: 1}).
		holds("A", 1, "2027-06-30").holds("B", 1, "2027-07-01").holds("A", 1, "2027-06-13")
	b.List.Sealed, b.List.SealCheckHours, b.Bag.SealState = true, 24, inventory.SealIntact
	// A night shift on the last day of a month: the next check is due in the
	// next month, so what ends at midnight is named.
	c := inventory.ChecklistOf(b.BagView, inventorytest.At("2027-06-30T22:00:00Z"), 0, 30)
	require.Len(t, c.Pouches, 2)
	assert.Equal(t, []string{"Red", "Blue"}, []string{c.Pouches[0].Name, c.Pouches[1].Name})
	assert.Len(t, c.Pouches[0].Lines, 2)
	assert.Equal(t, "2027-07-01T22:00:00Z", c.NextCheck.String())
	require.Len(t, c.EndsBefore, 1)
	assert.Equal(t, int64(1), c.EndsBefore[0].LotID)

	b.List.FullCheckDays = 1 // due by the end of the next day, which comes after the seal check
	assert.Equal(t, "2027-07-01T22:00:00Z", inventory.ChecklistOf(b.BagView, inventorytest.At("2027-06-30T22:00:00Z"), 0,
		30).NextCheck.String())
	b.List.SealCheckHours = 72
	assert.Equal(t, "2027-07-01T23:00:00Z", inventory.ChecklistOf(b.BagView, inventorytest.At("2027-06-30T22:00:00Z"), 0,
		30).NextCheck.String(), "midnight in London in summer")
	b.List.SealCheckHours, b.List.FullCheckDays = 0, 0
	none := inventory.ChecklistOf(b.BagView, inventorytest.Noon, 0, 30)
	assert.Zero(t, none.NextCheck)
	assert.Empty(t, none.EndsBefore)
}
