package inventory_test

import (
	"fmt"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"pgregory.net/rapid"

	"stowkeeper/inventory"
	"stowkeeper/inventory/inventorytest"
)

// unit is a batch of item X in short: lot number, serial number, day of
// manufacture, product.
func unit(batchNo, serial, made string, product int64) inventory.Lot {
	return inventory.Lot{Batch: inventory.Batch{Item: "X", BatchNo: batchNo, Serial: serial,
		MadeOn:  inventorytest.Day(made),
		Product: product}}
}

// TestNoticeMeans walks what a notice can go by against what a unit can bear.
func TestNoticeMeans(t *testing.T) {
	byLot := inventory.Notice{Item: "X", NoticeScope: inventory.NoticeScope{BatchNos: []string{"B-7", "b 12"}}}
	bySerial := inventory.Notice{Item: "X", NoticeScope: inventory.NoticeScope{Serials: []string{"S100", "s 2 0 0"}}}
	byRange := inventory.Notice{Item: "X", NoticeScope: inventory.NoticeScope{SerialFrom: "A9", SerialTo: "A105"}}
	byWindow := inventory.Notice{Item: "X", NoticeScope: inventory.NoticeScope{MadeFrom: inventorytest.Day("2027-02-10"),
		MadeTo: inventorytest.Day("2027-04-20")}}
	byProduct := inventory.Notice{Item: "X", Product: 5, NoticeScope: inventory.NoticeScope{BatchNos: []string{"B-7"}}}
	several := inventory.Notice{Item: "X", NoticeScope: inventory.NoticeScope{BatchNos: []string{"B-7"},
		SerialFrom: "A9", SerialTo: "A105", MadeFrom: inventorytest.Day("2027-02-10"),
		MadeTo: inventorytest.Day("2027-04-20")}}
	const no, might, means = 0, 1, 2
	for _, c := range []struct {
		name   string
		notice inventory.Notice
		lot    inventory.Lot
		want   int
	}{
		{"the whole item", inventory.Notice{Item: "X"}, unit("B", "", "", 0), means},
		{"another item", inventory.Notice{Item: "Y"}, unit("B", "", "", 0), no},
		{"the whole product", inventory.Notice{Item: "X", Product: 5}, unit("B", "", "", 5), means},
		{"another product", inventory.Notice{Item: "X", Product: 5}, unit("B", "", "", 6), no},
		{"an unknown product", inventory.Notice{Item: "X", Product: 5}, unit("B", "", "", 0), might},

		{"its number", byLot, unit("B-7", "", "", 0), means},
		{"its number in another case", byLot, unit("b-7", "", "", 0), means},
		{"its number with blanks", byLot, unit(" B- 7", "", "", 0), means},
		{"a number with blanks in the notice", byLot, unit("B12", "", "", 0), means},
		{"another number", byLot, unit("B-8", "", "", 0), no},
		{"a number that begins alike", byLot, unit("B-71", "", "", 0), no},
		{"a number with a leading zero", byLot, unit("B-07", "", "", 0), might},
		{"no number", byLot, unit("", "", "", 0), might},
		{"a device of that number", byLot, unit("B-7", "S1", "", 0), means},

		{"its serial number", bySerial, unit("", "S100", "", 0), means},
		{"its serial number otherwise written", bySerial, unit("", "s200", "", 0), means},
		{"another serial number", bySerial, unit("", "S101", "", 0), no},
		{"a serial number with a leading zero", bySerial, unit("", "S0100", "", 0), might},
		{"no serial number", bySerial, unit("B-7", "", "", 0), might},

		{"the first of a range", byRange, unit("", "A9", "", 0), means},
		{"A10 comes after A9", byRange, unit("", "A10", "", 0), means},
		{"the last of a range", byRange, unit("", "a105", "", 0), means},
		{"before a range", byRange, unit("", "A8", "", 0), no},
		{"after a range", byRange, unit("", "A106", "", 0), no},
		{"A100 lies within", byRange, unit("", "A100", "", 0), means},
		{"another letter", byRange, unit("", "B50", "", 0), no},
		{"no letter", byRange, unit("", "50", "", 0), no},
		{"a range, and no serial number", byRange, unit("B-7", "", "", 0), might},

		{"the first day of a window", byWindow, unit("B", "", "2027-02-10", 0), means},
		{"the last day of a window", byWindow, unit("B", "", "2027-04-20", 0), means},
		{"the day before a window", byWindow, unit("B", "", "2027-02-09", 0), no},
		{"the day after a window", byWindow, unit("B", "", "2027-04-21", 0), no},
		{"a month within a window", byWindow, unit("B", "", "2027-03-01", 0), means},
		{"a month that a window begins in", byWindow, unit("B", "", "2027-02-01", 0), might},
		{"a month that a window ends in", byWindow, unit("B", "", "2027-04-01", 0), means},
		{"the month before", byWindow, unit("B", "", "2027-01-01", 0), no},
		{"the month after", byWindow, unit("B", "", "2027-05-01", 0), no},
		{"no date of manufacture", byWindow, unit("B", "", "", 0), might},

		{"product and number", byProduct, unit("B-7", "", "", 5), means},
		{"the number, of another product", byProduct, unit("B-7", "", "", 6), no},
		{"the number, of an unknown product", byProduct, unit("B-7", "", "", 0), might},
		{"another number, of an unknown product", byProduct, unit("B-8", "", "", 0), no},
		{"the product, without a number", byProduct, unit("", "", "", 5), might},

		{"one of several ways is enough", several, unit("", "A50", "2020-01-02", 0), means},
		{"another one", several, unit("B-7", "", "2020-01-02", 0), means},
		{"by its date alone", several, unit("B-8", "S1", "2027-03-05", 0), means},
		{"by none of them", several, unit("B-8", "S1", "2020-01-02", 0), no},
		{"by none, and one is unknown", several, unit("B-8", "S1", "", 0), might},
	} {
		got := no
		if c.notice.Means(c.lot.Batch) {
			got = means
		}
		if c.notice.MightMean(c.lot) {
			assert.Equal(t, no, got, "%s: meant or maybe meant, not both", c.name)
			got = might
		}
		assert.Equal(t, c.want, got, c.name)

		unknown := c.lot
		unknown.Unidentified = true
		if got == no && c.lot.Item == c.notice.Item && (c.notice.Product == 0 || c.lot.Product != 6) {
			assert.True(t, c.notice.MightMean(unknown), "%s: unidentified units are listed under every notice on their item",
				c.name)
		}
	}
}

// TestSerialOrderProperty: numbers that count up lie in order, however many
// digits they have, and a range holds exactly what lies between its ends.
func TestSerialOrderProperty(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		prefix := rapid.StringMatching(`[A-Za-z]{0,3}-?`).Draw(t, "prefix")
		suffix := rapid.SampledFrom([]string{"", "X", "-B"}).Draw(t, "suffix")
		numbers := rapid.SliceOfN(rapid.IntRange(0, 20000), 3, 3).Draw(t, "numbers")
		from, to, n := min(numbers[0], numbers[1]), max(numbers[0], numbers[1]), numbers[2]
		written := func(n int) string {
			width := rapid.IntRange(1, 7).Draw(t, "width")
			s := fmt.Sprintf("%s%0*d%s", prefix, width, n, suffix)
			if rapid.Bool().Draw(t, "lower") {
				s = strings.ToLower(s)
			}
			return s
		}
		notice := inventory.Notice{Reference: "R", Action: inventory.NoticeInform, Item: "X",
			NoticeScope: inventory.NoticeScope{SerialFrom: written(from), SerialTo: written(to)}}
		if err := notice.Check(); err != nil {
			t.Fatal(err)
		}
		if got := notice.Means(unit("", written(n), "", 0).Batch); got != (from <= n && n <= to) {
			t.Fatalf("%d between %d and %d: %t", n, from, to, got)
		}
	})
}

func TestNoticeCheck(t *testing.T) {
	good := inventory.Notice{Reference: "FSN-1", Action: inventory.NoticeWithdraw, Item: "X"}
	assert.NoError(t, good.Check())
	for _, c := range []struct {
		change func(*inventory.Notice)
		paths  []string
	}{
		{func(n *inventory.Notice) { n.Reference = " " }, []string{"reference"}},
		{func(n *inventory.Notice) { n.Reference = strings.Repeat("x", 61) }, []string{"reference"}},
		{func(n *inventory.Notice) { n.Reference = "a\x1fb" }, []string{"reference"}},
		{func(n *inventory.Notice) { n.Text = "\xff" }, []string{"text"}},
		{func(n *inventory.Notice) { n.Action = "warn" }, []string{"action"}},
		{func(n *inventory.Notice) { n.Item = "" }, []string{"item"}},
		{func(n *inventory.Notice) { n.BatchNos = []string{"B", ""} }, []string{"batch_nos[1]"}},
		{func(n *inventory.Notice) { n.BatchNos = make([]string, 1001) }, nil},
		{func(n *inventory.Notice) { n.Serials = []string{strings.Repeat("x", 41)} }, []string{"serials[0]"}},
		{func(n *inventory.Notice) { n.SerialFrom = "A1" }, []string{"serial_to"}},
		{func(n *inventory.Notice) { n.SerialTo = "A1" }, []string{"serial_to"}},
		{func(n *inventory.Notice) { n.SerialFrom, n.SerialTo = "A10", "A9" }, []string{"serial_to"}},
		{func(n *inventory.Notice) { n.MadeFrom = inventorytest.Day("2027-01-01") }, []string{"made_to"}},
		{func(n *inventory.Notice) { n.MadeTo = inventorytest.Day("2027-01-01") }, []string{"made_to"}},
		{func(n *inventory.Notice) {
			n.MadeFrom, n.MadeTo = inventorytest.Day("2027-01-02"), inventorytest.Day("2027-01-01")
		}, []string{"made_to"}},
	} {
		n := good
		c.change(&n)
		if c.paths == nil {
			assert.ErrorContains(t, n.Check(), "batch_nos: enter at most 1000")
			continue
		}
		inventorytest.RequireFields(t, n.Check(), c.paths...)
	}
}

// TestNumbersCompared: case, blanks and dashes of any kind tell no numbers apart; in a range they may part two numbers
// or say nothing, and either reading takes a unit in.
func TestNumbersCompared(t *testing.T) {
	for _, alike := range [][]string{{"T-2", "t2", " T 2", "t–2", "T\u20112", "T−2"}, {"Ä-1", "ä1"}} {
		for _, s := range alike {
			assert.Equal(t, inventory.FoldNumber(alike[0]), inventory.FoldNumber(s), s)
		}
	}
	for _, c := range []struct {
		from, to, serial string
		want             bool
	}{
		{"A1-90", "A2-10", "A1-99", true}, {"A1-90", "A2-10", "A2-5", true}, {"A1-90", "A2-10", "A1-5", false},
		{"A1-90", "A2-10", "A2-11", false}, {"A100", "A200", "A1-50", true}, {"A-9", "A-105", "A10", true},
		{"A9", "A105", "A-50", true}, {"A9", "A105", "B-50", false},
	} {
		n := inventory.Notice{Reference: "R", Action: inventory.NoticeInform, Item: "X",
			NoticeScope: inventory.NoticeScope{SerialFrom: c.from, SerialTo: c.to}}
		assert.NoError(t, n.Check())
		assert.Equal(t, c.want, n.Means(unit("", c.serial, "", 0).Batch), "%s from %s to %s", c.serial, c.from, c.to)
	}
}

// TestNoticeHoldsWhatABatchEverBore walks what a batch was recorded as before, and releases of it.
func TestNoticeHoldsWhatABatchEverBore(t *testing.T) {
	n := inventory.Notice{Item: "X", Product: 5, NoticeScope: inventory.NoticeScope{BatchNos: []string{"B-7"}}}
	was := func(item string, product int64, batchNo string) inventory.BatchFacts {
		return inventory.BatchFacts{Item: item, Product: product, BatchNo: batchNo}
	}
	release := func(bore int) inventory.NoticeStep {
		return inventory.NoticeStep{Kind: inventory.StepReleased, BatchID: 1, Bore: bore}
	}
	widened := func(batchNo string) inventory.NoticeStep {
		return inventory.NoticeStep{Kind: inventory.StepWidened,
			NoticeScope: inventory.NoticeScope{BatchNos: []string{batchNo}}}
	}
	x := func(batchNo string) inventory.BatchFacts { return was("X", 5, batchNo) }
	type facts = []inventory.BatchFacts
	type steps = []inventory.NoticeStep
	const no, released, binds = "no", "released", "binds"
	for name, c := range map[string]struct {
		now      string
		formerly facts
		steps    steps
		want     string
	}{
		"its number now":                     {"B7", nil, nil, binds},
		"a number that it bore":              {"B-8", facts{x("b 7")}, nil, binds},
		"of the product that it bore":        {"B-8", facts{was("X", 6, "B-7")}, nil, no},
		"of the item that it bore":           {"B-7", facts{was("Z", 5, "B-7")}, nil, binds},
		"the number of another item":         {"B-8", facts{was("Z", 5, "B-7")}, nil, no},
		"widened to it":                      {"B-9", nil, steps{widened("b9")}, binds},
		"widened to what it bore":            {"B-8", facts{x("B9")}, steps{widened("b9")}, binds},
		"released":                           {"B-8", facts{x("B-7")}, steps{release(1)}, released},
		"released as it still is":            {"B-7", nil, steps{release(0)}, released},
		"corrected since, to another number": {"B-9", facts{x("B-7"), x("B-8")}, steps{release(1)}, released},
		"corrected since, back to it":        {"B-7", facts{x("B-7"), x("B-8")}, steps{release(1)}, binds},
		"corrected back, and away again":     {"B-9", facts{x("B-7"), x("B-8"), x("B-7")}, steps{release(1)}, binds},
		"released again after that": {"B-9", facts{x("B-7"), x("B-8"), x("B-7")}, steps{release(1), release(3)},
			released},
		"widened since, to something else": {"B-7", nil, steps{release(0), widened("B-99")}, released},
		"widened since, to what it bears":  {"B-7", nil, steps{release(0), widened("b7")}, binds},
		"widened before it was released":   {"B-7", nil, steps{widened("b7"), release(0)}, released},
		"another batch released":           {"B-7", nil, steps{{Kind: inventory.StepReleased, BatchID: 2}}, binds},
		"an answer and a reply release nobody": {"B-7", nil, steps{{Kind: inventory.StepAnswered, BatchID: 1},
			{Kind: inventory.StepReplied, BatchID: 1}}, binds},
	} {
		n.Steps = c.steps
		b := inventory.Batch{ID: 1, Item: "X", Product: 5, BatchNo: c.now, Formerly: c.formerly}
		if name == "of the item that it bore" {
			b.Item, b.Formerly[0].Item = "Z", "X"
		}
		got := no
		if n.Means(b) {
			got = released
		}
		if n.Binds(b) {
			got = binds
		}
		assert.Equal(t, c.want, got, name)
		withdrawn, _ := inventory.RecordUnder(b, []inventory.Notice{{Reference: "R", Action: inventory.NoticeWithdraw,
			Item:    "X",
			Product: 5, NoticeScope: n.NoticeScope, Steps: c.steps}}, 0)
		assert.Equal(t, c.want == binds, len(withdrawn) == 1, name)
	}
}

// TestMayRelease: a reason, and somebody who corrected nothing of the batch.
func TestMayRelease(t *testing.T) {
	n := inventory.Notice{Item: "X", Status: inventory.NoticeOpen}
	b := inventory.Batch{ID: 1, Item: "X"}
	by := inventory.Actor{Name: "Ria"}
	wrote := []inventory.BatchCorrection{{By: "Quinn"}, {By: "Ria"}}
	assert.NoError(t, n.MayRelease(by, b, wrote[:1], "looked"))
	inventorytest.RequireFields(t, n.MayRelease(by, b, nil, " "), "reason")
	inventorytest.RequireKind(t, inventory.Conflict, n.MayRelease(by, b, wrote, "looked"))
	inventorytest.RequireKind(t, inventory.Conflict, n.MayRelease(by, inventory.Batch{ID: 1, Item: "Y"}, nil, "looked"))
	n.Status = inventory.NoticeCancelled
	inventorytest.RequireKind(t, inventory.Conflict, n.MayRelease(by, b, nil, "looked"))
}

// A bag stops where what is left of a line falls under its minimum, or where a withdrawn batch is in it or its module
// at all; one that has stopped, or is retired, does not stop again.
func TestNoticeWouldStop(t *testing.T) {
	n := inventory.Notice{Reference: "R-7", Action: inventory.NoticeWithdraw, Item: "A",
		NoticeScope: inventory.NoticeScope{BatchNos: []string{"l1"}}}
	inform := n
	inform.Action = inventory.NoticeInform
	line := inventory.Line{Item: "A", Par: 1, Minimum: 1}
	inside := newBag(line).holds("A", 1, "")
	inside.Bag.KitList = "GRAB"
	around := newBag()
	around.Modules = []inventory.BagView{inside.BagView}
	around.List.Modules = []inventory.Module{{KitList: "GRAB", Count: 1}}
	retired := newBag(line).holds("A", 1, "")
	retired.Bag.RetiredAt = 1
	out := newBag(line).holds("A", 1, "")
	out.Bag.OutOfService = &inventory.ServicePause{Reason: "torn"}
	for _, x := range []struct {
		why  string
		n    inventory.Notice
		bag  *aBag
		want int
	}{
		{"its only unit", n, newBag(line).holds("A", 1, ""), 1},
		{"a batch beside enough others", n, newBag(line).holds("A", 1, "").holds("A", 4, ""), 1},
		{"another batch", n, newBag(line).holds("B", 1, "").holds("A", 1, ""), 0},
		{"inform only", inform, newBag(line).holds("A", 1, ""), 0},
		{"under another notice already", n, newBag(line).holds("A", 1, "", withdrawn), 0},
		{"within a module", n, around, 1}, {"retired", n, retired, 0}, {"out of service", n, out, 0},
	} {
		assert.Len(t, x.n.WouldStop([]inventory.BagView{x.bag.BagView}, 0), x.want, x.why)
	}
}
