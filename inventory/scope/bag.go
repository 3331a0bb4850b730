package scope

import "stowkeeper/inventory"

// BagFor returns a bag for an action, refusing it at a station not the actor's, with which it is and whose: whoever
// holds it in their hands has to know where it belongs. Refuses: SignedOut, Forbidden;
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
	if err = by.Must(act, b.AtStation); err == nil {
		return b, err
	}
	at, missing := r.Station(b.AtStation)
	if missing != nil {
		return b, err
	}
	return b, inventory.Refuse(inventory.Forbidden, "{1} is {2}, of {3}: not at your stations", b.Code, b.Name, at.Name)
}
