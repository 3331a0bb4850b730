package store

import (
	"database/sql"

	"stowkeeper/inventory"
)

type balanceCheckRow struct {
	ID                int64
	Item, Place       string
	Counted, Expected int
	After             ref     `gorm:"column:after_movement"`
	HappenedAt        instant `gorm:"not null"`
	RecordedAt        instant `gorm:"not null"`
	By                string  `gorm:"column:by_name"`
	Witness, Note     string
}

func (r reader) BalanceChecks(f inventory.BalanceFilter) ([]inventory.BalanceCheck, error) {
	var w where
	given(&w, "item = ?", f.Item)
	among(&w, "place IN ?", f.Places)
	w.when(f.Latest, "NOT EXISTS (SELECT 1 FROM balance_check n WHERE n.item = balance_check.item AND "+
		"n.place = balance_check.place AND n.id > balance_check.id)")
	return list[inventory.BalanceCheck, balanceCheckRow](r, "list balance checks", w, inventory.Page{}, byID)
}

func (w writer) AddBalanceCheck(c inventory.BalanceCheck) (inventory.BalanceCheck, error) {
	return keep[balanceCheckRow](w, "add balance check", "", c)
}

type discrepancyRow struct {
	ID                         int64
	Item, Place                string
	Check                      ref     `gorm:"column:check_id"`
	Entry                      ref     `gorm:"column:movement_id"`
	Text                       kept    `gorm:"column:body"`
	OpenedAt                   instant `gorm:"not null"`
	OpenedBy                   string
	ClosedAt                   instant
	ClosedBy, Witness, Outcome string
}

func (r reader) Discrepancies(f inventory.DiscrepancyFilter) ([]inventory.Discrepancy, error) {
	var w where
	given(&w, "id = ?", f.ID)
	given(&w, "item = ?", f.Item)
	among(&w, "place IN ?", f.Places)
	w.when(f.Open, "closed_at IS NULL")
	return list[inventory.Discrepancy, discrepancyRow](r, "list discrepancies", w, inventory.Page{}, byID)
}

func (w writer) AddDiscrepancy(d inventory.Discrepancy) (inventory.Discrepancy, error) {
	return keep[discrepancyRow](w, "add discrepancy", "", d)
}

// CloseDiscrepancy closes an open discrepancy.
func (w writer) CloseDiscrepancy(d inventory.Discrepancy) error {
	return w.closeOnce("discrepancy", "witness = ?, outcome = ?", d.ID, instant(d.ClosedAt), d.ClosedBy, d.Witness,
		d.Outcome)
}

// LockStations locks the rows of stations until the unit of work ends: whoever holds
// a station's row alone may change the balances of its places.
func (w writer) LockStations(codes []string) error {
	return w.onPostgres("lock stations", func() error { return w.lockStations(codes) })
}

// AddOwed notes that signatures for a movement are owed.
func (w writer) AddOwed(movement int64, own bool) error {
	return w.do("note owed signature", "that movement owes a signature already",
		"INSERT INTO register_owed (movement_id, own) VALUES (?, ?)", movement, own)
}

// AddEntrySignature keeps a signature that was owed.
func (w writer) AddEntrySignature(s inventory.EntrySignature) error {
	return w.do("sign entry", "that person has signed this entry, or it owes no signature",
		"INSERT INTO register_signature (movement_id, person, recorded_at) VALUES (?, ?, ?)", s.Movement, s.Person,
		instant(s.RecordedAt))
}

// openOwed is true of a movement m that owes o while a signature is missing.
const openOwed = `(NOT EXISTS (SELECT 1 FROM register_signature s WHERE s.movement_id = m.id AND s.person <> m.by_name)
    OR o.own AND NOT EXISTS (SELECT 1 FROM register_signature s WHERE s.movement_id = m.id AND s.person = m.by_name))`

// OwedEntries lists movements that one person recorded alone, by id.
func (r reader) OwedEntries(f inventory.OwedFilter) ([]inventory.OwedEntry, error) {
	var w where
	given(&w, "t.item = ?", f.Item)
	among(&w, "(m.from_place IN ? OR m.to_place IN ?)", f.Places)
	w.when(f.Open, openOwed)
	return r.owed(w, map[bool]string{true: movementsFirst, false: owedFirst}[len(f.Places) > 0])
}

func (r reader) OwedEntry(movement int64) (inventory.OwedEntry, error) {
	all, err := r.owed(where{"m.id = ?", []any{movement}}, movementsFirst)
	return only(all, err, "entry that owes a signature")
}

// SQLite takes tables joined with CROSS in the order in which they are named; it would read every movement else.
const owedFirst, movementsFirst = "register_owed o CROSS JOIN movement m", "movement m CROSS JOIN register_owed o"

// owed reads the movements, a row for each signature that was given for them.
func (r reader) owed(w where, from string) ([]inventory.OwedEntry, error) {
	var out []inventory.OwedEntry
	w.and("m.id = o.movement_id AND t.id = m.batch_id")
	err := r.each("SELECT "+movementRead+", o.own, t.item, g.person, g.recorded_at FROM "+from+" CROSS JOIN batch t "+
		"LEFT JOIN register_signature g ON g.movement_id = m.id"+w.String()+" ORDER BY m.id, g.id", w.args,
		func(rows *sql.Rows) error {
			var o inventory.OwedEntry
			var person code
			var signed instant
			err := rows.Scan(append(movementPlaces(&o.Movement), &o.Own, &o.Item, &person, &signed)...)
			if len(out) == 0 || out[len(out)-1].ID != o.ID {
				out = append(out, o)
			}
			if person != "" {
				last := &out[len(out)-1]
				last.Signatures = append(last.Signatures, inventory.EntrySignature{Movement: o.ID, Person: string(person),
					RecordedAt: inventory.Instant(signed)})
			}
			return err
		})
	return out, failure("read owed signatures", "", err)
}

// RegisterKeys lists the pages of the register.
func (r reader) RegisterKeys() ([]inventory.PageKey, error) {
	return collect(r, "list registers", `SELECT e.item, e.place, max(e.recorded_at) FROM (
    SELECT b.item, m.from_place AS place, m.recorded_at FROM item i CROSS JOIN batch b CROSS JOIN movement m
    WHERE i.controlled AND b.item = i.code AND m.batch_id = b.id
    UNION ALL
    SELECT b.item, m.to_place AS place, m.recorded_at FROM item i CROSS JOIN batch b CROSS JOIN movement m
    WHERE i.controlled AND b.item = i.code AND m.batch_id = b.id
    UNION ALL
    SELECT c.item, c.place, c.recorded_at FROM balance_check c JOIN item i ON i.code = c.item WHERE i.controlled) e
JOIN place p ON p.code = e.place WHERE p.station IS NOT NULL GROUP BY e.item, e.place
ORDER BY e.item, e.place`, nil, func(k *inventory.PageKey) []any {
		return []any{&k.Item, &k.Place, (*instant)(&k.LastEntry)}
	})
}
