package store

import (
	"cmp"
	"database/sql"
	"maps"
	"reflect"
	"slices"
	"time"

	"stowkeeper/inventory"
	"stowkeeper/inventory/store/bulk"
	"stowkeeper/inventory/store/fact"
	"stowkeeper/inventory/store/judged"
	"stowkeeper/inventory/store/sqltext"
)

// heads are the ends of a chain as they will be when the unit of work ends: of
// a station's movements, and of the entries.
type heads struct{ moved, entered inventory.Head }

const headColumns = "s.code, s.chain_seq, s.chain_hash, s.entry_seq, s.entry_hash"

// scanHead reads a station's heads after what comes before them, and keeps them where nobody else can change them now.
func (u *unit) scanHead(rows *sql.Rows, before ...any) (station string, err error) {
	var of, moved, entered code
	var movedSeq, enteredSeq ref
	err = rows.Scan(append(before, &of, &movedSeq, &moved, &enteredSeq, &entered)...)
	station = string(of)
	if _, known := u.heads[station]; !known && station != "" && (u.s.engine == SQLite || u.held.stations[station]) {
		u.heads[station] = heads{inventory.Head{Station: station, Seq: int64(movedSeq), Hash: string(moved)},
			inventory.Head{Station: station, Seq: int64(enteredSeq), Hash: string(entered)}}
	}
	return station, err
}

// enterAtOnce is how much a unit of work, as a long import, notes before it enters that: each image of a row waits in
// memory till then.
const enterAtOnce = 4000

// AddHistory adds to the history, at the end of the unit of work or when much waits.
func (w writer) AddHistory(ds []inventory.HistoryEntry) error {
	for _, d := range ds {
		d.ID = 0
		w.log = append(w.log, noted{entry: &d, places: [2]string{d.Place, d.OtherPlace}, station: d.Station})
	}
	if len(w.log) < enterAtOnce {
		return nil
	}
	return w.enter()
}

// entering is the end of a unit of work: its rows are put to the entries that
// tell of them, and these at the ends of their chains.
type entering struct {
	writer
	rows   []historyEntryRow
	values []map[string]any // of the rows, by column
}

// enter puts what the unit of work wrote into the chains. It is done at its end, and where it looks at them itself.
func (u *unit) enter() error {
	if len(u.log) == 0 {
		return nil
	}
	e := &entering{writer: writer{reader{u}}}
	err := firstError(e.findOwners, e.lockStationsOf, e.gather, e.lockService, e.link,
		func() error { return bulk.InsertValues(e.s.history, e.values, e.each) }, e.storeHeads,
		func() error { return u.touched.Mark(u.Conn) })
	u.log, u.touched = nil, judged.Touched{}
	return failure("enter facts", "", err)
}

// findOwners finds out in which chain each thing belongs: that of the station which owns its place; of two, as of a
// movement, the first that is inside the service.
func (e *entering) findOwners() error {
	unknown := map[string]bool{}
	for _, n := range e.log {
		for _, place := range n.places {
			if _, known := e.owners[place]; !known && place != "" {
				unknown[place] = true
			}
		}
	}
	err := eachOf(e.unit, "SELECT code, station FROM place WHERE code IN ?", nil, slices.Sorted(maps.Keys(unknown)),
		func(rows *sql.Rows) error {
			var place string
			var station code
			err := rows.Scan(&place, &station)
			e.owners[place] = string(station)
			return err
		})
	if err != nil {
		return err
	}
	for i, n := range e.log {
		e.log[i].station = cmp.Or(e.owners[n.places[0]], e.owners[n.places[1]], n.station)
	}
	return nil
}

// lockStationsOf makes sure of the heads of the stations' chains. What names a
// station that is none belongs to the service.
func (e *entering) lockStationsOf() error {
	stations := map[string]bool{}
	for _, n := range e.log {
		if n.station != "" {
			stations[n.station] = true
		}
	}
	codes := slices.Sorted(maps.Keys(stations))
	if err := e.lockStations(codes); err != nil {
		return err
	}
	unread := func(code string) bool { return e.heads[code].entered.Station == "" }
	codes = slices.DeleteFunc(codes, func(code string) bool { return !unread(code) })
	err := eachOf(e.unit, "SELECT "+headColumns+" FROM station s WHERE s.code IN ?", nil, codes,
		func(rows *sql.Rows) error {
			_, err := e.scanHead(rows)
			return err
		})
	for i, n := range e.log {
		if unread(n.station) {
			e.log[i].station = ""
		}
	}
	return err
}

// gather puts each row to the entry that was written after it in its chain, or else to the last one there; a row of
// no chain to the next of any. Where several rows were written of one thing the last counts. A movement has an entry
// of its own.
func (e *entering) gather() error {
	told, moves := e.tellers()
	facts, newest := map[int][]any{}, map[[2]string]int{}
	for i, n := range e.log {
		if n.table != nil {
			newest[[2]string{n.table.Name, n.key}] = i
		}
	}
	for i, n := range e.log {
		if n.table == nil || newest[[2]string{n.table.Name, n.key}] != i {
			continue
		}
		at := told[i]
		if n.table.Name == "movement" && len(moves) > 0 {
			at, moves = moves[0], moves[1:]
		}
		facts[at] = append(facts[at], []any{n.table.Name, inventory.FixedForm(n.key), n.said})
	}
	for i, n := range e.log {
		if n.entry == nil {
			continue
		}
		row := convert[historyEntryRow](*n.entry)
		row.Chain = n.station
		if len(facts[i]) > 0 {
			row.Facts = inventory.ListForm(facts[i]...)
		}
		e.rows = append(e.rows, row)
	}
	return nil
}

// tellers returns, by the place in the log of a row, that of the entry which
// tells of it, made where there is none; and the entries of movements.
func (e *entering) tellers() (told map[int]int, moves []int) {
	const any = "any"
	told = map[int]int{}
	next, last := map[string]int{}, map[string]int{}
	for i, n := range e.log {
		if n.entry != nil {
			last[n.station], last[any] = i, i
			if n.entry.Kind == inventory.HistoryMovement {
				moves = append(moves, i)
			}
		}
	}
	for i := len(e.log) - 1; i >= 0; i-- {
		n := e.log[i]
		if n.entry != nil {
			next[n.station], next[any] = i, i
			continue
		}
		chain := n.station
		if chain == "" && !e.late {
			chain = any
		}
		at, ok := next[chain]
		if !ok {
			at, ok = last[chain]
		}
		if !ok {
			at = e.untold(n.station)
			last[n.station], last[any] = at, at
		}
		told[i] = at
	}
	return told, moves
}

// untold adds an entry for rows that none tells of.
func (e *entering) untold(station string) int {
	who := inventory.ActingIn(e.ctx)
	d := inventory.HistoryEntry{RecordedAt: inventory.InstantOf(time.Now()), By: who.Name, From: who.From,
		Kind: inventory.HistoryChanged, Station: station}
	if e.late {
		d.By, d.From, d.Kind = "", "", inventory.HistoryEnteredLate
	}
	for _, n := range e.log {
		if n.entry != nil && !e.late {
			d.RecordedAt = n.entry.RecordedAt // what was done with them has the use case's clock
		}
	}
	e.log = append(e.log, noted{station: station, entry: &d})
	return len(e.log) - 1
}

// lockService makes sure of the head of the service's own chain, the last of all.
func (e *entering) lockService() error {
	if !slices.ContainsFunc(e.rows, func(r historyEntryRow) bool { return r.Chain == "" }) {
		return nil
	}
	text := "SELECT entry_seq, entry_hash FROM service"
	if e.s.engine != SQLite {
		text += " FOR UPDATE"
	}
	var h heads
	err := e.tx.QueryRowContext(e.ctx, text).Scan(&h.entered.Seq, &h.entered.Hash)
	e.heads[""] = h
	return err
}

// link numbers the entries and hashes them.
func (e *entering) link() error {
	for i := range e.rows {
		row := &e.rows[i]
		h := e.heads[row.Chain]
		row.Seq = ref(h.entered.Seq + 1)
		values, err := bulk.Values(e.ctx, e.s.history, reflect.ValueOf(row).Elem())
		if err != nil {
			return err
		}
		_, form, err := e.s.facts["history_entry"].Form(values, e.number)
		if err != nil {
			return err
		}
		row.Hash = inventory.EntryHash(h.entered.Hash, form)
		values["hash"] = row.Hash
		e.values = append(e.values, values)
		h.entered.Seq, h.entered.Hash = int64(row.Seq), row.Hash
		e.heads[row.Chain] = h
	}
	return nil
}

func (e *entering) storeHeads() error {
	var args []any
	for _, chain := range slices.Sorted(maps.Keys(e.heads)) {
		h := e.heads[chain]
		if chain != "" {
			args = append(args, chain, h.entered.Seq, h.entered.Hash, h.moved.Seq, h.moved.Hash)
		} else if _, err := e.quietly("UPDATE service SET entry_seq = ?, entry_hash = ?", h.entered.Seq,
			h.entered.Hash); err != nil {
			return err
		}
	}
	if len(args) == 0 {
		return nil
	}
	_, err := e.quietly("WITH h (code, seq, hash, moved, last) AS (VALUES "+sqltext.Times(len(args)/5,
		"(?, CAST(? AS BIGINT), ?, CAST(? AS BIGINT), ?)")+") UPDATE station SET entry_seq = h.seq, entry_hash = h.hash, "+
		"chain_seq = h.moved, chain_hash = h.last FROM h WHERE station.code = h.code", args...)
	return err
}

// number is the number by which a person or program stands in the chains; who is new is given one. Nobody has none.
func (u *unit) number(name string) (int64, error) {
	if name == "" {
		return 0, nil
	}
	if n, ok := u.s.numbers.Load(name); ok {
		return n.(int64), nil
	}
	if n, ok := u.names[name]; ok {
		return n, nil
	}
	var n int64
	err := u.tx.QueryRowContext(u.ctx, u.s.bind("INSERT INTO actor (name) VALUES (?) "+
		"ON CONFLICT (name) DO UPDATE SET name = excluded.name RETURNING id"), name).Scan(&n)
	u.names[name] = n
	return n, err
}

// Actors returns the numbers by which people and programs stand in the chains.
func (r reader) Actors() (map[string]int64, error) {
	out := map[string]int64{}
	err := r.each("SELECT id, name FROM actor", nil, func(rows *sql.Rows) error {
		var n int64
		var name string
		err := rows.Scan(&n, &name)
		out[name] = n
		return err
	})
	return out, failure("read numbers of people", "", err)
}

// Heads returns the ends of all chains, the service's own first.
func (r reader) Heads() ([]inventory.Head, error) {
	if err := r.enter(); err != nil {
		return nil, err
	}
	return collect(r, "read heads", "SELECT '' AS code, entry_seq, entry_hash FROM service UNION ALL "+
		"SELECT code, entry_seq, entry_hash FROM station ORDER BY code", nil,
		func(h *inventory.Head) []any { return []any{&h.Station, &h.Seq, &h.Hash} })
}

// MovementGaps is how many numbers of movements were left out before SQLite took them over.
func (r reader) MovementGaps() (int64, error) {
	all, err := collect(r, "read gaps", "SELECT gaps FROM service", nil, func(n *int64) []any { return []any{n} })
	return append(all, 0)[0], err
}

// ChainEntries gives the entries of the chains, by chain and number.
func (r reader) ChainEntries(f inventory.ChainFilter, do func(inventory.ChainEntry) error) error {
	var w where
	w.and("seq IS NOT NULL")
	if f.Chain != nil {
		w.and("chain = ?", *f.Chain)
	}
	given(&w, "seq >= ?", f.From)
	given(&w, "seq <= ?", f.To)
	given(&w, "recorded_at >= ?", instant(f.Since))
	given(&w, "recorded_at < ?", instant(f.Before))
	number, err := r.known()
	if err != nil {
		return err
	}
	t := r.s.facts["history_entry"]
	return r.each("SELECT * FROM history_entry"+w.String()+" ORDER BY chain, seq", w.args, func(rows *sql.Rows) error {
		row, err := scanRow(rows)
		if err != nil {
			return err
		}
		e := inventory.ChainEntry{}
		e.ID, _ = row["id"].(int64)
		e.Seq, _ = row["seq"].(int64)
		e.Chain, _ = row["chain"].(string)
		e.Hash, _ = row["hash"].(string)
		e.Station, _ = row["station"].(string)
		e.Place, _ = row["place"].(string)
		e.OtherPlace, _ = row["other_place"].(string)
		if _, e.Form, err = t.Form(row, number); err != nil {
			return err
		}
		facts, _ := row["facts"].(string)
		if e.Facts, err = inventory.ParseFacts(facts); err != nil {
			e.Facts = nil // altered, which its hash tells
		}
		return do(e)
	})
}

// known returns the numbers of people for reading: who has none has 0.
func (r reader) known() (func(string) (int64, error), error) {
	actors, err := r.Actors()
	return func(name string) (int64, error) { return actors[name], nil }, err
}

// Facts gives every row that is a fact, as it is now, and every balance.
func (r reader) Facts(do func(inventory.Fact) error) error {
	return r.eachFact(func(_ *fact.Table, _ map[string]any, f inventory.Fact) error { return do(f) })
}

func (r reader) eachFact(do func(*fact.Table, map[string]any, inventory.Fact) error) error {
	number, err := r.known()
	for _, name := range slices.Sorted(maps.Keys(r.s.facts)) {
		if err != nil {
			return err
		}
		t, text := r.s.facts[name], "SELECT * FROM "+name
		if name == "history_entry" { // from before there were chains
			text += " WHERE seq IS NULL"
		}
		err = r.each(text, nil, func(rows *sql.Rows) error {
			row, err := scanRow(rows)
			if err != nil {
				return err
			}
			f := inventory.Fact{Table: name}
			if f.Key, f.Form, err = t.Form(row, number); err != nil {
				return err
			}
			return do(t, row, f)
		})
	}
	return err
}
