// Package fact says which rows of the database are facts, and writes them in the form in which the chains have them.
package fact

import (
	"encoding/hex"
	"encoding/json"
	"errors"
	"slices"
	"strings"
	"time"

	"golang.org/x/text/cases"
	"golang.org/x/text/unicode/norm"

	"stowkeeper/inventory"
)

// NoFact is what is in no chain and follows from nothing else, tables and columns, with the reason. A secret is no
// fact, and neither is what only says for how long somebody may come in.
var NoFact = map[string]string{
	"session": "who is signed in just now, by a secret", "one_time_link": "a secret that is used up",
	"sign_in_attempt": "wrong tries, forgotten after a while", "person.attempts": "wrong tries, forgotten after a while",
	"person.locked_till": "wrong tries, forgotten after a while", "person.secret_hash": "a secret",
	"token.hash": "a secret", "terminal.hash": "a secret", "token.last_used": "a day in passing",
	"upload": "a file that waits to be imported", "upload_part": "a file that waits to be imported",
	"kept.judged_at": "a time in passing", "terminal.last_used": "a day in passing",
	"answer.body": "a copy of what was answered, with names in it",
}

// follows is what verify works out from facts, or checks in another way.
var follows = []string{
	"actor", "service", "entering", "kept", "schema_version", "station.chain_seq", "station.chain_hash",
	"station.entry_seq", "station.entry_hash", "bag.position", "batch.inspected_on", "batch.cycles", "batch.inspect_by",
	"batch.withdrawn", "history_entry.id", "history_entry.hash",
}

// bySum are the tables whose rows are many or long, and never change, or hardly: of them the chain holds the sum.
var bySum = []string{"answer", "bag_check", "bag_use", "history_entry", "restock", "seal"}

// Table is a table whose rows are facts, as the schema has it.
type Table struct {
	Name    string
	BySum   bool // the chain holds the sum of a row, rather than the row
	key     []string
	columns []column // those that are part of the fact, by name
	names   []string // theirs
}

type column struct {
	name            string
	json, date, who bool
}

// Numbers says by which number a person or program stands in the chains, 0 for who has none.
type Numbers func(name string) (int64, error)

// Schema are the tables that hold facts, by name.
type Schema map[string]*Table

// SchemaQueries list the columns of each table by name, with their type and their place in its key, 0 for
// none; by engine.
var SchemaQueries = map[string]string{
	"sqlite": `SELECT m.name, c.name,
    CASE WHEN instr(m.sql, 'json_valid(' || c.name || ')') > 0 THEN 'jsonb' ELSE c.type END, c.pk
FROM sqlite_schema m JOIN pragma_table_info(m.name) c WHERE m.type = 'table' ORDER BY m.name, c.name`,
	"postgres": `SELECT c.relname, a.attname, format_type(a.atttypid, NULL),
    coalesce(array_position(string_to_array(i.indkey::text, ' ')::int[], a.attnum::int), 0)
FROM pg_class c JOIN pg_attribute a ON a.attrelid = c.oid AND a.attnum > 0 AND NOT a.attisdropped
LEFT JOIN pg_index i ON i.indrelid = c.oid AND i.indisprimary
WHERE c.relkind = 'r' AND c.relnamespace = current_schema()::regnamespace
ORDER BY c.relname COLLATE "C", a.attname COLLATE "C"`,
}

// Learn takes note of a column of the database: its type, jsonb and date being those that matter, and its place in the
// key of its table, 0 for none. Columns come by name. What is new is a fact.
func (s Schema) Learn(table, name, kind string, key int) {
	if none(table) || strings.HasPrefix(table, "sqlite_") {
		return
	}
	t := s[table]
	if t == nil {
		t = &Table{Name: table, BySum: slices.Contains(bySum, table)}
		s[table] = t
	}
	if key > 0 {
		for len(t.key) < key {
			t.key = append(t.key, "")
		}
		t.key[key-1] = name
	}
	if none(table+"."+name) || table == "movement" && name != "id" && name != "hash" { // whose hash has the rest
		return
	}
	t.names = append(t.names, name)
	t.columns = append(t.columns, column{name, kind == "jsonb", kind == "date", namesPeople(table, name)})
}

func none(what string) bool { return NoFact[what] != "" || slices.Contains(follows, what) }

// namesPeople tells whether a column's text is the name of a person or program.
func namesPeople(table, column string) bool {
	switch column {
	case "by_name", "witness", "person", "holder":
		return true
	case "name":
		return table == "person"
	}
	return strings.HasSuffix(column, "_by") && column != "tracked_by"
}

// Form is the fixed byte form of a row, whose values are by column, and its key.
func (t *Table) Form(row map[string]any, number Numbers) (key, form string, err error) {
	values, keys := make([]any, len(t.columns)), make([]any, len(t.key))
	for i, c := range t.columns {
		if values[i], err = c.plain(row[c.name], number); err != nil {
			return "", "", err
		}
	}
	if folds, _ := row["folded"].(string); t.Name == "person" && folds == Folded(row["name"].(string)) {
		values[slices.Index(t.names, "folded")] = nil // it follows from the name, which may be erased
	}
	for i, name := range t.key {
		keys[i] = row[name]
		if at := slices.Index(t.names, name); at >= 0 {
			keys[i] = values[at] // a principal's name is no part of a key either
		}
	}
	return inventory.ListForm(keys...), inventory.Form(t.names, values), nil
}

// Folded is a text as it is searched: the engines fold case differently, so it is done here.
func Folded(s string) string { return cases.Fold().String(norm.NFC.String(s)) }

// InstantLayout has a fixed width, so that instants sort as texts.
const InstantLayout = "2006-01-02T15:04:05.000000Z"

// plain is a column's value as the fixed byte form takes it, whichever engine or struct it comes from.
func (c column) plain(v any, number Numbers) (any, error) {
	if b, ok := v.([]byte); ok && !c.json {
		return hex.EncodeToString(b), nil
	} else if ok {
		v = string(b)
	}
	switch v := v.(type) {
	case bool:
		return int64(map[bool]int{true: 1}[v]), nil
	case time.Time:
		if c.date {
			return v.Format(time.DateOnly), nil
		}
		return v.UTC().Format(InstantLayout), nil
	case string:
		switch {
		case v == "":
		case c.json:
			return plainDocument(v, number)
		case c.who:
			return numbered(v, number)
		case c.name == "principal" || c.name == "request_key":
			return principal(v, number)
		case c.name == "facts":
			return inventory.FixedForm(v), nil
		}
	}
	return v, nil
}

// numbered is a person's number, or the name where they have none.
func numbered(name string, number Numbers) (any, error) {
	n, err := number(name)
	if n == 0 {
		return name, err
	}
	return n, err
}

// principal puts the number in place of the name, as Actor.Principal and RecordKey write it.
func principal(v string, number Numbers) (any, error) {
	kind, rest, ok := strings.Cut(v, ":")
	if !ok {
		return v, nil
	}
	name, rest, _ := strings.Cut(rest, "/")
	n, err := numbered(inventory.NameInKey(name), number)
	return []any{kind, n, rest}, err
}

// plainDocument is what JSON says, with people by their numbers.
func plainDocument(text string, number Numbers) (any, error) {
	d := json.NewDecoder(strings.NewReader(text))
	d.UseNumber()
	var v any
	if err := d.Decode(&v); err != nil {
		return text, nil //nolint:nilerr // somebody has put in what is no JSON: it stands as it is, and differs
	}
	return v, numberPeople(v, number)
}

// numberPeople puts numbers in place of the names of who did something, anywhere in a document.
func numberPeople(v any, number Numbers) (err error) {
	switch v := v.(type) {
	case []any:
		for _, x := range v {
			err = errors.Join(err, numberPeople(x, number))
		}
	case map[string]any:
		for key, x := range v {
			one := numberPeople(x, number)
			if name, _ := x.(string); key == "by" && name != "" {
				v[key], one = numbered(name, number)
			}
			err = errors.Join(err, one)
		}
	}
	return err
}

// Where tells to which place a row belongs, or to which station. What people may do belongs to none.
func (t *Table) Where(row map[string]any) (place, station string) {
	text := func(column string) string {
		s, _ := row[column].(string)
		return s
	}
	switch {
	case t.Name == "person_station" || t.Name == "token_station" || t.Name == "history_entry":
		return "", ""
	case t.Name == "bag":
		return text("code"), ""
	case text("station") != "":
		return "", text("station")
	case text("bag") != "":
		return text("bag"), ""
	}
	return text("place"), ""
}
