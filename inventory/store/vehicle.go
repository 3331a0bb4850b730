package store

import "stowkeeper/inventory"

type vehicleOffRow struct {
	ID      int64 `gorm:"primaryKey;autoIncrement"`
	Site    string
	Vehicle string
	Reason  string
	At      instant `gorm:"not null"`
	ByName  string
	BackAt  instant
	BackBy  string
}

func (vehicleOffRow) TableName() string { return "vehicle_off" }

func (v vehicleOffRow) value() inventory.VehicleOutOfService {
	return inventory.VehicleOutOfService{
		ID: v.ID, Site: v.Site, Vehicle: v.Vehicle, ServicePause: inventory.ServicePause{Reason: v.Reason, By: v.ByName, RecordedAt: inventory.Instant(v.At)},
		BackAt: inventory.Instant(v.BackAt), BackBy: v.BackBy,
	}
}

// VehiclesOff lists vehicles that were taken off the run, newest first.
func (r reader) VehiclesOff(f inventory.VehicleFilter) ([]inventory.VehicleOutOfService, error) {
	q := r.gorm().Order("id DESC")
	if len(f.Sites) > 0 {
		q = q.Where("site IN ?", f.Sites)
	}
	if f.Vehicle != "" {
		q = q.Where("vehicle = ?", f.Vehicle)
	}
	if f.Now {
		q = q.Where("back_at IS NULL")
	}
	return gather(q, "list vehicles off the run", vehicleOffRow.value)
}

// AddVehicleOff takes a vehicle off the run.
func (w writer) AddVehicleOff(v inventory.VehicleOutOfService) (inventory.VehicleOutOfService, error) {
	row := vehicleOffRow{Site: v.Site, Vehicle: v.Vehicle, Reason: v.Reason, At: instant(v.RecordedAt), ByName: v.By}
	err := w.step("take vehicle off", "that vehicle is taken off already", func() error { return w.gorm().Create(&row).Error })
	return row.value(), err
}

// EndVehicleOff puts a vehicle back on the run.
func (w writer) EndVehicleOff(v inventory.VehicleOutOfService) error {
	return w.step("put vehicle back", "", func() error {
		n, err := w.exec("UPDATE vehicle_off SET back_at = ?, back_by = ? WHERE id = ? AND back_at IS NULL", instant(v.BackAt), v.BackBy, v.ID)
		if err == nil && n == 0 {
			return inventory.Errorf(inventory.Conflict, "that vehicle is back on the run already")
		}
		return err
	})
}
