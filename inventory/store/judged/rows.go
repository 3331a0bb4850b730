package judged

import (
	"database/sql"
	"encoding/json"
	"fmt"
	"strings"

	"stowkeeper/inventory"
	"stowkeeper/inventory/store/sqltext"
)

// LockKept makes other units of work that touch bags wait until this one ends, and waits for those that did.
func (c Conn) LockKept() error {
	if !c.Locks {
		return nil
	}
	_, err := c.Exec("LOCK TABLE kept IN SHARE ROW EXCLUSIVE MODE")
	return err
}

// holds is of what was found, at an instant that is asked for twice. A clock that was set back judges anew.
const holds = "until > ? AND judged_at <= ?"

// ToJudge lists bags that are to be judged, by code: those of which nothing that is kept holds at an instant, retired
// ones too. limit 0 means all.
func (c Conn) ToJudge(now inventory.Instant, limit int) (codes []string, err error) {
	text := "SELECT b.code FROM bag b LEFT JOIN kept k ON k.bag = b.code WHERE k.until IS NULL OR k.until <= ? " +
		"OR k.judged_at > ? ORDER BY b.code"
	if limit > 0 {
		text += fmt.Sprint(" LIMIT ", limit)
	}
	err = c.Each(text, []any{int64(now), int64(now)}, func(rows *sql.Rows) error {
		var code string
		err := rows.Scan(&code)
		codes = append(codes, code)
		return err
	})
	return codes, err
}

const columns = "bag, at_station, seal, judged_at, until, purpose, inside, state, first_stop, first_lot, judged"

// PutKept keeps what bags were judged to be.
func (c Conn) PutKept(all []inventory.Kept) error {
	if len(all) == 0 {
		return nil
	}
	var args []any
	for _, k := range all {
		stop, judged := inventory.Change{}, []byte(nil)
		if k.FirstStop != nil {
			stop = *k.FirstStop
		}
		if k.Says() || k.Holds {
			var err error
			if judged, err = json.Marshal(k.Judged); err != nil {
				return err
			}
		}
		args = append(args, k.Bag, k.AtStation, k.Seal, int64(k.At), int64(k.Until), string(k.Purpose), k.Inside,
			string(k.State), int64(stop.Date), stop.LotID, string(judged))
	}
	set := []string{}
	for _, name := range strings.Split(columns, ", ")[1:] {
		set = append(set, name+" = excluded."+name)
	}
	_, err := c.Exec("INSERT INTO kept ("+columns+") VALUES "+sqltext.Rows(len(all), 11)+
		" ON CONFLICT (bag) DO UPDATE SET "+strings.Join(set, ", "), args...)
	return err
}

// KeptOf gives what is kept and holds at an instant, by bag: of every bag, or of those of which a report has something
// to say.
func (c Conn) KeptOf(now inventory.Instant, says bool) (out []inventory.Kept, err error) {
	text, args := "SELECT "+columns+" FROM kept WHERE "+holds, []any{int64(now), int64(now)}
	if says {
		text += " AND judged <> ''"
	}
	err = c.Each(text+" ORDER BY bag", args, func(rows *sql.Rows) error {
		var k inventory.Kept
		var stop inventory.Change
		var judged []byte
		var state inventory.State
		err := rows.Scan(&k.Bag, &k.AtStation, &k.Seal, &k.At, &k.Until, &k.Purpose, &k.Inside, &state, &stop.Date,
			&stop.LotID, &judged)
		if err == nil && len(judged) > 0 && json.Unmarshal(judged, &k.Judged) != nil {
			k.Judged = inventory.Judged{} // somebody altered it, which verify tells
		}
		k.State = state
		if stop != (inventory.Change{}) {
			k.FirstStop = &stop
		}
		out = append(out, k)
		return err
	})
	return out, err
}

// KeptCounts counts the bags of a purpose of which something is kept that holds, modules apart, by station.
func (c Conn) KeptCounts(now inventory.Instant, of inventory.Purpose) (map[string]inventory.BagCounts, error) {
	out := map[string]inventory.BagCounts{}
	text := "SELECT at_station, state, count(*), coalesce(min(nullif(first_stop, 0)), 0) FROM kept WHERE " + holds +
		" AND purpose = ? AND inside = '' GROUP BY at_station, state"
	err := c.Each(text, []any{int64(now), int64(now), string(of)}, func(rows *sql.Rows) error {
		var station string
		var state inventory.State
		var n int
		var counts inventory.BagCounts
		err := rows.Scan(&station, &state, &n, &counts.Stop)
		counts.Add(state, n)
		out[station] = out[station].Plus(counts)
		return err
	})
	return out, err
}

// KeptStops lists the first of the days on which bags of a purpose stop, by what is kept and holds.
func (c Conn) KeptStops(now inventory.Instant, of inventory.Purpose, stations []string, limit int) (
	out []inventory.FirstStop, err error) {
	text := "SELECT bag, at_station, first_stop, first_lot FROM kept WHERE first_stop > 0 AND " + holds +
		" AND purpose = ?"
	args := []any{int64(now), int64(now), string(of)}
	if len(stations) > 0 {
		text, args = text+" AND at_station IN "+sqltext.Marks(len(stations)), append(args, sqltext.Args(stations)...)
	}
	err = c.Each(text+fmt.Sprint(" ORDER BY first_stop, bag LIMIT ", limit), args, func(rows *sql.Rows) error {
		var s inventory.FirstStop
		err := rows.Scan(&s.Bag, &s.Station, &s.On, &s.LotID)
		out = append(out, s)
		return err
	})
	return out, err
}
