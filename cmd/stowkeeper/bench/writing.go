package bench

import (
	"bytes"
	"context"
	"crypto/rand"
	"database/sql"
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"sync/atomic"
	"time"

	"stowkeeper/inventory/store/prepared"
)

const (
	clients = 64
	some    = 1280 // records in all, written by the clients or by the loop
)

// delay is of each sync, in microseconds.
var delay = []string{"-e", "inject=fsync,fdatasync:delay_exit=4000"}

// traced is a command line that runs another with its syncs told to a file.
func traced(file string, more ...string) ([]string, error) {
	strace, err := exec.LookPath("strace")
	if err != nil {
		return nil, fmt.Errorf("%w: install strace", errCannot)
	}
	return append([]string{strace, "-D", "-f", "--seccomp-bpf", "-e", "trace=fsync,fdatasync", "-o", file}, more...), nil
}

// atOnce has the clients send requests, each of whose answers is to say something, and returns how many were stored in
// a second.
func (p *served) atOnce(ctx context.Context, request func(n int) (path, body string), says string) (float64, error) {
	var wait sync.WaitGroup
	var next atomic.Int64
	var once sync.Once
	var failed error
	var stop atomic.Bool
	began := time.Now()
	for range clients {
		wait.Go(func() {
			for n := int(next.Add(1)); n <= some && !stop.Load(); n = int(next.Add(1)) {
				path, body := request(n)
				got, err := p.ask(ctx, "POST", path, body)
				if err == nil && !bytes.Contains(got, []byte(says)) {
					err = fmt.Errorf("%s: the answer lacks %s: %s", path, says, got)
				}
				if err != nil {
					stop.Store(true)
					once.Do(func() { failed = err })
				}
			}
		})
	}
	wait.Wait()
	return some / time.Since(began).Seconds(), failed
}

// sealChecks are checks of all bags in turn, as a crew makes them who see the bag as it is: they are accepted at once.
func (b *bench) sealChecks(ctx context.Context, p *served) (float64, error) {
	bags, err := p.bags(ctx)
	if err != nil {
		return 0, err
	}
	return p.atOnce(ctx, func(n int) (path, body string) {
		bag := bags[bagCode(n%b.Stations, n/b.Stations%b.Bags)]
		return "/api/v1/bags/" + bag.Code + "/checks",
			fmt.Sprintf(`{"kind":"seal","seal_seen":%q,"seen_position":%d}`, bag.Seal, bag.Position)
	}, `"status":"accepted"`)
}

// looped is how many checks a second a process of its own writes row by row, with a sync for each.
func (b *bench) looped(ctx context.Context, before ...string) (float64, error) {
	file, err := b.copyOf(ctx, b.large.file, "loop.db")
	if err != nil {
		return 0, err
	}
	defer os.Remove(file)
	line := append(before, b.Program, "bench", "--loop", file)
	var said bytes.Buffer
	loop := exec.CommandContext(ctx, line[0], line[1:]...) // #nosec G204 -- itself
	loop.Stderr = &said
	out, err := loop.Output()
	if err != nil {
		return 0, fmt.Errorf("%w: %s", err, &said)
	}
	var rate float64
	_, err = fmt.Sscan(string(out), &rate)
	return rate, err
}

// durable has SQLite sync what it commits, as the program does.
const durable = "?_txlock=immediate&_pragma=journal_mode(WAL)&_pragma=synchronous(FULL)"

// Loop writes the rows of the last seal check again and again to a database, for one bag after the other, each time in
// a transaction of its own with a sync, by statements that are prepared, and returns how many times in a second.
func Loop(ctx context.Context, file string) (rate float64, err error) {
	db, err := sql.Open(prepared.Driver, "file:"+file+durable)
	if err != nil {
		return 0, err
	}
	defer func() { err = errors.Join(err, db.Close()) }()
	db.SetMaxOpenConns(1)
	check, err := lastRecord(ctx, db, "bag_check", "seal", "history_entry", "answer")
	if err != nil {
		return 0, err
	}
	bags, err := rowsOf(ctx, db, "bag", "b JOIN place p ON p.code = b.code ORDER BY substr(b.code, -3), p.station")
	if err != nil {
		return 0, err
	}
	code, station := slices.Index(bags.columns, "code"), slices.Index(bags.columns, "station")
	began := time.Now()
	for n := range some {
		bag := bags.rows[n%len(bags.rows)]
		now := time.Now().UTC().Format("2006-01-02T15:04:05.000000Z")
		err := check.again(ctx, db, n, map[string]any{"bag": bag[code], "place": bag[code], "station": bag[station],
			"chain": bag[station]},
			statement{"UPDATE bag SET seal_seen_at = ?1, last_seal_check = ?1 WHERE code = ?2", []any{now, bag[code]}},
			statement{"UPDATE station SET entry_seq = entry_seq + 1, entry_hash = ?1 WHERE code = ?2",
				[]any{now, bag[station]}})
		if err != nil {
			return 0, err
		}
	}
	return some / time.Since(began).Seconds(), nil
}

// copied are rows of a table, and how to insert one of them elsewhere.
type copied struct {
	columns []string
	rows    [][]any
	insert  string
}

// rowsOf reads the rows of a table that what comes after its name leaves over.
func rowsOf(ctx context.Context, db *sql.DB, table, rest string, args ...any) (c copied, err error) {
	rows, err := db.QueryContext(ctx, "SELECT * FROM "+table+" "+rest, args...) // #nosec G202 -- of this package
	if err != nil {
		return c, err
	}
	defer rows.Close()
	if c.columns, err = rows.Columns(); err != nil {
		return c, err
	}
	c.insert = "INSERT INTO " + table + " (" + strings.Join(c.columns, ", ") + ") VALUES (?" +
		strings.Repeat(", ?", len(c.columns)-1) + ")"
	for rows.Next() {
		values, into := make([]any, len(c.columns)), make([]any, len(c.columns))
		for i := range into {
			into[i] = &values[i]
		}
		if err := rows.Scan(into...); err != nil {
			return c, err
		}
		c.rows = append(c.rows, values)
	}
	if err := rows.Err(); err != nil || len(c.rows) > 0 {
		return c, err
	}
	return c, fmt.Errorf("%s holds no such row", table)
}

// record is the rows that were written for one thing, one of each table.
type record []copied

func lastRecord(ctx context.Context, db *sql.DB, tables ...string) (r record, err error) {
	for _, table := range tables {
		c, err := rowsOf(ctx, db, table, "ORDER BY rowid DESC LIMIT 1")
		if err != nil {
			return nil, err
		}
		r = append(r, c)
	}
	return r, nil
}

type statement struct {
	text string
	args []any
}

// again writes a record for the nth time, with some values in place of those that it has, and changes what it changes,
// in one transaction with one sync.
func (r record) again(ctx context.Context, db *sql.DB, n int, with map[string]any, changes ...statement) error {
	tx, err := db.BeginTx(ctx, nil)
	if err != nil {
		return err
	}
	for _, c := range r {
		changes = append(changes, statement{c.insert, c.another(n, with)})
	}
	for _, s := range changes {
		if _, err := tx.ExecContext(ctx, s.text, s.args...); err != nil {
			return errors.Join(err, tx.Rollback())
		}
	}
	return tx.Commit()
}

// another is a row with what has to differ.
func (c copied) another(n int, with map[string]any) []any {
	out := slices.Clone(c.rows[0])
	for i, name := range c.columns {
		switch value, given := with[name]; {
		case given:
			out[i] = value
		case name == "id":
			out[i] = nil
		case name == "request_key" || name == "reference":
			out[i] = fmt.Sprint("loop-", n)
		case name == "seq":
			out[i] = 1_000_000 + n
		}
	}
	return out
}

func (b *bench) checks(ctx context.Context) (float64, error) { return b.checksOf(ctx, b.many) }

// checksOf compares checks with a loop, each run as what comes before it says.
func (b *bench) checksOf(ctx context.Context, p *served, before ...string) (float64, error) {
	if _, err := b.sealChecks(ctx, p); err != nil { // whose rows the loop writes; who comes first pays for what is kept
		return 0, err
	}
	return rates(func() (float64, error) { return b.sealChecks(ctx, p) },
		func() (float64, error) { return b.looped(ctx, before...) })
}

// rates sets two rates beside each other, by turns, by their medians.
func rates(one, other func() (float64, error)) (float64, error) {
	return against(3, func() (time.Duration, error) { return inverse(other()) },
		func() (time.Duration, error) { return inverse(one()) })
}

func inverse(rate float64, err error) (time.Duration, error) {
	return time.Duration(float64(time.Second) / max(rate, 1e-9)), err
}

func (b *bench) slowedChecks(ctx context.Context) (float64, error) {
	before, err := traced("/dev/null", delay...)
	if err != nil {
		return 0, err
	}
	slow, err := b.served(ctx, b.large, before...)
	if err != nil {
		return 0, err
	}
	defer func() { _ = slow.stop() }()
	return b.checksOf(ctx, slow, before...)
}

// aSync is how many checks share one, with nothing slowed.
func (b *bench) aSync(ctx context.Context) (float64, error) {
	told := filepath.Join(b.folder, "syncs")
	before, err := traced(told)
	if err != nil {
		return 0, err
	}
	p, err := b.served(ctx, b.large, before...)
	if err != nil {
		return 0, err
	}
	defer func() { _ = p.stop() }()
	syncs := func() int {
		text, e := os.ReadFile(told) // #nosec G304 -- in the folder of this run
		err = errors.Join(err, e)
		return bytes.Count(text, []byte("sync("))
	}
	had := syncs()
	_, failed := b.sealChecks(ctx, p)
	return some / float64(max(1, syncs()-had)), errors.Join(failed, err)
}

func (b *bench) receipts(ctx context.Context) (float64, error) {
	of := func(item string) func() (float64, error) {
		return func() (float64, error) {
			return b.many.atOnce(ctx, func(n int) (path, body string) {
				return "/api/v1/receipts", fmt.Sprintf(`{"place":"%s-STORE","item":%q,"batch_no":"%d","end_printed":%q,"qty":1}`,
					station(b.Stations-1), item, n%10, b.large.day.AddDays(500).String())
			}, `"id"`)
		}
	}
	return rates(of(manyBatches), of(fewBatches))
}

// notice compares issuing a notice, which is cancelled each time, with writing its rows.
func (b *bench) notice(ctx context.Context) (float64, error) {
	id, _, err := b.issue(ctx)
	if err != nil {
		return 0, err
	}
	file, err := b.copyOf(ctx, b.large.file, "notice.db")
	if err = errors.Join(err, b.cancel(ctx, id)); err != nil {
		return 0, err
	}
	db, err := sql.Open(prepared.Driver, "file:"+file+durable)
	if err != nil {
		return 0, err
	}
	defer db.Close()
	issued, err := lastRecord(ctx, db, "notice", "history_entry", "answer")
	if err != nil {
		return 0, err
	}
	n := 0
	return against(7, func() (time.Duration, error) {
		id, took, err := b.issue(ctx)
		return took, errors.Join(err, b.cancel(ctx, id))
	}, timed(func() error {
		n++
		return issued.again(ctx, db, n, nil,
			statement{"UPDATE batch SET withdrawn = ? WHERE item = ? AND batch_no = ?", []any{n, everywhere, inAll}},
			statement{"UPDATE service SET entry_seq = entry_seq + 1, entry_hash = ?", []any{n}})
	}))
}

// issue withdraws the batch that is everywhere.
func (b *bench) issue(ctx context.Context) (id int64, took time.Duration, err error) {
	began := time.Now()
	got, err := b.many.ask(ctx, "POST", "/api/v1/notices", fmt.Sprintf(
		`{"reference":%q,"action":"withdraw","item":%q,"batch_nos":[%q]}`, rand.Text(), everywhere, inAll))
	took = time.Since(began)
	var made struct{ ID, Units int64 }
	if err = errors.Join(err, json.Unmarshal(got, &made)); err == nil && made.Units < int64(b.Stations*b.Bags) {
		err = fmt.Errorf("the notice is on %d units only", made.Units)
	}
	return made.ID, took, err
}

func (b *bench) cancel(ctx context.Context, id int64) error {
	_, err := b.many.ask(ctx, "POST", fmt.Sprintf("/api/v1/notices/%d/cancel", id), `{"reason":"It was a benchmark."}`)
	return err
}

// imported compares an import with inserting the rows that it makes into a copy of the database from before it.
func (b *bench) imported(ctx context.Context) (float64, error) {
	target, err := b.made(ctx, "import", service{stations: b.Stations})
	if err != nil {
		return 0, err
	}
	before, err := b.copyOf(ctx, target.file, "before.db")
	if err != nil {
		return 0, err
	}
	list := filepath.Join(b.folder, "stock.csv")
	var text bytes.Buffer
	text.WriteString("place,item,batch_no,end_printed,qty\n")
	for n := range 100_000 {
		fmt.Fprintf(&text, "%s-STORE,%s,R%d,%s,%d\n", station(n%b.Stations), itemCode(n/b.Stations%lines), n,
			target.day.AddDays(300+n%900), 1+n%9)
	}
	if err := os.WriteFile(list, text.Bytes(), 0o600); err != nil {
		return 0, err
	}
	return against(1, timed(func() error {
		said, err := exec.CommandContext(ctx, b.Program, "import", "--db", target.file, // #nosec G204 -- itself
			"stock", list).CombinedOutput()
		if err != nil {
			return fmt.Errorf("%w: %s", err, said)
		}
		return nil
	}), func() (time.Duration, error) { return inserted(ctx, target.file, before) })
}

// inserted is how long it takes to insert the rows that one database has more than another into that, by statements
// that are prepared, in one transaction.
func inserted(ctx context.Context, from, into string) (time.Duration, error) {
	source, err := sql.Open(prepared.Driver, "file:"+from)
	if err != nil {
		return 0, err
	}
	defer source.Close()
	db, err := sql.Open(prepared.Driver, "file:"+into+durable)
	if err != nil {
		return 0, err
	}
	defer db.Close()
	var all []copied
	for _, column := range []string{"batch.id", "lot.id", "movement.id", "history_entry.id", "balance.lot_id"} {
		table, _, _ := strings.Cut(column, ".")
		var last int64
		err := db.QueryRowContext(ctx, "SELECT max("+column+") FROM "+table).Scan(&last) // #nosec G202 -- of this list
		if err != nil {
			return 0, err
		}
		c, err := rowsOf(ctx, source, table, "WHERE "+column+" > ?", last)
		if err != nil {
			return 0, err
		}
		all = append(all, c)
	}
	return timed(func() error {
		tx, err := db.BeginTx(ctx, nil)
		if err != nil {
			return err
		}
		for _, c := range all {
			if err := c.insertInto(ctx, tx); err != nil {
				return errors.Join(err, tx.Rollback())
			}
		}
		return tx.Commit()
	})()
}

func (c copied) insertInto(ctx context.Context, tx *sql.Tx) error {
	insert, err := tx.PrepareContext(ctx, c.insert)
	if err != nil {
		return err
	}
	defer insert.Close()
	for _, row := range c.rows {
		if _, err := insert.ExecContext(ctx, row...); err != nil {
			return err
		}
	}
	return nil
}
