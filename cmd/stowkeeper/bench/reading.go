package bench

import (
	"context"
	"crypto/sha256"
	"database/sql"
	"errors"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"time"

	qrcode "github.com/skip2/go-qrcode"

	"stowkeeper/inventory/store/prepared"
	"stowkeeper/labels"
)

// shortLines is the straightforward question which lines hold less than they need.
const shortLines = `SELECT b.code, k.item, k.par, k.minimum, coalesce(sum(h.qty), 0)
FROM bag b JOIN kit_line k ON k.list = b.kit_list AND k.version = b.kit_list_version
LEFT JOIN (SELECT x.place, t.item, x.qty FROM balance x JOIN batch t ON t.id = x.batch_id
    WHERE t.last_usable IS NULL OR t.last_usable >= '%s') h ON h.place = b.code AND h.item = k.item
GROUP BY b.code, k.line HAVING coalesce(sum(h.qty), 0) < k.par ORDER BY b.code, k.line`

// report compares the report of everything with the rows alone, by SQLite in C as a process of its own.
func (b *bench) report(ctx context.Context) (float64, error) {
	engine, err := exec.LookPath("sqlite3")
	if err != nil {
		return 0, fmt.Errorf("%w: install sqlite3", errCannot)
	}
	if err := judged(ctx, b.large); err != nil {
		return 0, err
	}
	return against(5, timed(func() error {
		_, err := b.many.get(ctx, "/api/v1/reports/shortages")
		return err
	}), timed(func() error {
		_, err := exec.CommandContext(ctx, engine, "-readonly", b.large.file, // #nosec G204 -- a tool
			fmt.Sprintf(shortLines, b.large.day)).Output()
		return err
	}))
}

// judged waits until what each bag of a service is judged to be is kept.
func judged(ctx context.Context, s *service) error {
	db, err := sql.Open(prepared.Driver, "file:"+s.file+"?_pragma=query_only(1)")
	if err != nil {
		return err
	}
	defer db.Close()
	for left := 1; ; time.Sleep(time.Second / 4) {
		err := db.QueryRowContext(ctx, "SELECT count(*) FROM bag b LEFT JOIN kept k ON k.bag = b.code WHERE k.until IS NULL").
			Scan(&left)
		if err != nil || left == 0 {
			return err
		}
	}
}

// reportOfMore compares the report of ten times the bags, as many short, with that of the large service.
func (b *bench) reportOfMore(ctx context.Context) (float64, error) {
	huge, err := b.more(ctx)
	if err != nil {
		return 0, err
	}
	most, err := b.served(ctx, huge)
	if err != nil {
		return 0, err
	}
	defer func() { _ = most.stop() }()
	if err := errors.Join(judged(ctx, huge), judged(ctx, b.large)); err != nil {
		return 0, err
	}
	return ofPage(ctx, 3, most, b.many, "/api/v1/reports/shortages")
}

const linesOfBag = `SELECT k.item, k.pouch, k.par, k.minimum, coalesce(h.lot_id, 0), coalesce(h.qty, 0),
    coalesce(h.batch_no, ''), coalesce(h.last_usable, '')
FROM bag b JOIN kit_line k ON k.list = b.kit_list AND k.version = b.kit_list_version
LEFT JOIN (SELECT x.lot_id, x.qty, t.item, t.batch_no, t.last_usable
    FROM balance x JOIN batch t ON t.id = x.batch_id WHERE x.place = ?1) h ON h.item = k.item
WHERE b.code = ?1 ORDER BY k.line, h.lot_id`

func (b *bench) bag(ctx context.Context) (float64, error) {
	db, err := sql.Open(prepared.Driver, "file:"+b.large.file+"?_pragma=query_only(1)")
	if err != nil {
		return 0, err
	}
	defer db.Close()
	bag := bagCode(0, 3)
	return against(50, timed(func() error {
		_, err := b.many.get(ctx, "/b/"+bag)
		return err
	}), timed(func() error { return scanAll(ctx, db, io.Discard, linesOfBag, bag) }))
}

// scanAll reads what a query finds, and writes it somewhere.
func scanAll(ctx context.Context, db *sql.DB, to io.Writer, query string, args ...any) error {
	rows, err := db.QueryContext(ctx, query, args...)
	if err != nil {
		return err
	}
	defer rows.Close()
	columns, err := rows.Columns()
	if err != nil {
		return err
	}
	values, into := make([]sql.RawBytes, len(columns)), make([]any, len(columns))
	for i := range values {
		into[i] = &values[i]
	}
	for rows.Next() {
		if err := rows.Scan(into...); err != nil {
			return err
		}
		for _, v := range values {
			if _, err := to.Write(v); err != nil {
				return err
			}
		}
	}
	return rows.Err()
}

// pickList is of the first bag, which is short.
func (b *bench) pickList(ctx context.Context) (float64, error) {
	return ofPage(ctx, 15, b.many, b.few, "/api/v1/bags/"+bagCode(0, 0)+"/pick-list")
}

func page(path string) func(*bench, context.Context) (float64, error) {
	return func(b *bench, ctx context.Context) (float64, error) { return ofPage(ctx, 15, b.many, b.few, path) }
}

// ofPage compares what two services take for the same page.
func ofPage(ctx context.Context, times int, one, other *served, path string) (float64, error) {
	of := func(p *served) func() (time.Duration, error) {
		return timed(func() error {
			_, err := p.get(ctx, path)
			return err
		})
	}
	return against(times, of(one), of(other))
}

// chained are the tables whose rows are in chains and weigh most.
var chained = []string{"movement", "history_entry", "balance", "batch", "lot", "kit_line", "bag"}

func (b *bench) verify(ctx context.Context) (float64, error) {
	huge, err := b.more(ctx)
	if err != nil {
		return 0, err
	}
	db, err := sql.Open(prepared.Driver, "file:"+huge.file+"?_pragma=query_only(1)")
	if err != nil {
		return 0, err
	}
	defer db.Close()
	return against(1, timed(func() error { // once, since either side takes a while
		return exec.CommandContext(ctx, b.Program, "verify", "--db", huge.file).Run() // #nosec G204 -- itself
	}), timed(func() error {
		sum := sha256.New()
		for _, table := range chained {
			if err := scanAll(ctx, db, sum, "SELECT * FROM "+table); err != nil { // #nosec G202 -- of the list above
				return err
			}
		}
		return nil
	}))
}

// start compares a start on a copy of the database with ten times the bags with one on a new one, from the command to
// the first answer.
func (b *bench) start(ctx context.Context) (float64, error) {
	huge, err := b.more(ctx)
	if err != nil {
		return 0, err
	}
	file, err := b.copyOf(ctx, huge.file, "start.db")
	if err != nil {
		return 0, err
	}
	began := func(file string) func() (time.Duration, error) {
		return func() (time.Duration, error) {
			began := time.Now()
			p, err := serve(ctx, b.Program, file)
			if err != nil {
				return 0, err
			}
			_, err = p.get(ctx, "/readyz")
			took := time.Since(began)
			return took, errors.Join(err, p.stop())
		}
	}
	empty := filepath.Join(b.folder, "empty.db")
	if _, err := began(empty)(); err != nil { // which makes it
		return 0, err
	}
	return against(5, began(file), began(empty))
}

func (b *bench) labels(context.Context) (float64, error) {
	list := make([]labels.Label, 1000)
	addresses := make([]string, len(list))
	for n := range list {
		addresses[n] = "https://kit.example.org/b/" + bagCode(n/100, n%100)
		list[n] = labels.Bag{Code: bagCode(n/100, n%100), Name: "Bag", Address: addresses[n]}
	}
	sheet, err := labels.SheetByName("a4-3x7")
	if err != nil {
		return 0, err
	}
	return against(15, timed(func() error {
		_, err := labels.WritePDF(io.Discard, sheet, list, labels.Options{})
		return err
	}), timed(func() error {
		for _, a := range addresses {
			q, err := qrcode.New(a, qrcode.Medium)
			if err != nil {
				return err
			}
			q.Bitmap()
		}
		return nil
	}))
}

// memory is the peak of the process that has served all the rest.
func (b *bench) memory(context.Context) (float64, error) {
	status, err := os.ReadFile("/proc/" + strconv.Itoa(b.many.cmd.Process.Pid) + "/status")
	if err != nil {
		return 0, fmt.Errorf("%w: there is no /proc", errCannot)
	}
	for line := range strings.Lines(string(status)) {
		if kb, is := strings.CutPrefix(line, "VmHWM:"); is {
			n, err := strconv.Atoi(strings.Fields(kb)[0])
			return float64(n) / 1024 / 150, err
		}
	}
	return 0, errCannot
}
