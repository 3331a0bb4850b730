package store

import "stowkeeper/inventory"

type stationRow struct {
	Code                                           string `gorm:"primaryKey"`
	Name, Timezone, ChainHash, EntryHash, Position string
	ChainSeq, EntrySeq                             int64
	ClosedAt                                       instant
	LockMinutes                                    int
	NightVehicles, TravelMinutes                   lines[string]
}

func (r reader) Station(code string) (inventory.Station, error) {
	return take[inventory.Station, stationRow](r, "station", "code = ?", code)
}

func (r reader) Stations() ([]inventory.Station, error) {
	return list[inventory.Station, stationRow](r, "list stations", where{}, inventory.Page{}, byCode)
}

// Head returns the end of a station's chain.
func (r reader) Head(station string) (inventory.Head, error) {
	if err := r.enter(); err != nil {
		return inventory.Head{}, err
	}
	row, err := take[stationRow, stationRow](r, "station", "code = ?", station)
	return inventory.Head{Station: row.Code, Seq: row.ChainSeq, Hash: row.ChainHash}, err
}

func (w writer) AddStation(s inventory.Station) error {
	row := convert[stationRow](s)
	return w.add("add station", "that station code is taken", &row)
}

// UpdateStation changes all but name and time zone.
func (w writer) UpdateStation(s inventory.Station) error {
	return w.set("change station", "station", "UPDATE station SET closed_at = ?, lock_minutes = ?, night_vehicles = ?, "+
		"position = ?, travel_minutes = ? WHERE code = ?", instant(s.ClosedAt), s.LockMinutes,
		lines[string](s.NightVehicles), s.Position, lines[string](s.TravelMinutes), s.Code)
}

// PlaceMoves lists the moves of places from station to station, in order.
func (r reader) PlaceMoves() ([]inventory.PlaceMove, error) {
	return collect(r, "list moves of places", "SELECT place, station, until, moved_at FROM place_moved ORDER BY id", nil,
		func(m *inventory.PlaceMove) []any { return []any{&m.Place, &m.Station, &m.Until, (*instant)(&m.At)} })
}

// MovePlace gives a place to another station; what was at home there is at home here.
func (w writer) MovePlace(code, station string, at inventory.Instant) error {
	if err := w.do("move place", "", "INSERT INTO place_moved (place, station, moved_at, until) SELECT code, station, ?, "+
		"(SELECT coalesce(max(id), 0) FROM movement WHERE from_place = place.code OR to_place = place.code) "+
		"FROM place WHERE code = ?", instant(at), code); err != nil {
		return err
	}
	return w.set("move place", "place", "UPDATE place SET station = ?, version = version + 1, "+
		"at_station = CASE WHEN at_station = station THEN ? ELSE at_station END WHERE code = ?", station, station, code)
}
