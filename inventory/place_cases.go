package inventory

import (
	"cmp"
	"context"
)

// CreatePlace makes a place that is not a bag.
func (s *Service) CreatePlace(ctx context.Context, by Actor, in Place) (Place, error) {
	return write(ctx, s, func(w Writer) (Place, error) {
		if err := by.must(ActKeepLists, in.Site); err != nil {
			return in, err
		}
		in.Version, in.Vehicle = 1, spaced(in.Vehicle)
		_, err := w.Site(in.Site)
		if err := joined(in.Check(), known(err, "site", "site")); err != nil {
			return in, err
		}
		return in, w.AddPlace(in)
	})
}

// Places lists the places of the actor's sites.
func (s *Service) Places(ctx context.Context, by Actor, f PlaceFilter, p Page) ([]Place, error) {
	return read(ctx, s, func(r Reader) ([]Place, error) {
		if err := by.must(ActSee, ""); err != nil {
			return nil, err
		}
		sites, err := by.narrowed(r, f.Sites)
		if err != nil {
			return nil, err
		}
		f.Sites = sites
		return r.Places(f, p)
	})
}

// narrowed keeps a filter on sites within the actor's own, and refuses a site
// that does not exist.
func (a Actor) narrowed(r Reader, sites []string) ([]string, error) {
	for _, code := range sites {
		if _, err := r.Site(code); err != nil {
			return nil, err
		}
	}
	return a.narrow(sites)
}

// placeAsked refuses a list of what is at a place that does not exist or is at
// a site not the actor's. No place is none.
func (a Actor) placeAsked(r Reader, code string) error {
	if code == "" {
		return nil
	}
	pl, err := r.Place(code)
	if err != nil || pl.Outside() {
		return err
	}
	return a.maySee(r, pl)
}

// narrow keeps a filter on sites within the actor's own.
func (a Actor) narrow(sites []string) ([]string, error) {
	if len(sites) == 0 {
		return a.sitesSeen(), nil
	}
	for _, site := range sites {
		if !a.At(site) {
			return nil, errNotYours()
		}
	}
	return sites, nil
}

// PlaceChange is what people may change of a place that is no bag; nil fields
// stay as they are.
type PlaceChange struct {
	Name    *string
	Holder  *string
	DueBack *Day
	Vehicle *string
}

// UpdatePlace changes a place that is no bag. version is the one that the
// caller saw; 0 skips that check. Who may send stock away may also say where
// it is and when it is due back.
func (s *Service) UpdatePlace(ctx context.Context, by Actor, code string, version int64, ch PlaceChange) (Place, error) {
	return write(ctx, s, func(w Writer) (Place, error) {
		if err := by.must(ActCheck, ""); err != nil {
			return Place{}, err
		}
		p, err := w.Place(NormalCode(code))
		if err != nil {
			return p, err
		}
		act := ActKeepLists
		if p.Kind == KindAway {
			act = ActCheck
		}
		if p.Kind == KindBag {
			_, err := bagFor(w, by, p.Code, ActSee)
			return p, cmp.Or(err, Errorf(Conflict, "change a bag under /bags"))
		}
		if p.Outside() {
			return p, Errorf(NotFound, "no such place")
		}
		if err := by.must(act, p.Site); err != nil {
			return p, err
		}
		set(&p.Name, ch.Name)
		if ch.Holder != nil && *ch.Holder != p.Holder {
			if err := holdsControlled(w, p); err != nil {
				return p, err
			}
		}
		set(&p.Holder, ch.Holder)
		set(&p.DueBack, ch.DueBack)
		set(&p.Vehicle, ch.Vehicle)
		p.Vehicle = spaced(p.Vehicle)
		p.Version = version
		if err := p.Check(); err != nil {
			return p, err
		}
		return w.UpdatePlace(p)
	})
}
