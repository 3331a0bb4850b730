// Package whole carries a whole service, every row of every table, out of one database and into another that is empty,
// of either engine. What goes between is text, a line each:
//
//	{"stowkeeper":"whole service","format":1,"schema":25,"engine":"sqlite",…,"chains":[…]}
//	{"table":"item","columns":["code",…],"kinds":["text",…]}       before the rows of each table
//	["SPLINT",…]                                                    a row, its values by column
//	{"end":true,"rows":{"item":1,…},"sha256":"…"}                   the last line; the sum is over all before it
//
// Kinds are integer, text, truth (true or false), document (JSON, in an array of its own, which tells it from a value
// that is missing), day (2027-06-14), instant (2027-06-14T07:30:00.000000Z) and bytes (base64). Lines and keys have
// one order and one spelling, so that both engines write the same of the same rows.
package whole

import (
	"bufio"
	"context"
	"crypto/sha256"
	"database/sql"
	"encoding/base64"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"hash"
	"io"
	"strings"
	"time"
	"unicode/utf8"

	"stowkeeper/inventory"
	"stowkeeper/inventory/store"
	"stowkeeper/inventory/store/fact"
)

const (
	what    = "whole service"
	format  = 1
	warning = "Secret: this file holds names and everything that PINs, passwords, tokens and terminals are checked " +
		"against. Keep it as safe as the database."
)

// Header is the first line.
type Header struct {
	What    string            `json:"stowkeeper"`
	Format  int               `json:"format"`
	Schema  int64             `json:"schema"` // version
	Engine  string            `json:"engine"`
	MadeAt  inventory.Instant `json:"made_at"`
	Warning string            `json:"warning"`
	Chains  []inventory.Head  `json:"chains"`
}

// Trailer is the last line.
type Trailer struct {
	End  bool           `json:"end"`
	Rows map[string]int `json:"rows"` // by table
	Sum  string         `json:"sha256"`
}

// Total is how many rows there are.
func (t Trailer) Total() (n int) {
	for _, rows := range t.Rows {
		n += rows
	}
	return n
}

// lines writes lines, and sums them up.
type lines struct {
	out *bufio.Writer
	sum hash.Hash
}

func (l lines) put(v any) error {
	line, err := spelled(v)
	if err != nil {
		return err
	}
	l.sum.Write(line)
	_, err = l.out.Write(line)
	return err
}

// spelled is a value as a line in the one spelling that it has.
func spelled(v any) ([]byte, error) {
	var b strings.Builder
	e := json.NewEncoder(&b)
	e.SetEscapeHTML(false)
	err := e.Encode(v)
	return []byte(b.String()), err
}

// Write writes all that a store holds as one snapshot shows it. first is called with the context of that snapshot, so
// that what it reads is what is written; its error is returned, before anything is written.
func Write(ctx context.Context, from inventory.Store, at inventory.Instant, out io.Writer,
	first func(context.Context) error) (Trailer, error) {
	end := Trailer{End: true, Rows: map[string]int{}}
	err := from.Read(ctx, func(ctx context.Context, r inventory.Reader) error {
		if err := first(ctx); err != nil {
			return err
		}
		tx := store.Tx(ctx)
		h := Header{What: what, Format: format, Engine: from.Engine(), MadeAt: at, Warning: warning}
		var err error
		if h.Schema, err = version(ctx, tx); err != nil {
			return err
		}
		if h.Chains, err = r.Heads(); err != nil {
			return err
		}
		l := lines{bufio.NewWriterSize(out, 1<<16), sha256.New()}
		if err := l.put(h); err != nil {
			return err
		}
		all, err := tables(ctx, tx, from.Engine())
		for _, t := range all {
			if err == nil {
				end.Rows[t.Name], err = l.table(ctx, tx, t)
			}
		}
		if err != nil {
			return err
		}
		end.Sum = hex.EncodeToString(l.sum.Sum(nil))
		if err := l.put(end); err != nil {
			return err
		}
		return l.out.Flush()
	})
	return end, err
}

// table writes a table, by its key.
func (l lines) table(ctx context.Context, tx *sql.Tx, t *table) (n int, err error) {
	if err := l.put(t); err != nil {
		return 0, err
	}
	query := "SELECT " + t.list() + " FROM " + quoted([]string{t.Name})
	if len(t.key) > 0 {
		query += " ORDER BY " + quoted(t.key)
	}
	values, into := make([]any, len(t.Columns)), make([]any, len(t.Columns))
	for i := range values {
		into[i] = &values[i]
	}
	err = each(ctx, tx, query, func(rows *sql.Rows) error {
		if err := rows.Scan(into...); err != nil {
			return err
		}
		n++
		for i, kind := range t.Kinds {
			if values[i], err = said(kind, values[i]); err != nil {
				return fmt.Errorf("%s.%s, row %d: %w", t.Name, t.Columns[i], n, err)
			}
		}
		return l.put(values)
	})
	return n, err
}

// said is a value of the database as it is written.
func said(kind string, v any) (any, error) {
	switch v := v.(type) {
	case nil, bool:
		return v, nil
	case int64:
		if kind == truth {
			return v != 0, nil
		}
		return v, nil
	case time.Time:
		if kind == day {
			return v.Format(time.DateOnly), nil
		}
		return v.UTC().Format(fact.InstantLayout), nil
	case []byte:
		if kind == bytes {
			return base64.StdEncoding.EncodeToString(v), nil
		}
		return said(kind, string(v))
	case string:
		if kind == document {
			return plain(v)
		}
		if !utf8.ValidString(v) {
			return nil, fmt.Errorf("it is no text in UTF-8")
		}
		return v, nil
	}
	return nil, fmt.Errorf("%T cannot be written", v)
}

// plain is a document whose keys are in order.
func plain(written string) (any, error) {
	d := json.NewDecoder(strings.NewReader(written))
	d.UseNumber()
	v := make([]any, 1)
	err := d.Decode(&v[0])
	return v, err
}
