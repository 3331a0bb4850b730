package store

import (
	"reflect"
	"sync"

	"gorm.io/gorm"

	"stowkeeper/inventory"
)

// rowStructs lists every row struct that gorm works on, by value.
func rowStructs() []any {
	return []any{
		categoryRow{}, stationRow{}, placeRow{}, itemRow{}, productRow{}, kitListRow{}, kitLineRow{}, kitAcceptRow{},
		kitRuleRow{},
		bagRow{}, bagEventRow{}, sealRow{}, batchRow{}, checkRow{}, useRow{}, restockRow{}, observationRow{}, personRow{},
		personStationRow{}, tokenRow{}, tokenStationRow{}, sessionRow{}, answerRow{}, sheetOffsetRow{},
		bagLogRow{}, vehicleOutOfServiceRow{}, correctionRow{}, kitModuleRow{},
		historyRow{}, deliveryRow{}, inspectionRow{}, trainingUseRow{}, noticeRow{}, balanceCheckRow{}, terminalRow{},
		linkRow{},
	}
}

// learn has gorm parse every row struct before there are readers and writers:
// two that parse one at the same time race with each other inside gorm.
func learn(db *gorm.DB) error {
	for _, row := range rowStructs() {
		if err := (&gorm.Statement{DB: db}).Parse(row); err != nil {
			return err
		}
	}
	return nil
}

// convert makes a row of a value, or a value of a row: what both have by one name
// goes over, where it is of one kind. The rest is left to the caller.
func convert[To, From any](from From) (to To) {
	src, dst := reflect.ValueOf(&from).Elem(), reflect.ValueOf(&to).Elem()
	for _, p := range pairsOf(src.Type(), dst.Type()) {
		field := dst.FieldByIndex(p.to)
		field.Set(src.FieldByIndex(p.from).Convert(field.Type()))
	}
	return to
}

// pair is a field that two structs have in common.
type pair struct{ from, to []int }

var knownPairs sync.Map // by both types

func pairsOf(from, to reflect.Type) []pair {
	key := [2]reflect.Type{from, to}
	if known, ok := knownPairs.Load(key); ok {
		return known.([]pair)
	}
	var out []pair
	for _, f := range reflect.VisibleFields(to) {
		g, both := from.FieldByName(f.Name)
		if both && !f.Anonymous && f.Type.Kind() == g.Type.Kind() && g.Type.ConvertibleTo(f.Type) {
			out = append(out, pair{g.Index, f.Index})
		}
	}
	knownPairs.Store(key, out)
	return out
}

// take reads the one row of a query.
func take[R, V any](q *gorm.DB, thing string, value func(R) V) (V, error) {
	var row R
	err := q.Take(&row).Error
	return value(row), missing("read "+thing, thing, err)
}

// keep adds a value as a row, which gives it its id.
func keep[R, V any](w writer, op, taken string, v V) (V, error) {
	row := convert[R](v)
	if id := reflect.ValueOf(&row).Elem().FieldByName("ID"); id.IsValid() {
		id.SetZero()
	}
	err := w.add(op, taken, &row)
	return convert[V](row), err
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

// list runs a gorm query for a page of a list.
func list[R, V any](q *gorm.DB, op string, p inventory.Page, key listKey, value func(R) V) ([]V, error) {
	q, err := pageOf(q, p, key.column, key.byID, key.newest)
	if err != nil {
		return nil, err
	}
	return gather(q, op, value)
}

// gather runs a query and turns its rows into values.
func gather[R, V any](q *gorm.DB, op string, value func(R) V) ([]V, error) {
	var rows []R
	if err := q.Find(&rows).Error; err != nil {
		return nil, failure(op, "", err)
	}
	return mapped(rows, value), nil
}
