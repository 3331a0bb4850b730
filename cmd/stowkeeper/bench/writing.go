package bench

import (
	"bytes"
	"context"
	"database/sql"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
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

// atOnce has the clients send requests, and returns how many were stored in a second.
func (p *served) atOnce(ctx context.Context, path func(n int) string, body func(n int) string) (float64, error) {
	var wait sync.WaitGroup
	var next atomic.Int64
	var once sync.Once
	var failed error
	var stop atomic.Bool
	began := time.Now()
	for range clients {
		wait.Go(func() {
			for n := int(next.Add(1)); n <= some && !stop.Load(); n = int(next.Add(1)) {
				if _, err := p.ask(ctx, "POST", path(n), body(n)); err != nil {
					stop.Store(true)
					once.Do(func() { failed = err })
				}
			}
		})
	}
	wait.Wait()
	return some / time.Since(began).Seconds(), failed
}

// sealChecks are checks of all bags in turn.
func (b *bench) sealChecks(ctx context.Context, p *served) (float64, error) {
	return p.atOnce(ctx, func(n int) string {
		n %= b.Stations * b.Bags
		return "/api/v1/bags/" + bagCode(n%b.Stations, n/b.Stations) + "/checks"
	}, func(int) string { return `{"kind":"seal","seal_seen":"100200","seen_position":1}` })
}

// looped is how many checks a second a process of its own writes row by row, with a sync for each.
func (b *bench) looped(ctx context.Context, before ...string) (float64, error) {
	file := filepath.Join(b.folder, "loop.db")
	defer os.Remove(file)
	db, err := sql.Open(prepared.Driver, "file:"+b.large.file)
	if err != nil {
		return 0, err
	}
	_, err = db.ExecContext(ctx, "VACUUM INTO ?", file)
	if err = errors.Join(err, db.Close()); err != nil {
		return 0, err
	}
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

// Loop writes the rows of the last seal check again and again to a database, each time in a transaction of its own with
// a sync, by statements that are prepared, and returns how many times in a second.
func Loop(ctx context.Context, file string) (rate float64, err error) {
	db, err := sql.Open(prepared.Driver,
		"file:"+file+"?_txlock=immediate&_pragma=journal_mode(WAL)&_pragma=synchronous(FULL)")
	if err != nil {
		return 0, err
	}
	defer func() { err = errors.Join(err, db.Close()) }()
	db.SetMaxOpenConns(1)
	var all []copied
	for _, table := range []string{"bag_check", "seal", "answer", "history_entry"} {
		c, err := lastRow(ctx, db, table)
		if err != nil {
			return 0, fmt.Errorf("%s: %w", table, err)
		}
		all = append(all, c)
	}
	began := time.Now()
	for n := range some {
		tx, err := db.BeginTx(ctx, nil)
		if err != nil {
			return 0, err
		}
		for _, c := range all {
			_, e := tx.ExecContext(ctx, c.insert, c.another(n)...)
			err = errors.Join(err, e)
		}
		for _, update := range []string{"UPDATE bag SET position = position + 1, last_seal_check = ?2 WHERE code = ?1",
			"UPDATE station SET entry_seq = entry_seq + 1, entry_hash = ?2 " +
				"WHERE code = (SELECT station FROM place WHERE code = ?1)"} {
			_, e := tx.ExecContext(ctx, update, bagCode(0, n%40), time.Now().UTC().Format("2006-01-02T15:04:05.000000Z"))
			err = errors.Join(err, e)
		}
		if err = errors.Join(err, tx.Commit()); err != nil {
			return 0, err
		}
	}
	return some / time.Since(began).Seconds(), nil
}

// copied is a row, and how to insert one like it.
type copied struct {
	insert  string
	columns []string
	values  []any
}

func lastRow(ctx context.Context, db *sql.DB, table string) (c copied, err error) {
	rows, err := db.QueryContext(ctx, "SELECT * FROM "+table+" ORDER BY rowid DESC LIMIT 1") // #nosec G202 -- of Loop
	if err != nil {
		return c, err
	}
	defer rows.Close()
	if c.columns, err = rows.Columns(); err != nil {
		return c, err
	}
	c.values = make([]any, len(c.columns))
	into := make([]any, len(c.columns))
	for i := range into {
		into[i] = &c.values[i]
	}
	if !rows.Next() {
		return c, errors.Join(errors.New("holds no row to write again"), rows.Err())
	}
	c.insert = "INSERT INTO " + table + " (" + strings.Join(c.columns, ", ") + ") VALUES (?" +
		strings.Repeat(", ?", len(c.columns)-1) + ")"
	return c, rows.Scan(into...)
}

// another is the row with what has to differ.
func (c copied) another(n int) []any {
	out := make([]any, len(c.values))
	copy(out, c.values)
	for i, name := range c.columns {
		switch name {
		case "id":
			out[i] = nil
		case "request_key":
			out[i] = fmt.Sprint("loop-", n)
		case "seq":
			out[i] = 1_000_000 + n
		}
	}
	return out
}

func (b *bench) checks(ctx context.Context) (float64, error) {
	if _, err := b.sealChecks(ctx, b.many); err != nil { // what comes first pays for what is kept later
		return 0, err
	}
	return rates(func() (float64, error) { return b.sealChecks(ctx, b.many) },
		func() (float64, error) { return b.looped(ctx) })
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
	return rates(func() (float64, error) { return b.sealChecks(ctx, slow) },
		func() (float64, error) { return b.looped(ctx, before...) })
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
			return b.many.atOnce(ctx, func(int) string { return "/api/v1/receipts" }, func(n int) string {
				return fmt.Sprintf(`{"place":"S00-STORE","item":%q,"batch_no":"%d","end_printed":%q,"qty":1}`, item, n%10,
					b.large.day.AddDays(500).String())
			})
		}
	}
	return rates(of(manyBatches), of(fewBatches))
}

// imported compares an import with inserting the rows that it makes, into the same schema, in one transaction.
func (b *bench) imported(ctx context.Context) (float64, error) {
	const rows = 100_000
	engine, err := exec.LookPath("sqlite3")
	if err != nil {
		return 0, fmt.Errorf("%w: install sqlite3", errCannot)
	}
	target, err := newService(ctx, b.folder, "import", 0, b.Stations, 0, 0)
	if err != nil {
		return 0, err
	}
	list := filepath.Join(b.folder, "stock.csv")
	var text bytes.Buffer
	text.WriteString("place,item,batch_no,end_printed,qty\n")
	for n := range rows {
		fmt.Fprintf(&text, "%s-STORE,%s,R%d,%s,%d\n", station(n%b.Stations), itemCode(n/b.Stations%lines), n,
			target.day.AddDays(300+n%900), 1+n%9)
	}
	if err := os.WriteFile(list, text.Bytes(), 0o600); err != nil {
		return 0, err
	}
	began := time.Now()
	said, err := exec.CommandContext(ctx, b.Program, "import", "--db", target.file, // #nosec G204 -- itself
		"stock", list).CombinedOutput()
	if err != nil {
		return 0, fmt.Errorf("%w: %s", err, said)
	}
	took := time.Since(began)
	copy := filepath.Join(b.folder, "copy.db")
	script := ".bail on\nATTACH '" + target.file + "' AS made;\nPRAGMA synchronous = FULL;\nBEGIN;\n"
	for _, table := range []string{"batch", "lot", "balance", "movement", "history_entry"} {
		script += "INSERT INTO main." + table + " SELECT * FROM made." + table + ";\n"
	}
	empty := exec.CommandContext(ctx, "sh", "-c", `"$1" "$2" .schema | "$1" "$3"`, // #nosec G204 -- a tool
		"sh", engine, target.file, copy)
	if out, err := empty.CombinedOutput(); err != nil {
		return 0, fmt.Errorf("%w: %s", err, out)
	}
	raw := exec.CommandContext(ctx, engine, copy) // #nosec G204 -- a tool
	raw.Stdin = strings.NewReader(script + "COMMIT;\n")
	began = time.Now()
	if out, err := raw.CombinedOutput(); err != nil {
		return 0, fmt.Errorf("%w: %s", err, out)
	}
	return float64(took) / float64(time.Since(began)), nil
}
