package store

import (
	"cmp"
	"context"
	"database/sql"
	"slices"
	"strconv"
	"strings"

	"stowkeeper/inventory"
	"stowkeeper/inventory/store/sqltext"
)

// bind turns ? into $1, $2 … for PostgreSQL. Our texts have no other ?.
func (s *database) bind(text string) string {
	if s.engine == SQLite || !strings.Contains(text, "?") {
		return text
	}
	var b strings.Builder
	b.Grow(len(text) + 16)
	n := 0
	for _, part := range strings.SplitAfter(text, "?") {
		before, found := strings.CutSuffix(part, "?")
		b.WriteString(before)
		if found {
			n++
			b.WriteString("$" + strconv.Itoa(n))
		}
	}
	return b.String()
}

// exec runs a statement and returns how many rows it touched. What it changes of facts is noted.
func (u *unit) exec(text string, args ...any) (int64, error) {
	if t := u.s.changes(text); t != nil {
		return u.execNoting(t, text, args)
	}
	return u.quietly(text, args...)
}

// quietly runs a statement that changes nothing which is a fact.
func (u *unit) quietly(text string, args ...any) (int64, error) {
	res, err := u.tx.ExecContext(u.ctx, u.s.bind(text), args...)
	if err != nil {
		return 0, err
	}
	return res.RowsAffected()
}

// each runs a query and calls scan on each row.
func (u *unit) each(text string, args []any, scan func(*sql.Rows) error) error {
	return eachRow(u.ctx, u.tx, u.s.bind(text), args, scan)
}

func eachRow(ctx context.Context, tx *sql.Tx, text string, args []any, scan func(*sql.Rows) error) error {
	rows, err := tx.QueryContext(ctx, text, args...)
	if err != nil {
		return err
	}
	defer rows.Close()
	for rows.Next() {
		if err := scan(rows); err != nil {
			return err
		}
	}
	return rows.Err()
}

// eachOf runs a query whose last condition is IN ?, in parts where there are many values, and calls scan on each row.
func eachOf[T any](u *unit, text string, args []any, values []T, scan func(*sql.Rows) error) error {
	for _, part := range chunks(values, 10000) {
		text := strings.Replace(text, "IN ?", "IN "+sqltext.Marks(len(part)), 1)
		if err := u.each(text, slices.Concat(args, sqltext.Args(part)), scan); err != nil {
			return err
		}
	}
	return nil
}

// collect runs a query and turns its rows into values. places says where the columns of a row go in one.
func collect[V any](r reader, op, text string, args []any, places func(*V) []any) ([]V, error) {
	var out []V
	err := r.each(text, args, func(rows *sql.Rows) error {
		var v V
		err := rows.Scan(places(&v)...)
		out = append(out, v)
		return err
	})
	return out, failure(op, "", err)
}

// where gathers the conditions of a query.
type where struct {
	conds string
	args  []any
}

func (w *where) and(cond string, args ...any) {
	if w.conds != "" {
		w.conds += " AND "
	}
	w.conds += cond
	w.args = append(w.args, args...)
}

// when adds a condition that is asked for.
func (w *where) when(asked bool, cond string) {
	if asked {
		w.and(cond)
	}
}

// given adds a condition on a value, each ? of it, where there is a value.
func given[T comparable](w *where, cond string, value T) {
	var none T
	if value != none {
		w.and(cond, slices.Repeat([]any{value}, strings.Count(cond, "?"))...)
	}
}

// among adds a condition on values, each IN ? of it, where there are any.
func among[T any](w *where, cond string, values []T) {
	if len(values) > 0 {
		w.and(strings.ReplaceAll(cond, "IN ?", "IN "+sqltext.Marks(len(values))),
			slices.Repeat(sqltext.Args(values), strings.Count(cond, "IN ?"))...)
	}
}

func (w where) String() string {
	if w.conds == "" {
		return ""
	}
	return " WHERE " + w.conds
}

// only returns the one thing of a list, which is not there where that is empty.
func only[T any](list []T, err error, thing string) (none T, _ error) {
	if err == nil && len(list) == 0 {
		err = notFound(thing)
	}
	if err != nil {
		return none, err
	}
	return list[0], nil
}

// listKey says by what a list is ordered.
type listKey struct {
	column       string
	byID, newest bool
}

var (
	byCode   = listKey{column: "code"}
	byID     = listKey{column: "id", byID: true}
	newestID = listKey{column: "id", byID: true, newest: true}
)

// page adds the part of a list that a page asks for, and returns its order and how many there may be, -1 for all.
func (w *where) page(p inventory.Page, key listKey) (order string, limit int, err error) {
	compare, order := " > ?", key.column
	if key.newest {
		compare, order = " < ?", key.column+" DESC"
	}
	if p.After != "" {
		var after any = p.After
		if key.byID {
			if after, err = strconv.ParseInt(p.After, 10, 64); err != nil {
				return "", 0, inventory.InvalidField("cursor", "start again from the first page")
			}
		}
		w.and(key.column+compare, after)
	}
	return order, cmp.Or(p.Limit, -1), nil
}

// tail is page for a query that is written out: all that comes after its conditions.
func (w *where) tail(p inventory.Page, key listKey) (string, error) {
	order, limit, err := w.page(p, key)
	if limit > 0 {
		order += " LIMIT " + strconv.Itoa(limit)
	}
	return " ORDER BY " + order, err
}

// chunks cuts values so that no statement has too many parameters: 32,766 is SQLite's limit and 65,535 PostgreSQL's.
func chunks[T any](values []T, size int) [][]T { return slices.Collect(slices.Chunk(values, size)) }
