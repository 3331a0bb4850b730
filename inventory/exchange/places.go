package exchange

import (
	"slices"

	"stowkeeper/inventory"
	"stowkeeper/inventory/lists"
)

type categoryRow struct {
	Name inventory.Category `json:"name"`
}

var categoryColumns = columnsOf[categoryRow]([]column{
	{"name", cellText, "Category", needed},
})

func (x *exporting) categories(add func(categoryRow) error) error {
	all, err := x.r.Categories()
	return each(all, err, func(c inventory.Category) error { return add(categoryRow{c}) })
}

func importCategory(r *record) error {
	return categoryColumns.keep(r, categoryRow{}, func(c categoryRow) (categoryRow, error) {
		known, err := r.im.w.Categories()
		if err == nil && !slices.Contains(known, c.Name) {
			err = inventory.Refuse(inventory.NotFound, "not found")
		}
		return c, err
	}, func(c categoryRow) error { return r.im.s.lists.AddCategory(r.im.ctx, r.im.by, c.Name) }, nil)
}

var stationColumns = columnsOf[inventory.Station]([]column{
	{"code", cellCode, "Code", needed},
	{"name", cellText, "Name", needed},
	{"timezone", cellText, "Time zone, e.g. Europe/London", needed},
	{"closed_at", cellInstant, "When", optional},
	{"lock_minutes", cellNumber, "Minutes until shared phones lock", optional},
	{"night_vehicles", cellLines, "Night look", optional},
	{"position", cellText, "Latitude, longitude", optional},
	{"travel_minutes", cellLines, "Minutes to other stations", optional},
})

func (x *exporting) stationRows(add func(inventory.Station) error) error {
	all, err := x.r.Stations()
	all = slices.DeleteFunc(all, func(s inventory.Station) bool { return !x.by.At(s.Code) })
	return each(all, err, add)
}

func importStation(r *record) error {
	return stationColumns.keep(r, inventory.Station{}, func(s inventory.Station) (inventory.Station, error) {
		return r.im.w.Station(s.Code)
	}, func(in inventory.Station) error {
		if err := in.Check(); err != nil {
			return err
		}
		made := in
		made.TravelMinutes = nil // to stations that may come further down
		_, err := r.im.s.lists.CreateStation(r.im.ctx, r.im.by, made)
		if err == nil && in.ClosedAt != 0 {
			r.im.closed = append(r.im.closed, in.Code)
		}
		if err == nil && (in.ClosedAt != 0 || len(in.TravelMinutes) > 0) {
			err = r.im.w.UpdateStation(in)
		}
		return err
	}, func(_, _ inventory.Station) (Outcome, error) {
		return Changed, inventory.Refuse(inventory.Conflict, "name and time zone of a station cannot change")
	})
}

var placeColumns = columnsOf[inventory.Place]([]column{
	{"code", cellCode, "Code", needed},
	{"station", cellCode, "Station", needed},
	{"kind", cellWord, "Store, carrier, quarantine, away", needed},
	{"purpose", cellWord, "Issue, training; default: issue", kept},
	{"name", cellText, "Name", needed},
	{"holder", cellText, "Holder, never a patient", optional},
	{"due_back", cellDay, "Due back", optional},
	{"vehicle", cellLine, "Vehicle", optional},
})

func (x *exporting) places(add func(inventory.Place) error) error {
	all, err := x.r.Places(inventory.PlaceFilter{Stations: x.stations}, inventory.Page{})
	all = slices.DeleteFunc(all, func(p inventory.Place) bool { return p.Kind == inventory.KindBag })
	return each(all, err, add)
}

func importPlace(r *record) error {
	return placeColumns.keep(r, inventory.Place{Purpose: inventory.ForIssue},
		func(p inventory.Place) (inventory.Place, error) { return r.im.w.Place(p.Code) },
		func(in inventory.Place) error {
			_, err := r.im.s.lists.CreatePlace(r.im.ctx, r.im.by, in)
			return err
		}, func(old, in inventory.Place) (Outcome, error) {
			if old.Station != in.Station || old.Kind != in.Kind || old.Purpose != in.Purpose {
				return Changed, inventory.Refuse(inventory.Conflict, "station, kind and purpose of a place cannot change")
			}
			_, err := r.im.s.lists.UpdatePlace(r.im.ctx, r.im.by, in.Code, 0, lists.PlaceChange{Name: &in.Name,
				Holder: &in.Holder, DueBack: &in.DueBack, Vehicle: &in.Vehicle})
			return Changed, err
		})
}
