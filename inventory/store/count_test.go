package store_test

import (
	"context"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stowkeeper/inventory"
	"stowkeeper/inventory/store/storetest"
)

// TestQueriesDoNotGrow counts the statements of each bulk reading with few
// rows and with many: the number must stay the same.
func TestQueriesDoNotGrow(t *testing.T) {
	few, many := storetest.OpenCounting(t), storetest.OpenCounting(t)
	fillBags(t, few, 2, 2)
	fillBags(t, many, 30, 7)
	for _, s := range []inventory.Store{few, many} {
		n := map[inventory.Store]int{few: 2, many: 30}[s]
		for i := range n {
			require.NoError(t, s.Write(t.Context(), func(_ context.Context, w inventory.Writer) error {
				return addVariety(w,
					i)
			}))
		}
	}
	for name, read := range bulkReadings() {
		var counts []int64
		for _, s := range []inventory.Store{few, many} {
			before := storetest.Counted().Statements
			require.NoError(t, s.Read(t.Context(), func(_ context.Context, r inventory.Reader) error { return read(r) }), name)
			counts = append(counts, storetest.Counted().Statements-before)
		}
		assert.Equal(t, counts[0], counts[1], name)
		assert.Positive(t, counts[0], "%s: the counter counts", name)
		assert.LessOrEqual(t, counts[0], int64(4), name)
	}
}

// addVariety adds one more person and one more kit list version in use.
func addVariety(w inventory.Writer, i int) error {
	if _, err := w.AddPerson(inventory.Person{Name: string(rune('A'+i)) + "-" + string(rune('0'+i)), Role: inventory.Crew,
		Stations: []string{"NORTH"}}); err != nil {
		return err
	}
	k := inventory.KitList{Code: "K", Version: i + 2, Name: "k", Lines: []inventory.Line{{Item: "I", Par: 1}}}
	if err := w.AddKitList(k); err != nil {
		return err
	}
	bags, err := w.Bags(inventory.BagFilter{}, inventory.Page{})
	if err != nil {
		return err
	}
	bags[i].KitListVersion = k.Version
	_, err = w.UpdateBag(bags[i])
	return err
}

func bulkReadings() map[string]func(inventory.Reader) error {
	all := inventory.Page{}
	return map[string]func(inventory.Reader) error{
		"stock":     func(r inventory.Reader) error { return ignore(r.Stock(inventory.StockFilter{})) },
		"bags":      func(r inventory.Reader) error { return ignore(r.Bags(inventory.BagFilter{}, all)) },
		"versions":  func(r inventory.Reader) error { return ignore(r.KitListVersions(nil)) },
		"kit lists": func(r inventory.Reader) error { return ignore(r.KitLists(all)) },
		"lots":      func(r inventory.Reader) error { return ignore(r.Lots(inventory.LotFilter{}, all)) },
		"movements": func(r inventory.Reader) error { return ignore(r.Movements(inventory.MovementFilter{}, all)) },
		"people":    func(r inventory.Reader) error { return ignore(r.People()) },
	}
}

func ignore[T any](_ T, err error) error { return err }
