package storeroom_test

import (
	"fmt"
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

func paths(all []storeroom.LabelFacts) []string {
	var out []string
	for _, f := range all {
		out = append(out, f.Path)
	}
	return out
}

func TestBagLabels(t *testing.T) {
	storetest.Engines(t, func(t *testing.T, s inventory.Store) {
		h := fixture.NewStowed(t, s)
		ask := storeroom.LabelAsk{Kind: storeroom.LabelBag}
		assert.Equal(t, []string{"b/N-01", "b/N-02", "b/S-01", "b/T-01"}, paths(h.Labels(fixture.Keeper, ask)),
			"every bag of one's stations")
		ask.Stations = []string{"SOUTH"}
		assert.Equal(t, []string{"b/S-01"}, paths(h.Labels(fixture.Keeper, ask)))
		ask.Bags = []string{"n-02", "S-01", "N-02"}
		assert.Equal(t, []string{"b/N-02", "b/S-01", "b/N-02"}, paths(h.Labels(fixture.Keeper, ask)),
			"as they are named, also at another station")
		assert.Equal(t, storeroom.LabelFacts{Kind: storeroom.LabelBag, Station: "NORTH", Path: "b/N-01", Code: "N-01",
			Name: "Bag N-01", KitList: "Grab bag"},
			h.Labels(fixture.Manager, storeroom.LabelAsk{Kind: storeroom.LabelBag, Bags: []string{"N-01"}})[0])

		assert.Equal(t, []string{"b/N-01"}, paths(h.Labels(fixture.Keeper, storeroom.LabelAsk{Kind: storeroom.LabelCard})),
			"of the bags that hold something")
		assert.Empty(t, h.Labels(fixture.Keeper, storeroom.LabelAsk{Kind: storeroom.LabelCard,
			Bags: []string{"N-02"}})[0].Contents.Lines)
		card := h.Labels(fixture.Manager, storeroom.LabelAsk{Kind: storeroom.LabelCard, Bags: []string{"N-01"}})[0]
		assert.Equal(t, []storeroom.ContentsLine{{Pouch: "Red", Item: "Tourniquet, windlass", Qty: 2}, {Pouch: "Red",
			Item: "Dressing, plain", Qty: 4},
			{Pouch: "Blue", Item: "Marker", Qty: 1}, {Pouch: "Blue", Item: "Dressing, plain", Qty: 2}}, card.Contents.Lines)
		assert.Equal(t, []string{"2028-02-29", "2027-06-14", "101"}, []string{card.Contents.Earliest.String(),
			card.Contents.LastFullCheck.String(), card.Contents.Seal})
	})
}

func TestShelfLabels(t *testing.T) {
	storetest.Engines(t, func(t *testing.T, s inventory.Store) {
		h := fixture.NewStowed(t, s)
		ask := storeroom.LabelAsk{Kind: storeroom.LabelShelf, Place: "north-store"}
		assert.Equal(t, []string{"s/NORTH-STORE/DRESSING", "s/NORTH-STORE/PEN"}, paths(h.Labels(fixture.Keeper, ask)),
			"what lies there, once an item")
		ask.Items = []string{"gauze"}
		assert.Equal(t, []storeroom.LabelFacts{{Kind: storeroom.LabelShelf, Station: "NORTH", Path: "s/NORTH-STORE/GAUZE",
			Code: "GAUZE", Name: "Gauze, folded",
			Place: "North store", Unit: "each"}}, h.Labels(fixture.Keeper, ask), "also what does not lie there yet")
		ask.Place = "NORTH-TRAINING"
		assert.True(t, h.Labels(fixture.Keeper, ask)[0].Training)
		for _, wrong := range []storeroom.LabelAsk{
			{Kind: storeroom.LabelShelf}, {Kind: storeroom.LabelShelf, Place: "NOWHERE"}, {Kind: storeroom.LabelShelf,
				Place: "N-01"}, {Kind: storeroom.LabelShelf, Place: "N-BELT"},
		} {
			_, err := h.S.Storeroom.Labels(h.Ctx, fixture.Keeper, wrong)
			inventorytest.RequireFields(t, err, "place")
		}
		ask.Items = []string{"NOTHING"}
		_, err := h.S.Storeroom.Labels(h.Ctx, fixture.Keeper, ask)
		inventorytest.RequireFields(t, err, "item")
		_, err = h.S.Storeroom.Labels(h.Ctx, inventory.Actor{Name: "S", Role: inventory.Manager, Stations: []string{"SOUTH"}},
			ask)
		inventorytest.RequireKind(t, inventory.Forbidden, err)
	})
}

func TestDeviceLabels(t *testing.T) {
	storetest.Engines(t, func(t *testing.T, s inventory.Store) {
		h := fixture.NewStowed(t, s)
		spare := h.Receive("TQ", "S3", 1, "")
		lesson := h.Move(h.Receive("TQ", "S4", 1, "").ID, 1, "NORTH-STORE", "NORTH-TRAINING", inventory.ReasonToTraining).
			IntoLotID
		all := h.Labels(fixture.Keeper, storeroom.LabelAsk{Kind: storeroom.LabelDevice})
		var got []string
		for _, f := range all {
			assert.Equal(t, "d/"+strconv.FormatInt(f.LotID, 10), f.Path)
			got = append(got, fmt.Sprint(f.Serial, " ", f.Place, " ", f.Training))
		}
		assert.Equal(t, []string{"S1 N-01 false", "S2 N-01 false", "S3 NORTH-STORE false", "S4 NORTH-TRAINING true"}, got,
			"in bags and stores, training marked")
		named := storeroom.LabelAsk{Kind: storeroom.LabelDevice, Devices: []int64{lesson, spare.ID},
			Stations: []string{"SOUTH"}}
		assert.Equal(t, []int64{lesson, spare.ID}, []int64{h.Labels(fixture.Keeper, named)[0].LotID, h.Labels(fixture.Keeper,
			named)[1].LotID})
		before, err := h.S.Stock.Lot(h.Ctx, fixture.Keeper, lesson)
		require.NoError(t, err)
		named.Devices = []int64{before.SameBatch[0].ID}
		assert.Equal(t, lesson, h.Labels(fixture.Keeper, named)[0].LotID, "by a lot that it was in before")
		for _, id := range []int64{h.Pens.ID, 999, 0} {
			_, err := h.S.Storeroom.Labels(h.Ctx, fixture.Keeper, storeroom.LabelAsk{Kind: storeroom.LabelDevice,
				Devices: []int64{id}})
			inventorytest.RequireFields(t, err, "device")
		}
		south := inventory.Actor{Name: "S", Role: inventory.Manager, Stations: []string{"SOUTH"}}
		assert.Empty(t, h.Labels(south, storeroom.LabelAsk{Kind: storeroom.LabelDevice}))
		_, err = h.S.Storeroom.Labels(h.Ctx, south, storeroom.LabelAsk{Kind: storeroom.LabelDevice,
			Devices: []int64{spare.ID}})
		inventorytest.RequireFields(t, err, "device")
	})
}

// A device's label leads to the lot that the device is in now.
func TestDeviceLot(t *testing.T) {
	storetest.Engines(t, func(t *testing.T, s inventory.Store) {
		h := fixture.New(t, s)
		printed := h.Receive("TQ", "S9", 1, "").ID
		now := h.Move(printed, 1, "NORTH-STORE", "NORTH-TRAINING", inventory.ReasonToTraining).IntoLotID
		require.NotEqual(t, printed, now)
		for _, id := range []int64{printed, now} {
			lot, err := h.S.Stock.DeviceLot(h.Ctx, fixture.Crew, id)
			require.NoError(t, err)
			assert.Equal(t, now, lot)
		}
		h.Move(now, 1, "NORTH-TRAINING", "disposed", inventory.ReasonDisposed)
		lot, err := h.S.Stock.DeviceLot(h.Ctx, fixture.Crew, printed)
		require.NoError(t, err, "what is left of it is its story")
		assert.Equal(t, printed, lot)
		for _, id := range []int64{h.Receive("PEN", "", 1, "").ID, 999} {
			_, err := h.S.Stock.DeviceLot(h.Ctx, fixture.Crew, id)
			inventorytest.RequireKind(t, inventory.NotFound, err)
		}
	})
}

func TestLabelsRefused(t *testing.T) {
	storetest.Engines(t, func(t *testing.T, s inventory.Store) {
		h := fixture.New(t, s)
		_, err := h.S.Storeroom.Labels(h.Ctx, fixture.Crew, storeroom.LabelAsk{Kind: storeroom.LabelBag})
		inventorytest.RequireKind(t, inventory.Forbidden, err)
		_, err = h.S.Storeroom.Labels(h.Ctx, fixture.Keeper, storeroom.LabelAsk{Kind: "poster"})
		inventorytest.RequireFields(t, err, "kind")
		_, err = h.S.Storeroom.Labels(h.Ctx, fixture.Keeper, storeroom.LabelAsk{Kind: storeroom.LabelBag,
			Bags: []string{"N-99"}})
		inventorytest.RequireKind(t, inventory.NotFound, err)
		_, err = h.S.Storeroom.Labels(h.Ctx, fixture.Keeper, storeroom.LabelAsk{Kind: storeroom.LabelBag, Bags: make([]string,
			storeroom.MostLabels+1)})
		inventorytest.RequireKind(t, inventory.Invalid, err)
		_, err = h.Retire("N-02", "N-01")
		require.NoError(t, err)
		assert.Equal(t, []string{"b/N-01", "b/S-01", "b/T-01"},
			paths(h.Labels(fixture.Keeper, storeroom.LabelAsk{Kind: storeroom.LabelBag})))
		_, err = h.S.Storeroom.Labels(h.Ctx, fixture.Keeper, storeroom.LabelAsk{Kind: storeroom.LabelBag,
			Bags: []string{"N-02"}})
		inventorytest.RequireKind(t, inventory.Conflict, err)
	})
}
