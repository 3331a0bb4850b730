package scope

import "stowkeeper/inventory"

// BagFor returns a bag for an action, refusing it at a station not the actor's. Refuses: SignedOut, Forbidden;
// NotFound, with codes that are near.
func BagFor(r inventory.Reader, by inventory.Actor, code string, act inventory.Action) (inventory.Bag, error) {
	return bagFor(r, by, code, act, r.Bag)
}

// LockedBag returns a bag for an action as BagFor does, with others kept from changing it.
func LockedBag(w inventory.Writer, by inventory.Actor, code string, act inventory.Action) (inventory.Bag, error) {
	return bagFor(w, by, code, act, w.LockBag)
}

func bagFor(r inventory.Reader, by inventory.Actor, code string, act inventory.Action,
	get func(code string) (inventory.Bag, error)) (inventory.Bag, error) {
	if err := by.Must(act, ""); err != nil {
		return inventory.Bag{}, err
	}
	b, err := get(inventory.NormalCode(code))
	if inventory.KindOf(err) == inventory.NotFound {
		return b, NoSuchBag(r, by, code)
	}
	if err != nil {
		return b, err
	}
	return b, by.Must(act, b.AtStation)
}
