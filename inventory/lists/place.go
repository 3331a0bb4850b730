package lists

import (
	"cmp"
	"context"

	"stowkeeper/inventory"
	"stowkeeper/inventory/scope"
)

// CreatePlace makes a place that is not a bag. Refuses: Forbidden without keep_lists at its station; Invalid by
// field; Conflict where the code is taken.
func (s *Service) CreatePlace(ctx context.Context, by inventory.Actor, in inventory.Place) (inventory.Place, error) {
	return inventory.Write(ctx, s.store, func(w inventory.Writer) (inventory.Place, error) {
		if err := by.Must(inventory.ActKeepLists, in.Station); err != nil {
			return in, err
		}
		in.Version, in.Vehicle = 1, inventory.OneLine(in.Vehicle)
		station, err := w.Station(in.Station)
		if err := inventory.MergeErrors(in.Check(), inventory.AsField(err, "station", "not found")); err != nil {
			return in, err
		}
		if err := station.MustBeOpen(); err != nil {
			return in, err
		}
		return in, w.AddPlace(in)
	})
}

// Places lists the places of the actor's stations by code, bags among them. Refuses: Forbidden without see, and for
// a station that is not the actor's; NotFound for a station.
func (s *Service) Places(ctx context.Context, by inventory.Actor, f inventory.PlaceFilter,
	p inventory.Page) ([]inventory.Place, error) {
	return inventory.ReadAs(ctx, s.store, by, inventory.ActSee, func(r inventory.Reader) ([]inventory.Place, error) {
		stations, err := scope.Narrowed(by, r, f.Stations)
		if err != nil {
			return nil, err
		}
		f.Stations = stations
		return r.Places(f, p)
	})
}

// PlaceChange is what people may change of a place that is no bag; nil fields stay as they are.
type PlaceChange struct {
	Name    *string
	Holder  *string
	DueBack *inventory.Day
	Vehicle *string
}

// UpdatePlace changes a place that is no bag. version is the one that the caller saw; 0 skips that check. Refuses:
// Forbidden without keep_lists at its station, where it is away without check, since who may send stock away may
// also say where it is and when it is due back; NotFound; Invalid by field; Stale; Conflict for a bag, and for
// another holder while controlled items lie there.
func (s *Service) UpdatePlace(ctx context.Context, by inventory.Actor, code string, version int64,
	ch PlaceChange) (inventory.Place, error) {
	return inventory.WriteAs(ctx, s.store, by, inventory.ActCheck, func(w inventory.Writer) (inventory.Place, error) {
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
			return p, cmp.Or(err, inventory.Refuse(inventory.Conflict, "change it as a bag, not as a place"))
		}
		if p.Outside() {
			return p, inventory.Refuse(inventory.NotFound, "not found")
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
		p.Vehicle = inventory.OneLine(p.Vehicle)
		p.Version = version
		if err := p.Check(); err != nil {
			return p, err
		}
		return w.UpdatePlace(p)
	})
}

// keepsRegister holds each page to one class of drug, as its head says (UK Misuse of Drugs Regulations 2001, reg. 19
// and 20(a)): it refuses a change that would take an item out of its register, or change its strength, form or content.
func keepsRegister(r inventory.Reader, old, in inventory.Item) error {
	same := func(old, now string) bool { return old == "" || now == old }
	if !old.Controlled || in.Controlled && same(old.Strength, in.Strength) && same(old.Form, in.Form) &&
		(old.Content.None() || in.Content == old.Content) {
		return nil
	}
	moved, err := r.Movements(inventory.MovementFilter{Item: old.Code}, inventory.Page{Limit: 1})
	if err == nil && len(moved) > 0 {
		err = inventory.Refuse(inventory.Conflict,
			"has register entries: controlled, strength, form and content cannot change")
	}
	return err
}

// holdsControlled refuses to give a place with controlled items in it another
// holder: they change hands only by two signatures.
func holdsControlled(r inventory.Reader, pl inventory.Place) error {
	stock, err := r.Stock(inventory.StockFilter{Places: []string{pl.Code}})
	if err != nil {
		return err
	}
	var codes []string
	for _, st := range stock {
		codes = append(codes, st.Lot.Item)
	}
	if len(codes) == 0 {
		return nil
	}
	items, err := ItemsByCode(r, inventory.ItemFilter{Codes: codes})
	for _, it := range items {
		if it.Controlled {
			return inventory.Refuse(inventory.Conflict, "sign its controlled items back first")
		}
	}
	return err
}
