package services_test

import (
	"fmt"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stowkeeper/inventory"
	"stowkeeper/inventory/fixture"
	"stowkeeper/inventory/inventorytest"
	"stowkeeper/inventory/ledger"
	"stowkeeper/inventory/lists"
	"stowkeeper/inventory/store/storetest"
)

// published is one contents table of testdata/kit-standards.json. The tables
// are facts; that a list is loaded from one claims no compliance.
type published struct {
	Standard, Title, Source, Read string
	Items                         []struct {
		Name   string
		MinQty int `json:"min_qty"`
		Unit   string
	}
}

// The outside checks of the main job; each entry of the file says where it was
// read:
//   - UK counter-terrorism police guidance "Standards for Public Access Trauma
//     (PAcT) First Aid Kits", undated, table "At a minimum";
//   - 14 CFR Part 121, undated, Appendix A, "First-aid Kits", paragraph (2).
const (
	pact    = "PAcT standard (UK)"
	cfr121A = "14 CFR 121 App A"
)

// publishedCategories says what the items of the trauma list are to kit rules.
// This is our reading: the aide-memoire card is no record card, and a triangular
// bandage is for immobilisation.
var publishedCategories = map[string]inventory.Category{
	"Windlass tourniquet": "tourniquet", "Indelible marker pen": "marker",
	"Large trauma wound dressing": "pressure dressing",
	"Woven triangular bandage":    "immobilisation", "CPR face shield": "airway", "Heavy-duty clothing scissors": "tool",
	"Disposable gloves": "protective", "Disposable glasses": "protective", "Disposable face mask": "protective",
	"Aide-memoire card": "other",
}

func publishedList(t *testing.T, standard string) published {
	var all []published
	inventorytest.ReadTestdata(t, "kit-standards.json", &all)
	for _, p := range all {
		if p.Standard == standard {
			require.NotEmpty(t, p.Source)
			require.NotRegexp(t, "^from memory", p.Read, "an outside check was read somewhere")
			return p
		}
	}
	t.Fatalf("no table %s", standard)
	return published{}
}

// publishedBag is a station with one bag on a published list, stowed to it.
type publishedBag struct {
	*fixture.House
	table published
	lots  []inventory.Lot // by item of the table
}

func itemCode(i int) string { return fmt.Sprintf("ITEM-%02d", i+1) }

// stowPublished loads a table as a kit list through the use cases, with the
// published numbers as par and minimum, receives what it asks for and stows it.
func stowPublished(t *testing.T, s inventory.Store, standard string, rules []inventory.KitRule) *publishedBag {
	b := &publishedBag{House: fixture.New(t, s), table: publishedList(t, standard)}
	list := inventory.KitList{Code: "PUBLISHED", Name: b.table.Title, Edition: b.table.Standard, Source: b.table.Source,
		Rules: rules}
	for i, it := range b.table.Items {
		category := publishedCategories[it.Name]
		if category == "" {
			category = inventory.CategoryOther
		}
		_, err := b.S.Lists.CreateItem(b.Ctx, fixture.Admin, inventory.Item{Code: itemCode(i), Name: it.Name,
			Category: category,
			Unit:     it.Unit, TrackedBy: inventory.ByLot})
		require.NoError(t, err)
		list.Lines = append(list.Lines, inventory.Line{Item: itemCode(i), Par: it.MinQty, Minimum: it.MinQty})
	}
	_, err := b.S.Lists.CreateKitList(b.Ctx, fixture.Admin, list)
	require.NoError(t, err)
	_, err = b.S.Lists.CreateBag(b.Ctx, fixture.Admin, inventory.Bag{Code: "KIT", Station: "NORTH", Name: "Kit",
		KitList: "PUBLISHED"})
	require.NoError(t, err)
	restock := inventory.Restock{Bag: "KIT"}
	for i, it := range b.table.Items {
		lot := b.Receive(itemCode(i), "B", it.MinQty, "")
		b.lots = append(b.lots, lot)
		restock.Lines = append(restock.Lines, inventory.RestockLine{LotID: lot.ID, Qty: it.MinQty})
	}
	_, err = b.S.Storeroom.RecordRestock(b.Ctx, fixture.Keeper, restock, 0)
	require.NoError(t, err)
	return b
}

// take removes units of an item of the table from the bag.
func (b *publishedBag) take(name string, n int) {
	for i, it := range b.table.Items {
		if it.Name == name {
			b.Move(b.lots[i].ID, n, "KIT", "used", inventory.ReasonUsed)
			return
		}
	}
	require.Fail(b.T, "no item "+name)
}

func (b *publishedBag) report() (rows []inventory.ShortageRow, buy map[string]int) {
	rep, err := b.S.Report.Shortages(b.Ctx, fixture.Manager, nil, lists.Outlook{Horizon: 30})
	require.NoError(b.T, err)
	buy = map[string]int{}
	for _, x := range rep.Buy {
		if strings.HasPrefix(x.Item, "ITEM-") {
			buy[x.Item] += x.Qty
		}
	}
	for _, r := range rep.Rows {
		if r.Bag == "KIT" {
			rows = append(rows, r)
		}
	}
	return rows, buy
}

// brokenRules lists the categories of the kit rules that the bag breaks.
func (b *publishedBag) brokenRules() map[string]inventory.Severity {
	out := map[string]inventory.Severity{}
	for _, f := range b.Readiness("KIT").Findings {
		if f.Kind == inventory.FindKitRule {
			out[f.Rule] = f.Severity
		}
	}
	return out
}

// TestPublishedTables: a bag that holds what a published table asks for is
// ready; after things are removed, the shortage report is the arithmetic on the
// table, computed here from the file alone.
func TestPublishedTables(t *testing.T) {
	t.Parallel()
	for _, standard := range []string{pact, cfr121A} {
		t.Run(standard, func(t *testing.T) {
			storetest.Engines(t, func(t *testing.T, s inventory.Store) {
				b := stowPublished(t, s, standard, nil)
				rows, buy := b.report()
				assert.Empty(t, rows)
				assert.Empty(t, buy)
				assert.Equal(t, inventory.Ready, b.Readiness("KIT").State)

				var want []inventory.ShortageRow
				wantBuy := map[string]int{}
				for i, it := range b.table.Items {
					gone := (i * 7) % (it.MinQty + 1)
					if gone == 0 {
						continue
					}
					b.take(it.Name, gone)
					want = append(want, inventory.ShortageRow{Station: "NORTH", Bag: "KIT", Item: itemCode(i), Par: it.MinQty,
						Minimum: it.MinQty,
						Usable:  it.MinQty - gone, Shortfall: gone, BelowMinimum: true})
					wantBuy[itemCode(i)] = gone
				}
				require.Greater(t, len(want), 3)
				rows, buy = b.report()
				assert.Equal(t, want, rows)
				assert.Equal(t, wantBuy, buy)
				assert.Equal(t, inventory.NotReady, b.Readiness("KIT").State)
				b.Verify()
			})
		})
	}
}

// TestPublishedTraumaListAndDefaultRules: the trauma list meets the default
// rules on tourniquets and markers, and the answer names exactly those that it
// does not meet, as far as the table goes.
func TestPublishedTraumaListAndDefaultRules(t *testing.T) {
	t.Parallel()
	storetest.Engines(t, func(t *testing.T, s inventory.Store) {
		b := stowPublished(t, s, pact, inventory.TourniquetRules())
		byCategory := map[inventory.Category]int{}
		for _, it := range b.table.Items {
			byCategory[publishedCategories[it.Name]] += it.MinQty
		}
		unmet := map[string]inventory.Severity{}
		for _, r := range inventory.TourniquetRules() {
			if byCategory[r.NeedCategory] < r.AtLeast {
				unmet[fmt.Sprintf("at least %d %s", r.AtLeast, r.NeedCategory)] = r.Severity
			}
		}
		assert.Equal(t, map[string]inventory.Severity{
			"at least 1 record card": inventory.SeverityWarn, "at least 1 plain dressing": inventory.SeverityWarn,
			"at least 1 pain relief": inventory.SeverityWarn,
		}, unmet)
		assert.Equal(t, unmet, b.brokenRules())
		assert.Equal(t, inventory.ReadyWithGaps, b.Readiness("KIT").State)

		b.take("Indelible marker pen", 1)
		assert.Equal(t, unmet, b.brokenRules(), "one marker is enough for the rule")
		b.take("Indelible marker pen", 1)
		assert.Equal(t, inventory.SeverityStop, b.brokenRules()["at least 1 marker"])
		assert.Len(t, b.brokenRules(), len(unmet)+1)

		b.take("Windlass tourniquet", 1)
		assert.Equal(t, inventory.SeverityStop, b.brokenRules()["at least 2 tourniquet"])
		assert.Len(t, b.brokenRules(), len(unmet)+2)
		b.take("Windlass tourniquet", 1)
		assert.Empty(t, b.brokenRules(), "a bag without any tourniquet is not judged by them")
		assert.Equal(t, inventory.NotReady, b.Readiness("KIT").State, "but by its list")
	})
}

// TestPublishedSplintsElsewhere: 14 CFR 121 Appendix A, paragraph (3), lets the
// splints be stowed outside the kit.
func TestPublishedSplintsElsewhere(t *testing.T) {
	t.Parallel()
	b := stowPublished(t, storetest.OpenSQLite(t), cfr121A, nil)
	b.take("Arm splint, noninflatable", 1)
	b.take("Leg splint, noninflatable", 1)
	rows, _ := b.report()
	require.Len(t, rows, 2)
	list, err := b.S.Lists.KitList(b.Ctx, fixture.Keeper, "PUBLISHED", 0)
	require.NoError(t, err)
	for i, it := range b.table.Items {
		if strings.Contains(it.Name, "splint") {
			list.Lines[i] = inventory.Line{Item: list.Lines[i].Item, CarriedElsewhere: "beside the kit"}
		}
	}
	next, err := b.S.Lists.NextKitList(b.Ctx, fixture.Admin, list, 1)
	require.NoError(t, err)
	rows, _ = b.report()
	assert.Len(t, rows, 2, "the bag keeps its version until somebody moves it")
	zero := 0
	_, err = b.S.Lists.UpdateBag(b.Ctx, fixture.Admin, "KIT", 0, ledger.BagChange{KitListVersion: &zero})
	require.NoError(t, err)
	assert.Equal(t, next.Version, b.Bag("KIT").KitListVersion)
	rows, _ = b.report()
	assert.Empty(t, rows)
	assert.Equal(t, inventory.Ready, b.Readiness("KIT").State)
}
