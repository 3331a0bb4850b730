package inventory_test

import (
	"strings"
	"testing"
	"unicode/utf8"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"stowkeeper/inventory"
	"stowkeeper/inventory/inventorytest"
)

func TestNormalCode(t *testing.T) {
	for in, want := range map[string]string{
		"n-01": "N-01", "  n-01 ": "N-01", "north store": "NORTH-STORE", "a \t b": "A-B", "": "",
	} {
		assert.Equal(t, want, inventory.NormalCode(in))
	}
	rapid.Check(t, func(t *rapid.T) {
		once := inventory.NormalCode(rapid.String().Draw(t, "code"))
		require.Equal(t, once, inventory.NormalCode(once), "one stored form")
	})
}

var goodPlace = inventory.Place{Code: "N-BELT", Station: "N", Kind: inventory.KindCarrier, Purpose: inventory.ForIssue,
	Name: "Belt"}

func TestCodes(t *testing.T) {
	for _, good := range []string{"A", "9", "N-01", "N.01", "A-", strings.Repeat("X", inventory.MaxCode)} {
		p := goodPlace
		p.Code = good
		assert.NoError(t, p.Check(), "%q", good)
	}
	for _, bad := range []string{"", "-A", ".A", "a", "A B", "A/B", "A_B", "Ä", "A\x00", "A\n", "<B>", "\xff",
		strings.Repeat("X", inventory.MaxCode+1)} {
		p := goodPlace
		p.Code = bad
		inventorytest.RequireFields(t, p.Check(), "code")
	}
}

func TestTexts(t *testing.T) {
	for _, good := range []string{"Belt", "Gürtel 🎒", "with\ta tab", strings.Repeat("ä", inventory.MaxName)} {
		p := goodPlace
		p.Name = good
		assert.NoError(t, p.Check(), "%q", good)
	}
	for _, bad := range []string{"", " ", "\n\t", "two\nlines", "two\r\nlines", "two\u2028lines", "a\x00b", "a\x1bb",
		"a\u0085b", "\xff\xfe", "ok\xff", strings.Repeat("ä", inventory.MaxName+1), strings.Repeat("x", 10<<20)} {
		p := goodPlace
		p.Name = bad
		inventorytest.RequireFields(t, p.Check(), "name")
	}
	p := goodPlace
	p.Holder = ""
	assert.NoError(t, p.Check(), "an optional text may be empty")
}

// TestErrorsNeverEchoValues puts arbitrary text in every field of a place; no
// piece of it comes back in the refusal.
func TestErrorsNeverEchoValues(t *testing.T) {
	const marker = "zq9zq9"
	rapid.Check(t, func(t *rapid.T) {
		s := marker + rapid.StringN(0, 20, -1).Draw(t, "text") + "\x00"
		err := inventory.Place{Code: s, Station: s, Kind: inventory.PlaceKind(s), Purpose: inventory.Purpose(s), Name: s,
			Holder: s}.Check()
		require.Error(t, err)
		require.NotContains(t, err.Error(), marker)
		require.True(t, utf8.ValidString(err.Error()))
	})
}

func TestPlaceCheck(t *testing.T) {
	for _, k := range []inventory.PlaceKind{"store", "carrier", "quarantine", "away"} {
		p := goodPlace
		p.Kind = k
		assert.NoError(t, p.Check())
	}
	for _, k := range []inventory.PlaceKind{"bag", "supplier", "used", "disposed", "lost", "found", "", "shelf"} {
		p := goodPlace
		p.Kind = k
		inventorytest.RequireFields(t, p.Check(), "kind")
	}
	inventorytest.RequireFields(t, inventory.Place{Kind: "bag"}.Check(), "code", "station", "kind", "purpose", "name")
}

func TestStationCheckAndPlaces(t *testing.T) {
	s := inventory.Station{Code: "NORTH", Name: "North", Timezone: "Europe/London"}
	require.NoError(t, s.Check())
	inventorytest.RequireFields(t, inventory.Station{Code: "A-CODE-THAT-IS-LONG", Timezone: "Local"}.Check(), "code",
		"name", "timezone")
	got := map[string]string{}
	for _, p := range s.StationPlaces() {
		require.NoError(t, p.Check())
		got[p.Code] = string(p.Kind) + " " + string(p.Purpose)
	}
	assert.Equal(t, map[string]string{
		"NORTH-STORE": "store issue", "NORTH-QUARANTINE": "quarantine issue",
		"NORTH-TRAINING": "store training", "NORTH-TRAINING-QUARANTINE": "quarantine training",
	}, got)
}

func TestItemCheck(t *testing.T) {
	good := inventory.Item{Code: "TQ-W", Name: "Tourniquet, windlass, adult", Category: "tourniquet", Unit: "each",
		TrackedBy: inventory.BySerial,
		Life: inventory.Life{MadeMonths: 600, StowedMonths: 600, ExposedDays: 36500, OpenedDays: 36500, InspectDays: 36500,
			TrainingCycles: 200}}
	require.NoError(t, good.Check(inventory.Categories))
	bad := inventory.Item{Code: "tq", Category: "gadgets", TrackedBy: "colour", LeadTimeDays: -1,
		InspectionPoints: []string{""},
		Life: inventory.Life{MadeMonths: 601, StowedMonths: -1, ExposedDays: 36501, OpenedDays: -1, InspectDays: 36501,
			TrainingCycles: -1}}
	inventorytest.RequireFields(t, bad.Check(inventory.Categories), "code", "name", "unit", "category", "tracked_by",
		"lead_time_days",
		"inspection_points",
		"life.made_months", "life.stowed_months", "life.exposed_days", "life.opened_days", "life.inspect_days",
		"life.training_cycles")
	byLot := good
	byLot.TrackedBy = inventory.ByLot
	inventorytest.RequireFields(t, byLot.Check(inventory.Categories), "life.training_cycles")
	own := good
	own.Category = "water rescue"
	inventorytest.RequireFields(t, own.Check(inventory.Categories), "category")
	assert.NoError(t, own.Check(append(inventory.Categories, "water rescue")), "the owner's list decides")
}

// TestProductGTIN: check digits of GS1 General Specifications 7.9. The first
// code is that standard's own sample GTIN.
func TestProductGTIN(t *testing.T) {
	pr := inventory.Product{Item: "TQ-W", PackSize: 1}
	for _, good := range []string{"", "09506000134352", "9506000134352", "00000000", "12345670", "012345678905"} {
		pr.GTIN = good
		assert.NoError(t, pr.Check(), good)
	}
	for _, bad := range []string{"09506000134353", "9506000134325", "950600013435", "1", "0950600013435X",
		" 9506000134352", "095060001343520"} {
		pr.GTIN = bad
		inventorytest.RequireFields(t, pr.Check(), "gtin")
	}
	inventorytest.RequireFields(t, inventory.Product{Item: "-", PackSize: 0, HIBC: strings.Repeat("A", 25)}.Check(),
		"item", "hibc",
		"pack_size")
	pr.GTIN = ""
	for hibc, good := range map[string]bool{"A123BJC5D6E71": true, "A123BJC5D6E7": true, "A1231": false,
		"1123BJC5D6E71": false, "A123BJC5D6E7X": false, "+A123BJC5D6E71G": false, "A123 BJC1": false, "A123/$1": false} {
		pr.HIBC = hibc
		if good {
			assert.NoError(t, pr.Check(), hibc)
		} else {
			inventorytest.RequireFields(t, pr.Check(), "hibc")
		}
	}
}

func TestBagCheck(t *testing.T) {
	b := inventory.Bag{Code: "N-01", Station: "N", Name: "Grab bag", KitList: "GRAB", Priority: 1,
		Purpose: inventory.ForIssue}
	require.NoError(t, b.Check())
	p := b.Place()
	assert.Equal(t, inventory.Place{Code: "N-01", Station: "N", Kind: inventory.KindBag, Purpose: inventory.ForIssue,
		Name: "Grab bag"}, p)
	inventorytest.RequireFields(t, inventory.Bag{Code: "X", Inside: "X", Priority: 10,
		OutOfService: &inventory.ServicePause{}}.Check(),
		"station", "name", "kit_list", "priority", "purpose", "inside", "out_of_service.reason")
}
