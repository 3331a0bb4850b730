package whole

import (
	"context"
	"database/sql"
	"fmt"
	"io"
	"slices"
	"strconv"
	"strings"

	"stowkeeper/inventory"
	"stowkeeper/inventory/store"
	"stowkeeper/inventory/store/migrations"
)

// What goes into a database with one statement: so many values, and so many bytes of what is long. SQLite's driver
// takes longer with each value of a statement.
const bytesAtOnce = 1 << 20

var valuesAtOnce = map[string]int{migrations.SQLite: 50, migrations.Postgres: 4000}

// Fill puts what Write wrote into an empty database, in one unit of work: until it ends nobody sees anything of it, and
// where anything fails nothing is left. in is opened, again for another try. confirm is called with the context of that
// unit of work when all is there: its error undoes all. Refuses: Invalid (damaged, of another version of the schema, or
// a database that is not empty), and what confirm refuses.
func Fill(ctx context.Context, to inventory.Store, in func() (io.ReadCloser, error),
	confirm func(context.Context, Header) error) (end Trailer, err error) {
	err = to.Write(ctx, func(ctx context.Context, w inventory.Writer) error {
		from, err := in()
		if err != nil {
			return err
		}
		defer from.Close()
		r, err := open(from)
		if err != nil {
			return err
		}
		f := &filling{ctx: ctx, tx: store.Tx(ctx), engine: to.Engine(), reading: r}
		if err := f.all(); err != nil {
			return err
		}
		end = r.End
		heads, err := w.Heads()
		if err != nil {
			return err
		}
		if !slices.Equal(spelt(heads), spelt(r.Begin.Chains)) {
			return errDamaged(fmt.Errorf("the chains end elsewhere"))
		}
		return confirm(ctx, r.Begin)
	})
	return end, err
}

func spelt(heads []inventory.Head) (out []string) {
	for _, h := range heads {
		out = append(out, h.String())
	}
	return out
}

// filling is a database that is being filled.
type filling struct {
	*reading
	ctx    context.Context
	tx     *sql.Tx
	engine string
	tables []*table
	filled int // tables

	values []any // of the rows that wait
	size   int   // theirs in bytes
}

func (f *filling) all() (err error) {
	if f.tables, err = tables(f.ctx, f.tx, f.engine); err != nil {
		return err
	}
	have, err := version(f.ctx, f.tx)
	if err != nil {
		return err
	}
	if have != f.Begin.Schema {
		return refused("file", fmt.Sprintf("its schema has version %d, this program's %d: export it again "+
			"with the program that you import it with", f.Begin.Schema, have))
	}
	if err := f.alone(); err != nil {
		return err
	}
	if err := f.isEmpty(); err != nil {
		return err
	}
	return first(f.clear, func() error { return f.each(f.begin, f.row) }, f.whole, f.flush, f.settle, f.gaps)
}

func first(steps ...func() error) error {
	for _, step := range steps {
		if err := step(); err != nil {
			return err
		}
	}
	return nil
}

func (f *filling) exec(query string, args ...any) error {
	_, err := f.tx.ExecContext(f.ctx, query, args...)
	return err
}

// alone keeps others out until the end; SQLite has one writer anyway.
func (f *filling) alone() error {
	if f.engine == migrations.SQLite {
		return f.exec("PRAGMA defer_foreign_keys = ON")
	}
	for _, b := range backward(f.tables) {
		err := f.exec(`ALTER TABLE "` + b[0] + `" ALTER CONSTRAINT "` + b[1] + `" DEFERRABLE INITIALLY DEFERRED`)
		if err != nil {
			return err
		}
	}
	return f.exec("LOCK TABLE " + quoted(f.names()) + " IN ACCESS EXCLUSIVE MODE")
}

func (f *filling) names() (out []string) {
	for _, t := range f.tables {
		out = append(out, t.Name)
	}
	return out
}

// isEmpty refuses a database in which anything was recorded: every fact has an entry in the history. A new one has that
// of its own first rows.
func (f *filling) isEmpty() error {
	var n int
	err := f.tx.QueryRowContext(f.ctx, "SELECT (SELECT count(*) FROM history_entry WHERE kind <> '"+
		string(inventory.HistoryEnteredLate)+"') + (SELECT count(*) FROM station) + (SELECT count(*) FROM item) + "+
		"(SELECT count(*) FROM person)").Scan(&n)
	if err == nil && n > 0 {
		err = refused("db", "choose an empty database: this one holds records, and nothing is overwritten")
	}
	return err
}

func (f *filling) clear() error {
	if f.engine == migrations.Postgres {
		return f.exec("TRUNCATE " + quoted(f.names()) + ", session, kept")
	}
	names := append(f.names(), "session", "kept")
	slices.Reverse(names)
	for _, name := range names {
		if err := f.exec(`DELETE FROM "` + name + `"`); err != nil {
			return err
		}
	}
	return nil
}

// begin takes the next table, which has to be the next here.
func (f *filling) begin(t *table) error {
	if err := f.flush(); err != nil {
		return err
	}
	if f.filled == len(f.tables) || !t.same(f.tables[f.filled]) {
		return errDamaged(fmt.Errorf("table %q is not the one that comes next", t.Name))
	}
	f.filled++
	return nil
}

// whole refuses where tables are missing.
func (f *filling) whole() error {
	if f.filled < len(f.tables) {
		return errDamaged(fmt.Errorf("table %q is missing", f.tables[f.filled].Name))
	}
	return nil
}

func (f *filling) row(t *table, values []any) error {
	for i, v := range values {
		switch v := v.(type) {
		case string:
			f.size += len(v)
		case []byte:
			f.size += len(v)
		case bool:
			if f.engine == migrations.SQLite {
				values[i] = int64(map[bool]int{true: 1}[v])
			}
		}
	}
	f.values = append(f.values, values...)
	if len(f.values)+len(values) <= valuesAtOnce[f.engine] && f.size < bytesAtOnce {
		return nil
	}
	return f.flush()
}

// flush inserts the rows that wait.
func (f *filling) flush() error {
	if len(f.values) == 0 {
		return nil
	}
	t := f.tables[f.filled-1]
	var q strings.Builder
	q.WriteString(`INSERT INTO "` + t.Name + `" (` + t.list() + ")")
	if t.counter != "" {
		q.WriteString(" OVERRIDING SYSTEM VALUE")
	}
	q.WriteString(" VALUES ")
	for i := range f.values {
		switch {
		case i == 0:
			q.WriteString("(")
		case i%len(t.Columns) == 0:
			q.WriteString("), (")
		default:
			q.WriteString(", ")
		}
		q.WriteString("$" + strconv.Itoa(i+1))
	}
	q.WriteString(")")
	err := f.exec(q.String(), f.values...)
	f.values, f.size = f.values[:0], 0
	if err != nil {
		return fmt.Errorf("fill %s: %w", t.Name, err)
	}
	return nil
}

// settle has the engine check what it left for the end, and go on with its numbers where those that came end.
func (f *filling) settle() error {
	if f.engine == migrations.SQLite {
		return nil // it checks when the unit ends, and numbers after the last row by itself
	}
	if err := f.exec("SET CONSTRAINTS ALL IMMEDIATE"); err != nil {
		return err
	}
	for _, b := range backward(f.tables) {
		if err := f.exec(`ALTER TABLE "` + b[0] + `" ALTER CONSTRAINT "` + b[1] + `" NOT DEFERRABLE`); err != nil {
			return err
		}
	}
	for _, t := range f.tables {
		if t.counter == "" {
			continue
		}
		var last int64
		query := fmt.Sprintf(`SELECT coalesce(max("%s"), 0) FROM "%s"`, t.counter, t.Name) // #nosec G201 -- of our own schema
		err := f.tx.QueryRowContext(f.ctx, query).Scan(&last)
		if err == nil {
			err = f.exec(fmt.Sprintf(`ALTER TABLE "%s" ALTER COLUMN "%s" RESTART WITH %d`, t.Name, t.counter, last+1))
		}
		if err != nil {
			return err
		}
	}
	return f.exec("ANALYZE") // so that what follows is planned by what is there now
}

// gaps notes how many movements' numbers PostgreSQL left out, since SQLite leaves none out.
func (f *filling) gaps() error {
	if f.engine != migrations.SQLite || f.Begin.Engine == migrations.SQLite {
		return nil
	}
	return f.exec("UPDATE service SET gaps = (SELECT coalesce(max(id), 0) - count(*) FROM movement)")
}
