package store

import (
	"database/sql"
	"slices"

	"stowkeeper/inventory"
)

type bagRow struct {
	Code               string `gorm:"primaryKey"`
	KitList            string
	KitListVersion     int
	Priority           int
	Vehicle            string
	Inside             code
	OutOfServiceReason string
	OutOfServiceBy     string
	OutOfServiceAt     instant
	RetiredAt          instant
	RetiredBy          string
	Successor          code
	Version            int64
	Position           int64
	Seal               string
	SealState          string
	SealSeenAt         instant
	LastSealCheck      instant
	LastFullCheck      instant
	LastUse            instant
	LastRestock        instant
}

func (bagRow) TableName() string { return "bag" }

func bagRowOf(b inventory.Bag) bagRow {
	row := convert[bagRow](b)
	row.Version = 1
	if t := b.OutOfService; t != nil {
		row.OutOfServiceReason, row.OutOfServiceBy, row.OutOfServiceAt = t.Reason, t.By, instant(t.RecordedAt)
	}
	return row
}

const selectBags = `SELECT b.code, p.station, p.at_station, p.name, b.kit_list, b.kit_list_version, b.priority,
    p.purpose, b.vehicle, b.inside, b.out_of_service_reason, b.out_of_service_by, b.out_of_service_at, b.retired_at,
    b.retired_by, b.successor, b.version, b.position, b.seal, b.seal_state, b.seal_seen_at, b.last_seal_check,
    b.last_full_check, b.last_use, b.last_restock
FROM bag b JOIN place p ON p.code = b.code`

func scanBag(rows *sql.Rows) (inventory.Bag, error) {
	var b inventory.Bag
	var inside, successor code
	var off inventory.ServicePause
	err := rows.Scan(&b.Code, &b.Station, &b.AtStation, &b.Name, &b.KitList, &b.KitListVersion, &b.Priority, &b.Purpose,
		&b.Vehicle,
		&inside, &off.Reason, &off.By, (*instant)(&off.RecordedAt), (*instant)(&b.RetiredAt), &b.RetiredBy, &successor,
		&b.Version, &b.Position, &b.Seal, &b.SealState,
		(*instant)(&b.SealSeenAt), (*instant)(&b.LastSealCheck), (*instant)(&b.LastFullCheck), (*instant)(&b.LastUse),
		(*instant)(&b.LastRestock))
	b.Inside, b.Successor = string(inside), string(successor)
	if off.RecordedAt != 0 {
		b.OutOfService = &off
	}
	return b, err
}

func (r reader) bags(w where, tail string) ([]inventory.Bag, error) {
	var out []inventory.Bag
	err := r.each(selectBags+w.String()+tail, w.args, func(rows *sql.Rows) error {
		b, err := scanBag(rows)
		out = append(out, b)
		return err
	})
	return out, failure("read bags", "", err)
}

// Bag returns one bag.
func (r reader) Bag(code string) (inventory.Bag, error) {
	var w where
	w.and("b.code = ?", code)
	bags, err := r.bags(w, "")
	return only(bags, err, "bag")
}

// Bags lists bags by code.
func (r reader) Bags(f inventory.BagFilter, p inventory.Page) ([]inventory.Bag, error) {
	var w where
	within(&w, "b.code", f.Codes)
	within(&w, "p.at_station", f.AtStations)
	is(&w, "p.purpose", string(f.Purpose))
	is(&w, "b.kit_list", f.KitList)
	is(&w, "b.inside", f.Inside)
	is(&w, "b.vehicle", f.Vehicle)
	if !f.Retired {
		w.and("b.retired_at IS NULL")
	}
	if f.Lent {
		w.and("p.station <> p.at_station")
	}
	if f.Modules {
		w.and("b.inside IS NOT NULL")
	}
	tail, err := w.after(p, "b.code", false, false)
	if err != nil {
		return nil, err
	}
	return r.bags(w, tail)
}

// AddBag adds a bag and its place, at version 1. One that is made inside
// another moves that bag's position on.
func (w writer) AddBag(b inventory.Bag) error {
	return w.step("add bag", "that code is taken by a bag or another place", func() error {
		if b.Inside != "" {
			if err := w.lockBags([]string{b.Inside}); err != nil {
				return err
			}
		}
		if err := w.addPlace(b.Place(), atStation(b)); err != nil {
			return err
		}
		row := bagRowOf(b)
		if err := w.gorm().Create(&row).Error; err != nil {
			return err
		}
		return w.moveOuterOn("", b.Inside)
	})
}

// atStation is where a bag is: with its owner, if nothing else is said.
func atStation(b inventory.Bag) string {
	if b.AtStation == "" {
		return b.Station
	}
	return b.AtStation
}

// UpdateBag changes what people may change. The owning station and the purpose
// are for good, as for every place. Another kit list or version moves the
// position on; going into a bag or out of one moves that bag's position on.
func (w writer) UpdateBag(b inventory.Bag) (inventory.Bag, error) {
	var out inventory.Bag
	err := w.step("update bag", "", func() error {
		if err := w.lockBags(slices.DeleteFunc([]string{b.Code, b.Inside},
			func(c string) bool { return c == "" })); err != nil {
			return err
		}
		old, err := w.Bag(b.Code)
		if err != nil {
			return err
		}
		if old.Station != b.Station || old.Purpose != b.Purpose {
			return inventory.Errorf(inventory.Conflict, "a bag keeps its owning station and its purpose; make another bag")
		}
		if err := w.updateBag(b); err != nil {
			return err
		}
		if err := w.moveOuterOn(old.Inside, b.Inside); err != nil {
			return err
		}
		if old.KitList != b.KitList || old.KitListVersion != b.KitListVersion {
			if err := w.moveOn(b.Code, []bagEventRow{{Kind: eventList}}); err != nil {
				return err
			}
		}
		out, err = w.Bag(b.Code)
		return err
	})
	return out, err
}

// moveOuterOn moves the positions on of the bags that a module left and came
// into.
func (w writer) moveOuterOn(old, now string) error {
	if old == now {
		return nil
	}
	for _, outer := range []string{old, now} {
		if outer == "" {
			continue
		}
		if err := w.moveOn(outer, []bagEventRow{{Kind: eventList}}); err != nil {
			return err
		}
	}
	return nil
}

func (w writer) updateBag(b inventory.Bag) error {
	row := bagRowOf(b)
	if err := w.newer("bag", "bag", "code", b.Code, b.Version, map[string]any{
		"kit_list": row.KitList, "kit_list_version": row.KitListVersion, "priority": row.Priority, "vehicle": row.Vehicle,
		"inside": row.Inside, "out_of_service_reason": row.OutOfServiceReason, "out_of_service_by": row.OutOfServiceBy,
		"out_of_service_at": row.OutOfServiceAt,
		"retired_at":        row.RetiredAt, "retired_by": row.RetiredBy, "successor": row.Successor,
	}); err != nil {
		return err
	}
	return w.newer("bag", "place", "code", b.Code, 0, map[string]any{"name": b.Name, "at_station": atStation(b)})
}

// SetBagRecord stores what checks and seals say of a bag.
func (w writer) SetBagRecord(code string, r inventory.BagRecord) error {
	return w.single("set bag record", "", func() error {
		if err := w.lockBags([]string{code}); err != nil {
			return err
		}
		n, err := w.exec(`UPDATE bag SET seal = ?, seal_state = ?, seal_seen_at = ?, last_seal_check = ?, last_full_check = ?,
    last_use = ?, last_restock = ? WHERE code = ?`, r.Seal, string(r.SealState), instant(r.SealSeenAt),
			instant(r.LastSealCheck), instant(r.LastFullCheck), instant(r.LastUse), instant(r.LastRestock), code)
		if err == nil && n == 0 {
			return notFound("bag")
		}
		return err
	})
}
