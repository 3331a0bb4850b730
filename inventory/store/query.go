package store

import (
	"context"
	"database/sql"
	"strconv"
	"strings"

	"gorm.io/gorm"

	"stowkeeper/inventory"
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

// exec runs a statement and returns how many rows it touched.
func (u *unit) exec(text string, args ...any) (int64, error) {
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

// where gathers the conditions of a query.
type where struct {
	text strings.Builder
	args []any
}

func (w *where) and(cond string, args ...any) {
	if w.text.Len() == 0 {
		w.text.WriteString(" WHERE ")
	} else {
		w.text.WriteString(" AND ")
	}
	w.text.WriteString(cond)
	w.args = append(w.args, args...)
}

// is adds column = value, where there is a value.
func is[T comparable](w *where, column string, value T) {
	var none T
	if value != none {
		w.and(column+" = ?", value)
	}
}

// within adds column IN (values), where there are any.
func within[T any](w *where, column string, values []T) {
	if len(values) > 0 {
		w.and(column+" IN "+marks(len(values)), anys(values)...)
	}
}

func (w *where) String() string { return w.text.String() }

// marks returns (?, ?, …).
func marks(n int) string { return "(" + strings.Repeat("?, ", n-1) + "?)" }

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

// anys turns values into arguments.
func anys[T any](values []T) []any {
	out := make([]any, len(values))
	for i, v := range values {
		out[i] = v
	}
	return out
}

// after adds the part of a list that a page asks for and returns its order
// and limit. column is the key of the list.
func (w *where) after(p inventory.Page, column string, byID, newest bool) (string, error) {
	compare, order := " > ?", ""
	if newest {
		compare, order = " < ?", " DESC"
	}
	if p.After != "" {
		key, err := pageKey(p.After, byID)
		if err != nil {
			return "", err
		}
		w.and(column+compare, key)
	}
	tail := " ORDER BY " + column + order
	if p.Limit > 0 {
		tail += " LIMIT " + strconv.Itoa(p.Limit)
	}
	return tail, nil
}

func pageKey(after string, byID bool) (any, error) {
	if !byID {
		return after, nil
	}
	id, err := strconv.ParseInt(after, 10, 64)
	if err != nil {
		return nil, inventory.Invalidf("cursor", "give the next_cursor of the page before")
	}
	return id, nil
}

// pageOf is after for a gorm query.
func pageOf(q *gorm.DB, p inventory.Page, column string, byID, newest bool) (*gorm.DB, error) {
	var w where
	if _, err := w.after(p, column, byID, newest); err != nil {
		return nil, err
	}
	if len(w.args) > 0 {
		q = q.Where(strings.TrimPrefix(w.String(), " WHERE "), w.args...)
	}
	if newest {
		column += " DESC"
	}
	if p.Limit > 0 {
		q = q.Limit(p.Limit)
	}
	return q.Order(column), nil
}

// chunks cuts values so that no statement has too many parameters: 32,766 is
// SQLite's limit and 65,535 PostgreSQL's.
func chunks[T any](values []T, size int) [][]T {
	var out [][]T
	for len(values) > size {
		out = append(out, values[:size])
		values = values[size:]
	}
	if len(values) > 0 {
		out = append(out, values)
	}
	return out
}
