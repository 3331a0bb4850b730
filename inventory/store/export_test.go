package store

import (
	"context"
	"database/sql"
	"reflect"

	"stowkeeper/inventory"
	"stowkeeper/inventory/store/alike"
	"stowkeeper/inventory/store/migrations"
)

// What the tests of this package, which stand outside it, look at.
type (
	DayColumn     = day
	InstantColumn = instant
	RefColumn     = ref
	CodeColumn    = code
	LinesColumn   = lines[inventory.UseLine]
	ChoiceColumn  = document[*inventory.Decision]
)

var (
	Failure = failure
	Without = without
	Earlier = earlier
	Chunks  = chunks[int]
	Naming  = naming
)

// Pools returns the pools of connections of an open store.
func Pools(s inventory.Store) (writes, reads *sql.DB) {
	db := s.(*database)
	return db.writes, db.reads
}

// Bind writes a query in the words of the store's engine.
func Bind(s inventory.Store, text string) string { return s.(*database).bind(text) }

// RowStructs lists every row struct, by value.
func RowStructs() []any { return rowStructs() }

// TableOf names the table of a row struct.
func TableOf(row any) string { return Naming.TableName(reflect.TypeOf(row).Name()) }

// Unpaired lists the fields of a value that do not go into its row and back.
func Unpaired(row, value any) []string {
	var out []string
	paired := map[string]bool{}
	for _, p := range alike.Pairs(reflect.TypeOf(row), reflect.TypeOf(value)) {
		paired[reflect.TypeOf(value).FieldByIndex(p.To).Name] = true
	}
	for _, f := range reflect.VisibleFields(reflect.TypeOf(value)) {
		if !f.Anonymous && !paired[f.Name] {
			out = append(out, f.Name)
		}
	}
	return out
}

// NewDocument returns a document with a value.
func NewDocument(d *inventory.Decision) ChoiceColumn { return ChoiceColumn{d} }

// DocumentOf returns the value of a document.
func DocumentOf(c ChoiceColumn) *inventory.Decision { return c.Of }

// MigrateTo brings an empty database to an earlier version of the schema.
func MigrateTo(ctx context.Context, db *sql.DB, engine string, version int64) error {
	p, err := migrations.Provider(db, engine)
	if err == nil {
		_, err = p.UpTo(ctx, version)
	}
	return err
}
