package lists_test

import (
	"context"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stowkeeper/inventory"
	"stowkeeper/inventory/amount"
	"stowkeeper/inventory/fixture"
	"stowkeeper/inventory/inventorytest"
	"stowkeeper/inventory/lists"
	"stowkeeper/inventory/store/storetest"
)

// conversions is a house with an item that is counted in pairs.
type conversions struct {
	*fixture.House
	t   *testing.T
	lot inventory.Lot
}

func newConversions(t *testing.T) *conversions {
	h := &conversions{House: fixture.New(t, storetest.OpenSQLite(t)), t: t}
	_, err := h.S.Lists.CreateItem(h.Ctx, fixture.Keeper, inventory.Item{Code: "GLOVE", Name: "Gloves",
		Category: inventory.CategoryProtective, Unit: "pair", TrackedBy: inventory.ByLot})
	require.NoError(t, err)
	h.lot, err = h.S.Ledger.Receive(h.Ctx, fixture.Keeper, inventory.Receipt{Place: "NORTH-STORE", Item: "GLOVE",
		Qty: 300})
	require.NoError(t, err)
	return h
}

// boxes converts pairs to boxes of a hundred, after it was shown what comes of it: both say the same.
func (h *conversions) boxes(by inventory.Actor) error {
	in := lists.UnitConversion{Unit: "box", Old: 100, New: 1, Reason: "as ordered"}
	plan, shown := h.S.Lists.PlanConversion(h.Ctx, by, "glove", in)
	done, err := h.S.Lists.ConvertUnit(h.Ctx, by, "glove", in)
	require.Equal(h.t, inventory.KindOf(shown), inventory.KindOf(err))
	require.Equal(h.t, plan.Places, done.Places)
	return err
}

func (h *conversions) refused(kind inventory.ErrorKind, says string) {
	h.t.Helper()
	err := h.boxes(fixture.Keeper)
	inventorytest.RequireKind(h.t, kind, err)
	assert.Contains(h.t, err.Error(), says)
}

// TestConvertUnit: what is in the way is named, and what was used in the past adds up in the new unit.
func TestConvertUnit(t *testing.T) {
	t.Parallel()
	h := newConversions(t)
	inventorytest.RequireKind(t, inventory.Forbidden, h.boxes(fixture.Crew))
	south := inventory.Actor{Name: "Q", Role: inventory.Quartermaster, Stations: []string{"SOUTH"}}
	inventorytest.RequireKind(t, inventory.Forbidden, h.boxes(south))
	list := inventory.KitList{Code: "RESERVE", Name: "Reserve", Lines: []inventory.Line{{Item: "GLOVE", Par: 100}}}
	_, err := h.S.Lists.CreateKitList(h.Ctx, fixture.Keeper, list)
	require.NoError(t, err)
	bag, err := h.S.Lists.CreateBag(h.Ctx, fixture.Keeper, inventory.Bag{Code: "N-R", Station: "NORTH", Name: "Reserve",
		KitList: "RESERVE"})
	require.NoError(t, err)
	change := func(lines ...inventory.Line) {
		list.Lines = lines
		_, err := h.S.Lists.NextKitList(h.Ctx, fixture.Keeper, list, 0)
		require.NoError(t, err)
	}
	change(inventory.Line{Item: "PEN", Par: 1, Accepts: []string{"GLOVE"}})
	h.refused(inventory.Conflict, "this bag has 1, N-R")
	_, err = h.S.Lists.MoveBags(h.Ctx, fixture.Keeper, "RESERVE")
	require.NoError(t, err)
	h.refused(inventory.Conflict, "not whole in the new unit: RESERVE")
	change(inventory.Line{Item: "GLOVE", Par: 200, Minimum: 50})
	_, err = h.S.Lists.MoveBags(h.Ctx, fixture.Keeper, "RESERVE")
	require.NoError(t, err)
	h.refused(inventory.Conflict, "RESERVE: 200")
	change(inventory.Line{Item: "GLOVE", Par: 200, Minimum: 100})
	_, err = h.S.Lists.MoveBags(h.Ctx, fixture.Keeper, "RESERVE")
	require.NoError(t, err)
	require.NoError(t, h.S.Store.Write(inventory.Acting(h.Ctx, fixture.Keeper),
		func(_ context.Context, w inventory.Writer) error {
			for period, qty := range map[string]int{"2026-01": 150, "2026-02": 250} {
				if err := w.SetPastUsage(inventory.PastUsage{Station: "NORTH", Item: "GLOVE", Period: period,
					Qty: qty}); err != nil {
					return err
				}
			}
			return nil
		}))
	product, err := h.S.Lists.CreateProduct(h.Ctx, fixture.Keeper, inventory.Product{Item: "GLOVE", MakerReference: "GL",
		PackSize: 50})
	require.NoError(t, err)
	h.refused(inventory.Conflict, "GL: 50")
	product.PackSize = 100
	_, err = h.S.Lists.UpdateProduct(h.Ctx, fixture.Keeper, product)
	require.NoError(t, err)
	require.NoError(t, h.boxes(fixture.Keeper))
	assert.Equal(t, map[int64]int{h.lot.ID: 3}, h.Holds("NORTH-STORE"))
	assert.Equal(t, 5, h.Bag(bag.Code).KitListVersion)
	usage, err := h.S.Lists.PastUsage(h.Ctx, fixture.Keeper, inventory.UsageFilter{Item: "GLOVE"})
	require.NoError(t, err)
	assert.Equal(t, []int{2, 2}, []int{usage[0].Qty, usage[1].Qty})
	h.Verify()
}

// TestConvertDelivery: packs that somebody is scanning are put away first.
func TestConvertDelivery(t *testing.T) {
	t.Parallel()
	h := newConversions(t)
	_, err := h.S.Lists.CreateProduct(h.Ctx, fixture.Keeper, inventory.Product{Item: "GLOVE", GTIN: "09521234543213",
		PackSize: 100})
	require.NoError(t, err)
	d, err := h.S.Storeroom.StartDelivery(h.Ctx, fixture.Keeper, "NORTH-STORE", "")
	require.NoError(t, err)
	_, err = h.S.Storeroom.ScanPack(h.Ctx, fixture.Keeper, d.ID, "0109521234543213")
	require.NoError(t, err)
	h.refused(inventory.Conflict, "settle first: Delivery: NORTH-STORE")
}

// TestConvertContent: what one unit holds has to be a decimal number in the new one.
func TestConvertContent(t *testing.T) {
	t.Parallel()
	h := newConversions(t)
	it, err := h.S.Lists.Item(h.Ctx, fixture.Keeper, "GLOVE")
	require.NoError(t, err)
	it.Content = amount.ContentOf("2.5 g")
	_, err = h.S.Lists.UpdateItem(h.Ctx, fixture.Keeper, it)
	require.NoError(t, err)
	in := lists.UnitConversion{Unit: "third", Old: 1, New: 3, Reason: "opened"}
	_, err = h.S.Lists.ConvertUnit(h.Ctx, fixture.Keeper, "GLOVE", in)
	inventorytest.RequireKind(t, inventory.Conflict, err)
	in = lists.UnitConversion{Unit: "half", Old: 1, New: 2, Reason: "opened"}
	done, err := h.S.Lists.ConvertUnit(h.Ctx, fixture.Keeper, "GLOVE", in)
	require.NoError(t, err)
	assert.Equal(t, "1.25 g", done.Item.Content.String())
	h.Verify()
}
