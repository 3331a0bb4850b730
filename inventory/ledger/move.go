package ledger

import (
	"context"
	"strconv"

	"stowkeeper/inventory"
	"stowkeeper/inventory/scope"
)

// Move posts movements together, and returns them as stored, in the order given: all of them happen or none does.
// Stock comes from the supplier only by receipts and imports. Refuses: Forbidden without keep_stock at either end;
// Invalid by field, under movements[i], and where a controlled item lacks signatures; Conflict for what a rule, the
// stock or the order of times forbids. Locks the bags that units go into and the stations' chains.
func (s *Service) Move(ctx context.Context, by inventory.Actor, ms []inventory.Movement) ([]inventory.Movement, error) {
	return inventory.WriteAs(ctx, s.store, by, inventory.ActKeepStock, func(w inventory.Writer) ([]inventory.Movement,
		error) {
		if len(ms) == 0 || len(ms) > 1000 {
			return nil, inventory.InvalidField("movements", "enter {1} to {2}", 1, 1000)
		}
		u := NewUnit(w, by, s.now(), TwoSign)
		for i := range ms {
			path := "movements[" + strconv.Itoa(i) + "]"
			if err := u.mayMove(&ms[i]); err != nil {
				return nil, PrefixPaths(err, path)
			}
		}
		return u.Post(ms, "movements")
	})
}

// mayMove refuses what cannot be asked for as a bare movement, and places at
// stations that are not the actor's. Codes are brought to their stored form.
func (u *Unit) mayMove(m *inventory.Movement) error {
	m.From, m.To = PlaceCode(m.From), PlaceCode(m.To)
	if m.From == string(inventory.KindSupplier) && m.Corrects == 0 {
		return inventory.Refuse(inventory.Conflict, "use receive or import")
	}
	if m.To == string(inventory.KindFound) && m.Corrects == 0 {
		return inventory.Refuse(inventory.Conflict, "identify them instead")
	}
	for path, code := range map[string]string{"from": m.From, "to": m.To} {
		pl, err := u.Place(code)
		if err != nil {
			return inventory.AsField(err, path, "not found")
		}
		if err := u.May(inventory.ActKeepStock, pl); err != nil {
			return err
		}
		if pl.Kind == inventory.KindTransit {
			return inventory.Refuse(inventory.Conflict, "correct it on the transfer")
		}
	}
	return nil
}

// PlaceCode brings a place code that was typed to its stored form: the places
// outside are lower case, all others upper case.
func PlaceCode(s string) string {
	for _, k := range inventory.OutsideKinds {
		if s == string(k) {
			return s
		}
	}
	return inventory.NormalCode(s)
}

// Movements lists movements by id, or the newest first where f asks for it. Crew do not read them. Refuses:
// Forbidden without history, and for a station or place that is not the actor's; NotFound for either.
func (s *Service) Movements(ctx context.Context, by inventory.Actor, f inventory.MovementFilter,
	p inventory.Page) ([]inventory.Movement, error) {
	return inventory.ReadAs(ctx, s.store, by, inventory.ActHistory, func(r inventory.Reader) ([]inventory.Movement,
		error) {
		stations, err := scope.Narrowed(by, r, f.Stations)
		if err != nil {
			return nil, err
		}
		f.Stations = stations
		if err := scope.PlaceAsked(by.WithoutScope(), r, f.Place); err != nil {
			return nil, err
		}
		return r.Movements(f, p)
	})
}
