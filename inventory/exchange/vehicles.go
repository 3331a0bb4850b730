package exchange

import (
	"cmp"
	"slices"

	"stowkeeper/inventory"
	"stowkeeper/inventory/shift"
)

var vehicleColumns = columnsOf[inventory.VehicleOutOfService]([]column{
	{"station", cellCode, "Station", needed},
	{"vehicle", cellLine, "Vehicle", needed},
	{"reason", cellText, "Reason", needed},
	{"by", cellLine, "By", optional},
	{"recorded_at", cellInstant, "When; default: now", optional},
})

// vehiclesOffNow leaves out those that nothing rides on any longer.
func (x *exporting) vehiclesOffNow(add func(inventory.VehicleOutOfService) error) error {
	var errs [3]error
	all, err := x.r.VehiclesOutOfService(inventory.VehicleFilter{Stations: x.stations, Now: true})
	slices.Reverse(all) // they were taken off in that order
	errs[0] = err
	bags, err := x.r.Bags(inventory.BagFilter{AtStations: x.stations, Purpose: inventory.ForIssue}, inventory.Page{})
	ridden := map[shift.VehicleChange]bool{}
	for _, b := range bags {
		ridden[shift.VehicleChange{Station: b.AtStation, Vehicle: b.Vehicle}] = true
	}
	errs[1] = err
	carriers, err := x.r.Places(inventory.PlaceFilter{Stations: x.stations, Kind: inventory.KindCarrier},
		inventory.Page{})
	for _, p := range carriers {
		ridden[shift.VehicleChange{Station: p.Station, Vehicle: p.Vehicle}] = true
	}
	errs[2] = err
	all = slices.DeleteFunc(all, func(v inventory.VehicleOutOfService) bool {
		return !ridden[shift.VehicleChange{Station: v.Station, Vehicle: v.Vehicle}]
	})
	return each(all, cmp.Or(errs[:]...), add)
}

func importVehicleOff(r *record) error {
	var in inventory.VehicleOutOfService
	vehicleColumns.read(r, &in)
	r.what = in.Vehicle
	in.By, in.RecordedAt = cmp.Or(in.By, r.im.by.Name), cmp.Or(in.RecordedAt, r.im.now)
	inventory.CheckText(&r.problems, "reason", in.Reason, true, inventory.MaxNote)
	inventory.CheckText(&r.problems, "by", in.By, true, inventory.MaxName)
	_, err := shift.VehicleFor(r.im.w, r.im.by, &shift.VehicleChange{Station: in.Station, Vehicle: in.Vehicle})
	if err := inventory.MergeErrors(r.problems.Err(), err); err != nil {
		return r.settled(Refused, err)
	}
	off, err := r.im.w.VehiclesOutOfService(inventory.VehicleFilter{Stations: []string{in.Station}, Vehicle: in.Vehicle,
		Now: true})
	if err != nil {
		return err
	}
	if len(off) > 0 {
		return r.settled(Unchanged, nil)
	}
	_, err = r.im.w.AddVehicleOutOfService(in)
	return r.settled(Created, err)
}
