package store_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"pgregory.net/rapid"

	"stowkeeper/inventory/store"
	"stowkeeper/inventory/store/storetest"
)

func TestBind(t *testing.T) {
	lite := storetest.OpenSQLite(t)
	assert.Equal(t, "a = ? AND b IN (?, ?)", store.Bind(lite, "a = ? AND b IN (?, ?)"))
	pg := storetest.Open(t, storetest.Database(t, store.Postgres))
	assert.Equal(t, "a = $1 AND b IN ($2, $3)", store.Bind(pg, "a = ? AND b IN (?, ?)"))
	assert.Equal(t, "SELECT 1", store.Bind(pg, "SELECT 1"))
}

// TestChunks cuts lists of any length: nothing is lost, nothing is too long.
func TestChunks(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		values := rapid.SliceOf(rapid.Int()).Draw(t, "values")
		size := rapid.IntRange(1, 9).Draw(t, "size")
		var back []int
		for _, part := range store.Chunks(values, size) {
			assert.NotEmpty(t, part)
			assert.LessOrEqual(t, len(part), size)
			back = append(back, part...)
		}
		assert.ElementsMatch(t, values, back)
	})
}

func TestLockOrder(t *testing.T) {
	held := map[string]bool{"B": true, "D": true}
	assert.Equal(t, []string{"A", "C", "E"}, store.Without([]string{"E", "B", "A", "C", "A", "D"}, held))
	assert.Empty(t, store.Without(nil, nil))
	for code, want := range map[string]bool{"A": true, "C": true, "E": false} {
		assert.Equal(t, want, store.Earlier(code, held), code)
	}
	assert.False(t, store.Earlier("A", nil))
}
