package ledger

import (
	"stowkeeper/inventory"
)

// MayRetire refuses to retire a bag that is still part of the work: units lie
// in it, modules ride in it, or records of it wait for a decision.
func MayRetire(units, modules, waiting int) error {
	switch {
	case units > 0:
		return inventory.Errorf(inventory.Conflict, "empty the bag first: it holds %s", inventory.Plural(units, "unit"))
	case modules > 0:
		return inventory.Errorf(inventory.Conflict, "take its modules out first: it has %d", modules)
	case waiting > 0:
		return inventory.Errorf(inventory.Conflict, "decide first what waits: %s of this bag", inventory.Plural(waiting,
			"record"))
	}
	return nil
}

// JudgeRetiring finds out whether a bag may be retired, and whether what is
// named as its successor can be one. was is the bag before the change.
func JudgeRetiring(r inventory.Reader, was, b inventory.Bag, ch BagChange) error {
	if b.Retired() && !was.Retired() {
		if err := mayRetire(r, b.Code); err != nil {
			return err
		}
	}
	if ch.Successor == nil || b.Successor == "" {
		return nil
	}
	next, err := r.Bag(b.Successor)
	switch {
	case err != nil:
		return inventory.AsField(err, "successor", "bag")
	case next.Retired():
		return inventory.Invalidf("successor", "name a bag that is in service")
	case next.Purpose != b.Purpose:
		return inventory.Invalidf("successor", "name a bag of the same purpose")
	}
	return nil
}

func mayRetire(r inventory.Reader, code string) error {
	units := 0
	stock, err := r.Stock(inventory.StockFilter{Places: []string{code}})
	if err != nil {
		return err
	}
	for _, st := range stock {
		units += st.Qty
	}
	modules, err := r.Bags(inventory.BagFilter{Inside: code}, inventory.Page{})
	if err != nil {
		return err
	}
	waiting := inventory.RecordFilter{Bag: code, Status: inventory.StatusToReview}
	checks, err := r.Checks(waiting, inventory.Page{})
	if err != nil {
		return err
	}
	uses, err := r.Uses(waiting, inventory.Page{})
	if err != nil {
		return err
	}
	return MayRetire(units, len(modules), len(checks)+len(uses))
}

// inService refuses movements into a bag that is retired. The bag is locked
// first, so that nobody retires it meanwhile.
func (p *Unit) inService(code string) error {
	b, err := Cached(p.bags, code, func(code string) (inventory.Bag, error) {
		if err := p.W.LockBags([]string{code}); err != nil {
			return inventory.Bag{}, err
		}
		return p.W.Bag(code)
	})
	if err == nil && b.Retired() {
		return ErrRetired("nothing can be put into it")
	}
	return err
}

// ErrRetired refuses something about a bag because it is retired.
func ErrRetired(so string) error {
	return inventory.Errorf(inventory.Conflict, "this bag is retired: %s", so)
}
