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
	{"name", cellText, "the category", needed},
})

func (x *exporting) categories(add func(categoryRow) error) error {
	all, err := x.r.Categories()
	return each(all, err, func(c inventory.Category) error { return add(categoryRow{c}) })
}

func importCategory(r *record) error {
	return categoryColumns.keep(r, categoryRow{}, func(c categoryRow) (categoryRow, error) {
		known, err := r.im.w.Categories()
		if err == nil && !slices.Contains(known, c.Name) {
			err = inventory.Errorf(inventory.NotFound, "no such category")
		}
		return c, err
	}, func(c categoryRow) error { return r.im.s.lists.AddCategory(r.im.ctx, r.im.by, c.Name) }, nil)
}

var stationColumns = columnsOf[inventory.Station]([]column{
	{"code", cellCode, "code of the station", needed},
	{"name", cellText, "its name", needed},
	{"timezone", cellText, "its time zone, as Europe/London", needed},
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
		_, err := r.im.s.lists.CreateStation(r.im.ctx, r.im.by, in)
		return err
	}, func(_, _ inventory.Station) (Outcome, error) {
		return Changed, inventory.Errorf(inventory.Conflict,
			"the station is known with another name or time zone, and those do not change")
	})
}

var placeColumns = columnsOf[inventory.Place]([]column{
	{"code", cellCode, "code of the place", needed},
	{"station", cellCode, "station that it belongs to", needed},
	{"kind", cellWord, "store, carrier, quarantine or away", needed},
	{"purpose", cellWord, "issue or training", kept},
	{"name", cellText, "its name", needed},
	{"holder", cellText, "who has it, never a patient", optional},
	{"due_back", cellDay, "when what is away is due back", optional},
	{"vehicle", cellLine, "vehicle that a carrier rides on", optional},
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
				return Changed, inventory.Errorf(inventory.Conflict,
					"the place is known, and its station, kind and purpose are for good")
			}
			_, err := r.im.s.lists.UpdatePlace(r.im.ctx, r.im.by, in.Code, 0, lists.PlaceChange{Name: &in.Name,
				Holder: &in.Holder, DueBack: &in.DueBack, Vehicle: &in.Vehicle})
			return Changed, err
		})
}
