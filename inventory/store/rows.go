package store

import (
	"cmp"
	"errors"
	"reflect"
	"strings"

	"gorm.io/gorm"
	"gorm.io/gorm/schema"

	"stowkeeper/inventory"
	"stowkeeper/inventory/store/alike"
	"stowkeeper/inventory/store/bulk"
)

// rowStructs lists every row struct that gorm works on, by value.
func rowStructs() []any {
	return []any{
		categoryRow{}, stationRow{}, placeRow{}, itemRow{}, productRow{}, kitListRow{}, kitLineRow{}, kitAcceptRow{},
		kitRuleRow{}, kitModuleRow{}, bagRow{}, bagEventRow{}, bagLogRow{}, sealRow{}, batchRow{}, batchCorrectionRow{},
		bagCheckRow{}, bagUseRow{}, reportedRow{}, restockRow{}, observationRow{}, personRow{}, personStationRow{},
		tokenRow{}, tokenStationRow{}, sessionRow{}, terminalRow{}, oneTimeLinkRow{}, answerRow{}, sheetOffsetRow{},
		vehicleOutOfServiceRow{}, historyEntryRow{}, deliveryRow{}, inspectionRow{}, trainingUseRow{}, noticeRow{},
		balanceCheckRow{}, documentRow{}, movementRow{}, lotRow{},
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
// goes over, where it is of one kind or a document of it. The rest is left to the caller.
func convert[To, From any](from From) (to To) {
	src, dst := reflect.ValueOf(&from).Elem(), reflect.ValueOf(&to).Elem()
	for _, p := range alike.Pairs(src.Type(), dst.Type()) {
		field := dst.FieldByIndex(p.To)
		field.Set(src.FieldByIndex(p.From).Convert(field.Type()))
	}
	return to
}

// naming finds the table of a row struct by its name.
var naming = schema.NamingStrategy{SingularTable: true, NameReplacer: strings.NewReplacer("Row", "")}

// take reads the one row under a condition.
func take[V, R any](r reader, thing, cond string, args ...any) (V, error) {
	var row R
	err := r.gorm().Where(cond, args...).Take(&row).Error
	if errors.Is(err, gorm.ErrRecordNotFound) {
		err = notFound(thing)
	}
	return convert[V](row), failure("read "+thing, "", err)
}

// list reads a page of rows, all of them on the zero page.
func list[V, R any](r reader, op string, w where, p inventory.Page, key listKey) ([]V, error) {
	order, limit, err := w.page(p, key)
	if err != nil {
		return nil, err
	}
	var rows []R
	err = r.gorm().Where(w.conds, w.args...).Order(order).Limit(limit).Find(&rows).Error
	return mapped(rows, convert[V, R]), failure(op, "", err)
}

// mapped turns rows into values; no rows give nil.
func mapped[R, V any](rows []R, value func(R) V) []V {
	if len(rows) == 0 {
		return nil
	}
	out := make([]V, len(rows))
	for i, row := range rows {
		out[i] = value(row)
	}
	return out
}

// insert inserts a row, or several in a few statements, notes them, and fills in what number each has.
func (w writer) insert(rows any) error {
	of := &gorm.Statement{DB: w.s.gorm}
	if err := of.Parse(rows); err != nil {
		return err
	}
	values, err := bulk.Insert(w.ctx, of.Schema, rows, w.each)
	if t := w.s.facts[of.Schema.Table]; t != nil {
		for _, row := range values {
			w.touched.Row(t.Name, row, true)
			err = cmp.Or(err, w.note(t, row, false))
		}
	}
	return err
}

// keep adds a value as a row, which gives it its id. more fills in what only the row has.
func keep[R, V any](w writer, op, taken string, v V, more ...func(*R)) (V, error) {
	row := convert[R](v)
	if id := reflect.ValueOf(&row).Elem().FieldByName("ID"); id.IsValid() {
		id.SetZero()
	}
	for _, fill := range more {
		fill(&row)
	}
	err := w.add(op, taken, &row)
	return convert[V](row), err
}
