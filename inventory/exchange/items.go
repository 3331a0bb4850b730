package exchange

import "stowkeeper/inventory"

var itemColumns = columnsOf[inventory.Item]([]column{
	{"code", cellCode, "code given by people", needed},
	{"name", cellText, "name as the trade says it", needed},
	{"category", cellText, "one of the categories", needed},
	{"unit", cellText, "what one of it is: each, pair, roll …; each if left out", kept},
	{"tracked_by", cellWord, "lot or serial; lot if left out", kept},
	{"dated", cellYes, "whether packs bear a date and a batch number that must be recorded", optional},
	{"single_use", cellYes, "used on one patient and then at its end", optional},
	{"controlled", cellYes, "a controlled item", optional},
	{"strength", cellText, "of a medicine, as in 10 mg in 1 ml", optional},
	{"form", cellText, "of a medicine, as in ampoule", optional},
	{"made_months", cellNumber, "usable for so many months after manufacture", optional},
	{"stowed_months", cellNumber, "usable for so many months after it was first stowed in a bag", optional},
	{"exposed_days", cellNumber, "usable for so many days carried exposed", optional},
	{"opened_days", cellNumber, "usable for so many days after opening", optional},
	{"inspect_days", cellNumber, "an inspection is due every so many days", optional},
	{"training_cycles", cellNumber, "applications in training that wear a device out", optional},
	{"inspection_points", cellLines, "what an inspection looks at, one a line", optional},
	{"inspection_notes", cellLines, "what it looks at as well, and only notes", optional},
	{"lead_time_days", cellNumber, "days from order to delivery", optional},
})

func (x *exporting) items(add func(inventory.Item) error) error {
	all, err := x.r.Items(inventory.ItemFilter{}, inventory.Page{})
	return each(all, err, add)
}

func importItem(r *record) error {
	return itemColumns.keep(r, inventory.Item{Unit: "each", TrackedBy: inventory.ByLot},
		func(it inventory.Item) (inventory.Item, error) { return r.im.w.Item(it.Code) },
		func(in inventory.Item) error {
			_, err := r.im.s.lists.CreateItem(r.im.ctx, r.im.by, in)
			return err
		}, func(_, in inventory.Item) (Outcome, error) {
			_, err := r.im.s.lists.UpdateItem(r.im.ctx, r.im.by, in)
			return Changed, err
		})
}
