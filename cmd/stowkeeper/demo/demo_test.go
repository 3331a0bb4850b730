package demo_test

import (
	"context"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stowkeeper/cmd/stowkeeper/demo"
	"stowkeeper/inventory"
	"stowkeeper/inventory/lists"
	"stowkeeper/inventory/services"
	"stowkeeper/inventory/store"
	"stowkeeper/testdata"
)

// plain stands in for Argon2id, which would make the tests slow.
type plain struct{}

func (plain) Hash(s string) (string, error) { return "plain:" + s, nil }
func (plain) Match(hash, s string) bool     { return hash == "plain:"+s }

var manager = inventory.Actor{Name: "test", Role: inventory.Administrator}

// ends are when the scenario ends in the tests.
var ends = []string{"2027-02-28T23:30:00Z", "2026-11-25T09:15:00Z"}

// TestScenario loads the demo on days of different seasons and weekdays, once
// while the date has changed at some stations only, looks for everything that
// there should be to see, and does the README's tour on it.
func TestScenario(t *testing.T) {
	for _, end := range ends {
		t.Run(end, func(t *testing.T) {
			at, err := time.Parse(time.RFC3339, end)
			require.NoError(t, err)
			now := inventory.InstantOf(at)
			db, err := store.Open(context.Background(), filepath.Join(t.TempDir(), "demo.db"), store.Options{})
			require.NoError(t, err)
			t.Cleanup(func() { assert.NoError(t, db.Close()) })
			require.NoError(t, demo.Load(context.Background(), db, testdata.Demo, plain{}, now, nil))
			svc := services.New(db, func() inventory.Instant { return now }, services.Options{})
			look(t, svc)
			lookAtTourBag(t, svc)
			lookAtDevices(t, svc)
			lookAtNotices(t, svc)
			lookAtOther(t, svc)
			walk{t: t, ctx: t.Context(), svc: svc}.tour()
			roundTrip(t, svc) // once nothing is to review: no import brings that in
		})
	}
}

func look(t *testing.T, svc *services.All) {
	ctx := context.Background()
	bags, err := svc.Shift.BagList(ctx, manager, inventory.BagFilter{}, inventory.Page{}, lists.Outlook{})
	require.NoError(t, err)
	assert.Len(t, bags, 36)
	states := map[inventory.State]int{}
	for _, b := range bags {
		states[b.State]++
		t.Log(b.Code, b.State, b.Headline)
	}
	for _, s := range []inventory.State{inventory.Ready, inventory.ReadyWithGaps, inventory.NotReady,
		inventory.OutOfService} {
		assert.Positive(t, states[s], s)
	}

	items, err := svc.Lists.Items(ctx, manager, inventory.ItemFilter{}, inventory.Page{})
	require.NoError(t, err)
	assert.Greater(t, len(items), 99)
	lots, err := svc.Stock.Lots(ctx, manager, inventory.LotFilter{}, 0, inventory.Page{})
	require.NoError(t, err)
	assert.Greater(t, len(lots), 300)
	t.Log(len(lots), "lots")

	uses, err := svc.Shift.Uses(ctx, manager, inventory.RecordFilter{Status: inventory.StatusToReview}, inventory.Page{})
	require.NoError(t, err)
	assert.Len(t, uses, 1, "a use of stock that the ledger lacks waits")
	checks, err := svc.Shift.Checks(ctx, manager, inventory.RecordFilter{Status: inventory.StatusToReview},
		inventory.Page{})
	require.NoError(t, err)
	assert.Len(t, checks, 1, "a check that came late waits")

	report, err := svc.Verify.Verify(ctx)
	require.NoError(t, err)
	assert.Empty(t, report.Faults)
	t.Logf("%d movements, %d balances, %d bags verified", report.Movements, report.Balances, report.Bags)
}

// lookAtTourBag looks at what the README's tour relies on.
func lookAtTourBag(t *testing.T, svc *services.All) {
	c, err := svc.Shift.Checklist(context.Background(), manager, "FM-TR1", lists.Outlook{})
	require.NoError(t, err)

	pouches, expired, split := 0, 0, 0
	for _, l := range c.Readiness.Lines {
		if l.Item == "TQ-WIND" {
			pouches++
		}
		for _, lot := range l.Lots {
			if !lot.Usable && lot.UsableThrough != 0 && lot.Reported == nil {
				expired++
			}
			story, err := svc.Stock.Lot(context.Background(), manager, lot.LotID)
			require.NoError(t, err)
			if story.Parent != 0 {
				split++
			}
		}
	}
	assert.Equal(t, 2, pouches, "two pouches ask for the same item")
	assert.Equal(t, 1, expired, "an expired unit to take out")
	assert.Positive(t, split, "a lot that has been split")
	assert.Equal(t, inventory.ReadyWithGaps, c.Readiness.State, "%v", c.Readiness.Findings)
}
