package inventory_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stowkeeper/inventory"
	"stowkeeper/inventory/barcode"
	"stowkeeper/inventory/inventorytest"
)

// printed returns a batch that bears a date, as a receipt makes it.
func printed(t require.TestingT, end string, w inventory.Wording, c inventory.Category) inventory.Batch {
	last, err := inventory.LastUsable(end, w, c)
	require.NoError(t, err)
	return inventory.Batch{EndPrinted: end, EndWording: w, LastUsable: last}
}

// TestLastUsableTable walks every wording, with and without a day, on medicine,
// pain relief and devices, over the turn of a month, of a year and a leap day.
func TestLastUsableTable(t *testing.T) {
	for _, c := range []struct {
		printed  string
		wording  inventory.Wording
		medicine string // medicine and pain relief
		device   string // anything else
	}{
		{"2027-06", inventory.WordExpiry, "2027-06-30", "2027-06-30"},
		{"2027-06", inventory.WordHourglass, "2027-06-30", "2027-06-30"},
		{"2027-06", inventory.WordUseBy, "2027-05-31", "2027-06-30"},
		{"2027-06", inventory.WordUseBefore, "2027-05-31", "2027-05-31"},
		{"2027-06-14", inventory.WordExpiry, "2027-06-14", "2027-06-14"},
		{"2027-06-14", inventory.WordHourglass, "2027-06-14", "2027-06-14"},
		{"2027-06-14", inventory.WordUseBy, "2027-06-14", "2027-06-14"},
		{"2027-06-14", inventory.WordUseBefore, "2027-06-13", "2027-06-13"},
		{"2028-01", inventory.WordExpiry, "2028-01-31", "2028-01-31"},
		{"2028-01", inventory.WordUseBy, "2027-12-31", "2028-01-31"},
		{"2028-01", inventory.WordUseBefore, "2027-12-31", "2027-12-31"},
		{"2028-01-01", inventory.WordUseBefore, "2027-12-31", "2027-12-31"},
		{"2028-02", inventory.WordHourglass, "2028-02-29", "2028-02-29"},
		{"2027-02", inventory.WordHourglass, "2027-02-28", "2027-02-28"},
		{"2028-03", inventory.WordUseBy, "2028-02-29", "2028-03-31"},
		{"2028-03-01", inventory.WordUseBefore, "2028-02-29", "2028-02-29"},
	} {
		for _, category := range inventory.Categories {
			want := c.device
			if category == "medicine" || category == "pain relief" {
				want = c.medicine
			}
			got, err := inventory.LastUsable(c.printed, c.wording, category)
			require.NoError(t, err)
			assert.Equal(t, want, got.String(), "%s %s on %s", c.wording, c.printed, category)
		}
	}
}

// TestLastUsablePublished holds the examples that are printed elsewhere.
func TestLastUsablePublished(t *testing.T) {
	for _, c := range []struct {
		source   string
		printed  string
		wording  inventory.Wording
		category inventory.Category
		want     string
	}{
		{"UK Medicines Information Q&A 213.2 (July 2011): expiry 12/2011", "2011-12", inventory.WordExpiry,
			inventory.CategoryMedicine, "2011-12-31"},
		{"UK Medicines Information Q&A 213.2 (July 2011): use by 06/2011", "2011-06", inventory.WordUseBy,
			inventory.CategoryMedicine, "2011-05-31"},
		{"UK Medicines Information Q&A 213.2 (July 2011): use before 06/2011", "2011-06", inventory.WordUseBefore,
			inventory.CategoryMedicine, "2011-05-31"},
		{"ISO 15223-1:2021, 5.1.4: hourglass with YYYY-MM on a device is the last day of that month", "2027-02",
			inventory.WordHourglass, inventory.CategoryPressureDressing, "2027-02-28"},
		{"21 CFR 801.18: a device label has YYYY-MM-DD", "2027-02-14", inventory.WordExpiry, inventory.CategoryAirway,
			"2027-02-14"},
	} {
		got, err := inventory.LastUsable(c.printed, c.wording, c.category)
		require.NoError(t, err, c.source)
		assert.Equal(t, c.want, got.String(), c.source)
	}
}

// TestLastUsableOfGS1 reads element strings: with day 00 the date is the last
// day of the month, leap years included (GS1 General Specifications 3.4).
func TestLastUsableOfGS1(t *testing.T) {
	for element, want := range map[string]string{
		"]d20109506000134352" + "17280200" + "10A1": "2028-02-29",
		"]d20109506000134352" + "17270200" + "10A1": "2027-02-28",
		"]d20109506000134352" + "17271200" + "10A1": "2027-12-31",
		"]d20109506000134352" + "17271214" + "10A1": "2027-12-14",
	} {
		facts, err := barcode.Parse(element, barcode.Date{Year: 2026, Month: 11, Day: 25})
		require.NoError(t, err, element)
		for _, c := range []inventory.Category{inventory.CategoryMedicine, inventory.CategoryTourniquet} {
			got, err := inventory.LastUsable(facts.EndPrinted, inventory.WordExpiry, c)
			require.NoError(t, err)
			assert.Equal(t, want, got.String(), element)
			assert.Equal(t, facts.UsableThrough.String(), got.String(), "the reader and the rule agree")
		}
	}
}

func TestLastUsableRefuses(t *testing.T) {
	for _, s := range []string{"", "2027", "2027-13", "2027-00", "2027-6", "2027-02-30", "06/2027", "2027-06-14T00:00",
		"1500-01", "9999-01", "soon"} {
		_, err := inventory.LastUsable(s, inventory.WordExpiry, inventory.CategoryOther)
		inventorytest.RequireFields(t, err, "end_printed")
	}
	for _, s := range []string{"2027-06", "2027-06-14"} {
		_, err := inventory.LastUsable(s, "best before", inventory.CategoryOther)
		inventorytest.RequireFields(t, err, "end_wording")
	}
}

func TestParseMade(t *testing.T) {
	for in, want := range map[string]string{"2024-02": "2024-02-01", "2024-02-29": "2024-02-29"} {
		got, err := inventory.ParseMade(in)
		require.NoError(t, err)
		assert.Equal(t, want, got.String(), "a month alone means its first day")
	}
	for _, bad := range []string{"2024-13", "2023-02-29", "2024", ""} {
		_, err := inventory.ParseMade(bad)
		assert.Error(t, err, "%q", bad)
	}
}

// everyLimit is an item with every life rule.
var everyLimit = inventory.Life{MadeMonths: 60, StowedMonths: 12, ExposedDays: 90, OpenedDays: 28}

// endCase is one combination of end dates.
type endCase struct {
	name     string
	life     inventory.Life
	category inventory.Category
	printed  string
	wording  inventory.Wording
	made     string
	clocks   inventory.Clocks
	today    string
	want     []string // "date rule", earliest first; the first one governs
}

var endCases = []endCase{
	{name: "nothing at all", want: nil},
	{name: "limits that never started", life: everyLimit, want: nil},
	{name: "clocks without limits", made: "2024-01-31", clocks: inventory.Clocks{StowedOn: inventorytest.Day("2026-01-31"),
		OpenedOn: inventorytest.Day("2026-02-01"), ExposedDays: 400, ExposedLast: inventorytest.Day("2026-03-01")},
		want: nil},

	{name: "printed alone", printed: "2027-06", wording: inventory.WordExpiry, want: []string{"2027-06-30 printed"}},
	{name: "printed, use by on a medicine", category: inventory.CategoryMedicine, printed: "2027-06",
		wording: inventory.WordUseBy, want: []string{"2027-05-31 printed"}},
	{name: "printed, use by on pain relief", category: inventory.CategoryPainRelief, printed: "2027-06",
		wording: inventory.WordUseBy, want: []string{"2027-05-31 printed"}},
	{name: "printed, use by on a device", category: inventory.CategoryTourniquet, printed: "2027-06",
		wording: inventory.WordUseBy, want: []string{"2027-06-30 printed"}},
	{name: "printed, use before a day", printed: "2027-06-14", wording: inventory.WordUseBefore,
		want: []string{"2027-06-13 printed"}},
	{name: "made alone", life: everyLimit, made: "2024-02-29", want: []string{"2029-02-28 made"}},
	{name: "made into a leap year", life: inventory.Life{MadeMonths: 48}, made: "2024-02-29",
		want: []string{"2028-02-29 made"}},
	{name: "made, month only", life: everyLimit, made: "2024-02-01", want: []string{"2029-02-01 made"}},
	{name: "stowed alone, end of a month", life: inventory.Life{StowedMonths: 1},
		clocks: inventory.Clocks{StowedOn: inventorytest.Day("2027-01-31")}, want: []string{"2027-02-28 stowed"}},
	{name: "opened alone", life: everyLimit, clocks: inventory.Clocks{OpenedOn: inventorytest.Day("2027-02-01")},
		want: []string{"2027-03-01 opened"}},

	{name: "exposed, riding", life: everyLimit, clocks: inventory.Clocks{ExposedSince: inventorytest.Day("2027-01-01")},
		today: "2027-01-11", want: []string{"2027-03-31 exposed"}},
	{name: "exposed, riding, the end moves only with the days used up", life: everyLimit,
		clocks: inventory.Clocks{ExposedSince: inventorytest.Day("2027-01-01")}, today: "2027-03-30",
		want: []string{"2027-03-31 exposed"}},
	{name: "exposed, riding again after 60 days", life: everyLimit,
		clocks: inventory.Clocks{ExposedSince: inventorytest.Day("2027-01-01"), ExposedDays: 60,
			ExposedLast: inventorytest.Day("2026-10-01")},
		today: "2027-01-11", want: []string{"2027-01-30 exposed"}},
	{name: "exposed and back inside: the clock stands still", life: everyLimit, clocks: inventory.Clocks{ExposedDays: 60,
		ExposedLast: inventorytest.Day("2026-10-01")}, today: "2027-01-11", want: nil},
	{name: "exposed, one day left", life: everyLimit, clocks: inventory.Clocks{ExposedDays: 89,
		ExposedLast: inventorytest.Day("2026-10-01")}, today: "2027-01-11", want: nil},
	{name: "exposed and back on the last day", life: everyLimit, clocks: inventory.Clocks{ExposedDays: 90,
		ExposedLast: inventorytest.Day("2026-10-01")}, today: "2027-01-11", want: []string{"2026-10-01 exposed"}},
	{name: "overdrawn, then back", life: everyLimit, clocks: inventory.Clocks{ExposedDays: 100,
		ExposedLast: inventorytest.Day("2026-10-11")}, today: "2027-01-11", want: []string{"2026-10-01 exposed"}},
	{name: "overdrawn, riding", life: everyLimit, clocks: inventory.Clocks{ExposedSince: inventorytest.Day("2027-01-01"),
		ExposedDays: 95, ExposedLast: inventorytest.Day("2026-10-11")}, today: "2027-01-11",
		want: []string{"2026-10-06 exposed"}},

	{name: "all five, printed first", life: everyLimit, printed: "2027-02", wording: inventory.WordExpiry,
		made: "2024-02-01",
		clocks: inventory.Clocks{StowedOn: inventorytest.Day("2026-06-15"), ExposedSince: inventorytest.Day("2027-01-10"),
			OpenedOn: inventorytest.Day("2027-02-05")},
		today: "2027-01-15",
		want: []string{"2027-02-28 printed", "2027-03-05 opened", "2027-04-09 exposed", "2027-06-15 stowed",
			"2029-02-01 made"}},
	{name: "all five, opened first", life: everyLimit, printed: "2027-12-31", wording: inventory.WordExpiry,
		made: "2023-02-01",
		clocks: inventory.Clocks{StowedOn: inventorytest.Day("2026-06-15"), ExposedSince: inventorytest.Day("2027-01-10"),
			OpenedOn: inventorytest.Day("2027-01-02")},
		today: "2027-01-15",
		want: []string{"2027-01-30 opened", "2027-04-09 exposed", "2027-06-15 stowed", "2027-12-31 printed",
			"2028-02-01 made"}},
	{name: "made before printed", life: everyLimit, printed: "2031-01", wording: inventory.WordHourglass,
		made: "2024-06-30",
		want: []string{"2029-06-30 made", "2031-01-31 printed"}},
	{name: "stowed before made", life: everyLimit, made: "2024-06-30",
		clocks: inventory.Clocks{StowedOn: inventorytest.Day("2024-08-31")},
		want:   []string{"2025-08-31 stowed", "2029-06-30 made"}},

	{name: "tie of all five: the order of the rules decides", life: everyLimit, printed: "2027-06-14",
		wording: inventory.WordExpiry, made: "2022-06-14",
		clocks: inventory.Clocks{StowedOn: inventorytest.Day("2026-06-14"), ExposedSince: inventorytest.Day("2027-03-17"),
			OpenedOn: inventorytest.Day("2027-05-17")},
		today: "2027-04-01",
		want: []string{"2027-06-14 printed", "2027-06-14 made", "2027-06-14 stowed", "2027-06-14 exposed",
			"2027-06-14 opened"}},
	{name: "tie of made and opened", life: everyLimit, made: "2022-06-14",
		clocks: inventory.Clocks{OpenedOn: inventorytest.Day("2027-05-17")},
		want:   []string{"2027-06-14 made", "2027-06-14 opened"}},
	{name: "tie of stowed and exposed", life: everyLimit,
		clocks: inventory.Clocks{StowedOn: inventorytest.Day("2026-06-14"),
			ExposedSince: inventorytest.Day("2027-03-17")}, today: "2027-04-01",
		want: []string{"2027-06-14 stowed", "2027-06-14 exposed"}},
}

func (c endCase) lot(t require.TestingT) inventory.Lot {
	var l inventory.Lot
	if c.printed != "" {
		l.Batch = printed(t, c.printed, c.wording, c.category)
	}
	l.MadeOn, l.Clocks = inventorytest.Day(c.made), c.clocks
	return l
}

func TestEndsTable(t *testing.T) {
	for _, c := range endCases {
		t.Run(c.name, func(t *testing.T) {
			it, l, today := inventory.Item{Category: c.category, Life: c.life}, c.lot(t), inventorytest.Day(c.today)
			var got []string
			for _, e := range inventory.Ends(it, l, today) {
				got = append(got, e.On.String()+" "+string(e.Rule))
				assert.Equal(t, e.Rule != inventory.RulePrinted, e.Policy, "only the printed date is the maker's")
				if e.Policy {
					assert.Contains(t, e.Text.String(), "your policy")
				}
			}
			assert.Equal(t, c.want, got)
			end, ok := inventory.Governing(it, l, today)
			assert.Equal(t, len(c.want) > 0, ok)
			if ok {
				assert.Equal(t, c.want[0], end.On.String()+" "+string(end.Rule))
			}
			assert.Equal(t, end.On, inventory.UsableThrough(it, l, today))
		})
	}
}

// TestUsableThroughIsInclusive: a lot counts on its governing date and not on
// the day after.
func TestUsableThroughIsInclusive(t *testing.T) {
	for _, c := range endCases {
		it, l, today := inventory.Item{Category: c.category, Life: c.life}, c.lot(t), inventorytest.Day(c.today)
		through := inventory.UsableThrough(it, l, today)
		if through == 0 {
			assert.True(t, inventory.Usable(it, l, inventorytest.Day("2199-12-31"), inventory.ForIssue), c.name)
			continue
		}
		assert.True(t, inventory.Usable(it, l, through, inventory.ForIssue) || l.ExposedSince != 0 &&
			through < l.ExposedSince, c.name)
		assert.False(t, inventory.Usable(it, l, through+1, inventory.ForIssue), c.name)
	}
}

func TestUsable(t *testing.T) {
	it := inventory.Item{}
	fit := inventory.Lot{Batch: printed(t, "2027-06", inventory.WordExpiry, "")}
	on := inventorytest.Day("2027-06-30")
	with := func(change func(*inventory.Lot)) inventory.Lot { l := fit; change(&l); return l }
	training := with(func(l *inventory.Lot) { l.Training = true })
	for _, c := range []struct {
		name    string
		lot     inventory.Lot
		purpose inventory.Purpose
		want    bool
	}{
		{"issue stock in an issue place", fit, inventory.ForIssue, true},
		{"issue stock in a training place", fit, inventory.ForTraining, false},
		{"training stock in an issue place", training, inventory.ForIssue, false},
		{"training stock in a training place", training, inventory.ForTraining, true},
		{"unidentified", with(func(l *inventory.Lot) { l.Unidentified = true }), inventory.ForIssue, false},
		{"under a withdrawing notice", with(func(l *inventory.Lot) { l.Withdrawn = []string{"N1"} }), inventory.ForIssue,
			false},
	} {
		assert.Equal(t, c.want, inventory.Usable(it, c.lot, on, c.purpose), c.name)
	}
}

// TestDaysExposed counts the days on which a lot was out, today among them, and
// a day on which it went out twice once.
func TestDaysExposed(t *testing.T) {
	c := inventory.Clocks{ExposedDays: 10, ExposedSince: inventorytest.Day("2027-03-01")}
	for today, want := range map[string]int{"2027-02-01": 10, "2027-03-01": 11, "2027-03-02": 12, "2027-04-01": 42} {
		assert.Equal(t, want, c.DaysExposed(inventorytest.Day(today)), today)
	}
	c.ExposedLast = c.ExposedSince
	for today, want := range map[string]int{"2027-02-01": 10, "2027-03-01": 10, "2027-03-02": 11, "2027-04-01": 41} {
		assert.Equal(t, want, c.DaysExposed(inventorytest.Day(today)), today)
	}
	c.ExposedSince = 0
	assert.Equal(t, 10, c.DaysExposed(inventorytest.Day("2030-01-01")))
}

// TestEndTextNamesThePack: the words say what is printed, and how long the
// owner allows.
func TestEndTextNamesThePack(t *testing.T) {
	l := inventory.Lot{Batch: printed(t, "2031-06", inventory.WordUseBefore, ""),
		Clocks: inventory.Clocks{StowedOn: inventorytest.Day("2030-01-31"), OpenedOn: inventorytest.Day("2030-02-01")}}
	l.MadeOn = inventorytest.Day("2030-01-01")
	it := inventory.Item{Life: inventory.Life{MadeMonths: 1, StowedMonths: 12, OpenedDays: 1}}
	var texts []string
	for _, e := range inventory.Ends(it, l, inventorytest.Day("2030-01-01")) {
		texts = append(texts, e.Text.String())
	}
	assert.Equal(t, []string{"1 month after manufacture, your policy", "1 day after opening, your policy",
		"12 months after first stowing, your policy", "printed use before 2031-06"}, texts)
}
