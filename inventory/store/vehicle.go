package store

import "stowkeeper/inventory"

type vehicleOutOfServiceRow struct {
	ID         int64 `gorm:"primaryKey;autoIncrement"`
	Station    string
	Vehicle    string
	Reason     string
	RecordedAt instant `gorm:"not null"`
	By         string  `gorm:"column:by_name"`
	BackAt     instant
	BackBy     string
}

func (vehicleOutOfServiceRow) TableName() string { return "vehicle_out_of_service" }

// VehiclesOutOfService lists vehicles that were taken off the run, newest first.
func (r reader) VehiclesOutOfService(f inventory.VehicleFilter) ([]inventory.VehicleOutOfService, error) {
	q := r.gorm().Order("id DESC")
	if len(f.Stations) > 0 {
		q = q.Where("station IN ?", f.Stations)
	}
	if f.Vehicle != "" {
		q = q.Where("vehicle = ?", f.Vehicle)
	}
	if f.Now {
		q = q.Where("back_at IS NULL")
	}
	return gather(q, "list vehicles off the run", convert[inventory.VehicleOutOfService, vehicleOutOfServiceRow])
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
			return inventory.Errorf(inventory.Conflict, "that vehicle is back on the run already")
		}
		return err
	})
}
