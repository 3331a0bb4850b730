package store

import "stowkeeper/inventory"

type stationRow struct {
	Code      string `gorm:"primaryKey"`
	Name      string
	Timezone  string
	ChainSeq  int64
	ChainHash string
}

func (stationRow) TableName() string { return "station" }

func (r reader) station(code string) (stationRow, error) {
	var row stationRow
	err := r.gorm().Where("code = ?", code).Take(&row).Error
	return row, missing("read station", "station", err)
}

// Station returns one station.
func (r reader) Station(code string) (inventory.Station, error) {
	row, err := r.station(code)
	return convert[inventory.Station](row), err
}

// Stations returns every station by code.
func (r reader) Stations() ([]inventory.Station, error) {
	var rows []stationRow
	if err := r.gorm().Order("code").Find(&rows).Error; err != nil {
		return nil, failure("list stations", "", err)
	}
	return mapped(rows, convert[inventory.Station, stationRow]), nil
}

// Head returns the end of a station's chain.
func (r reader) Head(station string) (inventory.Head, error) {
	row, err := r.station(station)
	return inventory.Head{Station: row.Code, Seq: row.ChainSeq, Hash: row.ChainHash}, err
}

// AddStation adds a station with an empty chain.
func (w writer) AddStation(s inventory.Station) error {
	row := convert[stationRow](s)
	return w.add("add station", "that station code is taken", &row)
}
