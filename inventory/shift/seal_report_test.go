package shift_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stowkeeper/inventory"
	"stowkeeper/inventory/fixture"
	"stowkeeper/inventory/inventorytest"
	"stowkeeper/inventory/shift"
	"stowkeeper/inventory/store/storetest"
)

// TestSealReportAlone tries each thing that a report of a seal can say on each
// thing that may be known of it.
func TestSealReportAlone(t *testing.T) {
	h := fixture.NewStowed(t, storetest.OpenSQLite(t))
	report := func(in shift.SealReport) (inventory.Bag, error) {
		h.Pass(time.Minute)
		return h.S.Shift.ReportSeal(h.Ctx, fixture.Crew, "N-01", in)
	}
	_, err := report(shift.SealReport{})
	inventorytest.RequireKind(t, inventory.Invalid, err)
	_, err = report(shift.SealReport{SealSet: "9"})
	inventorytest.RequireKind(t, inventory.Invalid, err)
	b, err := report(shift.SealReport{Opened: true})
	require.NoError(t, err)
	assert.Equal(t, inventory.SealNone, b.SealState, "opened, and not sealed again")
	b, err = report(shift.SealReport{SealSet: "9"})
	require.NoError(t, err)
	assert.Equal(t, inventory.SealIntact, b.SealState)
	b, err = report(shift.SealReport{SealSeen: "8", Opened: true, SealSet: "10"})
	require.NoError(t, err)
	assert.Equal(t, inventory.SealDifferent, b.SealState, "a new seal does not settle that another one was found")
	assert.Equal(t, "10", b.Seal)
	_, err = report(shift.SealReport{Opened: true, HappenedAt: h.Now.Add(-time.Hour)})
	inventorytest.RequireKind(t, inventory.Conflict, err)
	_, err = report(shift.SealReport{Opened: true, HappenedAt: h.Now.Add(time.Hour)})
	inventorytest.RequireKind(t, inventory.Invalid, err)
	h.Verify()
}
