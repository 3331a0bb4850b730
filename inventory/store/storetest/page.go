package storetest

import (
	"cmp"
	"context"
	"fmt"
	"strconv"

	"github.com/stretchr/testify/assert"

	"stowkeeper/inventory"
	"stowkeeper/inventory/history"
)

var pagePromises = []promise{
	{"every list can be read a page at a time", listsPaged},
	{"codes sort by their bytes", codesSort},
	{"a cursor that no list gave is refused", cursorRefused},
}

// listsPaged reads each list whole and then one by one: the same must come.
func listsPaged(c *scene) {
	device := c.device("SN-1")
	for i := range 3 {
		c.addProduct(fullProduct())
		c.receive(c.lot, 1, northStore)
		c.ensure(inventory.Clocks{ExposedDays: i})
		c.addCheck(fullCheck(), "")
		c.addUse(fullUse(), "")
		c.addNotice(inventory.Notice{Reference: id(int64(i)), Action: inventory.NoticeInform, Item: bandage,
			Status: inventory.NoticeOpen, IssuedAt: noon})
		c.write(func(w inventory.Writer) error {
			if _, err := w.AddRestock(inventory.Restock{Bag: bagOne, RecordedAt: noon}); err != nil {
				return err
			}
			return w.AddSeal(inventory.SealEntry{Bag: bagOne, HappenedAt: noon, Event: inventory.SealSeen})
		})
		c.write(func(w inventory.Writer) error {
			_, err := w.AddTrainingUse(inventory.TrainingUse{BatchID: device.Batch.ID, LotID: device.ID, HappenedAt: noon,
				RecordedAt: noon, Cycles: 1})
			return cmp.Or(err, w.AddBagLog(inventory.BagLogEntry{Bag: bagOne, RecordedAt: noon, Kind: history.LoggedVehicle}))
		})
		c.addInspection(inventory.Inspection{BatchID: device.Batch.ID, LotID: device.ID, Item: thermometer,
			Place: bagOne, HappenedAt: noon, RecordedAt: noon, Role: inventory.Crew})
	}
	next := c.list
	next.Code = "LIST"
	c.addKitList(next)
	for name, list := range lists() {
		c.read(func(r inventory.Reader) error {
			whole, err := list(r, inventory.Page{})
			if err != nil {
				return fmt.Errorf("%s: %w", name, err)
			}
			assert.Greater(c.t, len(whole), 1, name)
			var parts []string
			for page := (inventory.Page{Limit: 1}); ; page.After = parts[len(parts)-1] {
				part, err := list(r, page)
				if err != nil || len(part) == 0 {
					assert.Equal(c.t, whole, parts, name)
					return err
				}
				parts = append(parts, part...)
			}
		})
	}
}

// lists names every list that is read by pages, as its keys.
func lists() map[string]func(inventory.Reader, inventory.Page) ([]string, error) {
	return map[string]func(inventory.Reader, inventory.Page) ([]string, error){
		"places": func(r inventory.Reader, p inventory.Page) ([]string, error) {
			return keys(func(v inventory.Place) string { return v.Code })(r.Places(inventory.PlaceFilter{}, p))
		},
		"items": func(r inventory.Reader, p inventory.Page) ([]string, error) {
			return keys(itemCode)(r.Items(inventory.ItemFilter{}, p))
		},
		"products": func(r inventory.Reader, p inventory.Page) ([]string, error) {
			return keys(func(v inventory.Product) string { return id(v.ID) })(r.Products(inventory.ProductFilter{}, p))
		},
		"kit lists": func(r inventory.Reader, p inventory.Page) ([]string, error) {
			return keys(func(v inventory.KitList) string { return v.Code })(r.KitLists(p))
		},
		"bags": func(r inventory.Reader, p inventory.Page) ([]string, error) {
			return keys(func(v inventory.Bag) string { return v.Code })(r.Bags(inventory.BagFilter{}, p))
		},
		"lots": func(r inventory.Reader, p inventory.Page) ([]string, error) {
			return keys(func(v inventory.Lot) string { return id(v.ID) })(r.Lots(inventory.LotFilter{}, p))
		},
		"movements": func(r inventory.Reader, p inventory.Page) ([]string, error) {
			return keys(func(v inventory.Movement) string { return id(v.ID) })(r.Movements(inventory.MovementFilter{}, p))
		},
		"checks": func(r inventory.Reader, p inventory.Page) ([]string, error) {
			return keys(func(v inventory.Check) string { return id(v.ID) })(r.Checks(inventory.RecordFilter{}, p))
		},
		"uses": func(r inventory.Reader, p inventory.Page) ([]string, error) {
			return keys(func(v inventory.Use) string { return id(v.ID) })(r.Uses(inventory.RecordFilter{}, p))
		},
		"restocks": func(r inventory.Reader, p inventory.Page) ([]string, error) {
			return keys(func(v inventory.Restock) string { return id(v.ID) })(r.Restocks(inventory.RecordFilter{Bag: bagOne}, p))
		},
		"notices": func(r inventory.Reader, p inventory.Page) ([]string, error) {
			return keys(func(v inventory.Notice) string { return id(v.ID) })(r.Notices(inventory.NoticeFilter{}, p))
		},
		"bag log": func(r inventory.Reader, p inventory.Page) ([]string, error) {
			return keys(func(v inventory.BagLogEntry) string { return id(v.ID) })(r.BagLog(inventory.RecordFilter{}, p))
		},
		"inspections": func(r inventory.Reader, p inventory.Page) ([]string, error) {
			return keys(func(v inventory.Inspection) string { return id(v.ID) })(r.Inspections(inventory.BatchFilter{}, p))
		},
		"training uses": func(r inventory.Reader, p inventory.Page) ([]string, error) {
			return keys(func(v inventory.TrainingUse) string { return id(v.ID) })(r.TrainingUses(inventory.BatchFilter{}, p))
		},
		"seals": func(r inventory.Reader, p inventory.Page) ([]string, error) {
			return keys(func(v inventory.SealEntry) string { return id(v.ID) })(r.Seals(inventory.RecordFilter{Bag: bagOne}, p))
		},
	}
}

func id(n int64) string { return strconv.FormatInt(n, 10) }

func keys[T any](key func(T) string) func([]T, error) ([]string, error) {
	return func(values []T, err error) ([]string, error) { return codesOf(values, key), err }
}

func codesSort(c *scene) {
	want := []string{"A-1", "A-10", "A.2", "A1", "B", "a"}
	for _, i := range []int{3, 0, 5, 2, 4, 1} {
		c.write(func(w inventory.Writer) error { return addSpare(w, want[i]) })
	}
	codes := codesOf(got(c, inventory.Reader.Stations), func(s inventory.Station) string { return s.Code })
	assert.Equal(c.t, []string{"A-1", "A-10", "A.2", "A1", "B", north, south, "a"}, codes)
}

func cursorRefused(c *scene) {
	for name, list := range lists() {
		err := c.store.Read(c.t.Context(), func(_ context.Context, r inventory.Reader) error {
			_, err := list(r, inventory.Page{After: "A' OR 1=1"})
			return err
		})
		if err != nil {
			assert.Equal(c.t, inventory.Invalid, inventory.KindOf(err), name)
		}
	}
}
