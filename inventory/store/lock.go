package store

import (
	"database/sql"
	"maps"
	"slices"

	"stowkeeper/inventory"
	"stowkeeper/inventory/store/sqltext"
)

// locks are the rows that a unit of work holds on PostgreSQL, where several units write at a time. SQLite has one
// writer and needs none.
//
// The order is: items in code order, then stations in code order, then bags in code order. A unit that comes to need
// an earlier item or station than it holds does not wait for it, since the holder may be waiting for this one; if it
// is taken the unit is given up and tried again, this time beginning with all the items and stations that it turned
// out to need. So units wait for each other, but never in a circle.
type locks struct {
	items, stations, bags map[string]bool
}

func (l locks) clone() locks {
	return locks{maps.Clone(l.items), maps.Clone(l.stations), maps.Clone(l.bags)}
}

func newLocks() locks { return locks{map[string]bool{}, map[string]bool{}, map[string]bool{}} }

// lockWanted begins a try with what those before it turned out to need.
func (w writer) lockWanted() error {
	if err := w.lockItems(slices.Collect(maps.Keys(w.want.items))); err != nil {
		return err
	}
	return w.lockStations(slices.Collect(maps.Keys(w.want.stations)))
}

// LockItem locks the row of an item until the unit of work ends. References to it can still be made.
func (w writer) LockItem(code string) error {
	return w.onPostgres("lock item", func() error { return w.lockItems([]string{code}) })
}

func (w writer) lockItems(codes []string) error {
	return w.lock("item", codes, w.held.items, w.want.items, len(w.held.stations) > 0)
}

// lockStations locks the rows of stations until the unit of work ends. References to them can still be made.
func (w writer) lockStations(codes []string) error {
	return w.lock("station", codes, w.held.stations, w.want.stations, false)
}

// lock locks the rows of a table by their codes, in order. It does not wait where
// it comes too late, after what it should have preceded.
func (w writer) lock(table string, codes []string, held, want map[string]bool, late bool) error {
	codes = without(codes, held)
	if w.s.engine == SQLite || len(codes) == 0 {
		return nil
	}
	text := "SELECT code FROM " + table + " WHERE code IN " + sqltext.Marks(len(codes)) +
		" ORDER BY code FOR NO KEY UPDATE"
	if late || want != nil && earlier(codes[0], held) {
		text += " NOWAIT"
	}
	for _, code := range codes {
		if want != nil {
			want[code] = true
		}
	}
	return w.each(text, sqltext.Args(codes), func(rows *sql.Rows) error {
		var code string
		err := rows.Scan(&code)
		held[code] = true
		return err
	})
}

// lockRow locks a row by its id until the unit of work ends.
func (w writer) lockRow(table string, id int64) error {
	return w.onPostgres("lock "+table, func() error {
		_, err := w.exec("SELECT id FROM "+table+" WHERE id = ? FOR NO KEY UPDATE", id)
		return err
	})
}

// onPostgres is a step that SQLite does without.
func (w writer) onPostgres(op string, fn func() error) error {
	if w.s.engine == SQLite {
		return nil
	}
	return w.step(op, "", fn)
}

// without returns the codes that are not held, sorted, each once.
func without(codes []string, held map[string]bool) []string {
	out := slices.DeleteFunc(slices.Clone(codes), func(code string) bool { return held[code] })
	slices.Sort(out)
	return slices.Compact(out)
}

// earlier tells whether a code comes before any that is held.
func earlier(code string, held map[string]bool) bool {
	for h := range held {
		if code < h {
			return true
		}
	}
	return false
}

// LockBag locks a bag and returns it as it is then.
func (w writer) LockBag(code string) (inventory.Bag, error) {
	if err := w.LockBags([]string{code}); err != nil {
		return inventory.Bag{}, err
	}
	return w.Bag(code)
}

// LockBags locks bags, and first the stations that own them and where they are, until the unit of
// work ends. Codes that are no bag are skipped.
func (w writer) LockBags(codes []string) error {
	return w.onPostgres("lock bags", func() error { return w.lockBags(codes) })
}

func (w writer) lockBags(codes []string) error {
	codes = without(codes, w.held.bags)
	if w.s.engine == SQLite || len(codes) == 0 {
		return nil
	}
	for _, part := range chunks(codes, 10000) {
		var stations []string
		const of = " FROM place WHERE kind = 'bag' AND code IN "
		err := w.each("SELECT station"+of+sqltext.Marks(len(part))+" UNION SELECT at_station"+of+sqltext.Marks(len(part)),
			append(sqltext.Args(part), sqltext.Args(part)...), func(rows *sql.Rows) error {
				var station string
				err := rows.Scan(&station)
				stations = append(stations, station)
				return err
			})
		if err != nil {
			return err
		}
		if err := w.lockStations(stations); err != nil {
			return err
		}
		if err := w.lock("bag", part, w.held.bags, nil, false); err != nil {
			return err
		}
	}
	return nil
}
