package transfer_test

import (
	"context"
	"errors"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stowkeeper/inventory"
	"stowkeeper/inventory/fixture"
	"stowkeeper/inventory/inventorytest"
	"stowkeeper/inventory/store/storetest"
	"stowkeeper/inventory/transfer"
)

// TestMay is the table of what may be done with a transfer as it stands.
func TestMay(t *testing.T) {
	part := []transfer.SentLine{{Sent: 5, Received: 2}}
	for _, tt := range []struct {
		status transfer.Status
		lines  []transfer.SentLine
		may    string
	}{
		{transfer.Asked, nil, "sent cancelled "}, {transfer.Sent, []transfer.SentLine{{Sent: 5}}, "received cancelled "},
		{transfer.Sent, part, "received "}, {transfer.Missing, part, "settled "}, {transfer.Received, part, ""},
		{transfer.Cancelled, nil, ""},
	} {
		may := ""
		for _, did := range []string{"sent", "received", "cancelled", "settled"} {
			err := transfer.Transfer{Status: tt.status, Lines: tt.lines}.May(did)
			if err == nil {
				may += did + " "
				continue
			}
			assert.Equal(t, inventory.Conflict, inventory.KindOf(err))
		}
		assert.Equal(t, tt.may, may, tt.status)
	}
}

// TestSuggested: what is sent is first expired first out, the lot that was named before others, nothing expired or
// recalled, and never more than is there.
func TestSuggested(t *testing.T) {
	items := map[string]inventory.Item{"D": {Code: "D", Dated: true, TrackedBy: inventory.ByLot}}
	st := func(id int64, qty int, end string, withdrawn ...string) inventory.Stock {
		return inventory.Stock{Qty: qty, Lot: inventory.Lot{ID: id, Batch: inventory.Batch{Item: "D", EndPrinted: end,
			LastUsable: inventory.MustDay(end), BatchRecord: inventory.BatchRecord{Withdrawn: withdrawn}}}}
	}
	held := []inventory.Stock{st(1, 5, "2029-01-31"), st(2, 3, "2028-01-31"), st(3, 9, "2027-01-31"),
		st(4, 9, "2028-02-28", "R-1")}
	ask := func(lines ...transfer.AskedLine) map[int64]int {
		return transfer.Suggested(lines, held, items, inventory.MustDay("2027-06-14"), inventory.ForIssue)
	}
	assert.Equal(t, map[int64]int{1: 1, 2: 3}, ask(transfer.AskedLine{Item: "D", Qty: 4}))
	assert.Equal(t, map[int64]int{1: 4}, ask(transfer.AskedLine{Item: "D", LotID: 1, Qty: 4}))
	assert.Equal(t, map[int64]int{1: 5, 2: 3}, ask(transfer.AskedLine{Item: "D", Qty: 40},
		transfer.AskedLine{Item: "D", LotID: 2, Qty: 1}))
	last := transfer.Suggested([]transfer.AskedLine{{Item: "D", Qty: 20}}, held, items, inventory.MustDay("2028-02-01"),
		inventory.ForIssue)
	assert.Equal(t, map[int64]int{1: 5}, last, "what is past its date on the day of arrival stays")
	assert.Empty(t, ask(transfer.AskedLine{Item: "E", Qty: 4}))
}

// TestATransferThatFails: whatever goes wrong at any step leaves every unit where it was; the step is done then, once.
func TestATransferThatFails(t *testing.T) {
	h := fixture.New(t, storetest.OpenSQLite(t))
	l := h.Receive("DRESSING", "B1", 5, "2031-06")
	both := fixture.Admin
	v, err := h.S.Transfer.Ask(h.Ctx, both, transfer.TransferRequest{From: "NORTH-STORE", To: "SOUTH-STORE",
		Lines: []transfer.AskedLine{{Item: "DRESSING", Qty: 3}}})
	require.NoError(t, err)
	assert.Equal(t, map[int64]int{l.ID: 3}, v.Suggest)
	everywhere := func() int {
		n := 0
		for _, place := range []string{"NORTH-STORE", "SOUTH-STORE", "TRANSIT-1"} {
			n += h.Holds(place)[l.ID]
		}
		return n
	}
	crash := errors.New("crash")
	for name, step := range map[string]func(context.Context) error{
		"send": func(ctx context.Context) error {
			_, err := h.S.Transfer.Send(ctx, both, v.ID, []transfer.LotQuantity{{LotID: l.ID, Qty: 3}}, "")
			return err
		},
	} {
		err := h.S.Ledger.Together(h.Ctx, func(ctx context.Context) error { return errors.Join(step(ctx), crash) })
		require.ErrorIs(t, err, crash, name)
		assert.Equal(t, 5, h.Holds("NORTH-STORE")[l.ID], name)
		require.NoError(t, step(h.Ctx))
		assert.Equal(t, inventory.Conflict, inventory.KindOf(step(h.Ctx)), "a second press")
		assert.Equal(t, []int{2, 5}, []int{h.Holds("NORTH-STORE")[l.ID], everywhere()}, name)
	}
	receive := func(ctx context.Context) error {
		_, err := h.S.Transfer.Receive(ctx, both, v.ID,
			transfer.Arrival{Lines: []transfer.LotQuantity{{LotID: l.ID, Qty: 2}}})
		return err
	}
	require.ErrorIs(t, h.S.Ledger.Together(h.Ctx, func(ctx context.Context) error {
		return errors.Join(receive(ctx), crash)
	}), crash)
	assert.Equal(t, 0, h.Holds("SOUTH-STORE")[l.ID])
	require.NoError(t, receive(h.Ctx))
	assert.Equal(t, inventory.Conflict, inventory.KindOf(receive(h.Ctx)), "a second press")
	assert.Equal(t, []int{2, 5}, []int{h.Holds("SOUTH-STORE")[l.ID], everywhere()})
	_, err = h.S.Transfer.Settle(h.Ctx, both, v.ID, transfer.Settlement{Outcome: transfer.Lost, Reason: "gone"})
	require.NoError(t, err)
	got, err := h.S.Transfer.Transfer(h.Ctx, both, v.ID)
	require.NoError(t, err)
	assert.Equal(t, []any{transfer.Received, 1}, []any{got.Status, got.Lines[0].Lost})
	all, err := h.S.Transfer.Transfers(h.Ctx, both, inventory.DocumentFilter{}, inventory.Page{})
	require.NoError(t, err)
	assert.Len(t, all, 1)
	_, err = h.S.Transfer.Cancel(h.Ctx, both, v.ID, "late")
	inventorytest.RequireKind(t, inventory.Conflict, err)
	h.Verify()
}
