package exchange

import "stowkeeper/inventory"

var itemColumns = columnsOf[inventory.Item]([]column{
	{"code", cellCode, "Code", needed},
	{"name", cellText, "Trade name without maker", needed},
	{"category", cellText, "Category", needed},
	{"unit", cellText, "Unit, e.g. each, pair, roll; default: each", kept},
	{"tracked_by", cellWord, "Lot, serial; default: lot", kept},
	{"dated", cellYes, "Has a batch number and a date", optional},
	{"single_use", cellYes, "Single use", optional},
	{"controlled", cellYes, "Controlled", optional},
	{"strength", cellText, "Medicine: strength, e.g. 10 mg in 1 ml", optional},
	{"form", cellText, "Medicine: form, e.g. ampoule", optional},
	{"made_months", cellNumber, "Months from manufacture", optional},
	{"stowed_months", cellNumber, "Months from first stowing", optional},
	{"exposed_days", cellNumber, "Days carried exposed", optional},
	{"opened_days", cellNumber, "Days from opening", optional},
	{"inspect_days", cellNumber, "Days between inspections", optional},
	{"training_cycles", cellNumber, "Training applications", optional},
	{"inspection_points", cellLines, "Inspection points, one per line", optional},
	{"inspection_notes", cellLines, "Other inspection notes", optional},
	{"lead_time_days", cellNumber, "Delivery time, days", optional},
	{"reserve", cellNumber, "Each station keeps from transfers", optional},
	{"content", cellText, "Content of one unit, e.g. 10 mg", optional},
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
