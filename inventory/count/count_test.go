package count_test

import (
	"errors"
	"os"
	"path/filepath"
	"strconv"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stowkeeper/inventory"
	"stowkeeper/inventory/count"
	"stowkeeper/inventory/fixture"
	"stowkeeper/inventory/store/storetest"
	"stowkeeper/inventory/table"
)

// TestJudge is the table of what a count says. It was made at 100; units came in before, and left after.
func TestJudge(t *testing.T) {
	in := func(qty int) count.Flow { return count.Flow{At: 10, Recorded: 10, Qty: qty} }
	for _, tt := range []struct {
		name                      string
		counted, looks, now       int
		flows                     []count.Flow
		critical                  bool
		expected, differs, result int
		again                     string
	}{
		{"as recorded", 5, 1, 5, []count.Flow{in(5)}, true, 5, 0, 5, ""},
		{"one fewer", 4, 1, 5, []count.Flow{in(5)}, false, 5, -1, 4, ""},
		{"one fewer of a critical item", 4, 1, 5, []count.Flow{in(5)}, true, 5, -1, 4, "critical item"},
		{"looked at twice", 4, 2, 5, []count.Flow{in(5)}, true, 5, -1, 4, ""},
		{"three of twenty", 17, 1, 20, []count.Flow{in(20)}, false, 20, -3, 17, "large difference"},
		{"three of thirty is ten percent", 27, 1, 30, []count.Flow{in(30)}, false, 30, -3, 27, ""},
		{"two of five", 7, 1, 5, []count.Flow{in(5)}, false, 5, 2, 7, ""},
		{"some left since", 4, 1, 2, []count.Flow{in(5), {At: 200, Recorded: 200, Qty: -3}}, false, 5, -1, 1, ""},
		{"all left since", 4, 2, 0, []count.Flow{in(5), {At: 200, Recorded: 200, Qty: -5}}, false, 5, -1, -1,
			"units left meanwhile"},
		{"recorded later", 4, 2, 4, []count.Flow{in(5), {At: 50, Recorded: 200, Qty: -1}}, false, 4, 0, 4,
			"recorded later, dated earlier"},
		{"of nothing recorded", 1, 1, 0, nil, false, 0, 1, 1, ""},
	} {
		t.Run(tt.name, func(t *testing.T) {
			j := count.Judge(count.CountedLine{Counted: tt.counted, Looks: tt.looks, At: 100}, tt.now, tt.flows, tt.critical)
			assert.Equal(t, []any{tt.expected, tt.differs, tt.result, tt.again},
				[]any{j.Expected, j.Differs, j.Result, j.Again.String()})
		})
	}
}

// TestEveryShelfIsCounted: whoever counts what the desk proposes, once a week, counts each shelf within the period, and
// those with critical or controlled items within half of it; a few each week.
func TestEveryShelfIsCounted(t *testing.T) {
	h := fixture.New(t, storetest.OpenSQLite(t))
	for i := range 12 {
		_, err := h.S.Lists.CreatePlace(h.Ctx, fixture.Admin, inventory.Place{Code: "SHELF-" + strconv.Itoa(i),
			Station: "NORTH", Kind: inventory.KindStore, Purpose: inventory.ForIssue, Name: "Shelf"})
		require.NoError(t, err)
		l := h.Receive("DRESSING", "B"+strconv.Itoa(i), 5, "2031-06")
		h.Move(l.ID, 5, "NORTH-STORE", "SHELF-"+strconv.Itoa(i), inventory.ReasonTransfer)
	}
	h.Receive("TQ", "S1", 1, "") // critical
	last, counts := map[string]inventory.Instant{}, map[string]int{}
	begin := h.Now
	for range 60 {
		due, err := h.S.Count.Due(h.Ctx, fixture.Keeper, nil)
		require.NoError(t, err)
		assert.LessOrEqual(t, len(due), 4)
		read, err := inventory.Read(h.Ctx, h.S.Store, func(r inventory.Reader) ([]count.Shelf, error) {
			return h.S.Count.DueAt(r, fixture.Keeper.Stations)
		})
		require.NoError(t, err)
		assert.Equal(t, due, read)
		for _, s := range due {
			v, err := h.S.Count.Start(h.Ctx, fixture.Keeper, s.Place, false)
			require.NoError(t, err)
			var lines []count.CountEntry
			for _, row := range v.Rows {
				qty := 5
				if row.Serial != "" {
					qty = 1
				}
				lines = append(lines, count.CountEntry{LotID: row.LotID, Counted: qty})
			}
			_, err = h.S.Count.Enter(h.Ctx, fixture.Keeper, v.ID, lines)
			require.NoError(t, err)
			_, err = h.S.Count.Post(h.Ctx, fixture.Keeper, v.ID, nil)
			require.NoError(t, err)
			most := count.Days
			if s.Often {
				most /= 2
			}
			since := max(last[s.Place], begin)
			assert.LessOrEqual(t, h.Now.Time().Sub(since.Time()), time.Duration(most)*24*time.Hour, s.Place)
			last[s.Place], counts[s.Place] = h.Now, counts[s.Place]+1
		}
		h.Pass(7 * 24 * time.Hour)
	}
	assert.Len(t, counts, 13)
	assert.Greater(t, counts["NORTH-STORE"], counts["SHELF-0"])
	got, err := h.S.Count.LastCounts(h.Ctx, fixture.Keeper)
	require.NoError(t, err)
	assert.Equal(t, last, got)
	h.Verify()
}

// TestCountSurvives: who is interrupted goes on where they were; what is given up changes nothing.
func TestCountSurvives(t *testing.T) {
	h := fixture.New(t, storetest.OpenSQLite(t))
	l := h.Receive("DRESSING", "B1", 5, "2031-06")
	v, err := h.S.Count.Start(h.Ctx, fixture.Keeper, "NORTH-STORE", true)
	require.NoError(t, err)
	_, err = h.S.Count.Enter(h.Ctx, fixture.Keeper, v.ID, []count.CountEntry{{LotID: l.ID, Counted: 4}})
	require.NoError(t, err)
	again, err := h.S.Count.Count(h.Ctx, fixture.Keeper, v.ID)
	require.NoError(t, err)
	assert.Equal(t, 4, again.Rows[0].Line.Counted)
	open, err := h.S.Count.Counts(h.Ctx, fixture.Keeper, inventory.DocumentFilter{Open: true}, inventory.Page{})
	require.NoError(t, err)
	assert.Len(t, open, 1)
	_, err = h.S.Count.Drop(h.Ctx, fixture.Keeper, v.ID)
	require.NoError(t, err)
	_, err = h.S.Count.Drop(h.Ctx, fixture.Keeper, v.ID)
	assert.Equal(t, inventory.Conflict, inventory.KindOf(err))
	assert.Equal(t, map[int64]int{l.ID: 5}, h.Holds("NORTH-STORE"))
	folder := filepath.Join(t.TempDir(), "out")
	out, err := table.NewFolder(folder)
	require.NoError(t, err)
	require.NoError(t, errors.Join(h.S.Exchange.Export(h.Ctx, fixture.Admin, out), out.Close()))
	exported, err := os.ReadFile(filepath.Join(folder, "documents.csv"))
	require.NoError(t, err)
	assert.Contains(t, string(exported), "count,,NORTH,,NORTH-STORE,dropped,")
}
