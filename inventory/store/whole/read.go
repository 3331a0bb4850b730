package whole

import (
	"bufio"
	stdbytes "bytes"
	"crypto/sha256"
	"encoding/base64"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"hash"
	"io"
	"strings"

	"stowkeeper/inventory"
)

// longest is how many bytes a line may have.
const longest = 64 << 20

// refused refuses in words that only the command line prints, so that no page's list of texts needs them.
func refused(field, words string) error { return inventory.InvalidField(field, words) }

// errDamaged is about a file, whatever is wrong with it.
func errDamaged(cause error) error {
	return errors.Join(refused("file", "damaged, altered or cut off: use another one"), cause)
}

// reading reads what was written, line by line.
type reading struct {
	in    *bufio.Reader
	sum   hash.Hash
	now   *table
	rows  map[string]int
	Begin Header
	End   Trailer
}

// Check reads all of a file that Write wrote, and tells what it holds. Refuses: Invalid, where a byte of it is not as
// it was written.
func Check(in io.Reader) (Header, Trailer, error) {
	r, err := open(in)
	if err == nil {
		err = r.each(func(*table) error { return nil }, func(*table, []any) error { return nil })
	}
	if err != nil {
		return Header{}, Trailer{}, err
	}
	return r.Begin, r.End, nil
}

// open reads the header.
func open(in io.Reader) (*reading, error) {
	r := &reading{in: bufio.NewReaderSize(in, 1<<16), sum: sha256.New(), rows: map[string]int{}}
	line, err := r.line()
	if err == nil && !stdbytes.HasPrefix(line, []byte(`{"stowkeeper":"`+what)) {
		return nil, refused("file", "choose a file that export --whole wrote")
	}
	if err != nil {
		return nil, err
	}
	if err := json.Unmarshal(line, &r.Begin); err != nil {
		return nil, errDamaged(err)
	}
	if r.Begin.Format != format {
		return nil, refused("file", "written by a newer program: use that one")
	}
	r.sum.Write(line)
	return r, nil
}

// line reads one line, with its end.
func (r *reading) line() ([]byte, error) {
	var all []byte
	for {
		part, err := r.in.ReadSlice('\n')
		all = append(all, part...)
		switch {
		case len(all) > longest || err == io.EOF:
			return nil, errDamaged(err)
		case err != bufio.ErrBufferFull:
			return all, err
		}
	}
}

// each gives every table and its rows in their order, and at the end looks whether all was as it was written.
func (r *reading) each(begin func(*table) error, row func(*table, []any) error) error {
	for {
		line, err := r.line()
		if err != nil {
			return err
		}
		switch {
		case stdbytes.HasPrefix(line, []byte(`{"end"`)):
			return r.end(line)
		case line[0] == '[':
			var values []any
			if values, err = r.values(line); err != nil {
				return errDamaged(err)
			}
			if err := row(r.now, values); err != nil {
				return err
			}
			r.rows[r.now.Name]++
		default:
			r.now = &table{}
			if err := json.Unmarshal(line, r.now); err != nil || len(r.now.Columns) != len(r.now.Kinds) {
				return errDamaged(err)
			}
			r.rows[r.now.Name] = 0
			if err := begin(r.now); err != nil {
				return err
			}
		}
		r.sum.Write(line)
	}
}

// end compares the last line with the one that should stand there.
func (r *reading) end(line []byte) error {
	r.End = Trailer{End: true, Rows: r.rows, Sum: hex.EncodeToString(r.sum.Sum(nil))}
	want, err := spelled(r.End)
	if err != nil || !stdbytes.Equal(line, want) {
		return errDamaged(err)
	}
	_, err = r.in.ReadByte()
	switch err {
	case io.EOF:
		return nil
	case nil:
		return errDamaged(nil)
	}
	return err
}

// values reads a row.
func (r *reading) values(line []byte) ([]any, error) {
	var raw []json.RawMessage
	if err := json.Unmarshal(line, &raw); err != nil {
		return nil, err
	}
	if r.now == nil || len(raw) != len(r.now.Columns) {
		return nil, errors.New("a row of another table")
	}
	out := make([]any, len(raw))
	for i, v := range raw {
		var err error
		if out[i], err = read(r.now.Kinds[i], v); err != nil {
			return nil, fmt.Errorf("%s.%s: %w", r.now.Name, r.now.Columns[i], err)
		}
	}
	return out, nil
}

// read is a value as the database takes it.
func read(kind string, raw json.RawMessage) (any, error) {
	if string(raw) == "null" {
		return nil, nil
	}
	switch kind {
	case integer:
		return as[int64](raw)
	case truth:
		return as[bool](raw)
	case document:
		in, err := as[[]json.RawMessage](raw)
		if err != nil || len(in) != 1 {
			return nil, errors.Join(errors.New("no document"), err)
		}
		return string(in[0]), nil
	case bytes:
		s, err := as[string](raw)
		if err != nil {
			return nil, err
		}
		return base64.StdEncoding.Strict().DecodeString(s)
	case text, day, instant:
		return as[string](raw)
	}
	return nil, errors.New("no such kind: " + strings.TrimSpace(kind))
}

func as[T any](raw json.RawMessage) (v T, err error) {
	err = json.Unmarshal(raw, &v)
	return v, err
}
