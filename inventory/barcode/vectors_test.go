package barcode_test

import (
	"encoding/json"
	"errors"
	"os"
	"path/filepath"
	"strconv"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stowkeeper/inventory/barcode"
)

// theDay is the day of vectors that state none; no answer of those depends on
// it.
var theDay = barcode.Date{Year: 2026, Month: 11, Day: 25}

// gs1Vector is a row of gs1-vectors.json. Each names its source.
type gs1Vector struct {
	ID, Form, Rule, Input, Today, Source string
	AIsIfLenient                         map[string]string `json:"ais_if_lenient"`
	Expect                               struct {
		Error       string
		AIs         map[string]string
		Expiry      string
		Made        string
		BestBefore  string `json:"best_before"`
		ExpiryTime  string `json:"expiry_time"`
		Description string
	}
}

func TestGS1Vectors(t *testing.T) {
	vectors := readVectors[gs1Vector](t, "gs1-vectors.json")
	require.Len(t, vectors, 129)
	for _, v := range vectors {
		t.Run(v.ID+" "+v.Rule, func(t *testing.T) {
			facts, err := barcode.Parse(v.Input, dayOf(t, v.Today))
			switch {
			case v.Rule == "pairing":
				checkPairing(t, v, facts, err)
			case v.Expect.Error != "":
				checkRefusal(t, v.Input, err)
			default:
				require.NoError(t, err)
				checkGS1Facts(t, v, facts)
			}
		})
	}
}

// checkPairing: the vectors of rule "pairing" expect a refusal from a checker
// with mandatory associations switched on. Parse reads the symbol and warns,
// since the missing identifiers may stand on the pack's other symbol; the
// typed warnings are the refusal.
func checkPairing(t *testing.T, v gs1Vector, facts barcode.Facts, err error) {
	require.NoError(t, err)
	refused := false
	for _, w := range facts.Warnings {
		refused = refused || w.Pairing()
	}
	assert.Equal(t, v.Expect.Error != "", refused, "warnings %v", facts.Warnings)
	if v.Expect.Error == "" {
		checkGS1Facts(t, v, facts)
	}
	if v.AIsIfLenient != nil {
		assert.Equal(t, v.AIsIfLenient, facts.Elements)
	}
}

func checkGS1Facts(t *testing.T, v gs1Vector, f barcode.Facts) {
	want := v.Expect
	assert.Equal(t, want.AIs, f.Elements)
	assert.Equal(t, want.Expiry, f.UsableThrough.String())
	assert.Equal(t, want.BestBefore, f.BestBefore.String())
	assert.Equal(t, want.ExpiryTime, f.EndTime)
	if want.Made != "" {
		assert.Equal(t, want.Made, f.MadeOn.String())
	}
	assert.Equal(t, want.AIs["10"], f.BatchNo)
	assert.Equal(t, want.AIs["21"], f.Serial)
	scheme := barcode.GS1
	if v.Form == "digital-link" {
		scheme = barcode.DigitalLink
	}
	assert.Equal(t, scheme, f.Scheme)
}

// hibcVector is a row of hibc-vectors.json.
type hibcVector struct {
	ID, Input, Source string
	Expect            struct {
		Error           string
		Lic, Pcn        string
		UoM             *int
		Check, Link     string
		Lot, Serial     string
		Qty             int
		Made            string
		Expiry          string
		ExpiryPrecision string `json:"expiry_precision"`
		ExpiryTime      string `json:"expiry_time"`
	}
}

func TestHIBCVectors(t *testing.T) {
	vectors := readVectors[hibcVector](t, "hibc-vectors.json")
	require.Len(t, vectors, 44)
	for _, v := range vectors {
		t.Run(v.ID, func(t *testing.T) {
			facts, err := barcode.Parse(v.Input, theDay)
			if v.Expect.Error != "" {
				checkRefusal(t, v.Input, err)
				return
			}
			require.NoError(t, err)
			checkHIBCFacts(t, v, facts)
		})
	}
}

func checkHIBCFacts(t *testing.T, v hibcVector, f barcode.Facts) {
	want := v.Expect
	assert.Equal(t, barcode.HIBC, f.Scheme)
	uom := ""
	if want.UoM != nil {
		uom = strconv.Itoa(*want.UoM)
	}
	assert.Equal(t, want.Lic, f.Elements["lic"])
	assert.Equal(t, want.Pcn, f.Elements["pcn"])
	assert.Equal(t, uom, f.Elements["uom"])
	assert.Equal(t, want.Lic+want.Pcn+uom, f.ProductCode)
	assert.Equal(t, want.Check, f.Elements["check"])
	assert.Equal(t, want.Link, f.Elements["link"])
	assert.Equal(t, want.Lot, f.BatchNo)
	assert.Equal(t, want.Serial, f.Serial)
	assert.Equal(t, want.Qty, f.Qty)
	assert.Equal(t, want.Made, f.MadeOn.String())
	assert.Equal(t, want.Expiry, f.UsableThrough.String())
	assert.Equal(t, want.ExpiryTime, f.EndTime)
	printed := want.Expiry
	if want.ExpiryPrecision == "month" {
		printed = want.Expiry[:len("2027-06")]
	}
	assert.Equal(t, printed, f.EndPrinted)
}

// checkRefusal: an *Error with a reason and a position inside the text.
func checkRefusal(t *testing.T, input string, err error) {
	t.Helper()
	var refused *barcode.Error
	require.True(t, errors.As(err, &refused), "accepted or another error: %v", err)
	assert.NotEmpty(t, refused.Reason)
	assert.GreaterOrEqual(t, refused.Position, 0)
	assert.LessOrEqual(t, refused.Position, len(input))
	t.Logf("%q: %v", input, err)
}

func readVectors[T any](t testing.TB, file string) []T {
	t.Helper()
	raw, err := os.ReadFile(filepath.Join("..", "..", "testdata", "barcodes", file))
	require.NoError(t, err)
	var vectors []T
	require.NoError(t, json.Unmarshal(raw, &vectors))
	return vectors
}

func dayOf(t testing.TB, s string) barcode.Date {
	t.Helper()
	if s == "" {
		return theDay
	}
	d, err := time.Parse(time.DateOnly, s)
	require.NoError(t, err)
	return barcode.Date{Year: d.Year(), Month: int(d.Month()), Day: d.Day()}
}
