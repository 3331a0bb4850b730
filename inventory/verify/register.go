package verify

import (
	"cmp"
	"slices"

	"stowkeeper/inventory"
	"stowkeeper/inventory/history"
	"stowkeeper/inventory/register"
)

// register checks what stands beside the chain: each balance check against what
// the movements say that the register held then, and each balance check and
// later signature against the history, which was written in the same unit of
// work. Neither is in a chain of hashes, so whoever changes a row and its line
// of the history alike is not noticed.
func (v *verifier) register(ms []inventory.Movement) error {
	checks, err := v.r.BalanceChecks(inventory.BalanceFilter{})
	if err != nil {
		return err
	}
	owed, err := v.r.OwedEntries(inventory.OwedFilter{})
	if err != nil {
		return err
	}
	v.expected(checks, ms)
	entries, err := v.r.HistoryEntries(inventory.HistoryFilter{Kinds: []inventory.HistoryKind{inventory.HistoryBalance,
		inventory.HistorySigned}}, inventory.Page{})
	if err != nil {
		return err
	}
	told := map[inventory.HistoryEntry]int{}
	for _, d := range entries {
		told[lasting(d)]++
	}
	for _, c := range checks {
		if !taken(told, history.BalanceEntry(c)) {
			v.fault("", 0, "balance check %d of %s in %s: the history tells another", c.ID, c.Item, c.Place)
		}
	}
	for _, o := range owed {
		for _, x := range o.Signatures {
			if !taken(told, history.SignedEntry(x, o.Movement)) {
				v.fault(o.Station, o.ID, "the history tells of no such signature as stands under it")
			}
		}
	}
	for d, n := range told {
		if n > 0 {
			v.fault(d.Station, 0, "the history tells of a balance check or signature in %s at %s that is not there", d.Place,
				d.RecordedAt)
		}
	}
	return nil
}

// taken takes one such line out of what the history tells.
func taken(told map[inventory.HistoryEntry]int, d inventory.HistoryEntry) bool {
	d = lasting(d)
	told[d]--
	return told[d] >= 0
}

// lasting is what a line of the history says that never changes: a bag may be
// at another station by now.
func lasting(d inventory.HistoryEntry) inventory.HistoryEntry {
	d.ID, d.From, d.Station, d.BatchID = 0, "", "", 0
	return d
}

// expected walks the movements in the order of recording, and compares what
// each balance check says that the register held with what had come and gone.
func (v *verifier) expected(checks []inventory.BalanceCheck, ms []inventory.Movement) {
	checks = slices.SortedFunc(slices.Values(checks), func(a, b inventory.BalanceCheck) int {
		return cmp.Compare(a.After,
			b.After)
	})
	held := map[register.PageOf]int{}
	for i := 0; ; i++ {
		for len(checks) > 0 && (i == len(ms) || checks[0].After < ms[i].ID) {
			if c := checks[0]; c.Expected != held[register.PageOf{Item: c.Item, Place: c.Place}] {
				v.fault("", 0, "balance check %d of %s in %s: it says that the register held %d then, the movements say %d", c.ID,
					c.Item, c.Place, c.Expected, held[register.PageOf{Item: c.Item, Place: c.Place}])
			}
			checks = checks[1:]
		}
		if i == len(ms) {
			return
		}
		m := ms[i]
		item := v.lots[m.LotID].Item
		held[register.PageOf{Item: item, Place: m.From}] -= m.Qty
		held[register.PageOf{Item: item, Place: m.To}] += m.Qty
	}
}
