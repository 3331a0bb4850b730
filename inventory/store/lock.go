package store

import (
	"database/sql"
	"maps"
	"slices"

	"stowkeeper/inventory"
)

// locks are the rows that a unit of work holds on PostgreSQL, where several
// units write at a time. SQLite has one writer and needs none.
//
// The order is: items in code order, then stations in code order, then bags in
// code order. A unit that comes to need an earlier item or station than it holds
// does not wait for it, since the holder may be waiting for this one; if it is
// taken the unit is given up and tried again, this time beginning with all the
// items and stations that it turned out to need. So units wait for each other, but
// never in a circle.
type locks struct {
	items, stations, bags map[string]bool
}

func (l locks) clone() locks {
	return locks{maps.Clone(l.items), maps.Clone(l.stations), maps.Clone(l.bags)}
}

// wanted are the items and stations that a unit's tries have locked so far.
type wanted struct{ items, stations map[string]bool }

func newWanted() wanted { return wanted{map[string]bool{}, map[string]bool{}} }

// lockWanted begins a try with what those before it turned out to need.
func (w writer) lockWanted() error {
	if err := w.lockItems(slices.Collect(maps.Keys(w.want.items))); err != nil {
		return err
	}
	return w.lockStations(slices.Collect(maps.Keys(w.want.stations)))
}

// LockItem locks the row of an item until the unit of work ends. References to
// it can still be made.
func (w writer) LockItem(code string) error {
	if w.s.engine == SQLite {
		return nil
	}
	return w.step("lock item", "", func() error { return w.lockItems([]string{code}) })
}

func (w writer) lockItems(codes []string) error {
	codes = without(codes, w.held.items)
	if w.s.engine == SQLite || len(codes) == 0 {
		return nil
	}
	how := " FOR NO KEY UPDATE"
	if earlier(codes[0], w.held.items) || len(w.held.stations) > 0 {
		how += " NOWAIT"
	}
	if w.held.items == nil {
		w.held.items = map[string]bool{}
	}
	for _, code := range codes {
		w.want.items[code] = true
	}
	return w.lock("SELECT code FROM item WHERE code IN "+marks(len(codes))+" ORDER BY code"+how, codes, w.held.items)
}

// lockStations locks the rows of stations until the unit of work ends. References
// to them can still be made.
func (w writer) lockStations(codes []string) error {
	codes = without(codes, w.held.stations)
	if w.s.engine == SQLite || len(codes) == 0 {
		return nil
	}
	how := " FOR NO KEY UPDATE"
	if earlier(codes[0], w.held.stations) {
		how += " NOWAIT"
	}
	if w.held.stations == nil {
		w.held.stations = map[string]bool{}
	}
	for _, code := range codes {
		w.want.stations[code] = true
	}
	return w.lock("SELECT code FROM station WHERE code IN "+marks(len(codes))+" ORDER BY code"+how, codes, w.held.stations)
}

func (w writer) lock(query string, codes []string, held map[string]bool) error {
	return w.each(query, anys(codes), func(rows *sql.Rows) error {
		var code string
		err := rows.Scan(&code)
		held[code] = true
		return err
	})
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

// LockBags locks bags, and first the stations that own them, until the unit of
// work ends. Codes that are no bag are skipped.
func (w writer) LockBags(codes []string) error {
	if w.s.engine == SQLite {
		return nil
	}
	return w.step("lock bags", "", func() error { return w.lockBags(codes) })
}

func (w writer) lockBags(codes []string) error {
	codes = without(codes, w.held.bags)
	if w.s.engine == SQLite || len(codes) == 0 {
		return nil
	}
	if w.held.bags == nil {
		w.held.bags = map[string]bool{}
	}
	for _, part := range chunks(codes, 10000) {
		var stations []string
		err := w.each("SELECT DISTINCT station FROM place WHERE kind = 'bag' AND code IN "+marks(len(part)), anys(part),
			func(rows *sql.Rows) error {
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
		if err := w.lock("SELECT code FROM bag WHERE code IN "+marks(len(part))+" ORDER BY code FOR NO KEY UPDATE", part,
			w.held.bags); err != nil {
			return err
		}
	}
	return nil
}
