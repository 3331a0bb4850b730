package inventory

// VehicleOutOfService is a vehicle that a person took out of service.
type VehicleOutOfService struct {
	ID      int64  `json:"id"`
	Station string `json:"station"`
	Vehicle string `json:"vehicle"`
	ServicePause
	BackAt Instant `json:"back_at,omitempty" format:"date-time" doc:"When it was returned to service"`
	BackBy string  `json:"back_by,omitempty"`
}

// LastCheck is when a bag last had a seal check or a full check.
func (b Bag) LastCheck() Instant { return max(b.LastSealCheck, b.LastFullCheck) }

// CheckedToday tells whether a bag was checked since the day began at its station: what a shift still has to do is due.
func (b Bag) CheckedToday(at Station, now Instant) bool {
	return b.LastCheck() != 0 && at.Today(b.LastCheck()) == at.Today(now)
}
