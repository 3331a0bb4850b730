package store

import (
	"database/sql/driver"
	"encoding/json"
	"fmt"
	"strings"
	"time"

	"stowkeeper/inventory"
)

// day is how a Day stands in a column: TEXT as YYYY-MM-DD on SQLite, DATE on
// PostgreSQL. No day is NULL.
type day inventory.Day

// Value writes the day as text, which both engines take.
func (d day) Value() (driver.Value, error) {
	if d == 0 {
		return nil, nil
	}
	return inventory.Day(d).String(), nil
}

// Scan reads what either driver returns.
func (d *day) Scan(src any) error {
	*d = 0
	switch v := src.(type) {
	case nil:
		return nil
	case string:
		return d.parse(v)
	case []byte:
		return d.parse(string(v))
	case time.Time:
		y, m, n := v.Date()
		parsed, err := inventory.NewDay(y, m, n)
		*d = day(parsed)
		return err
	}
	return fmt.Errorf("a day cannot be read from %T", src)
}

func (d *day) parse(s string) error {
	parsed, err := inventory.ParseDay(s)
	*d = day(parsed)
	return err
}

// instantLayout has a fixed width, so that instants sort as texts.
const instantLayout = "2006-01-02T15:04:05.000000Z"

// instant is how an Instant stands in a column: TEXT of fixed width in UTC on
// SQLite, TIMESTAMPTZ on PostgreSQL. No instant is NULL.
type instant inventory.Instant

// Value writes the instant as text, which both engines take.
func (i instant) Value() (driver.Value, error) {
	if i == 0 {
		return nil, nil
	}
	return inventory.Instant(i).Time().Format(instantLayout), nil
}

// Scan reads what either driver returns.
func (i *instant) Scan(src any) error {
	*i = 0
	switch v := src.(type) {
	case nil:
		return nil
	case string:
		return i.parse(v)
	case []byte:
		return i.parse(string(v))
	case time.Time:
		*i = instant(inventory.InstantOf(v))
		return nil
	}
	return fmt.Errorf("an instant cannot be read from %T", src)
}

func (i *instant) parse(s string) error {
	t, err := time.Parse(instantLayout, s)
	if err != nil {
		return fmt.Errorf("an instant is not in its stored form")
	}
	*i = instant(inventory.InstantOf(t))
	return nil
}

// ref is a reference to a row by id; none, which is 0, is NULL.
type ref int64

// Value writes the id.
func (r ref) Value() (driver.Value, error) {
	if r == 0 {
		return nil, nil
	}
	return int64(r), nil
}

// Scan reads an id.
func (r *ref) Scan(src any) error {
	switch v := src.(type) {
	case nil:
		*r = 0
	case int64:
		*r = ref(v)
	default:
		return fmt.Errorf("an id cannot be read from %T", src)
	}
	return nil
}

// code is a reference to a row by its code, or another text that must be
// unique where there is one; none, which is empty, is NULL.
type code string

// Value writes the code.
func (c code) Value() (driver.Value, error) {
	if c == "" {
		return nil, nil
	}
	return string(c), nil
}

// Scan reads a code.
func (c *code) Scan(src any) error {
	switch v := src.(type) {
	case nil:
		*c = ""
	case string:
		*c = code(v)
	case []byte:
		*c = code(v)
	default:
		return fmt.Errorf("a code cannot be read from %T", src)
	}
	return nil
}

// document is a value kept as JSON, TEXT on SQLite and JSONB on PostgreSQL.
// None is NULL.
type document[T any] struct{ of *T }

// Value writes the document.
func (d document[T]) Value() (driver.Value, error) {
	if d.of == nil {
		return nil, nil
	}
	b, err := json.Marshal(d.of)
	return string(b), err
}

// Scan reads a document.
func (d *document[T]) Scan(src any) error {
	d.of = nil
	b, err := documentText(src)
	if err != nil || b == nil {
		return err
	}
	d.of = new(T)
	return json.Unmarshal(b, d.of)
}

func documentText(src any) ([]byte, error) {
	switch v := src.(type) {
	case nil:
		return nil, nil
	case string:
		return []byte(v), nil
	case []byte:
		return v, nil
	}
	return nil, fmt.Errorf("a document cannot be read from %T", src)
}

// lines is a list kept as one JSON document. An empty list is [] and is read
// as nil.
type lines[T any] []T

// Value writes the document.
func (l lines[T]) Value() (driver.Value, error) {
	if len(l) == 0 {
		return "[]", nil
	}
	b, err := json.Marshal([]T(l))
	return string(b), err
}

// Scan reads a document.
func (l *lines[T]) Scan(src any) error {
	*l = nil
	b, err := documentText(src)
	if err != nil || b == nil {
		return err
	}
	var list []T
	if err := json.Unmarshal(b, &list); err != nil {
		return fmt.Errorf("read a document: %w", err)
	}
	if len(list) > 0 {
		*l = list
	}
	return nil
}

// references are texts in one column, each ended by the unit separator, which
// no text of ours holds. The usual case, none, costs nothing to read.
type references []string

const separator = "\x1f"

// Value writes the texts.
func (r references) Value() (driver.Value, error) {
	if len(r) == 0 {
		return "", nil
	}
	return strings.Join(r, separator) + separator, nil
}

// Scan reads the texts.
func (r *references) Scan(src any) error {
	var s string
	switch v := src.(type) {
	case string:
		s = v
	case []byte:
		s = string(v)
	default:
		return fmt.Errorf("references cannot be read from %T", src)
	}
	*r = nil
	if s != "" {
		*r = strings.Split(strings.TrimSuffix(s, separator), separator)
	}
	return nil
}
