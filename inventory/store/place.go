package store

import (
	"gorm.io/gorm"

	"stowkeeper/inventory"
)

type placeRow struct {
	Code      string `gorm:"primaryKey"`
	Station   code
	AtStation code
	Kind      string
	Purpose   string
	Name      string
	Holder    string
	DueBack   day
	Vehicle   string
	Version   int64
}

func (placeRow) TableName() string { return "place" }

// Place returns one place: also the five outside, and bags.
func (r reader) Place(code string) (inventory.Place, error) {
	return take(r.gorm().Where("code = ?", code), "place", convert[inventory.Place, placeRow])
}

// Places lists places inside the service by code.
func (r reader) Places(f inventory.PlaceFilter, p inventory.Page) ([]inventory.Place, error) {
	q := r.gorm()
	if len(f.Codes) > 0 {
		q = q.Where("code IN ?", f.Codes)
	} else {
		q = q.Where("station IS NOT NULL")
	}
	if len(f.Stations) > 0 {
		q = q.Where("station IN ?", f.Stations)
	}
	if f.Kind != "" {
		q = q.Where("kind = ?", string(f.Kind))
	}
	if !f.Retired && len(f.Codes) == 0 {
		q = q.Where("NOT EXISTS (SELECT 1 FROM bag b WHERE b.code = place.code AND b.retired_at IS NOT NULL)")
	}
	if f.Vehicle != "" {
		q = q.Where("vehicle = ?", f.Vehicle)
	}
	return list(q, "list places", p, byCode, convert[inventory.Place, placeRow])
}

// AddPlace adds a place inside the service.
func (w writer) AddPlace(p inventory.Place) error {
	return w.addPlace(p, p.Station)
}

func (w writer) addPlace(p inventory.Place, atStation string) error {
	row := convert[placeRow](p)
	row.AtStation, row.Version = code(atStation), 1
	return w.add("add place", "that place code is taken", &row)
}

// UpdatePlace changes the name, the holder, the day due back and the vehicle. Station, kind
// and purpose are for good, since the ledger's rules have judged by them.
func (w writer) UpdatePlace(p inventory.Place) (inventory.Place, error) {
	var out inventory.Place
	err := w.step("update place", "", func() (err error) {
		old, err := w.Place(p.Code)
		if err != nil {
			return err
		}
		if old.Station != p.Station || old.Kind != p.Kind || old.Purpose != p.Purpose {
			return inventory.Errorf(inventory.Conflict, "a place keeps its station, kind and purpose; make another place")
		}
		if err := w.newer("place", "place", "code", p.Code, p.Version, map[string]any{
			"name": p.Name, "holder": p.Holder, "due_back": day(p.DueBack), "vehicle": p.Vehicle,
		}); err != nil {
			return err
		}
		out, err = w.Place(p.Code)
		return err
	})
	return out, err
}

// newer changes a row that carries a version: the version that it replaces
// must be the newest, save that 0 skips that check.
func (w writer) newer(thing, table, keyColumn string, key any, version int64, set map[string]any) error {
	q := w.gorm().Table(table).Where(keyColumn+" = ?", key)
	if version != 0 {
		q = q.Where("version = ?", version)
	}
	set["version"] = gorm.Expr("version + 1")
	res := q.Updates(set)
	switch {
	case res.Error != nil:
		return res.Error
	case res.RowsAffected == 1:
		return nil
	}
	var n int64
	if err := w.gorm().Table(table).Where(keyColumn+" = ?", key).Count(&n).Error; err != nil {
		return err
	}
	if n == 0 {
		return notFound(thing)
	}
	return stale(thing)
}
