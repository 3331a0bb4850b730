package store

import (
	"reflect"
	"slices"

	"gorm.io/gorm"

	"stowkeeper/inventory"
	"stowkeeper/inventory/store/bulk"
)

type placeRow struct {
	Code                        string `gorm:"primaryKey"`
	Station, AtStation          code
	Kind, Purpose, Name, Holder string
	DueBack                     day
	Vehicle                     string
	Version                     int64
}

// Place returns one place: also the five outside, and bags.
func (r reader) Place(code string) (inventory.Place, error) {
	return take[inventory.Place, placeRow](r, "place", "code = ?", code)
}

func (r reader) Places(f inventory.PlaceFilter, p inventory.Page) ([]inventory.Place, error) {
	var w where
	among(&w, "code IN ?", f.Codes)
	w.when(len(f.Codes) == 0, "station IS NOT NULL")
	among(&w, "station IN ?", f.Stations)
	given(&w, "kind = ?", f.Kind)
	w.when(!f.Retired && len(f.Codes) == 0 && f.Kind == "", "kind <> 'transit'")
	w.when(!f.Retired && len(f.Codes) == 0, "(SELECT s.closed_at FROM station s WHERE s.code = place.station) IS NULL "+
		"AND NOT EXISTS (SELECT 1 FROM bag b WHERE b.code = place.code AND b.retired_at IS NOT NULL)")
	given(&w, "vehicle = ?", f.Vehicle)
	return list[inventory.Place, placeRow](r, "list places", w, p, byCode)
}

func (w writer) AddPlace(p inventory.Place) error {
	row := convert[placeRow](p)
	row.AtStation, row.Version = row.Station, 1
	return w.add("add place", "that place code is taken", &row)
}

// UpdatePlace changes the name, the holder, the day due back and the vehicle. Station, kind
// and purpose are for good, since the ledger's rules have judged by them.
func (w writer) UpdatePlace(p inventory.Place) (inventory.Place, error) {
	return change(w, "update place", func() error {
		old, err := w.Place(p.Code)
		if err != nil {
			return err
		}
		if old.Station != p.Station || old.Kind != p.Kind || old.Purpose != p.Purpose {
			return inventory.Refuse(inventory.Conflict, "station, kind and purpose of a place cannot change")
		}
		row := convert[placeRow](p)
		return w.newer(&row, p.Version, "name", "holder", "due_back", "vehicle")
	}, func() (inventory.Place, error) { return w.Place(p.Code) })
}

// newer changes columns of a row that carries a version, all but its key where none is named: the version that it
// replaces must be the newest, save that 0 skips that check.
func (w writer) newer(row any, version int64, columns ...string) error {
	stmt := &gorm.Statement{DB: w.s.gorm}
	if err := stmt.Parse(row); err != nil {
		return err
	}
	key := stmt.Schema.PrioritizedPrimaryField.DBName
	values, err := bulk.Values(w.ctx, stmt.Schema, reflect.ValueOf(row).Elem())
	if err != nil {
		return err
	}
	if len(columns) == 0 {
		columns = slices.DeleteFunc(slices.Clone(stmt.Schema.DBNames),
			func(column string) bool { return column == key || column == "version" })
	}
	text, args := "UPDATE "+stmt.Table+" SET version = version + 1", []any{}
	for _, column := range columns {
		text, args = text+", "+column+" = ?", append(args, values[column])
	}
	text, args = text+" WHERE "+key+" = ?", append(args, values[key])
	if version != 0 {
		text, args = text+" AND version = ?", append(args, version)
	}
	if changed, err := w.exec(text, args...); changed == 1 || err != nil {
		return err
	}
	var n int64
	if err := w.gorm().Table(stmt.Table).Where(key+" = ?", values[key]).Count(&n).Error; err != nil {
		return err
	}
	if n == 0 {
		return notFound(stmt.Table)
	}
	return stale(stmt.Table)
}
