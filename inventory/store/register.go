package store

import (
	"database/sql"
	"maps"
	"slices"

	"stowkeeper/inventory"
)

type balanceCheckRow struct {
	ID         int64 `gorm:"primaryKey;autoIncrement"`
	Item       string
	Place      string
	Counted    int
	Expected   int
	After      ref     `gorm:"column:after_movement"`
	HappenedAt instant `gorm:"not null"`
	RecordedAt instant `gorm:"not null"`
	By         string  `gorm:"column:by_name"`
	Witness    string
	Note       string
}

func (balanceCheckRow) TableName() string { return "balance_check" }

// BalanceChecks lists balance checks by id.
func (r reader) BalanceChecks(f inventory.BalanceFilter) ([]inventory.BalanceCheck, error) {
	q := r.gorm()
	if f.Item != "" {
		q = q.Where("item = ?", f.Item)
	}
	if len(f.Places) > 0 {
		q = q.Where("place IN ?", f.Places)
	}
	if f.Latest {
		q = q.Where("NOT EXISTS (SELECT 1 FROM balance_check n WHERE n.item = balance_check.item AND n.place = " +
			"balance_check.place AND n.id > balance_check.id)")
	}
	return list(q, "list balance checks", inventory.Page{}, byID, convert[inventory.BalanceCheck, balanceCheckRow])
}

// AddBalanceCheck keeps a balance check and gives it its id.
func (w writer) AddBalanceCheck(c inventory.BalanceCheck) (inventory.BalanceCheck, error) {
	return keep[balanceCheckRow](w, "add balance check", "", c)
}

// LockStations locks the rows of stations until the unit of work ends: whoever holds
// a station's row alone may change the balances of its places.
func (w writer) LockStations(codes []string) error {
	if w.s.engine == SQLite {
		return nil
	}
	return w.step("lock stations", "", func() error { return w.lockStations(codes) })
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
	is(&w, "t.item", f.Item)
	if len(f.Places) > 0 {
		in := marks(len(f.Places))
		w.and("(m.from_place IN "+in+" OR m.to_place IN "+in+")", append(anys(f.Places), anys(f.Places)...)...)
	}
	if f.Open {
		w.and(openOwed)
	}
	return r.owed(w)
}

// OwedEntry returns one movement that one person recorded alone.
func (r reader) OwedEntry(movement int64) (inventory.OwedEntry, error) {
	var w where
	w.and("m.id = ?", movement)
	all, err := r.owed(w)
	return only(all, err, "entry that owes a signature")
}

// owed reads the movements, then what was signed for them.
func (r reader) owed(w where) ([]inventory.OwedEntry, error) {
	var out []inventory.OwedEntry
	index := map[int64]int{}
	err := r.each("SELECT "+movementRead+", o.own, t.item FROM movement m JOIN register_owed o ON o.movement_id = m.id"+
		" JOIN batch t ON t.id = m.batch_id"+w.String()+" ORDER BY m.id", w.args, func(rows *sql.Rows) (err error) {
		var o inventory.OwedEntry
		o.Movement, err = scanMovement(rows, &o.Own, &o.Item)
		index[o.Movement.ID] = len(out)
		out = append(out, o)
		return err
	})
	for _, part := range chunks(slices.Collect(maps.Keys(index)), 10000) {
		if err != nil {
			break
		}
		err = r.each("SELECT movement_id, person, recorded_at FROM register_signature WHERE movement_id IN "+
			marks(len(part))+" ORDER BY id", anys(part), func(rows *sql.Rows) error {
			var s inventory.EntrySignature
			err := rows.Scan(&s.Movement, &s.Person, (*instant)(&s.RecordedAt))
			o := &out[index[s.Movement]]
			o.Signatures = append(o.Signatures, s)
			return err
		})
	}
	return out, failure("read owed signatures", "", err)
}

// RegisterKeys lists the pages of the register.
func (r reader) RegisterKeys() ([]inventory.PageKey, error) {
	var out []inventory.PageKey
	const moved = ` AS place, m.recorded_at FROM item i JOIN batch b ON b.item = i.code
JOIN movement m ON m.batch_id = b.id WHERE i.controlled UNION ALL SELECT `
	err := r.each(`SELECT e.item, e.place, max(e.recorded_at) FROM (
    SELECT b.item, m.from_place AS place, m.recorded_at FROM item i JOIN batch b ON b.item = i.code
    JOIN movement m ON m.batch_id = b.id WHERE i.controlled
    UNION ALL
    SELECT b.item, m.to_place AS place, m.recorded_at FROM item i JOIN batch b ON b.item = i.code
    JOIN movement m ON m.batch_id = b.id WHERE i.controlled
    UNION ALL
    SELECT c.item, c.place, c.recorded_at FROM balance_check c JOIN item i ON i.code = c.item WHERE i.controlled) e
JOIN place p ON p.code = e.place WHERE p.station IS NOT NULL GROUP BY e.item, e.place
ORDER BY e.item, e.place`, nil, func(rows *sql.Rows) error {
		var k inventory.PageKey
		err := rows.Scan(&k.Item, &k.Place, (*instant)(&k.LastEntry))
		out = append(out, k)
		return err
	})
	return out, failure("list registers", "", err)
}
