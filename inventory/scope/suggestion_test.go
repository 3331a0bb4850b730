package scope_test

import (
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"stowkeeper/inventory"
	"stowkeeper/inventory/fixture"
	"stowkeeper/inventory/inventorytest"
	"stowkeeper/inventory/lists"
	"stowkeeper/inventory/scope"
	"stowkeeper/inventory/store/storetest"
)

func TestNearestCodes(t *testing.T) {
	fleet := []string{"FM-AW1", "FM-RS1", "FM-TR1", "FM-TR2", "FM-TR11", "HT-TR1", "SPARE"}
	for _, c := range []struct {
		name, typed string
		want        []string
	}{
		{"one letter mistyped", "FM-TX1", []string{"FM-TR1", "FM-TR11"}},
		{"a letter for a digit", "FM-TRI", []string{"FM-TR1", "FM-TR2", "FM-TR11"}},
		{"two letters swapped", "MF-TR2", []string{"FM-TR2"}},
		{"one left out", "F-TR1", []string{"FM-TR1", "FM-TR11"}},
		{"one added", "SPAREE", []string{"SPARE"}},
		{"hyphen, case and blanks do not count", " fm tr.1", []string{"FM-TR1", "FM-TR11", "FM-TR2"}},
		{"the end of it alone", "tr1", []string{"FM-TR1", "HT-TR1", "FM-TR11"}},
		{"too little to go by", "1", nil},
		{"nothing like it", "NOPE-77", nil},
		{"nothing", " - ", nil},
		{"no code is so long", strings.Repeat("FM-TR1", 20), nil},
	} {
		assert.Equal(t, c.want, noneIfEmpty(scope.SuggestCodes(c.typed, fleet)), c.name)
	}
}

func noneIfEmpty(codes []string) []string {
	if len(codes) == 0 {
		return nil
	}
	return codes
}

// One slip of any of the four kinds never loses the code that was meant, and
// what comes first is no farther off than what comes later.
func TestOneSlipIsFound(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		codes := rapid.SliceOfNDistinct(rapid.StringMatching(`[A-Z]{2}-[A-Z0-9]{3,6}`), 1, 4, rapid.ID[string]).Draw(t,
			"codes")
		meant := []byte(codes[0])
		i := rapid.IntRange(0, len(meant)-2).Draw(t, "place")
		letter := byte(rapid.IntRange('A', 'Z').Draw(t, "letter"))
		switch rapid.SampledFrom([]string{"mistyped", "left out", "added", "swapped"}).Draw(t, "slip") {
		case "mistyped":
			meant[i] = letter
		case "left out":
			meant = slices.Delete(meant, i, i+1)
		case "added":
			meant = slices.Insert(meant, i, letter)
		default:
			meant[i], meant[i+1] = meant[i+1], meant[i]
		}
		assert.Contains(t, scope.SuggestCodes(string(meant), codes), codes[0])
		assert.Equal(t, codes[0], scope.SuggestCodes(codes[0], codes)[0], "typed right it comes first")
	})
}

// A wrong code names the nearest that there are, at the actor's own stations.
func TestWrongCodeNamesTheNearest(t *testing.T) {
	storetest.Engines(t, func(t *testing.T, s inventory.Store) {
		h := fixture.New(t, s)
		near := func(by inventory.Actor, typed string) []string {
			_, err := h.S.Stock.FindBag(h.Ctx, by, typed)
			inventorytest.RequireKind(t, inventory.NotFound, err)
			assert.NotContains(t, err.Error(), typed)
			var e *inventory.Error
			require.ErrorAs(t, err, &e)
			var codes []string
			for _, n := range e.Near {
				assert.NotEmpty(t, n.Name)
				codes = append(codes, n.Code)
			}
			return codes
		}
		assert.Contains(t, near(fixture.Admin, "N-O1"), "N-01")
		for _, code := range near(fixture.Crew, "Z-01") {
			b, err := h.S.Lists.Bag(h.Ctx, fixture.Crew, code)
			require.NoError(t, err, "only what crew may see")
			assert.True(t, fixture.Crew.At(b.AtStation))
		}
		_, err := h.S.Shift.Checklist(h.Ctx, fixture.Admin, "N-O1", lists.Outlook{})
		var e *inventory.Error
		require.ErrorAs(t, err, &e)
		assert.NotEmpty(t, e.Near, "not only where codes are typed")
	})
}
