package storetest

import (
	"github.com/stretchr/testify/assert"

	"stowkeeper/inventory"
	"stowkeeper/inventory/message"
)

var registerPromises = []promise{
	{"an entry owes a signature until its maker, where that is owed, and somebody else have signed", owedUntilSigned},
	{"balance checks are kept as they were made, and the newest of each page can be asked for", balanceChecksKept},
	{"a discrepancy is open until it is closed, once", discrepanciesKept},
	{"the pages of the register are the controlled items at the places where they moved or were counted", registerKeys},
}

func owedUntilSigned(c *scene) {
	c.receive(c.lot, 9, northStore)
	used := string(inventory.KindUsed)
	own, second := c.post(move(c.lot, 1, northStore, used, inventory.ReasonUsed))[0], c.post(move(c.lot, 2, northStore,
		used, inventory.ReasonUsed))[0]
	c.write(func(w inventory.Writer) error { return w.AddOwed(own.ID, true) })
	c.write(func(w inventory.Writer) error { return w.AddOwed(second.ID, false) })
	c.refused(inventory.Conflict, func(w inventory.Writer) error { return w.AddOwed(own.ID, false) })
	open := func(f inventory.OwedFilter) []int64 {
		f.Open = true
		var ids []int64
		for _, o := range got(c, func(r inventory.Reader) ([]inventory.OwedEntry, error) { return r.OwedEntries(f) }) {
			ids = append(ids, o.ID)
		}
		return ids
	}
	sign := func(m inventory.Movement, person string) {
		c.write(func(w inventory.Writer) error {
			return w.AddEntrySignature(inventory.EntrySignature{Movement: m.ID, Person: person, RecordedAt: noon})
		})
	}
	assert.Equal(c.t, []int64{own.ID, second.ID}, open(inventory.OwedFilter{}))
	assert.Equal(c.t, []int64{own.ID, second.ID}, open(inventory.OwedFilter{Item: bandage, Places: []string{northStore}}))
	assert.Empty(c.t, open(inventory.OwedFilter{Item: thermometer}))
	assert.Empty(c.t, open(inventory.OwedFilter{Places: []string{southStore}}))
	sign(own, "B. Second")
	sign(second, "B. Second")
	assert.Equal(c.t, []int64{own.ID}, open(inventory.OwedFilter{}), "its maker's is owed as well")
	sign(own, own.By)
	assert.Empty(c.t, open(inventory.OwedFilter{}))
	c.refused(inventory.Conflict, func(w inventory.Writer) error {
		return w.AddEntrySignature(inventory.EntrySignature{Movement: own.ID, Person: "B. Second", RecordedAt: noon})
	})
	c.refused(inventory.Conflict, func(w inventory.Writer) error {
		return w.AddEntrySignature(inventory.EntrySignature{Movement: own.ID - 1, Person: "B. Second", RecordedAt: noon})
	})
	o := got(c, func(r inventory.Reader) (inventory.OwedEntry, error) { return r.OwedEntry(own.ID) })
	assert.Equal(c.t, inventory.OwedEntry{Movement: own, Item: bandage, Own: true, Signatures: []inventory.EntrySignature{
		{Movement: own.ID, Person: "B. Second", RecordedAt: noon}, {Movement: own.ID, Person: own.By, RecordedAt: noon}}}, o)
	absent(c, func(r inventory.Reader) (inventory.OwedEntry, error) { return r.OwedEntry(own.ID - 1) })
}

func balanceChecksKept(c *scene) {
	last := c.receive(c.lot, 3, northStore)
	add := func(k inventory.BalanceCheck) inventory.BalanceCheck {
		k.Item, k.HappenedAt, k.RecordedAt, k.By, k.Witness = bandage, noon-1, noon, "A. First", "B. Second"
		c.write(func(w inventory.Writer) (err error) {
			k, err = w.AddBalanceCheck(k)
			return err
		})
		return k
	}
	wrong := add(inventory.BalanceCheck{Place: northStore, Counted: 2, Expected: 3, After: last.ID, Note: "counted twice"})
	right := add(inventory.BalanceCheck{Place: northStore, Counted: 3, Expected: 3, After: last.ID})
	none := add(inventory.BalanceCheck{Place: bagOne, Counted: 1})
	checks := func(f inventory.BalanceFilter) []inventory.BalanceCheck {
		return got(c, func(r inventory.Reader) ([]inventory.BalanceCheck, error) { return r.BalanceChecks(f) })
	}
	assert.Equal(c.t, []inventory.BalanceCheck{wrong, right, none}, checks(inventory.BalanceFilter{}))
	assert.Equal(c.t, []inventory.BalanceCheck{right, none}, checks(inventory.BalanceFilter{Latest: true}))
	assert.Equal(c.t, []inventory.BalanceCheck{wrong, right}, checks(inventory.BalanceFilter{Item: bandage,
		Places: []string{northStore}}))
	assert.Empty(c.t, checks(inventory.BalanceFilter{Item: thermometer}))
	for _, bad := range []inventory.BalanceCheck{
		{Item: bandage, Place: northStore, HappenedAt: noon, RecordedAt: noon, By: "A. First", Witness: "A. First"},
		{Item: bandage, Place: northStore, HappenedAt: noon, RecordedAt: noon, By: "A. First"},
		{Item: "NONE", Place: northStore, HappenedAt: noon, RecordedAt: noon, By: "A. First", Witness: "B. Second"},
	} {
		c.refused(inventory.Conflict, func(w inventory.Writer) error {
			_, err := w.AddBalanceCheck(bad)
			return err
		})
	}
}

func discrepanciesKept(c *scene) {
	used := c.receive(c.lot, 3, northStore)
	var k inventory.BalanceCheck
	c.write(func(w inventory.Writer) (err error) {
		k, err = w.AddBalanceCheck(inventory.BalanceCheck{Item: bandage, Place: northStore, Counted: 2, Expected: 3,
			After: used.ID, HappenedAt: noon, RecordedAt: noon, By: "A. First", Witness: "B. Second"})
		return err
	})
	add := func(d inventory.Discrepancy) inventory.Discrepancy {
		d.Item, d.OpenedAt, d.OpenedBy, d.Text = bandage, noon, "A. First", message.M("given and wasted not recorded")
		c.write(func(w inventory.Writer) (err error) {
			d, err = w.AddDiscrepancy(d)
			return err
		})
		return d
	}
	first := add(inventory.Discrepancy{Place: northStore, Check: k.ID})
	second := add(inventory.Discrepancy{Place: bagOne, Entry: used.ID})
	all := func(f inventory.DiscrepancyFilter) []inventory.Discrepancy {
		return got(c, func(r inventory.Reader) ([]inventory.Discrepancy, error) { return r.Discrepancies(f) })
	}
	assert.Equal(c.t, []inventory.Discrepancy{first, second}, all(inventory.DiscrepancyFilter{}))
	assert.Equal(c.t, []inventory.Discrepancy{second}, all(inventory.DiscrepancyFilter{ID: second.ID}))
	assert.Equal(c.t, []inventory.Discrepancy{first}, all(inventory.DiscrepancyFilter{Item: bandage,
		Places: []string{northStore}}))
	shut := first
	shut.ClosedAt, shut.ClosedBy, shut.Witness, shut.Outcome = noon+1, "A. First", "B. Second", "it lay under the tray"
	alone := shut
	alone.Witness = shut.ClosedBy
	c.refused(inventory.Conflict, func(w inventory.Writer) error { return w.CloseDiscrepancy(alone) })
	c.write(func(w inventory.Writer) error { return w.CloseDiscrepancy(shut) })
	c.refused(inventory.Conflict, func(w inventory.Writer) error { return w.CloseDiscrepancy(shut) })
	shut.ID = second.ID + 1
	c.refused(inventory.NotFound, func(w inventory.Writer) error { return w.CloseDiscrepancy(shut) })
	shut.ID = first.ID
	assert.Equal(c.t, []inventory.Discrepancy{shut, second}, all(inventory.DiscrepancyFilter{}))
	assert.Equal(c.t, []inventory.Discrepancy{second}, all(inventory.DiscrepancyFilter{Open: true}))
	c.refused(inventory.Conflict, func(w inventory.Writer) error {
		_, err := w.AddDiscrepancy(inventory.Discrepancy{Item: bandage, Place: bagOne, OpenedAt: noon, OpenedBy: "A. First"})
		return err
	})
}

func registerKeys(c *scene) {
	keys := func() []inventory.PageKey {
		return got(c, func(r inventory.Reader) ([]inventory.PageKey, error) { return r.RegisterKeys() })
	}
	c.receive(c.lot, 3, northStore)
	c.post(move(c.lot, 1, northStore, bagOne, inventory.ReasonStow), move(c.lot, 1, bagOne, string(inventory.KindUsed),
		inventory.ReasonUsed))
	assert.Empty(c.t, keys(), "no item is a controlled one")
	c.write(func(w inventory.Writer) error {
		it, err := w.Item(bandage)
		if err != nil {
			return err
		}
		it.Controlled, it.Strength, it.Form = true, "10 mg", "ampoule"
		now, err := w.UpdateItem(it)
		assert.Equal(c.t, []any{true, "10 mg", "ampoule"}, []any{now.Controlled, now.Strength, now.Form})
		return err
	})
	c.write(func(w inventory.Writer) error {
		_, err := w.AddBalanceCheck(inventory.BalanceCheck{Item: bandage, Place: southStore, HappenedAt: noon,
			RecordedAt: noon + 5, By: "A. First", Witness: "B. Second"})
		return err
	})
	assert.Equal(c.t, []inventory.PageKey{{Item: bandage, Place: bagOne, LastEntry: noon}, {Item: bandage,
		Place: northStore, LastEntry: noon},
		{Item: bandage, Place: southStore, LastEntry: noon + 5}}, keys(), "outside places have no page")
}
