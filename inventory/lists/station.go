package lists

import (
	"context"
	"slices"

	"stowkeeper/inventory"
)

// CreateStation makes a station and its four places. Refuses: Forbidden without keep_stations; Invalid by field;
// Conflict where a code is taken.
func (s *Service) CreateStation(ctx context.Context, by inventory.Actor, in inventory.Station) (inventory.Station,
	error) {
	return inventory.WriteAs(ctx, s.store, by, inventory.ActKeepStations, func(w inventory.Writer) (inventory.Station,
		error) {
		if err := in.Check(); err != nil {
			return in, err
		}
		in.ClosedAt = 0
		if err := w.AddStation(in); err != nil {
			return in, err
		}
		for _, p := range in.StationPlaces() {
			if err := w.AddPlace(p); err != nil {
				return in, err
			}
		}
		return in, nil
	})
}

// Stations lists the stations that the actor belongs to, by code, also those that are closed. Refuses: Forbidden
// without see.
func (s *Service) Stations(ctx context.Context, by inventory.Actor) ([]inventory.Station, error) {
	return inventory.ReadAs(ctx, s.store, by, inventory.ActSee, func(r inventory.Reader) ([]inventory.Station, error) {
		all, err := r.Stations()
		return slices.DeleteFunc(all, func(x inventory.Station) bool { return !by.At(x.Code) }), err
	})
}

// StationNames returns the name of every station by its code: a bag that is lent is at a station that is not one's
// own, and is called by name all the same. Refuses: Forbidden without see.
func (s *Service) StationNames(ctx context.Context, by inventory.Actor) (map[string]string, error) {
	return inventory.ReadAs(ctx, s.store, by, inventory.ActSee, func(r inventory.Reader) (map[string]string, error) {
		all, err := r.Stations()
		out := make(map[string]string, len(all))
		for _, x := range all {
			out[x.Code] = x.Name
		}
		return out, err
	})
}

// Categories lists the service's categories by name. Refuses: Forbidden without see.
func (s *Service) Categories(ctx context.Context, by inventory.Actor) ([]inventory.Category, error) {
	return inventory.ReadAs(ctx, s.store, by, inventory.ActSee, inventory.Reader.Categories)
}

// AddCategory extends the list of categories. Refuses: Forbidden without keep_stations; Invalid for the name;
// Conflict where it is there.
func (s *Service) AddCategory(ctx context.Context, by inventory.Actor, c inventory.Category) error {
	return s.store.Write(ctx, func(_ context.Context, w inventory.Writer) error {
		if err := by.Must(inventory.ActKeepStations, ""); err != nil {
			return err
		}
		var p inventory.Problems
		inventory.CheckText(&p, "name", string(c), true, 40)
		if err := p.Err(); err != nil {
			return err
		}
		return w.AddCategory(c)
	})
}
