package exchange

import (
	"stowkeeper/inventory"
	"stowkeeper/inventory/ledger"
)

var usageColumns = columnsOf[inventory.PastUsage]([]column{
	{"station", cellCode, "Station", needed},
	{"item", cellCode, "Item code", needed},
	{"period", cellPrinted, "Month or day", needed},
	{"qty", cellNumber, "Units used in it", needed},
})

func (x *exporting) usage(add func(inventory.PastUsage) error) error {
	all, err := x.r.PastUsage(inventory.UsageFilter{Stations: x.stations})
	return each(all, err, add)
}

type usageReader struct {
	known    map[inventory.PastUsage]int // what is kept, by all but the quantity
	stations map[string]inventory.Station
	items    map[string]inventory.Item
}

func newUsageReader(*importing) (rowReader, error) {
	u := &usageReader{stations: map[string]inventory.Station{}, items: map[string]inventory.Item{}}
	return eachRow(u.used), nil
}

func (u *usageReader) used(r *record) error {
	if err := u.load(r.im.w); err != nil {
		return err
	}
	var in inventory.PastUsage
	usageColumns.read(r, &in)
	r.what = in.Item + " at " + in.Station + " in " + in.Period
	if err := inventory.MergeErrors(r.problems.Err(), u.judge(r, in)); err != nil {
		return r.settled(Refused, err)
	}
	was := in
	was.Qty = 0
	old, known := u.known[was]
	if known && old == in.Qty {
		return r.settled(Unchanged, nil)
	}
	u.known[was] = in.Qty
	err := r.im.w.SetPastUsage(in)
	if known {
		was.Qty = old
		return usageColumns.changed(r, was, in, err)
	}
	return r.settled(Created, err)
}

func (u *usageReader) judge(r *record, in inventory.PastUsage) error {
	station, err := ledger.Cached(u.stations, in.Station, r.im.w.Station)
	if err = inventory.AsField(err, "station", "not found"); err == nil {
		err = r.im.by.Must(inventory.ActKeepStock, in.Station)
	}
	_, noItem := ledger.Cached(u.items, in.Item, r.im.w.Item)
	return inventory.MergeErrors(err, inventory.AsField(noItem, "item", "not found"), in.Check(station.Today(r.im.now)))
}

func (u *usageReader) load(r inventory.Reader) error {
	if u.known != nil {
		return nil
	}
	u.known = map[inventory.PastUsage]int{}
	all, err := r.PastUsage(inventory.UsageFilter{})
	for _, x := range all {
		qty := x.Qty
		x.Qty = 0
		u.known[x] = qty
	}
	return err
}
