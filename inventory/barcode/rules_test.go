package barcode_test

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stowkeeper/inventory/barcode"
)

// The inputs here are constructed on the GS1 example prefix 952 from the
// rules named beside them; vectors with published sources are in
// vectors_test.go.

const gtin = "0109521234543213"

func parsed(t *testing.T, text string) barcode.Facts {
	t.Helper()
	facts, err := barcode.Parse(text, theDay)
	require.NoError(t, err, "%q", text)
	return facts
}

func day(y, m, d int) barcode.Date { return barcode.Date{Year: y, Month: m, Day: d} }

func TestFactsOfAPack(t *testing.T) {
	f := parsed(t, "]d2"+gtin+"11260300"+"17270630"+"10LOT-7A\x1d21SN0042\x1d3010")
	assert.Equal(t, barcode.GS1, f.Scheme)
	assert.Equal(t, "09521234543213", f.ProductCode)
	assert.Equal(t, "LOT-7A", f.BatchNo)
	assert.Equal(t, "SN0042", f.Serial)
	assert.Equal(t, "2026-03", f.MadePrinted)
	assert.Equal(t, day(2026, 3, 1), f.MadeOn, "a month of manufacture means its first day")
	assert.Equal(t, "2027-06-30", f.EndPrinted)
	assert.Equal(t, day(2027, 6, 30), f.UsableThrough)
	assert.Equal(t, 10, f.Qty)
	assert.True(t, f.SeparatorSeen)
	assert.Empty(t, f.Warnings)
	assert.Equal(t, barcode.Element{AI: "10", Title: "BATCH/LOT", Value: "LOT-7A", Position: 37}, f.Ordered[3])
}

// TestFactsOfAShipment: on a logistic unit the facts are those of its content.
func TestFactsOfAShipment(t *testing.T) {
	f := parsed(t, "]C100952123456789012345"+"0209521234543213"+"3725\x1d10LOT7")
	assert.Equal(t, "09521234543213", f.ProductCode)
	assert.Equal(t, 25, f.Qty)
	assert.Equal(t, "LOT7", f.BatchNo)
	assert.Empty(t, f.Warnings)
}

// TestDates: General Specifications s.3.4 and s.7.12.
func TestDates(t *testing.T) {
	for _, tt := range []struct{ text, printed, through, best, made, time string }{
		{text: "17280200", printed: "2028-02", through: "2028-02-29"},
		{text: "17270200", printed: "2027-02", through: "2027-02-28"},
		{text: "17270430", printed: "2027-04-30", through: "2027-04-30"},
		{text: "15270400", best: "2027-04-30"},
		{text: "11270400", made: "2027-04-01"},
		{text: "11270430", made: "2027-04-30"},
		{text: "800827043007", made: "2027-04-30"},
		{text: "17761231", printed: "2076-12-31", through: "2076-12-31"},
		{text: "17770101", printed: "1977-01-01", through: "1977-01-01"},
		{text: "13270430"}, {text: "16270430"}, // packed, sell by: no facts
		{text: "70032706141530", printed: "2027-06-14", through: "2027-06-14", time: "2027-06-14T15:30"},
		{text: "1727061370032706141530", printed: "2027-06-13", through: "2027-06-13"},
		{text: "1727060070032706141530", printed: "2027-06-14", through: "2027-06-14", time: "2027-06-14T15:30"},
	} {
		t.Run(tt.text, func(t *testing.T) {
			f := parsed(t, "]d2"+tt.text)
			assert.Equal(t, tt.printed, f.EndPrinted)
			assert.Equal(t, tt.through, f.UsableThrough.String())
			assert.Equal(t, tt.best, f.BestBefore.String())
			assert.Equal(t, tt.made, f.MadeOn.String())
			assert.Equal(t, tt.time, f.EndTime)
		})
	}
}

func TestWarnings(t *testing.T) {
	for name, tt := range map[string]struct {
		text string
		want []barcode.WarningKind
	}{
		"complete":           {gtin + "17270630" + "10LOT7", nil},
		"date alone":         {"]C1" + "17270630", []barcode.WarningKind{barcode.Needs}},
		"lot and date alone": {"17270630" + "10LOT7", []barcode.WarningKind{barcode.Needs, barcode.Needs}},
		"count on a unit":    {gtin + "375", []barcode.WarningKind{barcode.Excludes, barcode.Needs}},
		"an hour":            {gtin + "70032706141530", []barcode.WarningKind{barcode.ClockTime}},
		"two ends": {gtin + "17270615" + "70032706141530", []barcode.WarningKind{barcode.ClockTime,
			barcode.TwoEnds}},
		"lot swallowed (17)":   {gtin + "10LOT717270630", []barcode.WarningKind{barcode.Swallowed}},
		"HIBC secondary alone": {"+$$52001510X3GD", []barcode.WarningKind{barcode.Needs}},
		"HIBC with an hour": {"+X999123ABC0/$$619135211234AB/S5678EDFG/16D20151001N",
			[]barcode.WarningKind{barcode.ClockTime}},
	} {
		t.Run(name, func(t *testing.T) {
			var got []barcode.WarningKind
			for _, w := range parsed(t, tt.text).Warnings {
				got = append(got, w.Kind)
				assert.NotEmpty(t, w.Text)
			}
			assert.Equal(t, tt.want, got)
		})
	}
}

// TestSwallowedLot: packs are sold whose lot is followed by further elements
// without a separator. The lot is shown as read, with the part in doubt.
func TestSwallowedLot(t *testing.T) {
	for name, tt := range map[string]struct{ text, lot, serial, suspect string }{
		"expiry":               {gtin + "10LOT717270630", "LOT717270630", "", "17270630"},
		"made, then variant":   {gtin + "17271231" + "10N4053724112201132002", "N4053724112201132002", "", "112201132002"},
		"into a serial":        {gtin + "21SN00117270630", "", "SN00117270630", "17270630"},
		"before a separator":   {gtin + "10LOT717270630\x1d21SN1", "LOT717270630", "SN1", "17270630"},
		"day 00":               {gtin + "10LOT717270600", "LOT717270600", "", "17270600"},
		"date known already":   {gtin + "17270630" + "10LOT717270630", "LOT717270630", "", ""},
		"no such date":         {gtin + "10LOT717271330", "LOT717271330", "", ""},
		"nothing before it":    {gtin + "1017270630", "17270630", "", ""},
		"no element after it":  {gtin + "10LOT717270630X", "LOT717270630X", "", ""},
		"an ordinary long lot": {gtin + "10AB-2026-0001-77812", "AB-2026-0001-77812", "", ""},
	} {
		t.Run(name, func(t *testing.T) {
			f := parsed(t, tt.text)
			assert.Equal(t, tt.lot, f.BatchNo)
			assert.Equal(t, tt.serial, f.Serial)
			suspect := ""
			for _, w := range f.Warnings {
				if w.Kind == barcode.Swallowed {
					suspect = w.Suspect
					assert.True(t, strings.HasPrefix(tt.text[w.Position:], suspect))
				}
			}
			assert.Equal(t, tt.suspect, suspect)
		})
	}
}

// TestDigitsAlone: digits without a symbology identifier may be a GTIN or one
// element; where both read, it says so.
func TestDigitsAlone(t *testing.T) {
	for text, want := range map[string]struct {
		ai, value string
		doubtful  bool
	}{
		"95200002":       {"01", "00000095200002", false},
		"952000000019":   {"01", "00952000000019", false},
		"9521234543213":  {"01", "09521234543213", false}, // (95) would tell nothing
		"09521234543213": {"01", "09521234543213", false}, // (09) does not exist
		"17270630":       {"17", "270630", false},
		"17100526":       {"17", "100526", true},
		"10123456":       {"10", "123456", true}, // no GTIN: check digit
		"10123454":       {"01", "00000010123454", true},
	} {
		t.Run(text, func(t *testing.T) {
			f := parsed(t, text)
			assert.Equal(t, want.value, f.Elements[want.ai])
			doubtful := false
			for _, w := range f.Warnings {
				doubtful = doubtful || w.Kind == barcode.Ambiguous
			}
			assert.Equal(t, want.doubtful, doubtful, "%v", f.Warnings)
		})
	}
}

func TestSeparatorSeen(t *testing.T) {
	assert.False(t, parsed(t, gtin+"10LOT7").SeparatorSeen)
	assert.True(t, parsed(t, gtin+"10LOT7\x1d21S").SeparatorSeen)
	assert.True(t, parsed(t, "\x1d"+gtin+"10LOT7").SeparatorSeen)
	assert.False(t, parsed(t, "https://example.com/01/09521234543213/10/LOT7").SeparatorSeen)
}

// TestLineEnds: a scanner's Enter is no data; a blank may be a check
// character.
func TestLineEnds(t *testing.T) {
	assert.Equal(t, "LOT7", parsed(t, gtin+"10LOT7\r\n").BatchNo)
	assert.Equal(t, " ", parsed(t, "+$$52001510X3+ \n").Elements["check"])
}

func TestTodayIsNeeded(t *testing.T) {
	for _, d := range []barcode.Date{{}, {Year: 2026}, {Year: 2026, Month: 2, Day: 29}, {Year: 2026, Month: 13, Day: 1}} {
		_, err := barcode.Parse(gtin, d)
		assert.Error(t, err, d)
	}
}
