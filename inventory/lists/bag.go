package lists

import (
	"cmp"
	"context"
	"slices"

	"stowkeeper/inventory"
	"stowkeeper/inventory/history"
	"stowkeeper/inventory/ledger"
	"stowkeeper/inventory/scope"
)

// ChangeBag stores a changed bag and logs what is different. why goes with the
// entries that give no reason of their own.
func ChangeBag(w inventory.Writer, by inventory.Actor, now inventory.Instant, old, changed inventory.Bag,
	why string) (inventory.Bag, error) {
	b, err := w.UpdateBag(changed)
	if err != nil {
		return b, err
	}
	for _, e := range history.ChangesOf(old, b) {
		e.RecordedAt, e.By = now, by.Name
		if e.Reason == "" {
			e.Reason = why
		}
		if err := w.AddBagLog(e); err != nil {
			return b, err
		}
	}
	return b, nil
}

// BagLog lists what people changed of a bag, newest first. Refuses: Forbidden without see where the bag is; NotFound.
func (s *Service) BagLog(ctx context.Context, by inventory.Actor, code string,
	p inventory.Page) ([]inventory.BagLogEntry, error) {
	return inventory.Read(ctx, s.store, func(r inventory.Reader) ([]inventory.BagLogEntry, error) {
		b, err := scope.BagFor(r, by, code, inventory.ActSee)
		if err != nil {
			return nil, err
		}
		return r.BagLog(inventory.RecordFilter{Bag: b.Code}, p)
	})
}

// CreateBag makes a bag and its place, on the newest version in force of its kit list unless one is named. Refuses:
// Forbidden without keep_lists at its station; Invalid by field; Conflict where the code is taken.
func (s *Service) CreateBag(ctx context.Context, by inventory.Actor, in inventory.Bag) (inventory.Bag, error) {
	return inventory.Write(ctx, s.store, func(w inventory.Writer) (inventory.Bag, error) {
		if err := by.Must(inventory.ActKeepLists, in.Station); err != nil {
			return in, err
		}
		in.AtStation, in.Vehicle = cmp.Or(in.AtStation, in.Station), inventory.OneLine(in.Vehicle)
		in.Purpose = cmp.Or(in.Purpose, inventory.ForIssue)
		in.Priority = cmp.Or(in.Priority, 5)
		in.Version, in.OutOfService, in.BagRecord = 1, nil, inventory.BagRecord{}
		in.RetiredAt, in.RetiredBy, in.Successor = 0, "", ""
		wrong := in.Check()
		in, err := s.checkBag(w, in)
		if err := inventory.MergeErrors(wrong, err); err != nil {
			return in, err
		}
		return in, w.AddBag(in)
	})
}

// checkBag looks up what a bag names and fills in the version of its list.
func (s *Service) checkBag(r inventory.Reader, in inventory.Bag) (inventory.Bag, error) {
	at, err := r.Station(in.Station)
	wrong := inventory.AsField(err, "station", "not found")
	if in.AtStation != in.Station {
		at, err = r.Station(in.AtStation)
		wrong = inventory.MergeErrors(wrong, inventory.AsField(err, "at_station", "not found"))
	}
	wrong = inventory.MergeErrors(wrong, at.MustBeOpen())
	k, err := versionFor(r, in, at.Today(s.now()))
	if err != nil {
		wrong = inventory.MergeErrors(wrong, inventory.AsField(err, "kit_list", "not found"))
	}
	in.KitListVersion = k.Version
	if in.Inside == "" {
		return in, wrong
	}
	in, err = checkModule(r, in)
	return in, inventory.MergeErrors(wrong, err)
}

// checkModule looks at the bag that another lies inside.
func checkModule(r inventory.Reader, in inventory.Bag) (inventory.Bag, error) {
	outer, err := r.Bag(in.Inside)
	switch {
	case err != nil:
		return in, inventory.AsField(err, "inside", "not found")
	case outer.Retired():
		return in, inventory.InvalidField("inside", "the bag is retired")
	case outer.Inside != "":
		return in, inventory.InvalidField("inside", "a module cannot hold modules")
	case outer.Station != in.Station || outer.Purpose != in.Purpose:
		return in, inventory.InvalidField("inside", "choose a bag of the same station and purpose")
	}
	if in.AtStation != outer.AtStation {
		return in, inventory.InvalidField("inside", "take the module out first")
	}
	in.Vehicle = outer.Vehicle
	modules, err := r.Bags(inventory.BagFilter{Inside: in.Code}, inventory.Page{Limit: 1})
	if len(modules) > 0 {
		return in, inventory.InvalidField("inside", "a module cannot hold modules")
	}
	return in, err
}

// UpdateBag changes a bag, and takes its modules along to where it goes. version is the one that the caller saw; 0
// skips that check. Refuses: Forbidden without out_of_service where the bag is, which is all that crew may change,
// and keep_lists or keep_stock for the rest; NotFound, with codes that are near; Invalid by field; Stale; Conflict
// for retiring what still holds units, modules or records to review. Locks the bag and the one that it goes into.
func (s *Service) UpdateBag(ctx context.Context, by inventory.Actor, code string, version int64,
	ch ledger.BagChange) (inventory.Bag, error) {
	return inventory.Write(ctx, s.store, func(w inventory.Writer) (inventory.Bag, error) {
		if err := by.Must(inventory.ActStop, ""); err != nil {
			return inventory.Bag{}, err
		}
		b, err := lockBag(ch, w, code)
		if inventory.KindOf(err) == inventory.NotFound {
			return b, scope.NoSuchBag(w, by, code)
		}
		if err != nil {
			return b, err
		}
		if err := ch.May(by, b); err != nil {
			return b, err
		}
		was := b
		b = ch.Apply(b, by, s.now())
		b.Version = version
		wrong := b.Check()
		b, err = s.checkBag(w, b)
		if err := inventory.MergeErrors(wrong, err); err != nil {
			return b, err
		}
		if err := ledger.JudgeRetiring(w, was, b, ch); err != nil {
			return b, err
		}
		if b, err = ChangeBag(w, by, s.now(), was, b, ""); err != nil {
			return b, err
		}
		return b, s.modulesFollow(w, by, b)
	})
}

// lockBag returns the bag to change, with others kept from changing it and the bag that it goes into.
func lockBag(ch ledger.BagChange, w inventory.Writer, code string) (inventory.Bag, error) {
	code = inventory.NormalCode(code)
	codes := []string{code}
	if ch.Inside != nil && *ch.Inside != "" {
		codes = append(codes, *ch.Inside)
	}
	if err := w.LockBags(codes); err != nil {
		return inventory.Bag{}, err
	}
	return w.Bag(code)
}

// modulesFollow takes the modules of a bag along to where it is.
func (s *Service) modulesFollow(w inventory.Writer, by inventory.Actor, outer inventory.Bag) error {
	if outer.Inside != "" {
		return nil
	}
	modules, err := w.Bags(inventory.BagFilter{Inside: outer.Code}, inventory.Page{})
	if err != nil {
		return err
	}
	for _, old := range modules {
		m := old
		m.AtStation, m.Vehicle = outer.AtStation, outer.Vehicle
		if m.AtStation == old.AtStation && m.Vehicle == old.Vehicle {
			continue
		}
		if _, err := ChangeBag(w, by, s.now(), old, m, "with bag "+outer.Code); err != nil {
			return err
		}
	}
	return nil
}

// Bag returns one bag. Refuses: Forbidden without see where it is; NotFound, with codes that are near.
func (s *Service) Bag(ctx context.Context, by inventory.Actor, code string) (inventory.Bag, error) {
	return inventory.Read(ctx, s.store, func(r inventory.Reader) (inventory.Bag, error) {
		return scope.BagFor(r, by, code,
			inventory.ActSee)
	})
}

// Lent lists the bags that are not at home, by code: those that belong to the actor's stations and are elsewhere,
// and those that are there and belong elsewhere. Who checks and restocks a bag follows where it is; this list is how
// it comes home. Refuses: Forbidden without see, and for a station that is not the actor's.
func (s *Service) Lent(ctx context.Context, by inventory.Actor, stations []string) ([]inventory.BagSummary, error) {
	return inventory.Read(ctx, s.store, func(r inventory.Reader) ([]inventory.BagSummary, error) {
		if err := by.Must(inventory.ActSee, ""); err != nil {
			return nil, err
		}
		seen, err := by.Narrow(stations)
		if err != nil {
			return nil, err
		}
		views, err := LoadBags(r, inventory.BagFilter{Lent: true}, inventory.Page{})
		var out []inventory.BagSummary
		for _, v := range views {
			if len(seen) == 0 || slices.Contains(seen, v.Bag.Station) || slices.Contains(seen, v.Bag.AtStation) {
				out = append(out, SummaryOf(v, s.now(), Outlook{Horizon: -1}))
			}
		}
		return out, err
	})
}
