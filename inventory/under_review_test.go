package inventory_test

import (
	"fmt"
	"testing"

	"github.com/stretchr/testify/assert"

	"stowkeeper/inventory"
	"stowkeeper/inventory/inventorytest"
	"stowkeeper/inventory/lists"
)

// reports are uses under review of lot 1 in N-01, in the order of recording; each is the units that it reports, how
// many are settled, and how many are still there of those that were there then.
func reports(of ...[3]int) (out []inventory.UnderReview) {
	for i, n := range of {
		k := inventory.ReportKey{UseID: int64(i + 1)}
		out = append(out, inventory.UnderReview{ReportKey: k, Report: k.String(), Bag: "N-01", By: "Cleo",
			HappenedAt: inventorytest.Noon, Says: []inventory.Reported{{ID: int64(i + 1), ReportKey: k, Place: "N-01",
				Kind: inventory.ReportedUsed, LotID: 1, Qty: n[0], Settled: n[1], Pool: n[2]}}})
	}
	return out
}

// inShort is what each says now, as above, and what counts of it.
func inShort(of []inventory.UnderReview) (out [][4]int) {
	for _, u := range inventory.CountReported(of) {
		for _, r := range u.Says {
			out = append(out, [4]int{r.Qty, r.Settled, r.Pool, r.Counts})
		}
	}
	return out
}

func TestReportsAddUp(t *testing.T) {
	for name, c := range map[string]struct {
		of   [][3]int
		want [][4]int
	}{
		"one":                      {[][3]int{{2, 0, 4}}, [][4]int{{2, 0, 4, 2}}},
		"two":                      {[][3]int{{2, 0, 4}, {1, 0, 4}}, [][4]int{{2, 0, 4, 2}, {1, 0, 4, 1}}},
		"two of more than was":     {[][3]int{{3, 0, 4}, {3, 0, 4}}, [][4]int{{3, 0, 4, 3}, {3, 0, 4, 1}}},
		"stowed in between":        {[][3]int{{4, 0, 4}, {3, 0, 9}}, [][4]int{{4, 0, 4, 4}, {3, 0, 9, 3}}},
		"settled in part":          {[][3]int{{3, 2, 2}, {2, 0, 4}}, [][4]int{{3, 2, 2, 1}, {2, 0, 4, 2}}},
		"more settled than was":    {[][3]int{{0, 1, 0}}, [][4]int{{0, 1, 0, 0}}},
		"those that it is of left": {[][3]int{{4, 0, 1}}, [][4]int{{4, 0, 1, 1}}},
	} {
		assert.Equal(t, c.want, inShort(reports(c.of...)), name)
	}
}

func TestUnitsLeave(t *testing.T) {
	out := func(qty int, to inventory.Reason) inventory.Movement {
		return inventory.Movement{LotID: 1, Qty: qty, From: "N-01", To: "elsewhere", Reason: to}
	}
	into := inventory.Movement{IntoLotID: 1, Qty: 4, From: "N-STORE", To: "N-01", Reason: inventory.ReasonStow}
	lost := inventory.ReasonLost
	keeper, accepted := inventory.Leaving{Removed: true}, inventory.Leaving{Of: inventory.ReportKey{UseID: 2}}
	used, returned, crew := inventory.ReasonUsed, inventory.ReasonReturn, inventory.Leaving{}
	type (
		said [][3]int
		left []inventory.Movement
		now  [][4]int
	)
	one, two := said{{3, 0, 4}}, said{{3, 0, 4}, {3, 0, 4}}
	for name, c := range map[string]struct {
		of   said
		ms   left
		rest int // after them
		how  inventory.Leaving
		want now
	}{
		"a keeper writes it off":         {one, left{out(3, lost)}, 5, keeper, now{{3, 3, 1, 0}}},
		"a keeper writes one off":        {one, left{out(1, lost)}, 7, keeper, now{{3, 1, 3, 2}}},
		"written off, then refilled":     {one, left{out(3, lost), into}, 5, keeper, now{{3, 3, 1, 0}}},
		"more than was reported":         {one, left{out(6, lost)}, 2, keeper, now{{3, 3, 1, 0}}},
		"of two, the first first":        {two, left{out(3, lost)}, 1, keeper, now{{3, 3, 1, 0}, {3, 0, 1, 1}}},
		"a keeper returns what was left": {one, left{out(1, returned)}, 3, keeper, now{{3, 0, 3, 3}}},
		"a keeper returns all":           {one, left{out(4, returned)}, 0, keeper, now{{3, 0, 0, 0}}},
		"a crew uses some":               {one, left{out(2, used)}, 2, crew, now{{3, 0, 2, 2}}},
		"a crew uses what came later":    {one, left{out(2, used)}, 6, crew, now{{3, 0, 4, 3}}},
		"the second is accepted": {said{{3, 0, 4}, {1, 0, 4}}, left{out(1, used)}, 3, accepted,
			now{{3, 0, 3, 3}, {1, 0, 3, 0}}},
		"the second, stowed meanwhile": {two, left{out(3, used)}, 5, accepted, now{{3, 0, 1, 1}, {3, 0, 1, 0}}},
		"the second, of a larger pool": {said{{3, 0, 4}, {3, 0, 9}}, left{out(3, used)}, 6, accepted,
			now{{3, 0, 4, 3}, {3, 0, 6, 3}}},
		"another lot": {one, left{{LotID: 2, Qty: 9, From: "N-01", Reason: lost}}, 4, keeper, now{{3, 0, 4, 3}}},
	} {
		of := reports(c.of...)
		after := []inventory.Stock{{Place: "N-01", Lot: inventory.Lot{ID: 1}, Qty: c.rest}}
		inventory.LeaveBags(of, c.ms, after, c.how)
		assert.Equal(t, [][4]int(c.want), inShort(of), name)
		assert.Empty(t, inventory.LeaveBags(of, nil, after, c.how), name)
	}
}

func TestUnsettled(t *testing.T) {
	used := func(lot int64, qty int) inventory.Movement {
		return inventory.Movement{LotID: lot, Qty: qty, From: "N-01", To: "used"}
	}
	for name, c := range map[string]struct {
		of   [3]int
		in   []inventory.Movement
		want string
	}{
		"nothing settled":                  {[3]int{4, 0, 4}, []inventory.Movement{used(1, 4), used(2, 1)}, "1×4 2×1 "},
		"some":                             {[3]int{4, 3, 4}, []inventory.Movement{used(1, 2), used(1, 2)}, "1×1 "},
		"all":                              {[3]int{4, 4, 4}, []inventory.Movement{used(1, 4), used(2, 1)}, "2×1 "},
		"all, and more was said than was":  {[3]int{4, 4, 4}, []inventory.Movement{used(1, 9)}, ""},
		"none was, and it was looked at":   {[3]int{0, 1, 0}, []inventory.Movement{used(1, 2)}, ""},
		"some, and more was said than was": {[3]int{4, 1, 4}, []inventory.Movement{used(1, 9)}, "1×8 "},
		"the same lot comes from a find too": {[3]int{4, 4, 4},
			[]inventory.Movement{{LotID: 1, Qty: 1, From: "found"}}, "1×1 "},
	} {
		got := ""
		for _, m := range inventory.Unsettled(c.in, reports(c.of)[0].Says) {
			got += fmt.Sprintf("%d×%d ", m.LotID, m.Qty)
		}
		assert.Equal(t, c.want, got, name)
	}
}

func TestSettles(t *testing.T) {
	at := inventorytest.Noon
	check := func(change ...func(*inventory.Check)) inventory.Check {
		c := inventory.Check{Bag: "N-01", Kind: inventory.FullCheck, HappenedAt: at + 1, RecordedAt: at + 2,
			Lines: []inventory.CheckLine{{LotID: 1}}, Inspections: []inventory.InspectedLine{{LotID: 2}}}
		for _, f := range change {
			f(&c)
		}
		return c
	}
	u := inventory.UnderReview{HappenedAt: at, RecordedAt: at + 9}
	at1 := func(k inventory.ReportedKind, lot int64) inventory.Reported {
		return inventory.Reported{Place: "N-01", Kind: k, LotID: lot}
	}
	for name, c := range map[string]struct {
		check inventory.Check
		of    inventory.Reported
		want  bool
	}{
		"a lot that it counted": {check(), at1(inventory.ReportedUsed, 1), true},
		"another lot":           {check(), at1(inventory.ReportedUsed, 3), false},
		"performed before": {check(func(c *inventory.Check) { c.HappenedAt = at - 1 }), at1(inventory.ReportedUsed, 1),
			false},
		"performed then, recorded before": {check(func(c *inventory.Check) { c.HappenedAt = at }),
			at1(inventory.ReportedUsed, 1), false},
		"performed then, recorded later": {check(func(c *inventory.Check) { c.HappenedAt, c.RecordedAt = at, at+10 }),
			at1(inventory.ReportedUsed, 1), true},
		"of another bag": {check(func(c *inventory.Check) { c.Bag = "N-02" }), at1(inventory.ReportedUsed, 1), false},
		"a seal check": {check(func(c *inventory.Check) { c.Kind = inventory.SealCheck }), at1(inventory.ReportedBroken, 0),
			false},
		"the seal, by a partial check":  {check(partial), at1(inventory.ReportedBroken, 0), false},
		"a lot of a partial check":      {check(partial), at1(inventory.ReportedUsed, 1), true},
		"the seal":                      {check(), at1(inventory.ReportedBroken, 0), true},
		"an opened bag":                 {check(), at1(inventory.ReportedOpened, 0), true},
		"a mark":                        {check(), at1(inventory.ReportedTraining, 0), false},
		"unidentified units":            {check(), at1(inventory.ReportedUnknown, 0), false},
		"a failed point, counted":       {check(), at1(inventory.ReportedFailed, 1), false},
		"a failed point, inspected":     {check(), at1(inventory.ReportedFailed, 2), true},
		"what the quartermaster edited": {check(edited), at1(inventory.ReportedUsed, 1), false},
		"what they counted instead":     {check(edited), at1(inventory.ReportedUsed, 3), true},
		"what neither looked at":        {check(edited, partial), at1(inventory.ReportedUsed, 3), false},
	} {
		assert.Equal(t, c.want, c.check.Settles(u, c.of), name)
	}
}

// TestSaidToBe: only whom a record is said to be of confirms it, once, and no program does.
func TestSaidToBe(t *testing.T) {
	kim := inventory.Actor{Name: "Kim", Role: inventory.Crew}
	program := inventory.Actor{Name: "Kim", Role: inventory.Crew, Program: true}
	for _, c := range []struct {
		by           inventory.Actor
		made, sentBy string
		may          bool
		whose        string
	}{
		{kim, "Kim", "Jo", true, "said to be Kim"},
		{kim, "Kim", "", false, "Kim"},
		{kim, "Lee", "Jo", false, "said to be Lee"},
		{program, "Kim", "Jo", false, "said to be Kim"},
	} {
		assert.Equal(t, c.may, inventory.MayConfirm(c.by, c.made, c.sentBy) == nil, c)
		assert.Equal(t, c.whose, inventory.Whose(c.made, c.sentBy).String())
	}
}

func partial(c *inventory.Check) { c.NotCounted = 2 }

func edited(c *inventory.Check) {
	c.Decision = &inventory.Decision{Decision: inventory.DecideEdit, Counts: []inventory.CheckLine{{LotID: 3}}}
}

// said is what a report says, in short.
func said(says []inventory.Reported) (out []string) {
	for _, r := range says {
		out = append(out, fmt.Sprintf("%s %s %s %d×%d of %d %s", r.Place, r.Kind, r.Item, r.LotID, r.Qty, r.Pool, r.Note))
	}
	return out
}

// TestSays: a bag holds 4 of lot 1, a device, lot 3, and nothing of lot 2; another bag holds 2 of lot 2 and 5 of lot 4.
func TestSays(t *testing.T) {
	lot := func(id int64, item, batch string) inventory.Lot {
		l := inventory.Lot{ID: id}
		l.Item, l.BatchNo = item, batch
		return l
	}
	held := []inventory.Stock{{Place: "N-01", Lot: lot(1, "A", "b1"), Qty: 4},
		{Place: "N-01", Lot: lot(3, "D", ""), Qty: 1},
		{Place: "N-02", Lot: lot(2, "A", "B 2"), Qty: 2}, {Place: "N-02", Lot: lot(4, "A", "b4"), Qty: 5}}
	bag := inventory.Bag{Code: "N-01", BagRecord: inventory.BagRecord{Seal: "100", Position: 7}}
	use := inventory.Use{Bag: "N-01", SeenPosition: 7, SealSet: "101", Lines: []inventory.UseLine{{LotID: 1, Qty: 3},
		{LotID: 1, Qty: 3}, {LotID: 2, Qty: 1}, {LotID: 2, Qty: 9, CameFrom: "N-02"}}}
	assert.Equal(t, []string{"N-01 used  1×4 of 4 ", "N-01 used  2×0 of 0 ", "N-02 used  2×2 of 2 "},
		said(use.Says(bag, held)))
	use.Lines, use.SealSet = nil, ""
	assert.Equal(t, []string{"N-01 opened  0×0 of 0 "}, said(use.Says(bag, held)))

	items := map[int64]inventory.Item{3: {Code: "D", InspectionPoints: []string{"whole", "clean"},
		InspectionNotes: []string{"bag"}}}
	full := inventory.Check{Bag: "N-01", Kind: inventory.FullCheck, SeenPosition: 7, SealSet: "1"}
	for name, c := range map[string]struct {
		change func(*inventory.Check)
		since  map[int64]int
		want   []string
	}{
		"less, for a reason": {func(c *inventory.Check) {
			c.Lines = []inventory.CheckLine{{LotID: 1, Counted: 1}, {LotID: 1, Counted: 1, Reason: "damaged"}}
		}, nil, []string{"N-01 damaged  1×2 of 4 "}},
		"less, for none": {func(c *inventory.Check) { c.Lines = []inventory.CheckLine{{LotID: 1, Counted: 3}} }, nil,
			[]string{"N-01 missing  1×1 of 4 "}},
		"as much as there was before two were stowed": {
			func(c *inventory.Check) { c.Lines = []inventory.CheckLine{{LotID: 1, Counted: 2}} }, map[int64]int{1: 2}, nil},
		"less than there was before three were taken": {
			func(c *inventory.Check) { c.Lines = []inventory.CheckLine{{LotID: 1, Reason: "used"}} }, map[int64]int{1: -3},
			[]string{"N-01 used  1×4 of 4 "}},
		"more, from another bag": {func(c *inventory.Check) {
			c.Lines = []inventory.CheckLine{{LotID: 2, Counted: 1, Reason: "found", CameFrom: "N-02"}}
		}, nil, []string{"N-02 moved  2×1 of 2 N-01"}},
		"more, found": {func(c *inventory.Check) {
			c.Lines = []inventory.CheckLine{{LotID: 1, Counted: 6, Reason: "found"}}
			c.Found = []inventory.FoundLine{{Item: "A", BatchNo: "b9", Qty: 3}}
		}, nil, nil},
		"found, of the batch in another bag": {func(c *inventory.Check) {
			c.Found = []inventory.FoundLine{{Item: "A", BatchNo: "b2", Qty: 1, CameFrom: "N-02"}}
		}, nil, []string{"N-02 moved  2×1 of 2 N-01"}},
		"found, of any batch in another bag": {func(c *inventory.Check) {
			c.Found = []inventory.FoundLine{{Item: "A", Qty: 3, CameFrom: "N-02"}}
		}, nil, []string{"N-02 moved  2×2 of 2 N-01", "N-02 moved  4×1 of 5 N-01"}},
		"marks and unidentified units": {func(c *inventory.Check) {
			c.Found = []inventory.FoundLine{{Item: "A", Qty: 2, Reason: "training_mark"},
				{Item: "D", Qty: 1, Unidentified: true}}
		}, nil, []string{"N-01 training_mark A 0×2 of 0 ", "N-01 unidentified D 0×1 of 0 "}},
		"points that fail": {func(c *inventory.Check) {
			c.Inspections = []inventory.InspectedLine{{LotID: 3, Points: inventorytest.Answers("!whole", "!bag", "!gone since")}}
		}, nil, []string{"N-01 failed D 3×1 of 1 whole”, “gone since"}},
		"points that pass": {func(c *inventory.Check) {
			c.Inspections = []inventory.InspectedLine{{LotID: 3, Points: inventorytest.Answers("whole", "clean", "!bag")}}
		}, nil, nil},
		"another seal":       {func(c *inventory.Check) { c.SealSeen = "99" }, nil, []string{"N-01 different  0×0 of 0 "}},
		"the seal, in order": {func(c *inventory.Check) { c.SealSeen = " 100 " }, nil, nil},
		"a seal check of a broken one": {func(c *inventory.Check) { c.Kind, c.SealBroken = inventory.SealCheck, true }, nil,
			[]string{"N-01 broken  0×0 of 0 "}},
		"a seal of which something later is known": {func(c *inventory.Check) { c.SealBroken, c.HappenedAt = true, -1 }, nil,
			nil},
	} {
		check := full
		c.change(&check)
		assert.Equal(t, c.want, said(check.Says(bag, held, c.since, items)), name)
	}
}

// TestReportsCountAtOnce: a report counts in everything that is worked out of a bag.
func TestReportsCountAtOnce(t *testing.T) {
	b := newBag(inventory.Line{Item: "A", Pouch: "Red", Par: 4, Minimum: 2, Accepts: []string{"B"}}).item("C", "marker").
		holds("A", 4, "2029-01-01").holds("C", 3, "")
	b.List.Rules = []inventory.KitRule{{NeedCategory: "marker", AtLeast: 2, Severity: inventory.SeverityWarn}}
	b.Reports = reports([3]int{1, 0, 4})
	findings := func() []string { return inventorytest.Findings(b.judge()) }
	assert.Equal(t, []string{"warn below_par A 0 1  ", "warn not_on_list C 2 3  ",
		"warn report_under_review  0 1  "}, findings())
	b.Reports = reports([3]int{1, 0, 4}, [3]int{2, 0, 4})
	assert.Equal(t, []string{"stop below_minimum A 0 3  ", "stop report_under_review  0 1  ",
		"stop report_under_review  0 2  ", "warn not_on_list C 2 3  "}, findings())
	r := b.judge()
	assert.Equal(t, "report under review by Cleo, 2027-06-14: 2 reported used", r.Findings[2].Text.String())
	var lots []string
	for _, l := range r.Lines[0].Lots {
		lots = append(lots, fmt.Sprintf("%d %t %s", l.Qty, l.Usable, l.Reported))
	}
	assert.Equal(t, []string{"1 true records 4, 3 reported used", "3 false records 4, 3 reported used"}, lots)
	form := lists.ToCount(inventory.ChecklistOf(b.BagView, inventorytest.Noon, 0, 30))
	assert.Len(t, form[0].Rows[0].Lots, 1)
	assert.Equal(t, 4, form[0].Rows[0].Lots[0].Qty, "a full check counts what is recorded")

	store := inventory.Stock{Place: "N-STORE", Qty: 9, Lot: inventory.Lot{ID: 7}}
	store.Lot.Item = "A"
	pick := inventory.PickListOf(b.BagView, []inventory.Stock{store}, nil, inventorytest.Noon, 0)
	in, out, _ := inventorytest.Picks(pick)
	assert.Equal(t, []string{"A/Red 7×3 from N-STORE"}, in)
	assert.Equal(t, []string{"2×3 to N-STORE return "}, out)
	rep := inventory.ShortagesOf(inventory.ReportInput{Stations: []inventory.Station{b.Station},
		Bags: []inventory.BagView{b.BagView}, Items: b.Items}, inventorytest.Noon, 0, 30)
	assert.Equal(t, []int{1, 3}, []int{rep.Rows[0].Usable, rep.Buy[0].Qty})

	// Nothing on a line: its units are taken out as far as nobody reported them, and a rule does not count them.
	b.Reports = reports([3]int{2, 0, 3})
	b.Reports[0].Says[0].LotID = 2
	assert.Equal(t, []string{"warn not_on_list C 2 3  ", "warn kit_rule  0 1  at least 2 marker",
		"warn report_under_review  0 2  "}, findings())
	_, out, _ = inventorytest.Picks(inventory.PickListOf(b.BagView, nil, nil, inventorytest.Noon, 0))
	assert.Equal(t, []string{"2×1 to N-STORE return "}, out)
	form = lists.ToCount(inventory.ChecklistOf(b.BagView, inventorytest.Noon, 0, 30))
	assert.Len(t, form[1].Rows, 1)
}

// TestReportedAtOnce: what was seen is a finding with its own severity until it is settled.
func TestReportedAtOnce(t *testing.T) {
	for name, c := range map[string]struct {
		says inventory.Reported
		want string
	}{
		"a mark": {inventory.Reported{Kind: inventory.ReportedTraining, Item: "A", Qty: 2},
			"stop observation A 0 0  "},
		"no batch": {inventory.Reported{Kind: inventory.ReportedUnknown, Item: "A", Qty: 2},
			"warn observation A 0 0  "},
		"a failed point": {inventory.Reported{Kind: inventory.ReportedFailed, Item: "A", LotID: 9},
			"stop observation A 9 0  "},
		"a broken seal":     {inventory.Reported{Kind: inventory.ReportedBroken}, "stop seal  0 0  "},
		"another seal":      {inventory.Reported{Kind: inventory.ReportedOther}, "stop seal  0 0  "},
		"an opened bag":     {inventory.Reported{Kind: inventory.ReportedOpened}, "warn no_seal  0 0  "},
		"one that has left": {inventory.Reported{Kind: inventory.ReportedFailed, Item: "A", LotID: 9, Qty: 1}, ""},
		"a settled seal":    {inventory.Reported{Kind: inventory.ReportedBroken, Settled: 1}, ""},
	} {
		b := newBag(inventory.Line{Item: "A", Par: 1}).holds("A", 1, "")
		b.List.Sealed, b.Bag.SealState = true, inventory.SealIntact
		b.Reports = []inventory.UnderReview{{Report: "check 1", Says: []inventory.Reported{c.says}}}
		want := []string{"warn report_under_review  0 0  "}
		switch {
		case c.want != "" && c.want[:4] == "stop":
			want = append([]string{c.want}, want...)
		case c.want != "":
			want = append(want, c.want)
		}
		assert.Equal(t, want, inventorytest.Findings(b.judge()), name)
		if b.List.SealWarns = true; c.want == "stop seal  0 0  " {
			assert.Equal(t, inventory.ReadyWithGaps, b.judge().State, name)
		}
		if b.List.Sealed = false; c.says.LotID == 0 && c.says.Item == "" {
			assert.Len(t, b.judge().Findings, 1, name)
		}
	}
}

func TestMayWithdraw(t *testing.T) {
	cleo := inventory.Actor{Name: "Cleo"}
	assert.NoError(t, inventory.MayWithdraw(cleo, "Cleo", inventory.StatusToReview))
	inventorytest.RequireKind(t, inventory.Conflict, inventory.MayWithdraw(cleo, "Wil", inventory.StatusToReview))
	inventorytest.RequireKind(t, inventory.Conflict, inventory.MayWithdraw(cleo, "Cleo", inventory.StatusAccepted))
}
