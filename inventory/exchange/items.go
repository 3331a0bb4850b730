package exchange

import (
	"reflect"

	"stowkeeper/inventory"
)

var itemColumns = columns[inventory.Item]{
	code("code", "code given by people", func(it *inventory.Item) *string { return &it.Code }).needed(),
	text("name", "name as the trade says it", func(it *inventory.Item) *string { return &it.Name }).needed(),
	text("category", "one of the categories", func(it *inventory.Item) *inventory.Category { return &it.Category }).needed(),
	text("unit", "what one of it is: each, pair, roll …; each if left out",
		func(it *inventory.Item) *string { return &it.Unit }).kept(),
	word("tracked_by", "lot or serial; lot if left out",
		func(it *inventory.Item) *inventory.Tracking { return &it.TrackedBy }).kept(),
	yes("dated", "whether packs bear a date and a batch number that must be recorded",
		func(it *inventory.Item) *bool { return &it.Dated }),
	yes("single_use", "used on one patient and then at its end", func(it *inventory.Item) *bool { return &it.SingleUse }),
	yes("controlled", "a controlled item", func(it *inventory.Item) *bool { return &it.Controlled }),
	text("strength", "of a medicine, as in 10 mg in 1 ml", func(it *inventory.Item) *string { return &it.Strength }),
	text("form", "of a medicine, as in ampoule", func(it *inventory.Item) *string { return &it.Form }),
	number("made_months", "usable for so many months after manufacture",
		func(it *inventory.Item) *int { return &it.Life.MadeMonths }),
	number("stowed_months", "usable for so many months after it was first stowed in a bag",
		func(it *inventory.Item) *int { return &it.Life.StowedMonths }),
	number("exposed_days", "usable for so many days carried exposed",
		func(it *inventory.Item) *int { return &it.Life.ExposedDays }),
	number("opened_days", "usable for so many days after opening",
		func(it *inventory.Item) *int { return &it.Life.OpenedDays }),
	number("inspect_days", "an inspection is due every so many days",
		func(it *inventory.Item) *int { return &it.Life.InspectDays }),
	number("training_cycles", "applications in training that wear a device out",
		func(it *inventory.Item) *int { return &it.Life.TrainingCycles }),
	lines("inspection_points", "what an inspection looks at, one a line",
		func(it *inventory.Item) *[]string { return &it.InspectionPoints }),
	lines("inspection_notes", "what it looks at as well, and only notes",
		func(it *inventory.Item) *[]string { return &it.InspectionNotes }),
	number("lead_time_days", "days from order to delivery", func(it *inventory.Item) *int { return &it.LeadTimeDays }),
}

func (x *exporting) items(add func(inventory.Item) error) error {
	all, err := x.r.Items(inventory.ItemFilter{}, inventory.Page{})
	return each(all, err, add)
}

func importItem(r *record) error {
	in := inventory.Item{Unit: "each", TrackedBy: inventory.ByLot}
	itemColumns.read(r, &in)
	r.what = in.Code
	old, known, err := there(r.im.w.Item(in.Code))
	if err != nil {
		return err
	}
	if !known {
		_, err = r.im.s.lists.CreateItem(r.im.ctx, r.im.by, in)
		return r.settled(Created, err)
	}
	in = old
	itemColumns.read(r, &in)
	if reflect.DeepEqual(in, old) {
		return r.settled(Unchanged, nil)
	}
	_, err = r.im.s.lists.UpdateItem(r.im.ctx, r.im.by, in)
	return itemColumns.changed(r, old, in, err)
}
