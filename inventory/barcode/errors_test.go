package barcode_test

import (
	"errors"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stowkeeper/inventory/barcode"
)

// TestRefusals: what is wrong, and where. Positions are byte offsets.
func TestRefusals(t *testing.T) {
	for _, tt := range []struct {
		text     string
		position int
		ai       string
		reason   string // part of it
	}{
		{"", 0, "", "no data"},
		{"\r\n", 0, "", "no data"},
		{"\x1d", 1, "", "no data"},
		{strings.Repeat("2000", 1801), 7200, "", "too long"},
		{"]d", 2, "", "too short"},
		{"]d9" + gtin, 0, "", "unknown symbology"},
		{"]d2", 3, "", "no data"},
		{"]d2\x1d", 4, "", "no data"},
		{"]E09521234543210", 15, "01", "wrong check digit"},
		{"]E4952000027", 11, "01", "too long"},
		{"]I1952A", 6, "01", "character not allowed"},
		{"]C0" + gtin, 3, "", "not a GS1, HIBC or Digital Link code"},
		{"=A9999", 0, "", "not supported"},
		{"]d1&)0", 3, "", "not supported"},

		{gtin + "17271301", 20, "17", "no such day"},
		{gtin + "17270231", 22, "17", "no such day"},
		{gtin + "17270229", 22, "17", "no such day"},
		{gtin + "172706", 22, "17", "too short"},
		{gtin + "10", 18, "10", "no data"},
		{gtin + "10LOT 7", 21, "10", "character not allowed"},
		{gtin + "10LOT7\x1d\x1d21S", 23, "", "application identifier expected"},
		{gtin + "10LOT7\x1d8899", 23, "", "no such application identifier"},
		{gtin + "10AAAAABBBBBCCCCCDDDDDE", 38, "10", "a separator may be missing after it"},
		{gtin + "3012\x1d3013", 23, "30", "there twice"},
		{"70032706141560", 12, "7003", "no such time"},
		{"70032706142460", 10, "7003", "no such time"},
		{"70032706001530", 8, "7003", "no such day"},
		{"]d27250952", 7, "7250", "identifies a patient"},
		{"]d28018952123456789012345", 7, "8018", "identifies a patient"},

		{"(01)09521234543213(17)270231", 26, "17", "no such day"},
		{"(01)09521234543213(10)A\\(B C", 26, "10", "character not allowed"},
		{"(01)09521234543213(10)A(B)", 24, "", "no such application identifier"},
		{"(01)09521234543213(10", 18, "", "not closed"},
		{"(01)09521234543213(10)AAAAABBBBBCCCCCDDDDDE", 42, "10", "too long"},

		{"hTTps://example.com/01/09521234543213", 0, "", "a web address begins with http or https"},
		{"https:///01/09521234543213", 8, "", "no host"},
		{"https://example.com", 19, "", "no GS1 key"},
		{"https://example.com/b/KD7-442", 19, "", "no GS1 key"},
		{"https://example.com/01/09521234543213/", 37, "", "character not allowed"},
		{"https://example.com/01/9521234543213", 36, "01", "too short"},
		{"https://example.com/01/09521234543213/21/S/10/L", 43, "10", "wrong order in the path"},
		{"https://example.com/01/09521234543213/10/A%2", 42, "10", "character not allowed"},
		{"https://example.com/01/09521234543213/10/A%5BB", 42, "10", "character not allowed"},
		{"https://example.com/01/09521234543213/10/A B", 42, "", "character not allowed"},
		{"https://example.com/01/09521234543213?17=270231", 45, "17", "no such day"},
		{"https://example.com/01/09521234543213?17=", 41, "17", "no data"},
		{"https://example.com/01/09521234543213?=1", 38, "", "no such application"},
		{"https://example.com/01/09521234543213?21=S", 38, "21", "in the path"},
		{"https://example.com/01/09521234543213?17=270630&17=270630", 48, "17", "twice"},
		{"https://example.com/01/09521234543213?8888=1", 38, "", "no such application"},
		{"https://example.com/01/09521234543213?30=1+2", 42, "30", "character not allowed"},

		{"+A", 2, "", "too short"},
		{"+a123BJC5D6E71G", 1, "", "full ASCII"},
		{hibc("+A1231"), 6, "", "too short"},
		{hibc("+A123-51"), 5, "", "character not allowed"},
		{hibc("+A99912345/$$8"), 14, "qty", "too short"},
		{hibc("+A99912345/$$9123A5"), 17, "qty", "character not allowed"},
		{hibc("+A99912345/$$"), 13, "end", "wrong date format"},
		{hibc("+A99912345/$$X"), 13, "end", "wrong date format"},
		{hibc("+A99912345/$$1327"), 13, "end", "no such day"},
		{hibc("+A99912345/$$2023027L"), 16, "end", "no such day"},
		{hibc("+A99912345/$$32702291"), 18, "end", "no such day"},
		{hibc("+A99912345/$$427022824L"), 20, "end", "no such time"},
		{hibc("+A99912345/$$527366L"), 16, "end", "no such day"},
		{hibc("+A99912345/$$527000L"), 16, "end", "no such day"},
		{hibc("+A99912345/$$7"), 14, "lot", "no data"},
		{hibc("+A99912345/$L/14D20270100"), 23, "14D", "no such day"},
		{hibc("+A99912345/$L/14D202701011"), 25, "14D", "too long"},
		{hibc("+A99912345/$L/14D00000101"), 17, "14D", "no such day"},
		{hibc("+A99912345/$L/Z9"), 14, "", "unknown part after the slash"},
		{hibc("+A99912345/$L/Q123456"), 20, "Q", "too long"},
		{hibc("+A99912345/$L/Q"), 15, "Q", "too short"},
		{hibc("+A99912345/$$0627L/14D20270701"), 22, "14D", "twice"},
		{hibc("+A99912345/$+S1/SS2"), 17, "S", "twice"},
		{hibc("+A99912345/$L/16D20260101/16D20260102"), 29, "16D", "twice"},
		{hibc("+A99912345/$$810/Q11"), 18, "Q", "twice"},
		{hibc("+A99912345/$L//S1"), 14, "", "unknown part after the slash"},
	} {
		t.Run(tt.text[:min(len(tt.text), 60)], func(t *testing.T) {
			_, err := barcode.Parse(tt.text, theDay)
			var refused *barcode.Error
			require.True(t, errors.As(err, &refused), "accepted")
			assert.Contains(t, refused.Reason.String(), tt.reason)
			assert.Equal(t, tt.position, refused.Position, refused.Reason.String())
			assert.Equal(t, tt.ai, refused.AI, refused.Reason.String())
		})
	}
}

// TestErrorsDoNotEcho: a refused text may be a person's name from a wristband
// or a password typed into the wrong field; no message repeats it.
func TestErrorsDoNotEcho(t *testing.T) {
	const secret = "Qx7KzW9vJ"
	for _, text := range []string{
		secret, "+" + secret, "]zz" + secret, "(" + secret + ")", "(10)" + secret + " ",
		"(" + secret, "10" + secret + "~", "17" + secret, "7250" + secret, "]E0" + secret,
		"https://" + secret, "https://example.com/" + secret, "https://example.com/01/" + secret,
		"https://example.com/01/09521234543213/10/" + secret + secret + secret,
		"https://example.com/01/09521234543213?17=" + secret, hibc("+A99912345/$$" + "QXKZW"),
	} {
		_, err := barcode.Parse(text, theDay)
		require.Error(t, err, text)
		assert.NotContains(t, err.Error(), secret)
		assert.NotContains(t, err.Error(), secret[:4])
		assert.NotContains(t, err.Error(), "QXKZW")
	}
}

func TestErrorText(t *testing.T) {
	_, err := barcode.Parse(gtin+"17271301", theDay)
	assert.EqualError(t, err, "position 20, (17): no such day")
	_, err = barcode.Parse("]zz1", theDay)
	assert.EqualError(t, err, "position 0: unknown symbology identifier")
}

// TestValueChecks: for each check of the dictionary, a value that passes and
// values that do not, constructed from the rule that the check states.
func TestValueChecks(t *testing.T) {
	const item = "09521234543213"
	for ai, tt := range map[string]struct {
		good []string
		bad  []string
	}{
		"01":   {[]string{item}, []string{"09521234543212", "0952123454321", "095212345432130"}},
		"401":  {[]string{"952ABC"}, []string{"9", "9A", "ABC"}},
		"4307": {[]string{"DE", "ZW"}, []string{"de", "XX", "D"}},
		"4309": {[]string{"18000000003600000000"}, []string{"18000000013600000000", "18000000003600000001", "1800000000"}},
		"4300": {[]string{"A%20B", "%2b"}, []string{"A%2", "A%", "%GG"}},
		"4321": {[]string{"0", "1"}, []string{"2", "10"}},
		"4324": {[]string{"2706142359", "2706002359"}, []string{"2706142400", "2706142360", "2713142300"}},
		"4330": {[]string{"003700", "003700-"}, []string{"003700+", "00370"}},
		"7007": {[]string{"270614", "270614270615"}, []string{"270600", "2706142", "270614270632"}},
		"7030": {[]string{"999A", "276A"}, []string{"000A", "999"}},
		"7040": {[]string{"1AB_", "1AB-", "1ABz"}, []string{"1AB*", "1AB", "AAB1"}},
		"7241": {[]string{"01", "10", "80", "99"}, []string{"00", "11", "79"}},
		"8001": {[]string{"0001000010019" + "0"}, []string{"00000000100190", "00010000000190", "00010000100090",
			"00010000100120"}},
		"8003": {[]string{"0" + item[1:], "0" + item[1:] + "A1"}, []string{"1" + item[1:], "0" + item[1:13]}},
		"8006": {[]string{item + "0102", item + "0202"}, []string{item + "0002", item + "0100", item + "0302"}},
		"8007": {[]string{"GB82WEST12345698765432"}, []string{"GB82WEST12345698765433", "GB82", "GB82west12345698765432",
			"XX82WEST12345698765432"}},
		"8008": {[]string{"27061423", "2706142359", "270614235959"}, []string{"27061424", "2706142360", "270614235960",
			"27061423595", "27060023"}},
		"8010": {[]string{"952#-/A"}, []string{"952a", "A52"}},
		"8011": {[]string{"0", "12"}, []string{"012"}},
		"8013": {[]string{"1987654Ad4X4bL5ttr2310c2K"}, []string{"1987654Ad4X4bL5ttr2310c2L", "1",
			"A987654Ad4X4bL5ttr2310c2K"}},
		"8030": {[]string{"AB_-", "AB=", "AB=="}, []string{"A=B", "A===", "=", "A+B"}},
		"8043": {[]string{"895212345678901234", "89521234567890123456"}, []string{"8952123456789012345678"}},
		"3910": {[]string{"978100"}, []string{"000100", "978"}},
		"423":  {[]string{"276", "276616"}, []string{"27661", "276000", "276276276276276276"}},
	} {
		for _, v := range tt.good {
			facts, err := barcode.Parse("]d2"+ai+v, theDay)
			if assert.NoError(t, err, "(%s)%s", ai, v) {
				assert.Equal(t, v, facts.Elements[ai])
			}
		}
		for _, v := range tt.bad {
			_, err := barcode.Parse("("+ai+")"+v, theDay)
			assert.Error(t, err, "(%s)%s", ai, v)
		}
	}
}
