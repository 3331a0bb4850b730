package exchange

import (
	"slices"

	"stowkeeper/inventory"
	"stowkeeper/inventory/lists"
)

var categoryColumns = columns[inventory.Category]{
	text("name", "the category", func(c *inventory.Category) *inventory.Category { return c }).needed(),
}

func (x *exporting) categories(add func(inventory.Category) error) error {
	all, err := x.r.Categories()
	return each(all, err, add)
}

func importCategory(r *record) error {
	var c inventory.Category
	categoryColumns.read(r, &c)
	r.what = string(c)
	known, err := r.im.w.Categories()
	if err != nil {
		return err
	}
	if slices.Contains(known, c) {
		return r.settled(Unchanged, nil)
	}
	return r.settled(Created, r.im.s.lists.AddCategory(r.im.ctx, r.im.by, c))
}

var stationColumns = columns[inventory.Station]{
	code("code", "code of the station", func(s *inventory.Station) *string { return &s.Code }).needed(),
	text("name", "its name", func(s *inventory.Station) *string { return &s.Name }).needed(),
	text("timezone", "its time zone, as Europe/London", func(s *inventory.Station) *string { return &s.Timezone }).needed(),
}

func (x *exporting) stationRows(add func(inventory.Station) error) error {
	all, err := x.r.Stations()
	all = slices.DeleteFunc(all, func(s inventory.Station) bool { return !x.by.At(s.Code) })
	return each(all, err, add)
}

func importStation(r *record) error {
	var in inventory.Station
	stationColumns.read(r, &in)
	r.what = in.Code
	old, known, err := there(r.im.w.Station(in.Code))
	switch {
	case err != nil:
		return err
	case known && old == in:
		return r.settled(Unchanged, nil)
	case known:
		return r.settled(Refused, inventory.Errorf(inventory.Conflict,
			"the station is known with another name or time zone, and those do not change"))
	}
	_, err = r.im.s.lists.CreateStation(r.im.ctx, r.im.by, in)
	return r.settled(Created, err)
}

var placeColumns = columns[inventory.Place]{
	code("code", "code of the place", func(p *inventory.Place) *string { return &p.Code }).needed(),
	code("station", "station that it belongs to", func(p *inventory.Place) *string { return &p.Station }).needed(),
	word("kind", "store, carrier, quarantine or away",
		func(p *inventory.Place) *inventory.PlaceKind { return &p.Kind }).needed(),
	word("purpose", "issue or training", func(p *inventory.Place) *inventory.Purpose { return &p.Purpose }).kept(),
	text("name", "its name", func(p *inventory.Place) *string { return &p.Name }).needed(),
	text("holder", "who has it, never a patient", func(p *inventory.Place) *string { return &p.Holder }),
	day("due_back", "when what is away is due back", func(p *inventory.Place) *inventory.Day { return &p.DueBack }),
	line("vehicle", "vehicle that a carrier rides on", func(p *inventory.Place) *string { return &p.Vehicle }),
}

func (x *exporting) places(add func(inventory.Place) error) error {
	all, err := x.r.Places(inventory.PlaceFilter{Stations: x.stations}, inventory.Page{})
	all = slices.DeleteFunc(all, func(p inventory.Place) bool { return p.Kind == inventory.KindBag })
	return each(all, err, add)
}

func importPlace(r *record) error {
	in := inventory.Place{Purpose: inventory.ForIssue}
	placeColumns.read(r, &in)
	r.what = in.Code
	old, known, err := there(r.im.w.Place(in.Code))
	if err != nil {
		return err
	}
	if !known {
		_, err = r.im.s.lists.CreatePlace(r.im.ctx, r.im.by, in)
		return r.settled(Created, err)
	}
	in = old
	placeColumns.read(r, &in)
	switch {
	case old.Station != in.Station || old.Kind != in.Kind || old.Purpose != in.Purpose:
		return r.settled(Refused, inventory.Errorf(inventory.Conflict,
			"the place is known, and its station, kind and purpose are for good"))
	case in == old:
		return r.settled(Unchanged, nil)
	}
	_, err = r.im.s.lists.UpdatePlace(r.im.ctx, r.im.by, in.Code, 0, lists.PlaceChange{Name: &in.Name, Holder: &in.Holder,
		DueBack: &in.DueBack, Vehicle: &in.Vehicle})
	return placeColumns.changed(r, old, in, err)
}
