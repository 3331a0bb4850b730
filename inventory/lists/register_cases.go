package lists

import (
	"stowkeeper/inventory"
)

// keepsRegister holds each page to one class of drug, as its head says (UK
// Misuse of Drugs Regulations 2001, reg. 19 and 20(a)): it refuses a change
// that would take an item out of its register, or change its strength or form.
func keepsRegister(r inventory.Reader, old, in inventory.Item) error {
	same := func(old, now string) bool { return old == "" || now == old }
	if !old.Controlled || in.Controlled && same(old.Strength, in.Strength) && same(old.Form, in.Form) {
		return nil
	}
	moved, err := r.Movements(inventory.MovementFilter{Item: old.Code}, inventory.Page{Limit: 1})
	if err == nil && len(moved) > 0 {
		err = inventory.Errorf(inventory.Conflict, "the register of this item has entries, so it stays a controlled one, "+
			"of this strength and form; make a new item instead")
	}
	return err
}
