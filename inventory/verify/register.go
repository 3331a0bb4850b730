package verify

import (
	"cmp"
	"slices"

	"stowkeeper/inventory"
	"stowkeeper/inventory/register"
)

// register checks what each balance check says that the register held then.
func (v *verifier) register(ms []inventory.Movement) error {
	checks, err := v.r.BalanceChecks(inventory.BalanceFilter{})
	v.expected(checks, ms)
	return err
}

// expected walks the movements in the order of recording, and compares what
// each balance check says that the register held with what had come and gone.
func (v *verifier) expected(checks []inventory.BalanceCheck, ms []inventory.Movement) {
	checks = slices.SortedFunc(slices.Values(checks), func(a, b inventory.BalanceCheck) int {
		return cmp.Compare(a.After, b.After)
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
