// Package judged has what bags were judged to be, and marks what holds no longer, since something was recorded on which
// it rests. Marking too much costs time, marking too little is wrong: what is not known here marks every bag.
package judged

import (
	"database/sql"
	"maps"
	"slices"
	"stowkeeper/inventory"
	"stowkeeper/inventory/store/sqltext"
)

// Conn is a unit of work's transaction.
type Conn struct {
	Each  func(text string, args []any, scan func(*sql.Rows) error) error
	Exec  func(text string, args ...any) (int64, error)
	Locks bool // the engine has several writers
}

// resting are the tables whose rows no bag is judged by.
var resting = []string{
	"answer", "balance", "bag_event", "bag_log", "category", "delivery", "discrepancy", "document", "history_entry",
	"movement", "past_usage", "person", "person_station", "product", "sheet_offset", "terminal", "token", "token_station",
	"vehicle_out_of_service",
}

// ofBag are the columns that name the bag of which alone a row says something, by table.
var ofBag = map[string]string{
	"bag": "code", "place": "code", "bag_check": "bag", "bag_use": "bag", "seal": "bag", "observation": "bag",
	"restock": "bag", "balance_check": "place", "reported": "place",
}

// ofBatch are the columns that name the batch, by table. A new one lies nowhere yet.
var ofBatch = map[string]string{
	"lot": "batch_id", "batch": "id", "batch_correction": "batch_id", "inspection": "batch_id", "training_use": "batch_id",
}

// Touched is what a unit of work touches that bags are judged by.
type Touched struct {
	all     bool
	bags    map[string]bool
	bears   map[string]string // by bag: the number of its seal
	moved   map[string]bool   // bags that may be at another station
	batches map[any]bool
	reports map[string][]any // decided, by the column that names them
}

// Bag says that what lies in a bag changed, or its record.
func (t *Touched) Bag(code string) {
	if t.bags == nil {
		t.bags, t.bears, t.moved, t.batches, t.reports = map[string]bool{}, map[string]string{}, map[string]bool{},
			map[any]bool{}, map[string][]any{}
	}
	t.bags[code] = true
}

// Row says how a row became; made of one that was not there before.
func (t *Touched) Row(table string, row map[string]any, made bool) {
	text := func(column string) string {
		s, _ := row[column].(string)
		return s
	}
	column, one := ofBag[table]
	batch, some := ofBatch[table]
	switch {
	case slices.Contains(resting, table):
		return
	case one:
		code := text(column)
		if table == "place" && text("kind") != "bag" {
			return
		}
		t.Bag(code)
		switch {
		case table == "bag":
			t.bears[code] = ""
			if text("seal_state") != "" {
				t.bears[code] = inventory.FoldSeal(text("seal"))
			}
		case table == "place":
			t.moved[code] = true
		case table == "bag_check" && !made:
			t.reports["check_id"] = append(t.reports["check_id"], row["id"])
		case table == "bag_use" && !made:
			t.reports["use_id"] = append(t.reports["use_id"], row["id"])
		}
	case some && made && (table == "lot" || table == "batch"):
	case some:
		t.Bag("")
		t.batches[row[batch]] = true
	default:
		t.all = true
	}
}

// Mark marks what holds no longer.
func (t *Touched) Mark(c Conn) error {
	if t.all {
		_, err := c.Exec("UPDATE kept SET until = NULL WHERE until IS NOT NULL")
		if err != nil || len(t.bears)+len(t.moved) == 0 {
			return err
		}
	}
	if len(t.bags) == 0 {
		return nil
	}
	codes := slices.Sorted(maps.Keys(t.bags))
	of, args := "code IN "+sqltext.Marks(len(codes)), sqltext.Args(codes)
	if n := len(t.batches); n > 0 {
		of += " OR code IN (SELECT place FROM balance WHERE batch_id IN " + sqltext.Marks(n) + ")"
		args = append(args, slices.Collect(maps.Keys(t.batches))...)
	}
	for column, ids := range t.reports {
		of += " OR code IN (SELECT place FROM reported WHERE " + column + " IN " + sqltext.Marks(len(ids)) + ")"
		args = append(args, ids...)
	}
	return t.mark(c, of, args)
}

// mark marks bags, and those that they are modules of. A bag whose seal or station changed touches those that bear the
// same number.
func (t *Touched) mark(c Conn, of string, args []any) error {
	was := map[string]string{}
	err := c.Each("INSERT INTO kept (bag) SELECT code FROM (SELECT code FROM bag WHERE "+of+
		" UNION SELECT inside FROM bag WHERE ("+of+") AND inside IS NOT NULL) AS touched WHERE TRUE"+
		" ON CONFLICT (bag) DO UPDATE SET until = NULL RETURNING bag, seal", slices.Concat(args, args),
		func(rows *sql.Rows) error {
			var bag, seal string
			err := rows.Scan(&bag, &seal)
			was[bag] = seal
			return err
		})
	for _, bag := range slices.Sorted(maps.Keys(was)) {
		seal, known := t.bears[bag]
		if !known {
			seal = was[bag]
		}
		if err == nil && (t.moved[bag] || seal != was[bag]) {
			_, err = c.Exec("UPDATE kept SET until = NULL, seal = CASE WHEN bag = ? THEN ? ELSE seal END "+
				"WHERE bag = ? OR seal <> '' AND seal IN (?, ?)", bag, seal, bag, was[bag], seal)
		}
	}
	return err
}
