package barcode

import (
	"net/url"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// FuzzParse: whatever the text, Parse returns; the same text gives the same
// answer; a refusal points into the text; and no fact is invented: each is
// found in the text, and what was accepted composes to the same facts again.
func FuzzParse(f *testing.F) {
	for _, seed := range []string{
		"", "]d2", "0109521234543213", "9521234543213", "]E09521234543213", "]E0952123454321",
		"]d2010952123454321311260300172706301\x1d0LOT-7A\x1d21SN0042\x1d3010",
		"\x1d0109521234543213" + "10LOT717270630", "(01)09521234543213(10)A\\(B(17)270600",
		"https://example.com/01/09521234543213/10/LOT%2F7/21/S1?17=270630&x=1#f",
		"HTTPS://EXAMPLE.COM/00/952123456789012341?02=09521234543213&37=25",
		"https://example.com/01/09521234543213/235/T1?10=L1", "http://a/8003/00952123454321A+B",
		"+A99912345/$$52001510X3/16D20111212/S77DEFG457", "+$$+605271200001LX",
		"]d1+A99912349/$10X3/16D20111231/14D20200131/Q500Z", "+$$52001510X3+ ",
		"70032706141530", "7040123A", "8007GB82WEST12345698765432", "80131987654Ad4X4bL5ttr2310c2K",
		"0095212345678901234102095212345432133710", "=A9999", "+/EO5232013", "17270600\r\n",
	} {
		f.Add(seed, 2026, 11, 25)
	}
	f.Add("17490526", 2099, 12, 31)
	f.Add("17270630", 0, 0, 0)
	f.Fuzz(func(t *testing.T, text string, year, month, day int) {
		today := Date{year, month, day}
		facts, err := Parse(text, today)
		again, errAgain := Parse(text, today)
		require.Equal(t, facts, again)
		require.Equal(t, err, errAgain)
		if err != nil {
			checkError(t, text, err)
			require.Equal(t, Facts{}, facts)
			return
		}
		checkNothingInvented(t, text, facts, today)
		if facts.Scheme == HIBC {
			checkLabel(t, text, facts)
		} else {
			checkRecomposed(t, facts, today)
		}
	})
}

func checkError(t *testing.T, text string, err error) {
	refused, ok := err.(*Error)
	require.True(t, ok)
	require.NotEmpty(t, refused.Reason)
	require.GreaterOrEqual(t, refused.Position, 0)
	require.LessOrEqual(t, refused.Position, len(text))
}

// checkNothingInvented: each element stands at its position, and each fact
// comes from an element.
func checkNothingInvented(t *testing.T, text string, f Facts, today Date) {
	require.NotEmpty(t, f.Ordered)
	for _, e := range f.Ordered {
		require.Equal(t, e.Value, f.Elements[e.AI])
		require.NotEmpty(t, e.Value)
		require.NotEmpty(t, e.Title)
		require.True(t, standsAt(text, e, f.Scheme), "%q %v", text, e)
	}
	require.LessOrEqual(t, len(f.Elements), len(f.Ordered))
	checkFact(t, f, f.ProductCode, "01", "02", "03", "lic")
	checkFact(t, f, f.BatchNo, "10", "lot")
	checkFact(t, f, f.Serial, "21", "serial", "S")
	checkFact(t, f, f.MadePrinted, "11", "8008", "16D")
	checkFact(t, f, f.EndPrinted, "17", "7003", "end", "14D")
	checkFact(t, f, f.BestBefore.String(), "15")
	require.Equal(t, f.EndPrinted == "", f.UsableThrough.IsZero())
	require.Equal(t, f.MadePrinted == "", f.MadeOn.IsZero())
	require.True(t, strings.HasPrefix(f.UsableThrough.String(), f.EndPrinted))
	require.True(t, strings.HasPrefix(f.MadeOn.String(), f.MadePrinted))
	require.True(t, strings.HasPrefix(f.EndTime, f.EndPrinted) || f.EndTime == "")
	for _, d := range []Date{f.MadeOn, f.UsableThrough, f.BestBefore} {
		require.True(t, d.IsZero() || d.Valid() || today.Year < 100, "%v", d)
	}
	require.GreaterOrEqual(t, f.Qty, 0)
	require.Equal(t, strings.Contains(text, "\x1d"), f.SeparatorSeen)
	for _, w := range f.Warnings {
		require.NotEmpty(t, w.Kind)
		require.LessOrEqual(t, w.Position, len(text))
		require.True(t, w.Suspect == "" || strings.HasSuffix(f.BatchNo, w.Suspect) || strings.HasSuffix(f.Serial, w.Suspect))
	}
}

// standsAt tells whether the element's value is in the text at its position,
// as the form of the text writes it.
func standsAt(text string, e Element, scheme Scheme) bool {
	rest := text[e.Position:]
	if scheme == DigitalLink {
		end, unescape := "/?#", url.PathUnescape
		if strings.Contains(text[:e.Position], "?") {
			end, unescape = "&#", url.QueryUnescape
		}
		if i := strings.IndexAny(rest, end); i >= 0 {
			rest = rest[:i]
		}
		plain, err := unescape(strings.TrimRight(rest, "\r\n"))
		return err == nil && plain == e.Value
	}
	if text[0] == '(' {
		rest = strings.ReplaceAll(rest, `\(`, "(")
	}
	if e.AI == "01" && !strings.HasPrefix(rest, e.Value) { // a plain GTIN, filled up
		gtin := strings.TrimRight(rest, "\r\n")
		return gtinLength(len(gtin)) && strings.Repeat("0", 14-len(gtin))+gtin == e.Value
	}
	return strings.HasPrefix(rest, e.Value)
}

// checkFact: a fact that is there has one of the elements to come from.
func checkFact(t *testing.T, f Facts, fact string, ais ...string) {
	if fact != "" {
		require.NotEmpty(t, f.firstOf(ais...), "from nowhere: %q", fact)
	}
}

// checkRecomposed: the elements, written as a scanner would send them, give
// the same facts.
func checkRecomposed(t *testing.T, f Facts, today Date) {
	var all []pair
	for _, e := range f.Ordered {
		all = append(all, pair{e.AI, e.Value})
	}
	again, err := Parse("]d2"+scanned(all), today)
	require.NoError(t, err, "%v", all)
	again.Scheme = f.Scheme
	again.Warnings, f.Warnings = nil, nil // of the form, and of ambiguity
	require.Equal(t, comparable(f), comparable(again))
}

// checkLabel: the fields account for the label, character by character, but
// for its flags; and GS1 has no part in it.
func checkLabel(t *testing.T, text string, f Facts) {
	length := 0
	for _, e := range f.Ordered {
		length += len(e.Value)
		assert.Contains(t, HIBCFields, e.AI)
	}
	flags := strings.Count(text, "/")*4 + len("]d1+$$+83")
	require.LessOrEqual(t, length, len(text))
	require.GreaterOrEqual(t, length+flags, len(strings.TrimRight(text, "\r\n")))
	require.Equal(t, f.ProductCode, f.Elements["lic"]+f.Elements["pcn"]+f.Elements["uom"])
	require.True(t, f.BestBefore.IsZero())
}
