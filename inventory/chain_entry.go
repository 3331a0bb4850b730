package inventory

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"maps"
	"slices"
	"strconv"
)

// ServiceChain is how the chain of what belongs to no station is called where people read. No code is so written.
const ServiceChain = "service"

// LateMovements is the table of what stands for a station's movements from before the chains: how many they were, and
// the hash of the last.
const LateMovements = "movements"

// String is a line of heads that are kept elsewhere.
func (h Head) String() string { return fmt.Sprintf("%s %d %s", h.ChainName(), h.Seq, h.Hash) }

// ChainName is what people read of a chain.
func (h Head) ChainName() string {
	if h.Station == "" {
		return ServiceChain
	}
	return h.Station
}

// Fact is a row that says something which follows from no other row, as it is now.
type Fact struct {
	Table string
	Key   string // what its table knows it by, in the fixed byte form of a list
	Form  string // the row in its fixed byte form
}

// ChainEntry is an entry of the history as a link of its chain: each says of the rows that were written with it how
// they became.
type ChainEntry struct {
	ID    int64
	Chain string // station, or empty for the service's own
	Seq   int64  // its number in the chain, from 1
	Hash  string
	Form  string // the entry in its fixed byte form
	Facts []ChainedFact

	Station, Place, OtherPlace string // what it names
}

// ChainedFact is what an entry says of one row.
type ChainedFact struct {
	Table string
	Key   string
	Image string // the row's fixed byte form, where the entry holds it
	Sum   string // SHA-256 of that form, in hexadecimal, where it holds this only
}

// Gone tells whether the entry says that the row was deleted.
func (f ChainedFact) Gone() bool { return f.Image == "" && f.Sum == "" }

// Says tells whether an entry says that a row became this.
func (f ChainedFact) Says(form string) bool {
	return f.Image == form && form != "" || f.Image == "" && f.Sum == SumOf(form)
}

// ChainFilter narrows a reading of the chains; empty fields do not narrow.
type ChainFilter struct {
	Chain         *string
	From, To      int64 // by their numbers, both with
	Touching      string
	Since, Before Instant // recorded
}

// EntryHash is the hash of an entry in its chain: SHA-256, in hexadecimal, over the previous hash, a line break and
// the entry's fixed byte form. The first entry of a chain has the empty previous hash.
func EntryHash(prev, form string) string { return SumOf(prev + "\n" + form) }

// SumOf is the SHA-256 of a text, in hexadecimal.
func SumOf(text string) string {
	sum := sha256.Sum256([]byte(text))
	return hex.EncodeToString(sum[:])
}

// FixedForm is a value that stands in its fixed byte form already.
type FixedForm string

// Form is the fixed byte form of a row: a JSON object in UTF-8 without blanks, its columns in the order of their bytes,
// as names is. Numbers are whole (what was given and wasted may have a point), truths 1, instants texts in whole
// microseconds UTC, people their numbers. Columns that hold nothing, which is 0 and an empty text or list too, are left
// out, so that a table can be given another column without any form of its rows changing.
func Form(names []string, values []any) string {
	b := []byte{'{'}
	for i, name := range names {
		switch v := values[i].(type) {
		case nil:
			continue
		case string:
			if v == "" {
				continue
			}
		case int64:
			if v == 0 {
				continue
			}
		case []any:
			if len(v) == 0 {
				continue
			}
		}
		if len(b) > 1 {
			b = append(b, ',')
		}
		b = append(appendForm(b, name), ':')
		b = appendForm(b, values[i])
	}
	return string(append(b, '}'))
}

// ListForm is the fixed byte form of a list.
func ListForm(values ...any) string { return string(appendForm(nil, values)) }

// appendForm adds the fixed byte form of a value: JSON without blanks, keys in the order of their bytes. In a text only
// the quote, the backslash and what stands below the blank are escaped, these by their number.
func appendForm(b []byte, v any) []byte {
	switch v := v.(type) {
	case FixedForm:
		return append(b, v...)
	case string:
		return appendText(b, v)
	case int64:
		return strconv.AppendInt(b, v, 10)
	case []any:
		for i, x := range v {
			b = appendForm(append(b, "[,"[min(i, 1)]), x)
		}
		if len(v) == 0 {
			b = append(b, '[')
		}
		return append(b, ']')
	case map[string]any:
		b = append(b, '{')
		for i, key := range slices.Sorted(maps.Keys(v)) {
			if i > 0 {
				b = append(b, ',')
			}
			b = appendForm(append(appendText(b, key), ':'), v[key])
		}
		return append(b, '}')
	}
	return fmt.Append(b, jsonWord(v)) // a truth, a number of JSON, or nothing
}

func jsonWord(v any) any {
	if v == nil {
		return "null"
	}
	return v
}

func appendText(b []byte, s string) []byte {
	b = append(b, '"')
	for i := range len(s) {
		switch c := s[i]; {
		case c == '"' || c == '\\':
			b = append(b, '\\', c)
		case c < ' ':
			b = fmt.Appendf(b, `\u%04x`, c)
		default:
			b = append(b, c)
		}
	}
	return append(b, '"')
}

// ParseFacts reads what an entry says of rows: lists of a table, a key, and the row's form, its sum, or null where it
// was deleted.
func ParseFacts(text string) ([]ChainedFact, error) {
	if text == "" {
		return nil, nil
	}
	var rows [][3]json.RawMessage
	if err := json.Unmarshal([]byte(text), &rows); err != nil {
		return nil, err
	}
	out := make([]ChainedFact, len(rows))
	for i, row := range rows {
		f := &out[i]
		f.Table, f.Key = string(bytes.Trim(row[0], `"`)), string(row[1])
		switch row[2][0] {
		case '"':
			f.Sum = string(bytes.Trim(row[2], `"`))
		case '{':
			f.Image = string(row[2])
		}
	}
	return out, nil
}
