package fault_test

import (
	"database/sql"
	"errors"
	"testing"

	"github.com/stretchr/testify/assert"

	"stowkeeper/inventory/store/fault"
)

// TestAndRollback: what could not be undone is what counts, of whatever kind it is; what it was to be undone for is
// told beside it, and no longer relied on.
func TestAndRollback(t *testing.T) {
	t.Parallel()
	taken, disk := errors.New("taken"), errors.New("disk")
	assert.Equal(t, taken, fault.AndRollback(taken, nil))
	assert.Equal(t, taken, fault.AndRollback(taken, sql.ErrTxDone), "nothing was left to undo")
	assert.NoError(t, fault.AndRollback(nil, disk))
	both := fault.AndRollback(taken, disk)
	assert.ErrorIs(t, both, disk)
	assert.NotErrorIs(t, both, taken)
	assert.EqualError(t, both, "disk (rolling back after: taken)")
}
