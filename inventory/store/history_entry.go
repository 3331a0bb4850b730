package store

import (
	"database/sql"
	"slices"

	"stowkeeper/inventory"
)

type historyEntryRow struct {
	ID                               int64
	RecordedAt                       instant `gorm:"not null"`
	By                               string  `gorm:"column:by_name"`
	From                             string  `gorm:"column:from_terminal"`
	Kind, Station, Place, OtherPlace string
	LotID, BatchID                   ref
	Person, Detail, Chain            string
	Seq                              ref
	Facts, Hash                      string
}

// onlyChained are the kinds that stand in the chains alone, for what nobody did.
var onlyChained = []inventory.HistoryKind{inventory.HistoryChanged, inventory.HistoryEnteredLate}

func (r reader) HistoryEntries(f inventory.HistoryFilter, p inventory.Page) ([]inventory.HistoryEntry, error) {
	var w where
	among(&w, "kind NOT IN ?", slices.Concat(onlyChained, f.Not))
	given(&w, "kind = ?", f.Only)
	if f.Stations != nil {
		among(&w, "(station IN ? OR EXISTS (SELECT 1 FROM place p WHERE p.code IN (place, other_place) AND "+
			"(p.station IN ? OR p.at_station IN ?)))", append([]string{""}, f.Stations...))
	}
	given(&w, "(place = ? OR other_place = ?)", f.Place)
	if f.BatchNo != "" {
		var of where
		numbered(&of, f.BatchNo, false)
		batches := "(SELECT t.id FROM batch t" + of.String() + ")"
		w.and("(batch_id IN "+batches+" OR lot_id IN (SELECT id FROM lot WHERE batch_id IN "+batches+"))",
			append(of.args, of.args...)...)
	}
	given(&w, "(by_name = ? OR person = ?)", f.Person)
	given(&w, "recorded_at >= ?", instant(f.Since))
	given(&w, "recorded_at < ?", instant(f.Before))
	return list[inventory.HistoryEntry, historyEntryRow](r, "list entries", w, p, newestID)
}

func (r reader) RecordedAfter(moment inventory.Instant) (inventory.Instant, error) {
	var found instant
	err := r.each("SELECT h.recorded_at FROM history_entry h WHERE h.recorded_at > ? AND h.kind NOT IN (?, ?) AND "+
		"h.id >= (SELECT coalesce(max(c.id), 0) FROM history_entry c WHERE c.kind = ?) ORDER BY h.recorded_at DESC LIMIT 1",
		[]any{instant(moment), string(onlyChained[0]), string(onlyChained[1]), string(inventory.HistoryClockConfirmed)},
		func(rows *sql.Rows) error { return rows.Scan(&found) })
	return inventory.Instant(found), failure("read newest record", "", err)
}
