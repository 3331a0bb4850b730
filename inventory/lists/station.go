package lists

import (
	"cmp"
	"context"
	"slices"

	"stowkeeper/inventory"
	"stowkeeper/inventory/donor"
)

// CreateStation makes a station and its four places. Refuses: Forbidden without keep_stations; Invalid by field;
// Conflict where a code is taken.
func (s *Service) CreateStation(ctx context.Context, by inventory.Actor, in inventory.Station) (inventory.Station,
	error) {
	return inventory.WriteAs(ctx, s.store, by, inventory.ActKeepStations, func(w inventory.Writer) (inventory.Station,
		error) {
		if err := cmp.Or(in.Check(), checkTravel(w, in)); err != nil {
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

// StationSettings are what the people of a station set of it; what is left out stays as it is.
type StationSettings struct {
	LockMinutes   *int     `json:"lock_minutes,omitempty" minimum:"0" maximum:"240" doc:"0 for never"`
	NightVehicles []string `json:"night_vehicles,omitempty" doc:"By name, all of them; an empty list for none"`

	Position      *string  `json:"position,omitempty" maxLength:"40" doc:"Latitude, longitude, in degrees"`
	TravelMinutes []string `json:"travel_minutes,omitempty" doc:"As HT 25, all of them; an empty list for none"`
}

// ChangeStation sets after how long without use the shared phones of a station lock, which of its vehicles have the
// look for the night, and where it lies. Refuses: Forbidden without keep_lists at the station; NotFound; Invalid by
// field; Conflict where it is closed. Locks the station.
func (s *Service) ChangeStation(ctx context.Context, by inventory.Actor, code string,
	in StationSettings) (inventory.Station, error) {
	return inventory.Write(ctx, s.store, func(w inventory.Writer) (inventory.Station, error) {
		if err := by.Must(inventory.ActKeepLists, code); err != nil {
			return inventory.Station{}, err
		}
		err := w.LockStations([]string{code})
		x, read := w.Station(code)
		if err = cmp.Or(err, read); err != nil {
			return x, err
		}
		if in.LockMinutes != nil {
			x.LockMinutes = *in.LockMinutes
		}
		if in.NightVehicles != nil {
			x.NightVehicles = nil
			for _, v := range in.NightVehicles {
				x.NightVehicles = append(x.NightVehicles, inventory.OneLine(v))
			}
		}
		if in.Position != nil {
			x.Position = inventory.OneLine(*in.Position)
		}
		if in.TravelMinutes != nil {
			x.TravelMinutes = nil
			for _, t := range in.TravelMinutes {
				x.TravelMinutes = append(x.TravelMinutes, inventory.OneLine(t))
			}
		}
		if err := cmp.Or(x.Check(), x.MustBeOpen(), checkTravel(w, x)); err != nil {
			return x, err
		}
		return x, w.UpdateStation(x)
	})
}

// checkTravel refuses minutes to what is no other station.
func checkTravel(r inventory.Reader, x inventory.Station) error {
	others, err := r.Stations()
	others = slices.DeleteFunc(others, func(o inventory.Station) bool { return o.Code == x.Code })
	like := "HT"
	if len(others) > 0 {
		like = others[0].Code
	}
	var p inventory.Problems
	for _, t := range x.TravelMinutes {
		to, _, _ := donor.Travel(t)
		known := slices.ContainsFunc(others, func(o inventory.Station) bool { return o.Code == to })
		p.When(!known, "travel_minutes", "enter the code of another station, as in {1}", like+" 25")
	}
	return cmp.Or(err, p.Err())
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
