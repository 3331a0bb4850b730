package inventory_test

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stowkeeper/inventory"
	"stowkeeper/inventory/store/storetest"
	"stowkeeper/inventory/table"
)

// imported imports a CSV text in the house.
func (h *house) imported(by inventory.Actor, kind inventory.ImportKind, text string, dry bool) inventory.ImportReport {
	rep, err := h.s.Import(h.ctx, by, inventory.Import{Kind: kind, DryRun: dry, Source: table.CSV{Name: string(kind), Data: strings.NewReader(text), Size: int64(len(text))}})
	require.NoError(h.t, err)
	return rep
}

// TestImportSpreadsheet reads what a service's old spreadsheet looks like:
// semicolons, a byte order mark, decimal commas, months, empty lines, columns
// in another order and unknown ones.
func TestImportSpreadsheet(t *testing.T) {
	storetest.Engines(t, func(t *testing.T, s inventory.Store) {
		h := newHouse(t, s)
		text := "\ufeffQty;Item;Place;Lot No;End printed;End Wording;Shelf\r\n12,0;dressing;north-store;A1;2027-06;;3\r\n\r\n\"4\";DRESSING;N-01;A1;2027-06;expiry;3\r\n3;TABLET;NORTH-STORE;T9;2027-06;use by;\r\n"
		dry := h.imported(keeper, inventory.ImportStock, text, true)
		assert.Equal(t, []int{3, 3, 0}, []int{dry.Rows, dry.Created, dry.Refused}, "%v", dry.Lines)
		assert.Equal(t, []string{"stock: column Shelf"}, dry.Ignored)
		stock := func(place string) []inventory.LotSummary {
			lots, err := h.s.StockAt(h.ctx, admin, place)
			require.NoError(t, err)
			return lots
		}
		assert.Empty(t, stock("NORTH-STORE"), "a dry run changes nothing")
		assert.True(t, h.imported(keeper, inventory.ImportStock, text, false).Done)
		store := stock("NORTH-STORE")
		require.Len(t, store, 2)
		assert.Equal(t, 12, store[0].Where[0].Qty)
		assert.Equal(t, inventory.MustDay("2027-06-30"), store[0].UsableThrough)
		assert.Equal(t, inventory.MustDay("2027-05-31"), store[1].UsableThrough, "a medicine's use by, as a month")
		assert.Len(t, stock("N-01"), 1)

		again := h.imported(keeper, inventory.ImportStock, text, false)
		assert.Equal(t, 3, again.Refused, "the same file twice would double the stock")
		assert.False(t, again.Done)
		report, err := h.s.Verify(h.ctx)
		require.NoError(t, err)
		assert.Empty(t, report.Faults)
	})
}

// TestImportRefusals has each wrong cell named by row, column, value and what to
// do, and one of them refuse the whole file.
func TestImportRefusals(t *testing.T) {
	h := newHouse(t, storetest.OpenSQLite(t))
	for name, c := range map[string]struct {
		by             inventory.Actor
		kind           inventory.ImportKind
		text           string
		row            int
		column, value  string
		reason, before string
	}{
		"no such item":        {keeper, "stock", "place,item,qty\nNORTH-STORE,PEN,1\nNORTH-STORE,PENN,2\n", 3, "item", "PENN", "no such item", ""},
		"thousands":           {keeper, "stock", "place,item,qty\nNORTH-STORE,PEN,1.000\n", 2, "qty", "1.000", "whole number", ""},
		"no such day":         {keeper, "stock", "place,item,lot_no,end_printed,qty\nNORTH-STORE,DRESSING,A,2027-02-30,1\n", 2, "end_printed", "2027-02-30", "exists", ""},
		"medicine's words":    {keeper, "stock", "place,item,lot_no,end_printed,qty\nNORTH-STORE,TABLET,A,2027-02,1\n", 2, "end_wording", "", "words printed", ""},
		"another's station":   {inventory.Actor{Name: "Q", Role: inventory.Quartermaster, Sites: []string{"SOUTH"}}, "stock", "place,item,qty\nNORTH-STORE,PEN,1\n", 2, "", "", "not yours", ""},
		"outside":             {keeper, "stock", "place,item,qty\nused,PEN,1\n", 2, "place", "used", "no such place", ""},
		"unidentified in bag": {keeper, "stock", "place,item,qty,unidentified\nN-01,DRESSING,1,yes\n", 2, "", "", "quarantine", ""},
		"exposed in a store":  {keeper, "stock", "place,item,lot_no,end_printed,qty,exposed_since\nNORTH-STORE,GAUZE,A,2027-02,1,2026-01-01\n", 2, "exposed_since", "2026-01-01", "carrier", ""},
		"serial twice":        {keeper, "stock", "place,item,serial\nNORTH-STORE,TQ,S 1\nN-01,TQ,s1\n", 3, "", "", "received before", ""},
		"life":                {keeper, "items", "code,name,category,made_months\nX,X,other,601\n", 2, "made_months", "601", "0 to 600", ""},
		"category":            {keeper, "items", "code,name,category\nX,X,boots\n", 2, "category", "boots", "choose", ""},
		"tracked otherwise":   {keeper, "items", "code,name,category,tracked_by\nWASH,Eyewash,medicine,serial\n", 2, "", "", "make a new item", "place,item,lot_no,end_printed,end_wording,qty\nNORTH-STORE,WASH,W,2027-06,expiry,1\n"},
		"check digit":         {keeper, "products", "item,gtin\nPEN,9520000000019\n", 2, "gtin", "9520000000019", "check digit", ""},
		"list line":           {keeper, "kit-lists", "code,name,item,par\nNEW,New,PEN,1\nNEW,,NIX,2\n", 3, "item", "NIX", "no such item", ""},
		"list version":        {keeper, "kit-lists", "code,version,name,item,par\nNEW,7,New,PEN,1\n", 2, "version", "7", "one after another", ""},
		"bag's list":          {keeper, "bags", "code,site,name,kit_list\nB-9,NORTH,Bag,NIX\n", 2, "kit_list", "NIX", "no such kit list", ""},
		"person's site":       {admin, "people", "name,role,sites\nNew One,crew,NIX\n", 2, "sites", "NIX", "no such site", ""},
		"raised":              {admin, "people", "name,role,sites\nNew One,crew,NORTH\nNew One,administrator,\n", 3, "", "", "does not change", ""},
		"future usage":        {keeper, "usage", "site,item,period,qty\nNORTH,PEN,2199-01,4\n", 2, "period", "2199-01", "passed", ""},
		"missing column":      {keeper, "usage", "site,item,qty\nNORTH,PEN,4\n", 1, "", "", "period is missing", ""},
		"time to come":        {keeper, "bags", "code,site,name,kit_list,last_use\nB-9,NORTH,Bag,KIT,2199-01-01T00:00:00Z\n", 2, "last_use", "2199-01-01T00:00:00Z", "passed", ""},
	} {
		t.Run(name, func(t *testing.T) {
			if c.before != "" {
				require.True(t, h.imported(keeper, inventory.ImportStock, c.before, false).Done)
			}
			rep := h.imported(c.by, c.kind, c.text, false)
			require.NotEmpty(t, rep.Lines)
			l := rep.Lines[0]
			assert.False(t, rep.Done)
			assert.Equal(t, 1, rep.Refused)
			assert.Equal(t, []any{c.row, c.column, c.value, inventory.Refused}, []any{l.Row, l.Column, l.Value, l.Outcome})
			assert.Contains(t, l.Reason, c.reason)
		})
	}
	stock, err := h.s.StockAt(h.ctx, admin, "NORTH-STORE")
	require.NoError(t, err)
	assert.Len(t, stock, 1, "nothing of a refused file stays")
}

func TestImportRoles(t *testing.T) {
	h := newHouse(t, storetest.OpenSQLite(t))
	for _, k := range append([]inventory.ImportKind{inventory.ImportEverything}, inventory.ImportKinds...) {
		for _, by := range []inventory.Actor{admin, keeper, manager, crew, nobody} {
			_, err := h.s.Import(h.ctx, by, inventory.Import{Kind: k, Source: table.CSV{Name: "people", Data: strings.NewReader("name,role\n"), Size: 10}})
			kind := inventory.KindOf(err)
			allowed := err == nil || kind != inventory.Forbidden && kind != inventory.SignedOut
			want := by.Role == inventory.Administrator || by.Role == inventory.Quartermaster && (k == inventory.ImportEverything || inventory.MayImport(by, k))
			if k == inventory.ImportEverything && by.Role == inventory.Quartermaster {
				want = false // the table in it is about people
			}
			assert.Equal(t, want, allowed, "%s %s: %v", by.Role, k, err)
		}
	}
	assert.False(t, inventory.MayImport(keeper, inventory.ImportPeople))
	assert.True(t, inventory.MayImport(keeper, inventory.ImportStock))
}

// TestImportedPerson has nobody sign in as a person from a file.
func TestImportedPerson(t *testing.T) {
	h := newHouse(t, storetest.OpenSQLite(t))
	require.True(t, h.imported(admin, inventory.ImportPeople, "name,role,sites,pin\nNia Fell,crew,NORTH,4821\n", false).Done)
	for _, secret := range []string{"", "4821", "plain:"} {
		_, err := h.s.SignIn(h.ctx, "Nia Fell", secret, h.tablet(), reversed{})
		assert.Equal(t, inventory.SignedOut, inventory.KindOf(err), secret)
	}
}
