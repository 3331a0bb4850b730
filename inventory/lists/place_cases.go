package lists

import (
	"cmp"
	"context"

	"stowkeeper/inventory"
	"stowkeeper/inventory/scope"
)

// CreatePlace makes a place that is not a bag.
func (s *Service) CreatePlace(ctx context.Context, by inventory.Actor, in inventory.Place) (inventory.Place, error) {
	return inventory.Write(ctx, s.store, func(w inventory.Writer) (inventory.Place, error) {
		if err := by.Must(inventory.ActKeepLists, in.Station); err != nil {
			return in, err
		}
		in.Version, in.Vehicle = 1, inventory.Spaced(in.Vehicle)
		_, err := w.Station(in.Station)
		if err := inventory.MergeErrors(in.Check(), inventory.AsField(err, "station", "station")); err != nil {
			return in, err
		}
		return in, w.AddPlace(in)
	})
}

// Places lists the places of the actor's stations.
func (s *Service) Places(ctx context.Context, by inventory.Actor, f inventory.PlaceFilter,
	p inventory.Page) ([]inventory.Place, error) {
	return inventory.Read(ctx, s.store, func(r inventory.Reader) ([]inventory.Place, error) {
		if err := by.Must(inventory.ActSee, ""); err != nil {
			return nil, err
		}
		stations, err := scope.Narrowed(by, r, f.Stations)
		if err != nil {
			return nil, err
		}
		f.Stations = stations
		return r.Places(f, p)
	})
}

// PlaceChange is what people may change of a place that is no bag; nil fields
// stay as they are.
type PlaceChange struct {
	Name    *string
	Holder  *string
	DueBack *inventory.Day
	Vehicle *string
}

// UpdatePlace changes a place that is no bag. version is the one that the
// caller saw; 0 skips that check. Who may send stock away may also say where
// it is and when it is due back.
func (s *Service) UpdatePlace(ctx context.Context, by inventory.Actor, code string, version int64,
	ch PlaceChange) (inventory.Place, error) {
	return inventory.Write(ctx, s.store, func(w inventory.Writer) (inventory.Place, error) {
		if err := by.Must(inventory.ActCheck, ""); err != nil {
			return inventory.Place{}, err
		}
		p, err := w.Place(inventory.NormalCode(code))
		if err != nil {
			return p, err
		}
		act := inventory.ActKeepLists
		if p.Kind == inventory.KindAway {
			act = inventory.ActCheck
		}
		if p.Kind == inventory.KindBag {
			_, err := scope.BagFor(w, by, p.Code, inventory.ActSee)
			return p, cmp.Or(err, inventory.Errorf(inventory.Conflict, "change a bag under /bags"))
		}
		if p.Outside() {
			return p, inventory.Errorf(inventory.NotFound, "no such place")
		}
		if err := by.Must(act, p.Station); err != nil {
			return p, err
		}
		inventory.Set(&p.Name, ch.Name)
		if ch.Holder != nil && *ch.Holder != p.Holder {
			if err := holdsControlled(w, p); err != nil {
				return p, err
			}
		}
		inventory.Set(&p.Holder, ch.Holder)
		inventory.Set(&p.DueBack, ch.DueBack)
		inventory.Set(&p.Vehicle, ch.Vehicle)
		p.Vehicle = inventory.Spaced(p.Vehicle)
		p.Version = version
		if err := p.Check(); err != nil {
			return p, err
		}
		return w.UpdatePlace(p)
	})
}
