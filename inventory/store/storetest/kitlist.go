package storetest

import (
	"github.com/stretchr/testify/assert"

	"stowkeeper/inventory"
)

var kitListPromises = []promise{
	{"a kit list is kept whole, with lines and rules in order", kitListKept},
	{"versions of a kit list follow one another", kitListVersions},
	{"the latest version is read unless another is named", kitListLatest},
	{"the versions in use, or those that are named, are read together", kitListsInUse},
	{"a kit list names what exists", kitListNames},
}

func fullKitList() inventory.KitList {
	return inventory.KitList{
		Code: "TRAUMA", Version: 1, Name: "trauma", Edition: "2026", Source: "an invented list",
		ValidFrom: inventory.MustDay("2026-01-01"), ValidTo: inventory.MustDay("2028-12-31"), Sealed: true, SealWarns: true,
		SealCheckHours: 24, FullCheckDays: 30, MinRemainingDays: 60,
		Lines: []inventory.Line{
			{Item: thermometer, Pouch: "front", Par: 2, Minimum: 1, Critical: true, Accepts: []string{"X", bandage}},
			{Item: bandage, Pouch: "back", PresenceOnly: true},
			{Item: bandage, Pouch: "front", CarriedElsewhere: "in the cab"},
		},
		Modules: []inventory.Module{{KitList: "KIT", Count: 2}, {KitList: "AIRWAY", Count: 1}},
		Rules: []inventory.KitRule{
			{WhenCategory: inventory.CategoryTourniquet, NeedCategory: inventory.CategoryMarker, AtLeast: 2,
				Severity: inventory.SeverityStop, Because: "so"},
			{NeedItem: bandage, AtLeast: 1, Severity: inventory.SeverityWarn, Because: "so too"},
		},
	}
}

func (c *scene) addKitList(k inventory.KitList) {
	c.t.Helper()
	c.write(func(w inventory.Writer) error { return w.AddKitList(k) })
}

func (c *scene) addX() {
	c.t.Helper()
	c.write(func(w inventory.Writer) error {
		return w.AddItem(inventory.Item{Code: "X", Name: "x", Category: inventory.CategoryOther, Unit: "each",
			TrackedBy: inventory.ByLot})
	})
}

func kitList(code string, version int) func(inventory.Reader) (inventory.KitList, error) {
	return func(r inventory.Reader) (inventory.KitList, error) { return r.KitList(code, version) }
}

func kitListKept(c *scene) {
	c.addX()
	c.addKitList(fullKitList())
	assert.Equal(c.t, fullKitList(), got(c, kitList("TRAUMA", 1)))
	absent(c, kitList("NONE", 0))
	absent(c, kitList("TRAUMA", 2))
}

func kitListVersions(c *scene) {
	c.addX()
	k := fullKitList()
	c.addKitList(k)
	add := func(version int) func(inventory.Writer) error {
		return func(w inventory.Writer) error {
			next := k
			next.Version = version
			return w.AddKitList(next)
		}
	}
	c.refused(inventory.Conflict, add(1))
	c.refused(inventory.Conflict, add(3))
	c.write(add(2))
	c.refused(inventory.Stale, add(2))
}

func kitListLatest(c *scene) {
	c.addX()
	k := fullKitList()
	c.addKitList(k)
	next := k
	next.Version, next.Name, next.Lines, next.Rules = 2, "trauma, shorter", k.Lines[1:2], nil
	c.addKitList(next)
	assert.Equal(c.t, next, got(c, kitList("TRAUMA", 0)))
	assert.Equal(c.t, k, got(c, kitList("TRAUMA", 1)))
	list := func(p inventory.Page) []inventory.KitList {
		return got(c, func(r inventory.Reader) ([]inventory.KitList, error) { return r.KitLists(p) })
	}
	assert.Equal(c.t, []inventory.KitList{c.list, next}, list(inventory.Page{}))
	assert.Equal(c.t, []inventory.KitList{c.list}, list(inventory.Page{Limit: 1}))
	assert.Equal(c.t, []inventory.KitList{next}, list(inventory.Page{Limit: 1, After: "KIT"}))
}

func kitListsInUse(c *scene) {
	c.addX()
	c.addKitList(fullKitList())
	next := c.list
	next.Version = 2
	c.addKitList(next)
	b := got(c, bag(bagTwo))
	b.KitListVersion = 2
	c.write(func(w inventory.Writer) error {
		_, err := w.UpdateBag(b)
		return err
	})
	list := func(of ...inventory.ListVersion) []inventory.KitList {
		return got(c, func(r inventory.Reader) ([]inventory.KitList, error) { return r.KitListVersions(of) })
	}
	assert.Equal(c.t, []inventory.KitList{c.list, next}, list())
	named := inventory.ListVersion{Code: "TRAUMA", Version: 1}
	assert.Equal(c.t, []inventory.KitList{next, fullKitList()},
		list(named, next.Key(), inventory.ListVersion{Code: "TRAUMA", Version: 2}), "those that are named, in use or not")
	assert.Equal(c.t, []inventory.KitList{c.list, next}, list(c.list.Key()), "and newer ones")
	assert.Empty(c.t, list(inventory.ListVersion{Code: "KIT", Version: 3}))
}

func kitListNames(c *scene) {
	for _, change := range []func(*inventory.KitList){
		func(k *inventory.KitList) { k.Lines[0].Item = "NONE" },
		func(k *inventory.KitList) { k.Lines[0].Accepts = []string{"NONE"} },
		func(k *inventory.KitList) { k.Rules[0].NeedCategory = "toy" },
	} {
		k := fullKitList()
		k.Lines[0].Accepts = nil
		change(&k)
		c.refused(inventory.Conflict, func(w inventory.Writer) error { return w.AddKitList(k) })
	}
	absent(c, kitList("TRAUMA", 0))
}
