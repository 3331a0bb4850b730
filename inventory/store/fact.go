package store

import (
	"context"
	"database/sql"
	"strings"

	"stowkeeper/inventory"
	"stowkeeper/inventory/store/fact"
)

// readSchema learns from the schema which tables and columns hold facts. A table that is new is one.
func (s *database) readSchema(ctx context.Context) error {
	s.facts = fact.Schema{}
	return s.Read(ctx, func(_ context.Context, r inventory.Reader) error {
		return r.(recalling).each(fact.SchemaQueries[s.engine], nil, func(rows *sql.Rows) error {
			var table, column, kind string
			var key int
			if err := rows.Scan(&table, &column, &kind, &key); err != nil {
				return err
			}
			s.entering = s.entering || table == "entering"
			s.facts.Learn(table, column, kind, key)
			return nil
		})
	})
}

// noted is something that a unit of work did, in order: an entry of the history, or a row that became so.
type noted struct {
	entry   *inventory.HistoryEntry
	table   *fact.Table
	key     string
	said    any       // of the row: its form, the sum of that, or nothing where it was deleted
	places  [2]string // whose owner's chain it belongs to, or else …
	station string    // … whose chain; empty for a row that goes with another
}

// note notes how a row became.
func (u *unit) note(t *fact.Table, row map[string]any, gone bool) error {
	key, form, err := t.Form(row, u.number)
	n := noted{table: t, key: key, said: inventory.FixedForm(form)}
	if t.BySum {
		n.said = inventory.SumOf(form)
	}
	if gone {
		n.said = nil
	}
	n.places[0], n.station = t.Where(row)
	if t.Name == "place" {
		u.owners[row["code"].(string)] = n.station
	}
	u.log = append(u.log, n)
	return err
}

// execNoting runs a statement that changes facts, and notes how the rows became.
func (u *unit) execNoting(t *fact.Table, text string, args []any) (int64, error) {
	var changed []map[string]any
	err := u.each(text+" RETURNING *", args, func(rows *sql.Rows) error {
		row, err := scanRow(rows)
		changed = append(changed, row)
		return err
	})
	for _, row := range changed {
		u.touched.Row(t.Name, row, false)
		if err == nil {
			err = u.note(t, row, strings.HasPrefix(text, "DELETE"))
		}
	}
	return int64(len(changed)), err
}

// scanRow reads a row as it comes.
func scanRow(rows *sql.Rows) (map[string]any, error) {
	names, err := rows.Columns()
	if err != nil {
		return nil, err
	}
	values, into := make([]any, len(names)), make([]any, len(names))
	for i := range values {
		into[i] = &values[i]
	}
	err = rows.Scan(into...)
	row := make(map[string]any, len(names))
	for i, name := range names {
		row[name] = values[i]
	}
	return row, err
}

// changes returns the table of facts that a statement changes, if any.
func (s *database) changes(text string) *fact.Table {
	verb, rest, _ := strings.Cut(text, " ")
	switch verb {
	case "INSERT", "DELETE":
		_, rest, _ = strings.Cut(rest, " ")
	case "UPDATE":
	default:
		return nil
	}
	name, _, _ := strings.Cut(rest, " ")
	if t := s.facts[name]; t != nil && name != "history_entry" && name != "balance" && name != "movement" {
		return t
	}
	return nil
}
