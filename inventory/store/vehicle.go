package store

import "stowkeeper/inventory"

type vehicleOutOfServiceRow struct {
	ID                       int64
	Station, Vehicle, Reason string
	RecordedAt               instant `gorm:"not null"`
	By                       string  `gorm:"column:by_name"`
	BackAt                   instant
	BackBy                   string
}

func (r reader) VehiclesOutOfService(f inventory.VehicleFilter) ([]inventory.VehicleOutOfService, error) {
	var w where
	among(&w, "station IN ?", f.Stations)
	given(&w, "vehicle = ?", f.Vehicle)
	w.when(f.Now, "back_at IS NULL")
	return list[inventory.VehicleOutOfService, vehicleOutOfServiceRow](r, "list vehicles off the run", w, inventory.Page{},
		newestID)
}

// AddVehicleOutOfService takes a vehicle off the run.
func (w writer) AddVehicleOutOfService(v inventory.VehicleOutOfService) (inventory.VehicleOutOfService, error) {
	return keep[vehicleOutOfServiceRow](w, "take vehicle off", "that vehicle is taken off already", v)
}

// EndVehicleOutOfService puts a vehicle back on the run.
func (w writer) EndVehicleOutOfService(v inventory.VehicleOutOfService) error {
	return w.single("put vehicle back", "", func() error {
		n, err := w.exec("UPDATE vehicle_out_of_service SET back_at = ?, back_by = ? WHERE id = ? AND back_at IS NULL",
			instant(v.BackAt), v.BackBy, v.ID)
		if err == nil && n == 0 {
			return inventory.Refuse(inventory.Conflict, "in service already")
		}
		return err
	})
}
