package inventory

import "stowkeeper/inventory/donor"

// Station is a station. Its time zone decides what "today" is there.
type Station struct {
	Code     string `json:"code" doc:"Code given by people"`
	Name     string `json:"name"`
	Timezone string `json:"timezone" doc:"IANA time zone name"`

	ClosedAt Instant `json:"closed_at,omitempty" format:"date-time" doc:"When it was closed"`

	LockMinutes   int      `json:"lock_minutes,omitempty" minimum:"0" maximum:"240" doc:"After which shared phones lock"`
	NightVehicles []string `json:"night_vehicles,omitempty" doc:"Vehicles whose pages have the night look, by name"`

	Position      string   `json:"position,omitempty" maxLength:"40" doc:"Latitude, longitude, in degrees"`
	TravelMinutes []string `json:"travel_minutes,omitempty" doc:"To other stations by code, as HT 25; before positions"`
}

// MaxLock is the longest time after which a station may have its shared phones lock, in minutes.
const MaxLock = 240

// Check refuses a station whose fields do not make sense. Refuses: Invalid by field.
func (s Station) Check() error {
	var p Problems
	CheckCode(&p, "code", s.Code)
	p.When(len(s.Code) > 16, "code", "shorten to {1} characters", 16)
	CheckText(&p, "name", s.Name, true, MaxName)
	if _, err := Zone(s.Timezone); err != nil {
		p.Take("", err)
	}
	p.When(s.LockMinutes < 0 || s.LockMinutes > MaxLock, "lock_minutes", "enter {1} to {2}", 0, MaxLock)
	_, _, ok := donor.Position(s.Position)
	p.When(s.Position != "" && !ok, "position", "enter it as in {1}", "51.48, -0.01")
	for _, t := range s.TravelMinutes {
		_, _, ok := donor.Travel(t)
		p.When(!ok, "travel_minutes", "enter it as in {1}", "HT 25")
	}
	for _, v := range s.NightVehicles {
		CheckText(&p, "night_vehicles", v, true, MaxName)
	}
	return p.Err()
}

// Today returns the calendar day that now falls on at the station.
func (s Station) Today(now Instant) Day {
	zone, err := Zone(s.Timezone)
	if err != nil { // a stored station was checked; keep the day defined all the same
		return now.InUTC()
	}
	return now.In(zone)
}

// StationPlaces returns the four places that every station starts with.
func (s Station) StationPlaces() []Place {
	return []Place{
		{Code: s.StoreCode(), Station: s.Code, Kind: KindStore, Purpose: ForIssue, Name: s.Name + " store"},
		{Code: s.QuarantineCode(ForIssue), Station: s.Code, Kind: KindQuarantine, Purpose: ForIssue,
			Name: s.Name + " quarantine"},
		{Code: s.TrainingStoreCode(), Station: s.Code, Kind: KindStore, Purpose: ForTraining,
			Name: s.Name + " training store"},
		{Code: s.QuarantineCode(ForTraining), Station: s.Code, Kind: KindQuarantine, Purpose: ForTraining,
			Name: s.Name + " training quarantine"},
	}
}

// StoreCode is the code of the station's own store of issue stock.
func (s Station) StoreCode() string { return s.Code + "-STORE" }

// TrainingStoreCode is the code of the station's store of training stock.
func (s Station) TrainingStoreCode() string { return s.Code + "-TRAINING" }

// QuarantineCode is the code of the station's quarantine of that purpose.
func (s Station) QuarantineCode(p Purpose) string {
	if p == ForTraining {
		return s.Code + "-TRAINING-QUARANTINE"
	}
	return s.Code + "-QUARANTINE"
}

// Closed tells whether the station is closed. It keeps its code and its history, and is left out of forms, lists,
// boards and reports.
func (s Station) Closed() bool { return s.ClosedAt != 0 }

// MustBeOpen refuses what would go on at a station that is closed. Refuses: Conflict.
func (s Station) MustBeOpen() error {
	if s.Closed() {
		return Refuse(Conflict, "station {1} is closed", s.Code)
	}
	return nil
}

func (s Station) lies() donor.Place {
	return donor.Place{Code: s.Code, Position: s.Position, Minutes: s.TravelMinutes}
}
