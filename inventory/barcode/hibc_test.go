package barcode_test

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"stowkeeper/inventory/barcode"
)

// hibc appends the check character of ANSI/HIBC 2.6 appendix B, computed here
// on its own from the table of values.
func hibc(s string) string {
	const values = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ-. $/+%"
	sum := 0
	for _, c := range s {
		sum += strings.IndexRune(values, c)
	}
	return s + values[sum%43:sum%43+1]
}

// TestHIBCDates: every day of twenty years in each form, against the calendar
// of package time.
func TestHIBCDates(t *testing.T) {
	start := time.Date(2019, 1, 1, 0, 0, 0, 0, time.UTC)
	for d := start; d.Year() < 2039; d = d.AddDate(0, 0, 1) {
		julian := fmt.Sprintf("%s%03d", d.Format("06"), d.YearDay())
		for flag, form := range map[string]string{
			"$$2": d.Format("010206"), "$$3": d.Format("060102"), "$$4": d.Format("060102") + "17",
			"$$5": julian, "$$6": julian + "09", "": julian, "$L/14D": d.Format("20060102"),
			"$$" + d.Format("0106") + "L/14D": d.Format("20060102"),
		} {
			f, err := barcode.Parse(hibc("+A99912345/"+flag+form), theDay)
			require.NoError(t, err, flag+form)
			require.Equal(t, d.Format(time.DateOnly), f.EndPrinted, flag+form)
			require.Equal(t, d.Format(time.DateOnly), f.UsableThrough.String(), flag+form)
		}
		f, err := barcode.Parse(hibc("+A99912345/$$"+d.Format("0106")), theDay)
		require.NoError(t, err)
		last := time.Date(d.Year(), d.Month()+1, 0, 0, 0, 0, 0, time.UTC)
		require.Equal(t, d.Format("2006-01"), f.EndPrinted)
		require.Equal(t, last.Format(time.DateOnly), f.UsableThrough.String())
	}
}

// TestGS1DatesAgainstCalendar: every YYMMDD with day 00 to 32, against the
// calendar of package time.
func TestGS1DatesAgainstCalendar(t *testing.T) {
	for yy := range 100 {
		year := 2000 + yy
		if yy > 76 {
			year = 1900 + yy // theDay is in 2026
		}
		for month := range 14 {
			for dd := range 33 {
				text := fmt.Sprintf("]d217%02d%02d%02d", yy, month, dd)
				real := time.Date(year, time.Month(month), dd, 0, 0, 0, 0, time.UTC)
				if dd == 0 {
					real = time.Date(year, time.Month(month)+1, 0, 0, 0, 0, 0, time.UTC)
				}
				exists := month >= 1 && month <= 12 && real.Month() == time.Month(month)
				f, err := barcode.Parse(text, theDay)
				require.Equal(t, exists, err == nil, text)
				if exists {
					require.Equal(t, real.Format(time.DateOnly), f.UsableThrough.String(), text)
				}
			}
		}
	}
}

func TestHIBCQuantities(t *testing.T) {
	for body, want := range map[string]struct {
		qty      int
		lot, end string
	}{
		"$$824":                {24, "", ""},
		"$$8247L1":             {24, "L1", ""},
		"$$8240627L1":          {24, "L1", "2027-06"},
		"$$900024527001L1":     {24, "L1", "2027-01-01"},
		"$$+8247S1":            {24, "", ""},
		"$L1/Q24":              {24, "L1", ""},
		"$$824/Q24":            {24, "", ""},
		"Q24":                  {24, "", ""},
		"14D20270101/Q00024":   {24, "", "2027-01-01"},
		"$$0627L1/14D20270615": {0, "L1", "2027-06-15"},
	} {
		f := parsed(t, hibc("+A99912345/"+body))
		assert.Equal(t, want.qty, f.Qty, body)
		assert.Equal(t, want.lot, f.BatchNo, body)
		assert.Equal(t, want.end, f.EndPrinted, body)
	}
}

// TestHIBCRoundTrip composes combined labels and reads them back.
func TestHIBCRoundTrip(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		code := rapid.StringMatching(`[A-Z][A-Z0-9]{3}[A-Z0-9]{1,18}[0-9]`).Draw(t, "code")
		lot := rapid.StringMatching(`[A-Z0-9.-]{1,18}`).Draw(t, "lot")
		serial := rapid.StringMatching(`[A-Z0-9.-]{1,18}`).Draw(t, "serial")
		qty := rapid.IntRange(1, 99999).Draw(t, "qty")
		text := hibc(fmt.Sprintf("+%s/$$3270630%s/S%s/16D20260301/Q%d", code, lot, serial, qty))
		f, err := barcode.Parse(text, theDay)
		require.NoError(t, err, text)
		assert.Equal(t, code, f.ProductCode)
		assert.Equal(t, lot, f.BatchNo)
		assert.Equal(t, serial, f.Serial)
		assert.Equal(t, qty, f.Qty)
		assert.Equal(t, "2027-06-30", f.EndPrinted)
		assert.Equal(t, day(2026, 3, 1), f.MadeOn)
		for _, e := range f.Ordered {
			assert.True(t, strings.HasPrefix(text[e.Position:], e.Value), e.AI)
			assert.Contains(t, barcode.HIBCFields, e.AI)
		}
	})
}

// TestHIBCAnyChangeIsNoticed: modulo 43 finds every single changed character.
func TestHIBCAnyChangeIsNoticed(t *testing.T) {
	const label = "+A99912345/$$52001510X33" // ANSI/HIBC 2.6 s.2.2.1.1
	for i := 1; i < len(label); i++ {
		for _, c := range "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ-. $/+%" {
			changed := label[:i] + string(c) + label[i+1:]
			_, err := barcode.Parse(changed, theDay)
			assert.Equal(t, changed == label, err == nil, changed)
		}
	}
}
