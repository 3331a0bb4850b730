package inventory

import "context"

// Swap takes a module out of a bag and puts another in its place.
type Swap struct {
	Out  string `json:"out,omitempty" doc:"Code of the module that comes out; left out where one is missing"`
	In   string `json:"in" doc:"Code of the module that goes in"`
	Note string `json:"note,omitempty" maxLength:"2000"`
}

// SwapModule exchanges a used module whole for a ready one, in one action, and
// answers with the readiness of the bag.
func (s *Service) SwapModule(ctx context.Context, by Actor, code string, in Swap) (Readiness, error) {
	return write(ctx, s, func(w Writer) (Readiness, error) {
		outer, err := bagFor(w, by, code, ActCheck)
		if err != nil {
			return Readiness{}, err
		}
		in.Out, in.In = NormalCode(in.Out), NormalCode(in.In)
		if err := in.check(); err != nil {
			return Readiness{}, err
		}
		if err := w.LockBags([]string{outer.Code, in.In, in.Out}); err != nil {
			return Readiness{}, err
		}
		if outer, err = w.Bag(outer.Code); err != nil { // again, now that others wait
			return Readiness{}, err
		}
		if err := s.swap(w, by, outer, in); err != nil {
			return Readiness{}, err
		}
		if outer, err = w.Bag(outer.Code); err != nil {
			return Readiness{}, err
		}
		v, err := viewOf(w, outer)
		return ReadinessOf(v, s.Now(), 0, DefaultHorizonDays), err
	})
}

func (in Swap) check() error {
	var ps problems
	checkCode(&ps, "in", in.In)
	if in.Out != "" {
		checkCode(&ps, "out", in.Out)
	}
	ps.when(in.Out == in.In, "in", "name two modules")
	checkText(&ps, "note", in.Note, false, MaxNote)
	return ps.err()
}

func (s *Service) swap(w Writer, by Actor, outer Bag, in Swap) error {
	list := ""
	if in.Out != "" {
		old, err := w.Bag(in.Out)
		if err != nil {
			return known(err, "out", "bag")
		}
		if old.Inside != outer.Code {
			return Errorf(Conflict, "module %s is not in this bag", old.Code)
		}
		list = old.KitList
		out := old
		out.Inside, out.Vehicle = "", ""
		if _, err := changeBag(w, by, s.Now(), old, out, in.Note); err != nil {
			return err
		}
	}
	old, err := w.Bag(in.In)
	if err != nil {
		return known(err, "in", "bag")
	}
	if err := s.maySwapIn(w, outer, old, list); err != nil {
		return err
	}
	module := old
	module.Inside, module.Vehicle = outer.Code, outer.Vehicle
	if _, err := changeBag(w, by, s.Now(), old, module, in.Note); err != nil {
		return err
	}
	return w.AddBagLog(BagLogEntry{Bag: outer.Code, At: s.Now(), By: by.Name, Kind: LoggedModule, Old: in.Out, New: in.In, Reason: in.Note})
}

// maySwapIn refuses a module that does not fit or must not go out. list is that
// of the module that came out, empty where none did.
func (s *Service) maySwapIn(r Reader, outer, in Bag, list string) error {
	k, err := r.KitList(outer.KitList, outer.KitListVersion)
	if err != nil {
		return err
	}
	v, err := viewOf(r, in)
	if err != nil {
		return err
	}
	asked := list
	for _, m := range k.Modules {
		if m.KitList == in.KitList && list == "" {
			asked = in.KitList
		}
	}
	judged := ReadinessOf(v, s.Now(), 0, DefaultHorizonDays)
	switch {
	case in.Inside != "":
		return Errorf(Conflict, "module %s is inside bag %s", in.Code, in.Inside)
	case in.KitList != asked:
		return Errorf(Conflict, "the module that goes in is of another kit list than the one that is wanted")
	case in.Code == outer.Code || outer.Inside != "" || len(v.Modules) > 0:
		return Errorf(Conflict, "a module lies inside a bag that is no module itself, and has none of its own")
	case in.AtSite != outer.AtSite || in.Site != outer.Site || in.Purpose != outer.Purpose:
		return Errorf(Conflict, "the module that goes in belongs to another station or purpose, or is somewhere else")
	case judged.State == NotReady || judged.State == OffTheRun:
		return Errorf(Conflict, "module %s must not go out: %s", in.Code, Headline(in, judged))
	}
	return nil
}

// SpareModule is a module that might go into a bag.
type SpareModule struct {
	BagSummary
	Why string `json:"why,omitempty" doc:"Why it does not go in, where it does not"`
}

// SpareModules lists the modules at a bag's site that are in no bag and are of
// the list that is wanted: that of the module that comes out or, where none
// does, those that the bag's list asks for. Those that may go in come first.
func (s *Service) SpareModules(ctx context.Context, by Actor, code, out string) ([]SpareModule, error) {
	return read(ctx, s, func(r Reader) ([]SpareModule, error) {
		outer, err := bagFor(r, by, code, ActCheck)
		if err != nil {
			return nil, err
		}
		list := ""
		if out = NormalCode(out); out != "" {
			old, err := r.Bag(out)
			if err != nil {
				return nil, err
			}
			if old.Inside != outer.Code {
				return nil, Errorf(Conflict, "that module is not in this bag any more")
			}
			list = old.KitList
		}
		wanted, err := modulesWanted(r, outer, list)
		if err != nil {
			return nil, err
		}
		items, err := itemsByCode(r, ItemFilter{})
		if err != nil {
			return nil, err
		}
		views, err := viewsOf(r, BagFilter{AtSites: []string{outer.AtSite}, Purpose: outer.Purpose}, Page{}, items)
		var fit, unfit []SpareModule
		for _, v := range views {
			if v.Bag.Inside != "" || v.Bag.Code == outer.Code || !wanted[v.Bag.KitList] {
				continue
			}
			m := SpareModule{BagSummary: summaryOf(v, s.Now(), Ask{Horizon: -1})}
			if err := s.maySwapIn(r, outer, v.Bag, list); KindOf(err) == Conflict {
				m.Why = messageOf(err)
				unfit = append(unfit, m)
			} else if err != nil {
				return nil, err
			} else {
				fit = append(fit, m)
			}
		}
		return append(fit, unfit...), err
	})
}

// modulesWanted lists the kit lists of which a module may go into a bag.
func modulesWanted(r Reader, outer Bag, list string) (map[string]bool, error) {
	if list != "" {
		return map[string]bool{list: true}, nil
	}
	k, err := r.KitList(outer.KitList, outer.KitListVersion)
	wanted := map[string]bool{}
	for _, m := range k.Modules {
		wanted[m.KitList] = true
	}
	return wanted, err
}
