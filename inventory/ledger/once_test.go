package ledger_test

import (
	"context"
	"errors"
	"sync"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stowkeeper/inventory"
	"stowkeeper/inventory/fixture"
	"stowkeeper/inventory/inventorytest"
	"stowkeeper/inventory/store/storetest"
)

var requestKey = inventory.RequestKey{Key: "k-1", Principal: "Cleo", Method: "POST", Path: "/api/v1/receipts"}

// receiveOnce books one pen in under a key.
func receiveOnce(h *fixture.House, k inventory.RequestKey, bodyHash string, fail error) (inventory.Answer, bool,
	error) {
	return h.S.Ledger.Once(h.Ctx, k, bodyHash, func(ctx context.Context) (inventory.Answer, error) {
		if _, err := h.S.Ledger.Receive(ctx, fixture.Keeper, inventory.Receipt{Place: "NORTH-STORE", Item: "PEN",
			BatchNo: "P",
			Qty:     1}); err != nil {
			return inventory.Answer{}, err
		}
		return inventory.Answer{Status: 201, ContentType: "application/json", Body: []byte(`{"id":1}`)}, fail
	})
}

func pens(h *fixture.House) int {
	n := 0
	for _, qty := range h.Holds("NORTH-STORE") {
		n += qty
	}
	return n
}

// TestOnce: the first time it is done, later the first answer comes again; the
// same key for something else is refused; another person's key is another key.
func TestOnce(t *testing.T) {
	t.Parallel()
	storetest.Engines(t, func(t *testing.T, s inventory.Store) {
		h := fixture.New(t, s)
		first, replayed, err := receiveOnce(h, requestKey, "body", nil)
		require.NoError(t, err)
		assert.False(t, replayed)
		assert.Equal(t, 201, first.Status)

		again, replayed, err := receiveOnce(h, requestKey, "body", nil)
		require.NoError(t, err)
		assert.True(t, replayed)
		assert.Equal(t, first, again)
		assert.Equal(t, 1, pens(h))

		_, _, err = receiveOnce(h, requestKey, "another body", nil)
		inventorytest.RequireFields(t, err, "Idempotency-Key")
		assert.Equal(t, 1, pens(h))

		for _, change := range []func(*inventory.RequestKey){
			func(k *inventory.RequestKey) { k.Key = "k-2" }, func(k *inventory.RequestKey) { k.Principal = "Mo" },
			func(k *inventory.RequestKey) { k.Method = "PUT" }, func(k *inventory.RequestKey) { k.Path = "/api/v1/movements" },
		} {
			k := requestKey
			change(&k)
			_, replayed, err = receiveOnce(h, k, "body", nil)
			require.NoError(t, err)
			assert.False(t, replayed)
		}
		assert.Equal(t, 5, pens(h))
		h.Verify()
	})
}

// TestAnswered: a kept answer is found by its key, and only for the same request.
func TestAnswered(t *testing.T) {
	t.Parallel()
	h := fixture.New(t, storetest.OpenSQLite(t))
	_, found, err := h.S.Ledger.Answered(h.Ctx, requestKey, "body")
	inventorytest.RequireKind(t, inventory.NotFound, err)
	assert.False(t, found)
	first, _, err := receiveOnce(h, requestKey, "body", nil)
	require.NoError(t, err)
	again, found, err := h.S.Ledger.Answered(h.Ctx, requestKey, "body")
	require.NoError(t, err)
	assert.True(t, found)
	assert.Equal(t, first, again)
	_, _, err = h.S.Ledger.Answered(h.Ctx, requestKey, "another body")
	inventorytest.RequireFields(t, err, "Idempotency-Key")
	assert.Equal(t, 1, pens(h), "asking does nothing")
}

// TestOnceFailed: a request that failed leaves neither effect nor answer, so it
// may be tried again with its key.
func TestOnceFailed(t *testing.T) {
	t.Parallel()
	storetest.Engines(t, func(t *testing.T, s inventory.Store) {
		h := fixture.New(t, s)
		for _, fail := range []error{errors.New("disk on fire"), inventory.Refuse(inventory.Conflict, "no"),
			inventory.InvalidField("qty", "no")} {
			_, _, err := receiveOnce(h, requestKey, "body", fail)
			require.Error(t, err)
			assert.Zero(t, pens(h))
		}
		_, replayed, err := receiveOnce(h, requestKey, "body", nil)
		require.NoError(t, err)
		assert.False(t, replayed)
		assert.Equal(t, 1, pens(h))
	})
}

// TestOnceAtOnce: ten copies of one request at the same time are one request.
func TestOnceAtOnce(t *testing.T) {
	t.Parallel()
	storetest.Engines(t, func(t *testing.T, s inventory.Store) {
		h := fixture.New(t, s)
		var wg sync.WaitGroup
		answers, errs := make([]inventory.Answer, 10), make([]error, 10)
		for i := range answers {
			wg.Go(func() { answers[i], _, errs[i] = receiveOnce(h, requestKey, "body", nil) })
		}
		wg.Wait()
		for i := range answers {
			require.NoError(t, errs[i])
			assert.Equal(t, answers[0], answers[i])
		}
		assert.Equal(t, 1, pens(h))
		h.Verify()
	})
}

// TestTogether: several use cases in one unit of work all happen or none does.
func TestTogether(t *testing.T) {
	t.Parallel()
	h := fixture.New(t, storetest.OpenSQLite(t))
	both := func(second inventory.Receipt) error {
		return h.S.Ledger.Together(h.Ctx, func(ctx context.Context) error {
			if _, err := h.S.Ledger.Receive(ctx, fixture.Keeper, inventory.Receipt{Place: "NORTH-STORE", Item: "PEN",
				BatchNo: "P",
				Qty:     1}); err != nil {
				return err
			}
			_, err := h.S.Ledger.Receive(ctx, fixture.Keeper, second)
			return err
		})
	}
	require.Error(t, both(inventory.Receipt{Place: "NORTH-STORE", Item: "PEN", Qty: 0}))
	assert.Zero(t, pens(h))
	require.NoError(t, both(inventory.Receipt{Place: "NORTH-STORE", Item: "PEN", BatchNo: "P", Qty: 2}))
	assert.Equal(t, 3, pens(h))
}
