package ledger_test

import (
	"context"
	"fmt"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stowkeeper/inventory"
	"stowkeeper/inventory/fixture"
	"stowkeeper/inventory/inventorytest"
	"stowkeeper/inventory/store/storetest"
)

func TestReceive(t *testing.T) {
	t.Parallel()
	storetest.Engines(t, func(t *testing.T, s inventory.Store) {
		h := fixture.New(t, s)
		lot, err := h.S.Ledger.Receive(h.Ctx, fixture.Keeper, inventory.Receipt{Place: " north-store", Item: "dressing",
			BatchNo: "B7", MadeOn: "2026-01", EndPrinted: "2028-02",
			Qty: 50, Reference: "DN-1", Note: "two boxes"})
		require.NoError(t, err)
		assert.Equal(t, "2028-02-29", lot.LastUsable.String())
		assert.Equal(t, inventory.WordExpiry, lot.EndWording, "expiry, where nothing else is said")
		assert.Equal(t, "2026-01-01", lot.MadeOn.String())
		assert.Equal(t, "2027-06-14", lot.ReceivedOn.String())
		assert.Equal(t, map[int64]int{lot.ID: 50}, h.Holds("NORTH-STORE"))

		h.Pass(24 * time.Hour)
		again := receiveMore(h, lot, 10)
		assert.Equal(t, lot.ID, again.ID, "the same batch and dates are the same lot")
		assert.Equal(t, "2027-06-14", again.ReceivedOn.String(), "of its first units")
		assert.Equal(t, map[int64]int{lot.ID: 60}, h.Holds("NORTH-STORE"))

		ms, err := h.S.Ledger.Movements(h.Ctx, fixture.Keeper, inventory.MovementFilter{LotID: lot.ID}, inventory.Page{})
		require.NoError(t, err)
		require.Len(t, ms, 2)
		m := ms[0]
		assert.Equal(t, "NORTH", m.Station)
		assert.Equal(t, []string{"supplier", "NORTH-STORE", "receipt", "Quinn", "DN-1", "two boxes"}, []string{m.From, m.To,
			string(m.Reason), m.By, m.Reference, m.Note})
		assert.Equal(t, inventorytest.Noon, m.HappenedAt)
		h.Verify()
	})
}

func receiveMore(h *fixture.House, l inventory.Lot, qty int) inventory.Lot {
	lot, err := h.S.Ledger.Receive(h.Ctx, fixture.Keeper, inventory.Receipt{Place: "NORTH-STORE", Item: l.Item,
		BatchNo: l.BatchNo,
		MadeOn:  "2026-01", EndPrinted: l.EndPrinted, EndWording: l.EndWording, Qty: qty})
	require.NoError(h.T, err)
	return lot
}

// TestReceiveDayIsTheStations: received at the same moment, the day at Auckland is
// the next one.
func TestReceiveDayIsTheStations(t *testing.T) {
	t.Parallel()
	h := fixture.New(t, storetest.OpenSQLite(t))
	h.Now = inventorytest.At("2027-06-14T13:00:00Z")
	lot, err := h.S.Ledger.Receive(h.Ctx, fixture.Keeper, inventory.Receipt{Place: "SOUTH-STORE", Item: "PEN", Qty: 1})
	require.NoError(t, err)
	assert.Equal(t, "2027-06-15", lot.ReceivedOn.String())
}

func TestReceiveWrongFields(t *testing.T) {
	t.Parallel()
	h := fixture.New(t, storetest.OpenSQLite(t))
	good := inventory.Receipt{Place: "NORTH-STORE", Item: "DRESSING", BatchNo: "B1", EndPrinted: "2028-02", Qty: 1}
	for _, c := range []struct {
		name   string
		change func(*inventory.Receipt)
		paths  []string
	}{
		{"not found", func(r *inventory.Receipt) { r.Place = "NOWHERE" }, []string{"place"}},
		{"a place outside", func(r *inventory.Receipt) { r.Place = "used" }, []string{"place"}},
		{"not found", func(r *inventory.Receipt) { r.Item = "NOTHING" }, []string{"item"}},
		{"not found", func(r *inventory.Receipt) { r.Product = 99 }, []string{"product"}},
		{"no units", func(r *inventory.Receipt) { r.Qty = 0 }, []string{"qty"}},
		{"fewer than none", func(r *inventory.Receipt) { r.Qty = -3 }, []string{"qty"}},
		{"too many", func(r *inventory.Receipt) { r.Qty = inventory.MaxQty + 1 }, []string{"qty"}},
		{"no date on a dated item", func(r *inventory.Receipt) { r.EndPrinted = "" }, []string{"end_printed"}},
		{"no batch number on a dated item", func(r *inventory.Receipt) { r.BatchNo = "" }, []string{"batch_no"}},
		{"a date that does not exist", func(r *inventory.Receipt) { r.EndPrinted = "2027-02-29" }, []string{"end_printed"}},
		{"a wording that does not exist", func(r *inventory.Receipt) { r.EndWording = "best_before" },
			[]string{"end_wording"}},
		{"made in the future", func(r *inventory.Receipt) { r.MadeOn = "2027-06-15" }, []string{"made_on"}},
		{"made on no date", func(r *inventory.Receipt) { r.MadeOn = "2026-13" }, []string{"made_on"}},
		{"received in the future", func(r *inventory.Receipt) { r.HappenedAt = inventorytest.Noon.Add(6 * time.Minute) },
			[]string{"happened_at"}},
		{"a serial number on a lot", func(r *inventory.Receipt) { r.Serial = "S1" }, []string{"serial"}},
		{"a device without one", func(r *inventory.Receipt) { r.Item, r.BatchNo, r.EndPrinted = "TQ", "", "" },
			[]string{"serial"}},
		{"two devices of one number", func(r *inventory.Receipt) {
			r.Item, r.BatchNo, r.EndPrinted, r.Serial, r.Qty = "TQ", "", "", "S1", 2
		}, []string{"qty"}},
		{"a printed date without batch number", func(r *inventory.Receipt) { r.Item, r.BatchNo = "PEN", "" },
			[]string{"batch_no"}},
		{"texts", func(r *inventory.Receipt) {
			r.BatchNo, r.Reference, r.Note = strings.Repeat("x", 41), "\xff", "a\x00b"
		}, []string{"batch_no", "reference", "note"}},
		{"all at once", func(r *inventory.Receipt) { r.Qty, r.EndPrinted, r.MadeOn = 0, "soon", "once" }, []string{"qty",
			"end_printed", "made_on"}},
	} {
		in := good
		c.change(&in)
		before := h.Everything()
		_, err := h.S.Ledger.Receive(h.Ctx, fixture.Keeper, in)
		inventorytest.RequireFields(t, err, c.paths...)
		assert.Equal(t, before, h.Everything(), c.name)
	}
	_, err := h.S.Ledger.Receive(h.Ctx, fixture.Keeper, good)
	assert.NoError(t, err)
}

// TestReceiveConflicts: what the ledger knows already forbids it.
func TestReceiveConflicts(t *testing.T) {
	t.Parallel()
	storetest.Engines(t, func(t *testing.T, s inventory.Store) {
		h := fixture.New(t, s)
		h.Receive("DRESSING", "B1", 5, "2028-02")
		h.Receive("TQ", "S1", 1, "")
		refused := func(in inventory.Receipt) error {
			t.Helper()
			before := h.Everything()
			_, err := h.S.Ledger.Receive(h.Ctx, fixture.Keeper, in)
			inventorytest.RequireKind(t, inventory.Conflict, err)
			assert.Equal(t, before, h.Everything())
			return err
		}
		err := refused(inventory.Receipt{Place: "NORTH-STORE", Item: "DRESSING", BatchNo: "B1", EndPrinted: "2028-03",
			Qty: 1})
		assert.ErrorContains(t, err, "expiry 2028-02", "says what the earlier record has")
		refused(inventory.Receipt{Place: "NORTH-STORE", Item: "DRESSING", BatchNo: "B1", EndPrinted: "2028-02",
			EndWording: inventory.WordUseBefore, Qty: 1})
		refused(inventory.Receipt{Place: "NORTH-STORE", Item: "DRESSING", BatchNo: "B1", EndPrinted: "2028-02",
			MadeOn: "2026-01", Qty: 1})
		refused(inventory.Receipt{Place: "SOUTH-STORE", Item: "TQ", Serial: "S1", Qty: 1})

		// A serial number is received once, also after it left for good.
		device := h.Receive("TQ", "S2", 1, "")
		h.Move(device.ID, 1, "NORTH-STORE", "used", inventory.ReasonUsed)
		refused(inventory.Receipt{Place: "NORTH-STORE", Item: "TQ", Serial: "S2", Qty: 1})

		// Receipts go into stores and quarantine only.
		for _, place := range []string{"N-01", "N-BELT", "N-REPAIR"} {
			refused(inventory.Receipt{Place: place, Item: "PEN", Qty: 1})
		}
		h.Verify()
	})
}

// TestReceiveExpired: past its end, a pack goes to quarantine or, no medicine,
// to training.
func TestReceiveExpired(t *testing.T) {
	t.Parallel()
	h := fixture.New(t, storetest.OpenSQLite(t))
	for _, c := range []struct {
		item, place, end string
		taken            bool
	}{
		{"DRESSING", "NORTH-STORE", "2027-06-13", false},
		{"DRESSING", "NORTH-STORE", "2027-06-14", true}, // its last day is today
		{"DRESSING", "NORTH-QUARANTINE", "2027-06-13", true},
		{"DRESSING", "NORTH-TRAINING", "2027-06-13", true},
		{"TABLET", "NORTH-STORE", "2027-06-13", false},
		{"TABLET", "NORTH-QUARANTINE", "2027-06-13", true},
	} {
		_, err := h.S.Ledger.Receive(h.Ctx, fixture.Keeper, inventory.Receipt{Place: c.place, Item: c.item,
			BatchNo:    c.place + c.end,
			EndPrinted: c.end, EndWording: inventory.WordExpiry, Qty: 1})
		if c.taken {
			assert.NoError(t, err, "%+v", c)
		} else {
			inventorytest.RequireKind(t, inventory.Conflict, err)
		}
	}
	// Counted in when the service starts, it may lie in a bag past its end.
	lot, err := h.S.Ledger.Receive(h.Ctx, fixture.Keeper, inventory.Receipt{Place: "N-01", Item: "DRESSING",
		BatchNo:    "OLD",
		EndPrinted: "2020-01", Qty: 1, Opening: true})
	require.NoError(t, err)
	assert.Equal(t, map[int64]int{lot.ID: 1}, h.Holds("N-01"))
}

// TestReceiveForTraining: a training store makes training lots of a batch.
func TestReceiveForTraining(t *testing.T) {
	t.Parallel()
	h := fixture.New(t, storetest.OpenSQLite(t))
	issue := h.Receive("DRESSING", "B1", 5, "2028-02")
	training, err := h.S.Ledger.Receive(h.Ctx, fixture.Keeper, inventory.Receipt{Place: "NORTH-TRAINING", Item: "DRESSING",
		BatchNo: "B1", EndPrinted: "2028-02", Qty: 2})
	require.NoError(t, err)
	assert.NotEqual(t, issue.ID, training.ID)
	assert.Equal(t, issue.Batch.ID, training.Batch.ID)
	assert.True(t, training.Training)
	h.Verify()
}

// TestReceiveAcceptsLittleClockErrors: a phone that is a few minutes fast is
// not refused, and nothing is recorded as happening in the future.
func TestReceiveAcceptsLittleClockErrors(t *testing.T) {
	t.Parallel()
	h := fixture.New(t, storetest.OpenSQLite(t))
	_, err := h.S.Ledger.Receive(h.Ctx, fixture.Keeper, inventory.Receipt{Place: "NORTH-STORE", Item: "PEN", Qty: 1,
		HappenedAt: inventorytest.Noon.Add(5 * time.Minute)})
	require.NoError(t, err)
	ms, err := h.S.Ledger.Movements(h.Ctx, fixture.Keeper, inventory.MovementFilter{}, inventory.Page{})
	require.NoError(t, err)
	assert.Equal(t, inventorytest.Noon, ms[0].HappenedAt)
}

// TestReceiveOfProduct: the product must be one of the item; the same batch
// number of another product is another batch. Where no product is named, the
// batch is the one that has the number, if one alone has it.
func TestReceiveOfProduct(t *testing.T) {
	t.Parallel()
	h := fixture.New(t, storetest.OpenSQLite(t))
	pr, err := h.S.Lists.CreateProduct(h.Ctx, fixture.Keeper, inventory.Product{Item: "DRESSING", PackSize: 10})
	require.NoError(t, err)
	in := inventory.Receipt{Place: "NORTH-STORE", Item: "DRESSING", Product: pr.ID, BatchNo: "B1", EndPrinted: "2028-02",
		Qty: 1}
	lot, err := h.S.Ledger.Receive(h.Ctx, fixture.Keeper, in)
	require.NoError(t, err)
	assert.Equal(t, pr.ID, lot.Product)
	in.Product = 0
	same, err := h.S.Ledger.Receive(h.Ctx, fixture.Keeper, in)
	require.NoError(t, err)
	assert.Equal(t, lot.ID, same.ID, "typed without its product")
	in.EndPrinted = "2028-05"
	_, err = h.S.Ledger.Receive(h.Ctx, fixture.Keeper, in)
	inventorytest.RequireKind(t, inventory.Conflict, err)
	in.OnConflict, in.CorrectionReason = inventory.CorrectEarlier, "looked at the pack"
	same, err = h.S.Ledger.Receive(h.Ctx, fixture.Keeper, in)
	require.NoError(t, err)
	assert.Equal(t, []any{lot.Batch.ID, "2028-05"}, []any{same.Batch.ID, same.EndPrinted})
	in.OnConflict, in.CorrectionReason, in.EndPrinted = "", "", "2028-06"
	second, err := h.S.Lists.CreateProduct(h.Ctx, fixture.Keeper, inventory.Product{Item: "DRESSING", PackSize: 5})
	require.NoError(t, err)
	in.Product = second.ID
	other, err := h.S.Ledger.Receive(h.Ctx, fixture.Keeper, in)
	require.NoError(t, err)
	assert.NotEqual(t, lot.Batch.ID, other.Batch.ID)
	in.Product = 0
	third, err := h.S.Ledger.Receive(h.Ctx, fixture.Keeper, in)
	require.NoError(t, err)
	assert.Equal(t, int64(0), third.Product, "of two products it could be either")
	in.Item, in.Product = "GAUZE", pr.ID
	_, err = h.S.Ledger.Receive(h.Ctx, fixture.Keeper, in)
	inventorytest.RequireFields(t, err, "product")
}

func TestReceiveAccess(t *testing.T) {
	t.Parallel()
	h := fixture.New(t, storetest.OpenSQLite(t))
	in := inventory.Receipt{Place: "SOUTH-STORE", Item: "PEN", Qty: 1}
	for kind, by := range map[inventory.ErrorKind]inventory.Actor{inventory.SignedOut: fixture.Nobody,
		inventory.Forbidden: fixture.Crew} {
		_, err := h.S.Ledger.Receive(h.Ctx, by, in)
		inventorytest.RequireKind(t, kind, err)
	}
	_, err := h.S.Ledger.Receive(h.Ctx, inventory.Actor{Name: "N", Role: inventory.Quartermaster,
		Stations: []string{"NORTH"}}, in)
	inventorytest.RequireKind(t, inventory.Forbidden, err)
	_, err = h.S.Ledger.Receive(h.Ctx, fixture.Manager, in)
	inventorytest.RequireKind(t, inventory.Forbidden, err)
}

// spying counts the batches that units of work read.
type (
	spying struct {
		inventory.Store
		batches int
	}
	spyingWriter struct {
		inventory.Writer
		on *spying
	}
)

func (s *spying) Write(ctx context.Context, fn func(context.Context, inventory.Writer) error) error {
	return s.Store.Write(ctx, func(ctx context.Context, w inventory.Writer) error { return fn(ctx, spyingWriter{w, s}) })
}

func (w spyingWriter) Batches(f inventory.BatchFilter) ([]inventory.Batch, error) {
	found, err := w.Writer.Batches(f)
	w.on.batches += len(found)
	return found, err
}

// TestReceiveAmongManyBatches: an item that came in many batches is received as quickly as one that came in few: of its
// batches only those that may be the same are read.
func TestReceiveAmongManyBatches(t *testing.T) {
	t.Parallel()
	storetest.Engines(t, func(t *testing.T, s inventory.Store) {
		spy := &spying{Store: s}
		h := fixture.New(t, spy)
		in := inventory.Receipt{Place: "NORTH-STORE", Item: "DRESSING", EndPrinted: "2028-02", Qty: 1}
		for n := range 50 {
			in.BatchNo = fmt.Sprint("OF ", n)
			lot, err := h.S.Ledger.Receive(h.Ctx, fixture.Keeper, in)
			require.NoError(t, err)
			assert.Equal(t, in.BatchNo, lot.BatchNo)
		}
		spy.batches, in.BatchNo = 0, " OF  7"
		lot, err := h.S.Ledger.Receive(h.Ctx, fixture.Keeper, in)
		require.NoError(t, err)
		assert.Equal(t, 2, h.Holds("NORTH-STORE")[lot.ID], "it is found among them")
		assert.Equal(t, 1, spy.batches)
	})
}
