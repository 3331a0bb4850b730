package storeroom_test

import (
	"strconv"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stowkeeper/inventory"
	"stowkeeper/inventory/fixture"
	"stowkeeper/inventory/inventorytest"
	"stowkeeper/inventory/store/storetest"
	"stowkeeper/inventory/storeroom"
)

// TestWaysIn is the table of where a scanned pack may go.
func TestWaysIn(t *testing.T) {
	day := inventory.MustDay("2027-06-14")
	store := inventory.Place{Kind: inventory.KindStore, Purpose: inventory.ForIssue}
	training := inventory.Place{Kind: inventory.KindStore, Purpose: inventory.ForTraining}
	apart := inventory.Place{Kind: inventory.KindQuarantine, Purpose: inventory.ForIssue}
	dressing := inventory.Item{Category: inventory.CategoryPlainDressing}
	tablet := inventory.Item{Category: inventory.CategoryMedicine}
	ampoule := inventory.Item{Category: inventory.CategoryPainRelief, Controlled: true}
	const place, train, quarantine, disposed = inventory.InPlace, inventory.InTraining, inventory.InQuarantine,
		inventory.InDisposed
	for _, tt := range []struct {
		name      string
		item      inventory.Item
		through   string
		withdrawn bool
		place     inventory.Place
		want      []inventory.WayIn
	}{
		{"in date", dressing, "2027-06-14", false, store, []inventory.WayIn{place}},
		{"past its day", dressing, "2027-06-13", false, store, []inventory.WayIn{train, disposed}},
		{"past its day, for training", dressing, "2027-06-13", false, training, []inventory.WayIn{place, disposed}},
		{"past its day, set apart", dressing, "2027-06-13", false, apart, []inventory.WayIn{place}},
		{"medicine in date", tablet, "2027-06-14", false, store, []inventory.WayIn{place}},
		{"medicine past its day", tablet, "2027-06-13", false, store, []inventory.WayIn{disposed}},
		{"medicine past its day, for training", tablet, "2027-06-13", false, training, []inventory.WayIn{disposed}},
		{"controlled, past its day", ampoule, "2027-06-13", false, store, []inventory.WayIn{quarantine}},
		{"withdrawn", dressing, "2028-01-31", true, store, []inventory.WayIn{quarantine}},
		{"withdrawn and past its day", tablet, "2027-06-13", true, store, []inventory.WayIn{quarantine}},
		{"withdrawn, set apart", dressing, "2028-01-31", true, apart, []inventory.WayIn{place}},
	} {
		b := inventory.Batch{EndPrinted: tt.through, EndWording: inventory.WordExpiry,
			LastUsable: inventory.MustDay(tt.through)}
		assert.Equal(t, tt.want, storeroom.WaysIn(tt.item, b, tt.withdrawn, tt.place, day), tt.name)
	}
}

// dock is a house with a delivery being scanned and a product that it knows.
type dock struct {
	*fixture.House
	store inventory.Store
	id    int64
}

func newDock(t *testing.T, s inventory.Store) dock {
	h := fixture.New(t, s)
	for item, gtin := range map[string]string{"DRESSING": "09521234543213", "TABLET": "09520000000028",
		"TQ": "09520000000035"} {
		_, err := h.S.Lists.CreateProduct(h.Ctx, fixture.Keeper, inventory.Product{Item: item, GTIN: gtin, PackSize: 10})
		require.NoError(t, err)
	}
	d, err := h.S.Storeroom.StartDelivery(h.Ctx, fixture.Keeper, "north-store", "")
	require.NoError(t, err)
	return dock{h, s, d.ID}
}

// scan takes codes that must be taken and returns the delivery as it stands.
func (d dock) scan(texts ...string) storeroom.DeliveryPlan {
	for _, text := range texts {
		_, err := d.S.Storeroom.ScanPack(d.Ctx, fixture.Keeper, d.id, text)
		require.NoError(d.T, err, text)
	}
	return d.view()
}

func (d dock) view() storeroom.DeliveryPlan {
	v, err := d.S.Storeroom.Delivery(d.Ctx, fixture.Keeper, d.id)
	require.NoError(d.T, err)
	return v
}

// rows says each line in short: packs, lot, trouble.
func rows(v storeroom.DeliveryPlan) []string {
	var out []string
	for _, r := range v.Rows {
		out = append(out, strconv.Itoa(r.Packs)+" "+r.DeliveryLine.BatchNo+r.DeliveryLine.Serial+" "+string(r.Trouble))
	}
	return out
}

const (
	dressing = "0109521234543213"
	tablet   = "0109520000000028"
	device   = "0109520000000035"
	unknown  = "0109520000000042"
)

// TestDelivery scans packs of every kind and puts them away together.
func TestDelivery(t *testing.T) {
	t.Parallel()
	storetest.Engines(t, func(t *testing.T, s inventory.Store) {
		d := newDock(t, s)
		before := d.Everything()
		v := d.scan(dressing+"1728063010A", dressing+"1728063010A", tablet+"1728063010T", unknown+"1728063021X1\x1d10U",
			unknown+"1728063021X2\x1d10U", dressing+"1727063010B", device+"21S1", device+"21S2")
		assert.Equal(t, []string{"2 A ", "1 T ", "1 UX1 unknown", "1 UX2 unknown", "1 B ", "1 S1 ", "1 S2 "}, rows(v))
		assert.Equal(t, before, d.Everything(), "looking at what would happen changes nothing")
		for _, again := range []string{device + "21S1", unknown + "1728063021X1\x1d10U"} {
			_, err := d.S.Storeroom.ScanPack(d.Ctx, fixture.Keeper, d.id, again)
			inventorytest.RequireKind(t, inventory.Conflict, err)
		}
		_, err := d.S.Storeroom.PutAway(d.Ctx, fixture.Keeper, d.id, "DN-1")
		inventorytest.RequireKind(t, inventory.Conflict, err)
		assert.Equal(t, before, d.Everything(), "all or none")

		require.NoError(t, d.S.Storeroom.NameCode(d.Ctx, fixture.Keeper, d.id, v.Rows[2].N, inventory.Product{Item: "GAUZE",
			PackSize: 4, Supplier: "Example Supplies"}))
		v = d.view()
		assert.Equal(t, []string{"2 A ", "1 T ", "2 U ", "1 B ", "1 S1 ", "1 S2 "}, rows(v),
			"packs of one lot whose serial numbers only tell them apart")
		require.True(t, v.Ready)
		v, err = d.S.Storeroom.PutAway(d.Ctx, fixture.Keeper, d.id, " DN-1 ")
		require.NoError(t, err)
		assert.Equal(t, []any{inventory.DeliveryPutAway, "DN-1", "Quinn"}, []any{v.Status, v.Reference, v.EndedBy})
		held := d.Holds("NORTH-STORE")
		got := map[string]int{}
		for _, l := range v.Lines {
			got[l.BatchNo+l.Serial] = held[l.LotID]
		}
		assert.Equal(t, map[string]int{"A": 20, "T": 10, "U": 8, "B": 10, "S1": 1, "S2": 1}, got)
		_, err = d.S.Storeroom.PutAway(d.Ctx, fixture.Keeper, d.id, "DN-1")
		inventorytest.RequireKind(t, inventory.Conflict, err)
		_, err = d.S.Storeroom.ScanPack(d.Ctx, fixture.Keeper, d.id, dressing)
		inventorytest.RequireKind(t, inventory.Conflict, err)
		d.Verify()
	})
}

// TestDeliveryWays: what is past its day, withdrawn or known with another date
// goes only where the rules and a person say.
func TestDeliveryWays(t *testing.T) {
	t.Parallel()
	d := newDock(t, storetest.OpenSQLite(t))
	_, err := d.S.Notice.CreateNotice(d.Ctx, fixture.Keeper, inventory.Notice{Reference: "R-1",
		Action: inventory.NoticeWithdraw,
		Item:   "DRESSING", NoticeScope: inventory.NoticeScope{BatchNos: []string{"W"}}})
	require.NoError(t, err)
	v := d.scan(dressing+"1727061310OLD", tablet+"1727053110OLD", dressing+"1728063010W", dressing+"1728063010A",
		dressing+"1728073110A")
	assert.Equal(t, []string{"1 OLD past", "1 OLD past", "1 W notice", "1 A ", "1 A conflict"}, rows(v))
	require.NotNil(t, v.Rows[4].Earlier)
	assert.Equal(t, "2028-06-30", v.Rows[4].Earlier.EndPrinted)
	change := func(row int, c storeroom.LineChange) {
		t.Helper()
		require.NoError(t, d.S.Storeroom.ChangeLine(d.Ctx, fixture.Keeper, d.id, v.Rows[row].N, c))
	}
	change(0, storeroom.LineChange{Way: inventorytest.Ptr(inventory.InTraining)})
	change(1, storeroom.LineChange{Way: inventorytest.Ptr(inventory.InTraining)}) // never, for a medicine
	change(2, storeroom.LineChange{Way: inventorytest.Ptr(inventory.InQuarantine)})
	change(4, storeroom.LineChange{OnConflict: inventorytest.Ptr(inventory.KeepEarlier)})
	assert.Equal(t, []string{"1 OLD ", "1 OLD past", "1 W ", "1 A ", "1 A "}, rows(d.view()))
	change(1, storeroom.LineChange{Way: inventorytest.Ptr(inventory.InDisposed)})
	v, err = d.S.Storeroom.PutAway(d.Ctx, fixture.Keeper, d.id, "")
	require.NoError(t, err)
	assert.Equal(t, []int{10, 10, 20}, []int{d.Holds("NORTH-TRAINING")[v.Lines[0].LotID],
		d.Holds("NORTH-QUARANTINE")[v.Lines[2].LotID], d.Holds("NORTH-STORE")[v.Lines[3].LotID]})
	assert.Empty(t, d.Holds("NORTH-QUARANTINE")[v.Lines[1].LotID], "received and disposed of")
	d.Verify()
}

// TestTwoCodesOnAPack: the second code of a pack completes the first, whichever
// pack it is; one of another pack does not.
func TestTwoCodesOnAPack(t *testing.T) {
	t.Parallel()
	d := newDock(t, storetest.OpenSQLite(t))
	_, err := d.S.Storeroom.ScanPack(d.Ctx, fixture.Keeper, d.id, "1728063010A")
	inventorytest.RequireFields(t, err, "text")
	v := d.scan(dressing, "1728063010A", dressing, "1728063010A")
	assert.Equal(t, []string{"2 A "}, rows(v))
	primary := "+A99912340"
	check := fixture.HIBCCheck(primary)
	second := func(link string) string { s := "+$$3280630L1" + link; return s + fixture.HIBCCheck(s) }
	d.scan(primary + check)
	other := "X"
	if check == other {
		other = "Y"
	}
	_, err = d.S.Storeroom.ScanPack(d.Ctx, fixture.Keeper, d.id, second(other))
	inventorytest.RequireFields(t, err, "text")
	assert.Equal(t, []string{"2 A ", "1 L1 unknown"}, rows(d.scan(second(check))))
	// What is missing is said, and typed in.
	v = d.scan(dressing)
	assert.Equal(t, storeroom.TroubleMissing, v.Rows[2].Trouble)
	require.NoError(t, d.S.Storeroom.ChangeLine(d.Ctx, fixture.Keeper, d.id, v.Rows[2].N,
		storeroom.LineChange{BatchNo: inventorytest.Ptr("C"),
			EndPrinted: inventorytest.Ptr("2028-06"), Packs: inventorytest.Ptr(3)}))
	v = d.view()
	assert.Equal(t, []any{"3 C ", 30, "2028-06-30"}, []any{rows(v)[2], v.Rows[2].InAll, v.Rows[2].Through.String()})
	require.NoError(t, d.S.Storeroom.ChangeLine(d.Ctx, fixture.Keeper, d.id, v.Rows[2].N,
		storeroom.LineChange{Packs: inventorytest.Ptr(0)}))
	assert.Len(t, d.view().Rows, 2)
}

// TestDeliveryAccess: only who keeps stock at that station.
func TestDeliveryAccess(t *testing.T) {
	t.Parallel()
	d := newDock(t, storetest.OpenSQLite(t))
	south := inventory.Actor{Name: "S", Role: inventory.Quartermaster, Stations: []string{"SOUTH"}}
	for _, by := range []inventory.Actor{fixture.Crew, fixture.Manager, south} {
		_, err := d.S.Storeroom.StartDelivery(d.Ctx, by, "NORTH-STORE", "")
		inventorytest.RequireKind(t, inventory.Forbidden, err)
		_, err = d.S.Storeroom.Delivery(d.Ctx, by, d.id)
		inventorytest.RequireKind(t, inventory.Forbidden, err)
		_, err = d.S.Storeroom.ScanPack(d.Ctx, by, d.id, dressing)
		inventorytest.RequireKind(t, inventory.Forbidden, err)
		_, err = d.S.Storeroom.PutAway(d.Ctx, by, d.id, "")
		inventorytest.RequireKind(t, inventory.Forbidden, err)
		inventorytest.RequireKind(t, inventory.Forbidden, d.S.Storeroom.DropDelivery(d.Ctx, by, d.id))
		inventorytest.RequireKind(t, inventory.Forbidden, d.S.Storeroom.ChangeLine(d.Ctx, by, d.id, 1,
			storeroom.LineChange{}))
	}
	open, err := d.S.Storeroom.OpenDeliveries(d.Ctx, south, nil)
	require.NoError(t, err)
	assert.Empty(t, open)
	for _, place := range []string{"N-01", "NOWHERE", "used"} {
		_, err := d.S.Storeroom.StartDelivery(d.Ctx, fixture.Admin, place, "")
		inventorytest.RequireFields(t, err, "place")
	}
	require.NoError(t, d.S.Storeroom.DropDelivery(d.Ctx, fixture.Keeper, d.id))
	inventorytest.RequireKind(t, inventory.Conflict, d.S.Storeroom.DropDelivery(d.Ctx, fixture.Keeper, d.id))
}
