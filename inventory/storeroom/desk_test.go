package storeroom_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stowkeeper/inventory"
	"stowkeeper/inventory/fixture"
	"stowkeeper/inventory/inventorytest"
	"stowkeeper/inventory/store/storetest"
	"stowkeeper/inventory/storeroom"
)

func TestDesk(t *testing.T) {
	t.Parallel()
	h := fixture.NewStowed(t, storetest.OpenSQLite(t))
	h.RecordUse(h.Use(inventory.UseLine{LotID: h.Dressings.ID, Qty: 9}))
	h.Record(fixture.SealCheck(h.Bag("N-01").Position, "7"))
	late := h.FullCheck()
	h.Pass(time.Minute)
	h.Move(h.Pens.ID, 1, "N-01", "NORTH-STORE", inventory.ReasonReturn)
	h.Record(late)
	given := h.Move(h.Dressings.ID, 2, "NORTH-STORE", "NORTH-TRAINING", inventory.ReasonToTraining)
	d, err := h.S.Storeroom.Desk(h.Ctx, fixture.Keeper, []string{"NORTH"})
	require.NoError(t, err)
	var codes []string
	for _, b := range d.Bags {
		codes = append(codes, b.Code)
		assert.NotEmpty(t, b.Why)
	}
	assert.Equal(t, []string{"N-01", "N-02", "T-01"}, codes, "by priority")
	assert.Equal(t, storeroom.StepReview, d.Bags[0].Next)
	assert.Equal(t, []any{storeroom.StepRestock, 9, 7}, []any{d.Bags[1].Next, d.Bags[1].Lacks, d.Bags[1].Has})
	assert.Equal(t, []any{storeroom.StepRestock, 9, 2}, []any{d.Bags[2].Next, d.Bags[2].Lacks, d.Bags[2].Has},
		"from the store of training stock")
	h.Move(given.IntoLotID, 2, "NORTH-TRAINING", "NORTH-TRAINING-QUARANTINE", inventory.ReasonQuarantine)
	trained, err := h.S.Storeroom.Desk(h.Ctx, fixture.Keeper, []string{"NORTH"})
	require.NoError(t, err)
	assert.Equal(t, []any{storeroom.StepRestock, 9, 0}, []any{trained.Bags[2].Next, trained.Bags[2].Lacks,
		trained.Bags[2].Has}, "what to buy is told of bags for issue")
	assert.Equal(t, 2, d.Waiting)
	assert.Len(t, d.Open, 1)
	_, err = h.S.Storeroom.Desk(h.Ctx, fixture.Crew, nil)
	inventorytest.RequireKind(t, inventory.Forbidden, err)
}

// TestDeskOfRetiredBag: an observation in a bag that was retired since stays open, and is told in its station's time.
func TestDeskOfRetiredBag(t *testing.T) {
	t.Parallel()
	h := fixture.NewStowed(t, storetest.OpenSQLite(t))
	h.Restock("N-02", "200")
	h.Pass(time.Minute)
	seen := fixture.SealCheck(h.Bag("N-02").Position, "7")
	seen.Bag = "N-02"
	h.Record(seen)
	before, err := h.S.Storeroom.Desk(h.Ctx, fixture.Keeper, []string{"NORTH"})
	require.NoError(t, err)
	_, err = h.Retire("N-02", "")
	require.NoError(t, err)
	d, err := h.S.Storeroom.Desk(h.Ctx, fixture.Keeper, []string{"NORTH"})
	require.NoError(t, err)
	require.NotEmpty(t, d.Open)
	assert.Equal(t, before.Open, d.Open)
	for _, o := range d.Open {
		assert.Equal(t, "NORTH", d.At[o.Bag].Code, o.Bag)
	}
}

func TestLotsStowed(t *testing.T) {
	t.Parallel()
	h := fixture.NewStowed(t, storetest.OpenSQLite(t))
	stored := h.Receive("TABLET", "T1", 2, "2029-01")
	lots, err := h.S.Storeroom.LotsStowed(h.Ctx, fixture.Crew, []int64{h.Dressings.ID, stored.ID, 99})
	require.NoError(t, err)
	require.Len(t, lots, 1, "only what lies in a bag")
	assert.Equal(t, "B1", lots[h.Dressings.ID].BatchNo)
	lots, err = h.S.Storeroom.LotsStowed(h.Ctx, inventory.Actor{Name: "Sol", Role: inventory.Crew,
		Stations: []string{"SOUTH"}}, []int64{h.Dressings.ID})
	require.NoError(t, err)
	assert.Empty(t, lots, "of another station's bag")
	_, err = h.S.Storeroom.LotsStowed(h.Ctx, fixture.Nobody, []int64{1})
	inventorytest.RequireKind(t, inventory.SignedOut, err)
}
