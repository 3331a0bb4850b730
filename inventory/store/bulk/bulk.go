// Package bulk inserts many rows of a table by few statements.
package bulk

import (
	"context"
	"database/sql"
	"database/sql/driver"
	"reflect"
	"slices"
	"stowkeeper/inventory/store/sqltext"
	"strings"

	"gorm.io/gorm/schema"
)

// mostRows is how many rows a statement inserts at most. What is left over goes in by halves of it, so that there are
// few statements to parse, and all are kept by the engines' drivers.
const mostRows = 64

// fewRows are inserted by one statement, however many they are.
const fewRows = 8

// Query runs a statement and has each row of its answer scanned.
type Query func(text string, values []any, scan func(*sql.Rows) error) error

// Insert inserts a row struct, or several, fills in what number each has, and returns their values by column.
func Insert(ctx context.Context, of *schema.Schema, all any, query Query) ([]map[string]any, error) {
	rows := []reflect.Value{reflect.Indirect(reflect.ValueOf(all))}
	if list := rows[0]; list.Kind() == reflect.Slice {
		rows = make([]reflect.Value, list.Len())
		for i := range rows {
			rows[i] = list.Index(i)
		}
	}
	values := make([]map[string]any, len(rows))
	for i, row := range rows {
		var err error
		if values[i], err = Values(ctx, of, row); err != nil {
			return nil, err
		}
	}
	if err := InsertValues(of, values, query); err != nil || !numbered(of) {
		return values, err
	}
	for i, row := range rows {
		if row.CanSet() {
			row.FieldByName("ID").SetInt(values[i]["id"].(int64))
		}
	}
	return values, nil
}

// Values are the values of a row struct by column.
func Values(ctx context.Context, of *schema.Schema, row reflect.Value) (map[string]any, error) {
	values := make(map[string]any, len(of.DBNames))
	for _, name := range of.DBNames {
		v, _ := of.FieldsByDBName[name].ValueOf(ctx, row)
		v, err := driver.DefaultParameterConverter.ConvertValue(v)
		if err != nil {
			return nil, err
		}
		values[name] = v
	}
	return values, nil
}

// numbered tells whether the database numbers the rows of a table.
func numbered(of *schema.Schema) bool {
	return of.PrioritizedPrimaryField != nil && of.PrioritizedPrimaryField.AutoIncrement
}

// InsertValues inserts rows by their values, and fills in their ids where the database gives them.
func InsertValues(of *schema.Schema, rows []map[string]any, query Query) error {
	columns, tail := of.DBNames, ""
	if numbered(of) {
		columns = slices.DeleteFunc(slices.Clone(columns), func(name string) bool { return name == "id" })
		tail = " RETURNING id"
	}
	into := "INSERT INTO " + of.Table + " (" + strings.Join(columns, ", ") + ") VALUES "
	for n := mostRows; len(rows) > 0; rows = rows[n:] {
		for n > len(rows) {
			n = max(n/2, min(len(rows), fewRows))
		}
		part := rows[:n]
		values := make([]any, 0, len(part)*len(columns))
		for _, row := range part {
			for _, name := range columns {
				values = append(values, row[name])
			}
		}
		ids := make([]int64, 0, len(part))
		err := query(into+sqltext.Rows(len(part), len(columns))+tail, values, func(answer *sql.Rows) error {
			var id int64
			err := answer.Scan(&id)
			ids = append(ids, id)
			return err
		})
		if err != nil {
			return err
		}
		slices.Sort(ids) // numbered as they are listed, whichever the answer names first
		for i, id := range ids {
			part[i]["id"] = id
		}
	}
	return nil
}
