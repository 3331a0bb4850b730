package labels

import (
	"bytes"
	"io"
	"math"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func sheet(t testing.TB, name string) Sheet {
	t.Helper()
	s, err := SheetByName(name)
	require.NoError(t, err)
	return s
}

func TestPlanReportsWhatCanBeRead(t *testing.T) {
	r, err := Plan(sheet(t, "a4-3x7"), everyKind(1)[:1], Options{})
	require.NoError(t, err)
	require.Len(t, r.Fits, 1)
	f := r.Fits[0]
	assert.Equal(t, Fit{Mode: Alphanumeric, Version: 3, Level: H, Modules: 29,
		ModuleMM: f.ModuleMM, SideMM: f.SideMM, DistanceCM: 27}, f)
	assert.InDelta(t, 34.1/37, r.ModuleMM, 1e-9) // label less 2 mm each way, 29 modules and 8 of quiet zone
	assert.Equal(t, 27, r.DistanceCM)
	assert.Empty(t, r.Warnings)
	assert.Equal(t, 1, r.Pages)
}

func TestPlanTakesTheWorstOfTheSheet(t *testing.T) {
	long := Bag{Code: "KD7-442", Address: Address("https://stock.the-county-of-riverside.example", "KD7-442")}
	r, err := Plan(sheet(t, "a4-3x7"), []Label{everyKind(1)[0], long}, Options{})
	require.NoError(t, err)
	assert.Equal(t, min(r.Fits[0].ModuleMM, r.Fits[1].ModuleMM), r.ModuleMM)
	assert.Equal(t, min(r.Fits[0].DistanceCM, r.Fits[1].DistanceCM), r.DistanceCM)
	assert.Less(t, r.Fits[1].ModuleMM, r.Fits[0].ModuleMM)
}

func TestPagesCountFromTheStartPosition(t *testing.T) {
	s := sheet(t, "a4-3x7")
	list := thousand(false)
	for _, c := range []struct{ labels, start, pages int }{
		{1, 0, 1}, {21, 1, 1}, {22, 1, 2}, {1, 21, 1}, {2, 21, 2}, {1000, 8, 48},
	} {
		r, err := Plan(s, list[:c.labels], Options{Start: c.start})
		require.NoError(t, err)
		assert.Equal(t, c.pages, r.Pages, "%+v", c)
	}
}

// A combination that cannot be read is refused with the reason and the nearest
// that can, on the same paper when there is one.
func TestRefusedWithReasonAndNearest(t *testing.T) {
	long := "https://example.org/" + strings.Repeat("k", 90)
	good := everyKind(1)[0]
	bad := Bag{Code: "KD7-442", Address: Address(long, "KD7-442")}
	_, err := Plan(sheet(t, "letter-3x10"), []Label{good, bad}, Options{})
	var refused *RefusedError
	require.ErrorAs(t, err, &refused)
	assert.Equal(t, 2, refused.Label)
	assert.Contains(t, refused.Reason.String(), "at least 0.50 mm")
	assert.Equal(t, "use sheet letter-2x5 (101.6 × 50.8 mm)", refused.Nearest.String())
	_, err = Plan(sheet(t, "letter-2x5"), []Label{bad}, Options{})
	assert.NoError(t, err, "the nearest one can")
	assert.True(t, strings.HasPrefix(refused.Error(), "label 2: QR code too dense: 0.44 mm"))
}

func TestRefusedEverywhere(t *testing.T) {
	bad := Bag{Code: "KD7-442", Address: "https://example.org/" + strings.Repeat("k", 5000)}
	_, err := Plan(sheet(t, "a4-1x1"), []Label{bad}, Options{})
	assert.ErrorContains(t, err, "no sheet can; use a shorter base URL")
}

func TestTooLongCodeIsRefusedNotShortened(t *testing.T) {
	bag := everyKind(1)[0].(Bag)
	bag.Code = strings.Repeat("W", 24)
	_, err := Plan(sheet(t, "a4-3x7"), []Label{bag}, Options{})
	assert.ErrorContains(t, err, "Code is too long for")
	assert.ErrorContains(t, err, "use sheet")
}

func TestContentsThatDoNotFitAreRefused(t *testing.T) {
	card := everyKind(1)[1].(Card)
	for range 40 {
		card.Contents = append(card.Contents, CardLine{Item: "Dressing, small"})
	}
	_, err := Plan(sheet(t, "a4-3x7"), []Label{card}, Options{})
	assert.ErrorContains(t, err, "43 lines do not fit at 6 pt")
	assert.ErrorContains(t, err, "use sheet a4-")
}

func TestWarnings(t *testing.T) {
	list := []Label{
		everyKind(1)[0],
		Bag{Code: "KD7-443", Name: "Bag 一", Address: Address("https://kit.example.org", "KD7-443")},
		Bag{Code: "KD7-444", Name: strings.Repeat("Response bag of the station ", 12) + "North 2",
			Address: Address("https://kit.example.org", "KD7-444")},
	}
	r, err := Plan(sheet(t, "a4-3x7"), list, Options{})
	require.NoError(t, err)
	require.Len(t, r.Warnings, 2)
	assert.Equal(t, "label 2: Name: cannot print U+4E00", r.Warnings[0].String())
	assert.Equal(t, "label 3: Name: shortened to fit", r.Warnings[1].String())
}

func TestOptionsAndFieldsAreChecked(t *testing.T) {
	s := sheet(t, "a4-3x7")
	one := everyKind(1)[:1]
	for field, opt := range map[string]Options{
		"start": {Start: 22}, "offset_x": {OffsetX: 5.1}, "offset_y": {OffsetY: math.NaN()},
	} {
		var wrong *FieldError
		_, err := WritePDF(io.Discard, s, one, opt)
		require.ErrorAs(t, err, &wrong)
		assert.Equal(t, field, wrong.Field)
	}
	for field, l := range map[string]Label{
		"Code":              Bag{Address: "X"},
		"Address":           Shelf{Code: "X"},
		"Serial":            Device{Code: "X", Address: "X"},
		"Contents":          Card{Code: "X", Address: "X"},
		"Contents.Item":     Card{Code: "X", Address: "X", Contents: []CardLine{{Item: " "}}},
		"Contents.Quantity": Card{Code: "X", Address: "X", Contents: []CardLine{{Item: "X", Quantity: -1}}},
	} {
		var wrong *FieldError
		_, err := Plan(s, []Label{l}, Options{})
		require.ErrorAs(t, err, &wrong)
		assert.Equal(t, field, wrong.Field)
		assert.Equal(t, 1, wrong.Label)
		assert.Equal(t, "label 1: "+field+": "+wrong.Fix.String(), err.Error())
	}
	_, err := Plan(s, nil, Options{})
	assert.EqualError(t, err, "labels: choose at least one")
}

// Nothing is written when a label is refused.
func TestRefusalWritesNothing(t *testing.T) {
	var buf bytes.Buffer
	_, err := WritePDF(&buf, sheet(t, "a4-3x7"), []Label{everyKind(1)[0], Bag{}}, Options{})
	require.Error(t, err)
	assert.Zero(t, buf.Len())
}
