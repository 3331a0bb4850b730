package exchange

import (
	"cmp"
	"slices"

	"stowkeeper/inventory"
	"stowkeeper/inventory/shift"
)

var vehicleColumns = columnsOf[inventory.VehicleOutOfService]([]column{
	{"station", cellCode, "station", needed},
	{"vehicle", cellLine, "name of the vehicle, as on its bags and carriers", needed},
	{"reason", cellText, "why it is off the run", needed},
	{"by", cellLine, "by whom", optional},
	{"recorded_at", cellInstant, "since when; now if left out", optional},
})

// vehiclesOffNow leaves out those that nothing rides on any longer.
func (x *exporting) vehiclesOffNow(add func(inventory.VehicleOutOfService) error) error {
	all, err := x.r.VehiclesOutOfService(inventory.VehicleFilter{Stations: x.stations, Now: true})
	slices.Reverse(all) // they were taken off in that order
	return each(all, err, func(v inventory.VehicleOutOfService) error {
		_, err := shift.VehicleFor(x.r, x.by, &shift.VehicleChange{Station: v.Station, Vehicle: v.Vehicle})
		switch {
		case err == nil:
			return add(v)
		case inventory.KindOf(err) == inventory.Invalid:
			return nil
		}
		return err
	})
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
