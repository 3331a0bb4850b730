package store

import (
	"cmp"
	"slices"

	"stowkeeper/inventory"
)

type bagRow struct {
	Code                                              string `gorm:"primaryKey"`
	KitList                                           string
	KitListVersion, Priority                          int
	Vehicle                                           string
	Inside                                            code
	OutOfServiceReason, OutOfServiceBy                string
	OutOfServiceAt, RetiredAt                         instant
	RetiredBy                                         string
	Successor                                         code
	Version, Position                                 int64
	Seal, SealState                                   string
	SealSeenAt, LastSealCheck, LastFullCheck, LastUse instant
	LastRestock                                       instant
}

func bagRowOf(b inventory.Bag) *bagRow {
	row := convert[bagRow](b)
	row.Version = 1
	if t := b.OutOfService; t != nil {
		row.OutOfServiceReason, row.OutOfServiceBy, row.OutOfServiceAt = t.Reason, t.By, instant(t.RecordedAt)
	}
	return &row
}

const selectBags = `SELECT b.code, p.station, p.at_station, p.name, b.kit_list, b.kit_list_version, b.priority,
    p.purpose, b.vehicle, b.inside, b.out_of_service_reason, b.out_of_service_by, b.out_of_service_at, b.retired_at,
    b.retired_by, b.successor, b.version, b.position, b.seal, b.seal_state, b.seal_seen_at, b.last_seal_check,
    b.last_full_check, b.last_use, b.last_restock
FROM bag b JOIN place p ON p.code = b.code`

func bagPlaces(b *inventory.Bag) []any {
	b.OutOfService = &inventory.ServicePause{}
	return []any{&b.Code, &b.Station, &b.AtStation, &b.Name, &b.KitList, &b.KitListVersion, &b.Priority, &b.Purpose,
		&b.Vehicle, (*code)(&b.Inside), &b.OutOfService.Reason, &b.OutOfService.By, (*instant)(&b.OutOfService.RecordedAt),
		(*instant)(&b.RetiredAt), &b.RetiredBy, (*code)(&b.Successor), &b.Version, &b.Position, &b.Seal, &b.SealState,
		(*instant)(&b.SealSeenAt), (*instant)(&b.LastSealCheck), (*instant)(&b.LastFullCheck), (*instant)(&b.LastUse),
		(*instant)(&b.LastRestock)}
}

func (r reader) bags(w where, tail string) ([]inventory.Bag, error) {
	bags, err := collect(r, "read bags", selectBags+w.String()+tail, w.args, bagPlaces)
	for i, b := range bags {
		r.owners[b.Code] = b.Station
		if b.OutOfService.RecordedAt == 0 {
			bags[i].OutOfService = nil
		}
	}
	return bags, err
}

func (r reader) Bag(code string) (inventory.Bag, error) {
	bags, err := r.bags(where{"b.code = ?", []any{code}}, "")
	return only(bags, err, "bag")
}

func (r reader) Bags(f inventory.BagFilter, p inventory.Page) ([]inventory.Bag, error) {
	var w where
	among(&w, "b.code IN ?", f.Codes)
	among(&w, "p.at_station IN ?", f.AtStations)
	given(&w, "p.purpose = ?", f.Purpose)
	given(&w, "b.kit_list = ?", f.KitList)
	given(&w, "b.inside = ?", f.Inside)
	given(&w, "b.vehicle = ?", f.Vehicle)
	w.when(!f.Retired, "b.retired_at IS NULL")
	w.when(f.Lent, "p.station <> p.at_station")
	tail, err := w.tail(p, listKey{column: "b.code"})
	if err != nil {
		return nil, err
	}
	return r.bags(w, tail)
}

// AddBag adds a bag and its place, at version 1. One that is made inside another moves that bag's position on.
func (w writer) AddBag(b inventory.Bag) error {
	return w.step("add bag", "that code is taken by a bag or another place", func() error {
		if b.Inside != "" {
			if err := w.lockBags([]string{b.Inside}); err != nil {
				return err
			}
		}
		if err := w.add("add place", "that place code is taken", placeOf(b)); err != nil {
			return err
		}
		if err := w.insert(bagRowOf(b)); err != nil {
			return err
		}
		return w.moveOuterOn("", b.Inside)
	})
}

// placeOf is the row of a bag's place: with its owner, if nothing else is said.
func placeOf(b inventory.Bag) *placeRow {
	row := convert[placeRow](b.Place())
	row.AtStation, row.Version = code(cmp.Or(b.AtStation, b.Station)), 1
	return &row
}

// UpdateBag changes what people may change. The owning station and the purpose are for good, as for every place.
// Another kit list or version moves the position on; going into a bag or out of one moves that bag's position on.
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
			return inventory.Refuse(inventory.Conflict, "station and purpose of a bag cannot change")
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

// moveOuterOn moves the positions on of the bags that a module left and came into.
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
	if err := w.newer(bagRowOf(b), b.Version, "kit_list", "kit_list_version", "priority", "vehicle", "inside",
		"out_of_service_reason", "out_of_service_by", "out_of_service_at", "retired_at", "retired_by", "successor",
	); err != nil {
		return err
	}
	return w.newer(placeOf(b), 0, "name", "at_station")
}

// SetBagRecord stores what checks and seals say of a bag.
func (w writer) SetBagRecord(code string, r inventory.BagRecord) error {
	return w.single("set bag record", "", func() error {
		if err := w.lockBags([]string{code}); err != nil {
			return err
		}
		return w.mustExec("bag", `UPDATE bag SET seal = ?, seal_state = ?, seal_seen_at = ?, last_seal_check = ?,
    last_full_check = ?, last_use = ?, last_restock = ? WHERE code = ?`, r.Seal, string(r.SealState),
			instant(r.SealSeenAt), instant(r.LastSealCheck), instant(r.LastFullCheck), instant(r.LastUse),
			instant(r.LastRestock), code)
	})
}

type bagLogRow struct {
	ID         int64
	Bag        string
	RecordedAt instant `gorm:"not null"`
	By         string  `gorm:"column:by_name"`
	Kind       string
	Old        string `gorm:"column:old_value"`
	New        string `gorm:"column:new_value"`
	Reason     string
}

func (r reader) BagLog(f inventory.RecordFilter, p inventory.Page) ([]inventory.BagLogEntry, error) {
	return list[inventory.BagLogEntry, bagLogRow](r, "list log of bags", records(f, "recorded_at"), p, newestID)
}

func (w writer) AddBagLog(e inventory.BagLogEntry) error {
	_, err := keep[bagLogRow](w, "add to log of a bag", "", e)
	return err
}
