package store

import (
	"database/sql/driver"
	"encoding/json"
	"errors"
	"fmt"
	"strings"
	"time"

	"stowkeeper/inventory"
	"stowkeeper/inventory/message"
	"stowkeeper/inventory/store/fact"
)

// day is how a Day stands in a column: TEXT as YYYY-MM-DD on SQLite, DATE on PostgreSQL. No day is NULL.
type day inventory.Day

// Value writes the day as text, which both engines take.
func (d day) Value() (driver.Value, error) {
	if d == 0 {
		return nil, nil
	}
	return inventory.Day(d).String(), nil
}

// Scan reads what either driver returns.
func (d *day) Scan(src any) (err error) {
	var parsed inventory.Day
	if t, ok := src.(time.Time); ok {
		parsed, err = inventory.NewDay(t.Date())
	} else {
		err = scanText(src, func(s string) (err error) {
			parsed, err = inventory.ParseDay(s)
			return err
		})
	}
	*d = day(parsed)
	return err
}

// scanText reads a column of text with a function. NULL is nothing to read.
func scanText(src any, read func(string) error) error {
	switch v := src.(type) {
	case nil:
		return nil
	case string:
		return read(v)
	case []byte:
		return read(string(v))
	}
	return fmt.Errorf("a text cannot be read from %T", src)
}

const instantLayout = fact.InstantLayout

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
	if t, ok := src.(time.Time); ok {
		*i = instant(inventory.InstantOf(t))
		return nil
	}
	return scanText(src, func(s string) error {
		t, err := time.Parse(instantLayout, s)
		if err != nil {
			return errors.New("an instant is not in its stored form")
		}
		*i = instant(inventory.InstantOf(t))
		return nil
	})
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
	*c = ""
	return scanText(src, func(s string) error {
		*c = code(s)
		return nil
	})
}

// document is a value, or a pointer to one, kept as JSON: TEXT on SQLite and JSONB on PostgreSQL. None is NULL.
type document[T any] struct{ Of T }

// Wraps makes it stand for its value (alike.Wrapped).
func (document[T]) Wraps() {}

// Value writes the document.
func (d document[T]) Value() (driver.Value, error) {
	b, err := json.Marshal(d.Of)
	if string(b) == "null" {
		return nil, err
	}
	return string(b), err
}

// Scan reads a document.
func (d *document[T]) Scan(src any) error {
	d.Of = *new(T)
	return scanText(src, func(s string) error { return json.Unmarshal([]byte(s), &d.Of) })
}

// lines is a list kept as one JSON document. An empty list is [] and is read as nil.
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
	return scanText(src, func(s string) error {
		if s == "[]" {
			return nil
		}
		return json.Unmarshal([]byte(s), (*[]T)(l))
	})
}

// kept is a message in a column, or in a document.
type kept message.Message

// Value writes the message.
func (k kept) Value() (driver.Value, error) { return message.Message(k).Keep(), nil }

// Scan reads a message.
func (k *kept) Scan(src any) error {
	*k = kept(message.Kept(""))
	return scanText(src, func(s string) error {
		*k = kept(message.Kept(s))
		return nil
	})
}

// MarshalText writes the message.
func (k kept) MarshalText() ([]byte, error) { return []byte(message.Message(k).Keep()), nil }

// UnmarshalText reads a message.
func (k *kept) UnmarshalText(b []byte) error { return k.Scan(b) }

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
	*r = nil
	return scanText(src, func(s string) error {
		if s != "" {
			*r = strings.Split(strings.TrimSuffix(s, separator), separator)
		}
		return nil
	})
}
