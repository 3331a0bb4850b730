package notice_test

import (
	"context"
	"fmt"
	"sync/atomic"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stowkeeper/inventory"
	"stowkeeper/inventory/fixture"
	"stowkeeper/inventory/inventorytest"
	"stowkeeper/inventory/lists"
	"stowkeeper/inventory/services"
	"stowkeeper/inventory/store"
	"stowkeeper/inventory/store/storetest"
)

const manyBags = 1000

// stowThousand makes a thousand bags, each with a dressing; their batches are
// B0 to B9, so that a notice on all of them changes ten rows.
func stowThousand(h *fixture.House) {
	require.NoError(h.T, h.S.Ledger.Together(h.Ctx, func(ctx context.Context) error {
		var lots []inventory.Lot
		for i := range 10 {
			lot, err := h.S.Ledger.Receive(ctx, fixture.Keeper, inventory.Receipt{Place: "NORTH-STORE", Item: "DRESSING",
				BatchNo: fmt.Sprint("B", i), EndPrinted: "2030-01", Qty: manyBags / 10})
			if err != nil {
				return err
			}
			lots = append(lots, lot)
		}
		var ms []inventory.Movement
		for i := range manyBags {
			code := fmt.Sprintf("M-%04d", i)
			if _, err := h.S.Lists.CreateBag(ctx, fixture.Admin, inventory.Bag{Code: code, Station: "NORTH", Name: "Pouch",
				KitList: "GRAB"}); err != nil {
				return err
			}
			ms = append(ms, inventory.Movement{LotID: lots[i%10].ID, Qty: 1, From: "NORTH-STORE", To: code,
				Reason: inventory.ReasonStow})
		}
		_, err := h.S.Ledger.Move(ctx, fixture.Keeper, ms)
		return err
	}))
}

// scene is what one reading sees: bags under notice, open notices, and units
// that are pulled.
type scene struct{ stopped, open, pulled int }

// look reads everything on one snapshot.
func look(ctx context.Context, s *services.All) (seen scene, err error) {
	err = s.Store.Read(ctx, func(ctx context.Context, _ inventory.Reader) error {
		notices, err := s.Notice.Notices(ctx, fixture.Admin, inventory.NoticeFilter{Status: inventory.NoticeOpen},
			inventory.Page{})
		if err != nil {
			return err
		}
		seen.open = len(notices)
		bags, err := s.Shift.BagList(ctx, fixture.Admin, inventory.BagFilter{}, inventory.Page{}, lists.Outlook{})
		if err != nil {
			return err
		}
		for _, b := range bags {
			if b.Stops > 2 { // each lacks a tourniquet and dressings
				seen.stopped++
			}
		}
		lots, err := s.Stock.StockAt(ctx, fixture.Admin, "NORTH-QUARANTINE")
		for _, l := range lots {
			seen.pulled += l.Where[0].Qty
		}
		return err
	})
	return seen, err
}

// TestNoticeOnAThousandBags: a notice takes effect in one unit of work, and so
// does pulling what it means. Another connection that reads throughout sees all
// of it or nothing.
func TestNoticeOnAThousandBags(t *testing.T) {
	t.Parallel()
	for _, engine := range []string{store.SQLite, store.Postgres} {
		t.Run(engine, func(t *testing.T) {
			db := storetest.Empty(t, engine)
			h := fixture.New(t, storetest.Open(t, db))
			stowThousand(h)
			other := services.New(storetest.Open(t, db), func() inventory.Instant { return inventorytest.Noon },
				services.Options{})
			before, under, pulled := scene{}, scene{stopped: manyBags, open: 1}, scene{open: 1, pulled: manyBags}

			var readings atomic.Int64
			seen := map[scene]int{}
			ctx, stop := context.WithCancel(t.Context())
			done := make(chan error, 1)
			go func() {
				for ctx.Err() == nil {
					s, err := look(t.Context(), other)
					if err != nil {
						done <- err
						return
					}
					seen[s]++
					readings.Add(1)
				}
				done <- nil
			}()
			// wait lets the other connection read at least once more from start
			// to end.
			wait := func() {
				for from := readings.Load(); readings.Load() < from+2; {
					select {
					case err := <-done:
						require.NoError(t, err)
						t.Fatal("the reader ended")
					case <-time.After(time.Millisecond):
					}
				}
			}
			var last inventory.Notice
			for i := range 3 {
				wait()
				n := withdrawing
				n.Reference = fmt.Sprint("FSN-", i)
				n.BatchNos = []string{"B0", "B1", "B2", "B3", "B4", "B5", "B6", "B7", "B8", "B9"}
				last = h.Issue(n)
				wait()
				if i < 2 {
					_, err := h.S.Notice.CancelNotice(h.Ctx, fixture.Keeper, last.ID, "only to see it")
					require.NoError(t, err)
				}
			}
			story := h.Notice(last.ID)
			require.Equal(t, []any{manyBags, manyBags}, []any{story.Units, story.Outstanding})
			pull(h, story.PullFrom)
			wait()
			_, err := h.S.Notice.CloseNotice(h.Ctx, fixture.Keeper, last.ID, "all pulled")
			require.NoError(t, err)
			stop()
			require.NoError(t, <-done)

			assert.GreaterOrEqual(t, seen[before], 3)
			assert.GreaterOrEqual(t, seen[under], 3)
			assert.Positive(t, seen[pulled])
			closed := scene{pulled: manyBags}
			assert.Equal(t, int(readings.Load()), seen[before]+seen[under]+seen[pulled]+seen[closed],
				"nothing in between was seen: %v", seen)
			t.Log(readings.Load(), "readings")
			h.Verify()
		})
	}
}
