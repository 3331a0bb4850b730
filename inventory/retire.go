package inventory

// Retired tells whether the bag is out of service. It keeps its code, its
// label's address and its history, and is left out of boards, reports and
// lists.
func (b Bag) Retired() bool { return b.RetiredAt != 0 }

// retired is what a retired bag answers in place of its contents.
func retired(v BagView, asOf Day, horizon int) Readiness {
	return Readiness{Bag: v.Bag.Code, AsOf: asOf, HorizonDays: horizon, State: OffTheRun, Findings: []Finding{}, Lines: []LineState{}}
}

// MayRetire refuses to retire a bag that is still part of the work: units lie
// in it, modules ride in it, or records of it wait for a decision.
func MayRetire(units, modules, waiting int) error {
	switch {
	case units > 0:
		return Errorf(Conflict, "empty the bag first: it holds %s", plural(units, "unit"))
	case modules > 0:
		return Errorf(Conflict, "take its modules out first: it has %d", modules)
	case waiting > 0:
		return Errorf(Conflict, "decide first what waits: %s of this bag", plural(waiting, "record"))
	}
	return nil
}

// judgeRetiring finds out whether a bag may be retired, and whether what is
// named as its successor can be one. was is the bag before the change.
func judgeRetiring(r Reader, was, b Bag, ch BagChange) error {
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
		return known(err, "successor", "bag")
	case next.Retired():
		return Invalidf("successor", "name a bag that is in service")
	case next.Purpose != b.Purpose:
		return Invalidf("successor", "name a bag of the same purpose")
	}
	return nil
}

func mayRetire(r Reader, code string) error {
	units := 0
	stock, err := r.Stock(StockFilter{Places: []string{code}})
	if err != nil {
		return err
	}
	for _, st := range stock {
		units += st.Qty
	}
	modules, err := r.Bags(BagFilter{Inside: code}, Page{})
	if err != nil {
		return err
	}
	waiting := RecordFilter{Bag: code, Status: StatusWaiting}
	checks, err := r.Checks(waiting, Page{})
	if err != nil {
		return err
	}
	uses, err := r.Uses(waiting, Page{})
	if err != nil {
		return err
	}
	return MayRetire(units, len(modules), len(checks)+len(uses))
}

// inService refuses movements into a bag that is retired. The bag is locked
// first, so that nobody retires it meanwhile.
func (p *poster) inService(code string) error {
	b, err := cached(p.bags, code, func(code string) (Bag, error) {
		if err := p.w.LockBags([]string{code}); err != nil {
			return Bag{}, err
		}
		return p.w.Bag(code)
	})
	if err == nil && b.Retired() {
		return errRetired("nothing can be put into it")
	}
	return err
}

// errRetired refuses something about a bag because it is retired.
func errRetired(so string) error {
	return Errorf(Conflict, "this bag is retired: %s", so)
}
