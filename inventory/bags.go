package inventory

import (
	"cmp"
	"context"
)

// CreateBag makes a bag and its place. The newest version of its kit list is
// used unless one is named.
func (s *Service) CreateBag(ctx context.Context, by Actor, in Bag) (Bag, error) {
	return write(ctx, s, func(w Writer) (Bag, error) {
		if err := by.must(ActKeepLists, in.Site); err != nil {
			return in, err
		}
		in.AtSite, in.Vehicle = cmp.Or(in.AtSite, in.Site), spaced(in.Vehicle)
		in.Purpose = cmp.Or(in.Purpose, ForIssue)
		in.Priority = cmp.Or(in.Priority, 5)
		in.Version, in.TakenOff, in.BagRecord = 1, nil, BagRecord{}
		in.RetiredAt, in.RetiredBy, in.Successor = 0, "", ""
		wrong := in.Check()
		in, err := checkBag(w, in)
		if err := joined(wrong, err); err != nil {
			return in, err
		}
		return in, w.AddBag(in)
	})
}

// checkBag looks up what a bag names and fills in the version of its list.
func checkBag(r Reader, in Bag) (Bag, error) {
	_, err := r.Site(in.Site)
	wrong := known(err, "site", "site")
	if in.AtSite != in.Site {
		_, err = r.Site(in.AtSite)
		wrong = joined(wrong, known(err, "at_site", "site"))
	}
	k, err := r.KitList(in.KitList, in.KitListVersion)
	if err != nil {
		wrong = joined(wrong, known(err, "kit_list", "kit list, or no such version of it"))
	}
	in.KitListVersion = k.Version
	if in.Inside == "" {
		return in, wrong
	}
	in, err = checkModule(r, in)
	return in, joined(wrong, err)
}

// checkModule looks at the bag that another lies inside.
func checkModule(r Reader, in Bag) (Bag, error) {
	outer, err := r.Bag(in.Inside)
	switch {
	case err != nil:
		return in, known(err, "inside", "bag")
	case outer.Retired():
		return in, Invalidf("inside", "name a bag that is in service")
	case outer.Inside != "":
		return in, Invalidf("inside", "a module lies inside a bag that is no module itself")
	case outer.Site != in.Site || outer.Purpose != in.Purpose:
		return in, Invalidf("inside", "a module belongs to the same site and purpose as its bag")
	}
	if in.AtSite != outer.AtSite {
		return in, Invalidf("inside", "a module is where its bag is; take it out first")
	}
	in.Vehicle = outer.Vehicle
	modules, err := r.Bags(BagFilter{Inside: in.Code}, Page{Limit: 1})
	if len(modules) > 0 {
		return in, Invalidf("inside", "this bag has modules of its own, so it is no module itself")
	}
	return in, err
}

// BagChange is what people may change of a bag; nil fields stay as they are.
type BagChange struct {
	Name           *string `json:"name,omitempty" maxLength:"120"`
	AtSite         *string `json:"at_site,omitempty" doc:"Site code"`
	KitList        *string `json:"kit_list,omitempty" doc:"Kit list code"`
	KitListVersion *int    `json:"kit_list_version,omitempty" doc:"0 for the newest"`
	Priority       *int    `json:"priority,omitempty" minimum:"1" maximum:"9"`
	Vehicle        *string `json:"vehicle,omitempty"`
	Inside         *string `json:"inside,omitempty" doc:"Bag code, or empty for none"`
	TakenOff       *string `json:"taken_off,omitempty" doc:"The reason for taking it off the run, or empty to put it back"`
	OffSince       Instant `json:"-"` // when it was taken off; 0 for now
	Retired        *bool   `json:"retired,omitempty" doc:"True takes the bag out of service, which it must be empty for; false brings it back"`
	Successor      *string `json:"successor,omitempty" doc:"Code of the bag that takes its place, or empty for none"`
}

// UpdateBag changes a bag. version is the one that the caller saw; 0 skips
// that check. Crew may only take a bag off the run.
func (s *Service) UpdateBag(ctx context.Context, by Actor, code string, version int64, ch BagChange) (Bag, error) {
	return write(ctx, s, func(w Writer) (Bag, error) {
		if err := by.must(ActTakeOff, ""); err != nil {
			return Bag{}, err
		}
		b, err := ch.lockBag(w, code)
		if KindOf(err) == NotFound {
			return b, noSuchBag(w, by, code)
		}
		if err != nil {
			return b, err
		}
		if err := ch.may(by, b); err != nil {
			return b, err
		}
		was := b
		b = ch.apply(b, by, s.Now())
		b.Version = version
		wrong := b.Check()
		b, err = checkBag(w, b)
		if err := joined(wrong, err); err != nil {
			return b, err
		}
		if err := judgeRetiring(w, was, b, ch); err != nil {
			return b, err
		}
		if b, err = changeBag(w, by, s.Now(), was, b, ""); err != nil {
			return b, err
		}
		return b, s.modulesFollow(w, by, b)
	})
}

// lockBag returns the bag to change, with others kept from changing it and the
// bag that it goes into.
func (ch BagChange) lockBag(w Writer, code string) (Bag, error) {
	b, err := w.Bag(NormalCode(code))
	if err != nil {
		return b, err
	}
	codes := []string{b.Code}
	if ch.Inside != nil && *ch.Inside != "" {
		codes = append(codes, *ch.Inside)
	}
	if err := w.LockBags(codes); err != nil {
		return b, err
	}
	return w.Bag(b.Code)
}

// may refuses a change that the actor may not make. A bag goes to a station
// of one's own from another, or from wherever it is where one's own owns it.
func (ch BagChange) may(by Actor, b Bag) error {
	if to := ch.AtSite; to != nil && *to != b.AtSite {
		if err := by.must(ActKeepLists, *to); err != nil {
			return err
		}
		if ch == (BagChange{AtSite: to}) && by.At(b.Site) {
			return nil
		}
	}
	for _, act := range ch.actions() {
		if err := by.must(act, b.AtSite); err != nil {
			return err
		}
	}
	return nil
}

// modulesFollow takes the modules of a bag along to where it is.
func (s *Service) modulesFollow(w Writer, by Actor, outer Bag) error {
	if outer.Inside != "" {
		return nil
	}
	modules, err := w.Bags(BagFilter{Inside: outer.Code}, Page{})
	if err != nil {
		return err
	}
	for _, old := range modules {
		m := old
		m.AtSite, m.Vehicle = outer.AtSite, outer.Vehicle
		if m.AtSite == old.AtSite && m.Vehicle == old.Vehicle {
			continue
		}
		if _, err := changeBag(w, by, s.Now(), old, m, "with bag "+outer.Code); err != nil {
			return err
		}
	}
	return nil
}

// actions lists what a change asks of the actor's role.
func (ch BagChange) actions() []Action {
	acts := []Action{ActTakeOff}
	if ch.TakenOff != nil && *ch.TakenOff == "" {
		acts = append(acts, ActKeepStock)
	}
	rest := ch
	rest.TakenOff, rest.OffSince = nil, 0
	if rest != (BagChange{}) {
		acts = append(acts, ActKeepLists)
	}
	return acts
}

func (ch BagChange) apply(b Bag, by Actor, now Instant) Bag {
	set(&b.Name, ch.Name)
	set(&b.AtSite, ch.AtSite)
	set(&b.Priority, ch.Priority)
	if ch.Vehicle != nil {
		b.Vehicle = spaced(*ch.Vehicle)
	}
	set(&b.Inside, ch.Inside)
	if ch.KitList != nil && *ch.KitList != b.KitList {
		b.KitList, b.KitListVersion = *ch.KitList, 0
	}
	set(&b.KitListVersion, ch.KitListVersion)
	if ch.TakenOff != nil {
		b.TakenOff = nil
		if *ch.TakenOff != "" {
			b.TakenOff = &TakenOff{Reason: *ch.TakenOff, By: by.Name, At: min(cmp.Or(ch.OffSince, now), now)}
		}
	}
	if ch.Retired != nil {
		b = b.retire(*ch.Retired, by, now)
	}
	set(&b.Successor, ch.Successor)
	return b
}

// retire takes a bag out of service, or brings it back.
func (b Bag) retire(out bool, by Actor, now Instant) Bag {
	switch {
	case !out:
		b.RetiredAt, b.RetiredBy, b.Successor = 0, "", ""
	case !b.Retired():
		b.RetiredAt, b.RetiredBy = now, by.Name
	}
	return b
}

func set[T any](field *T, v *T) {
	if v != nil {
		*field = *v
	}
}

// Bag returns one bag.
func (s *Service) Bag(ctx context.Context, by Actor, code string) (Bag, error) {
	return read(ctx, s, func(r Reader) (Bag, error) { return bagFor(r, by, code, ActSee) })
}

// bagFor returns a bag for an action, refusing it at a site not the actor's.
func bagFor(r Reader, by Actor, code string, act Action) (Bag, error) {
	if err := by.must(act, ""); err != nil {
		return Bag{}, err
	}
	b, err := r.Bag(NormalCode(code))
	if KindOf(err) == NotFound {
		return b, noSuchBag(r, by, code)
	}
	if err != nil {
		return b, err
	}
	return b, by.must(act, b.AtSite)
}
