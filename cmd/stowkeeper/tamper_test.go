package main

import (
	"context"
	"database/sql"
	"fmt"
	"maps"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stowkeeper/inventory"
	"stowkeeper/inventory/account"
	"stowkeeper/inventory/ledger"
	"stowkeeper/inventory/lists"
	"stowkeeper/inventory/store/fact"
	"stowkeeper/inventory/store/upload"
	"stowkeeper/inventory/transfer"
	"stowkeeper/inventory/verify"
)

// filled is a service with two rows or more in every table, of all that can be
// done in it.
func filled(t *testing.T) *controlled {
	c := newControlled(t)
	c.present()
	token, err := c.svc.Account.CreateToken(c.Context(), operator,
		inventory.Token{Name: "filler", Role: inventory.Administrator})
	require.NoError(c, err)
	for i, request := range slices.Sorted(maps.Keys(apiBodies)) {
		method, route, _ := strings.Cut(request, " ")
		path, _ := c.pathAt("S2", route)
		c.do(method, path, c.at("S2").Replace(apiBodies[request]), "Content-Type", "application/json",
			"Idempotency-Key", fmt.Sprintf("fill-%d", i), "If-Match", `"1"`, "Authorization", "Bearer "+token)
	}
	counting, err := c.svc.Count.Counts(c.Context(), operator, inventory.DocumentFilter{Open: true}, inventory.Page{})
	require.NoError(c, err)
	for _, x := range counting { // a unit of count is not converted while it is counted
		_, err = c.svc.Count.Drop(c.Context(), operator, x.ID)
		require.NoError(c, err)
	}
	for i := range 2 {
		c.fillMore(i)
	}
	_, err = c.svc.Report.Keep(c.Context(), 0)
	require.NoError(c, err)
	return c
}

// fillMore adds what the requests of the API's tables leave out.
func (c *controlled) fillMore(i int) {
	c.Helper()
	ctx, n := c.Context(), itoa(int64(i))
	ok := func(_ any, err error) {
		c.Helper()
		require.NoError(c, err)
	}
	ok(nil, upload.In(c.svc.Store).Keep(ctx, inventory.Upload{Code: n, Owner: "x", KeptAt: c.svc.Now(), State: "{}"},
		[]byte("item\n"), 0, c.svc.Now(), 4))
	ok(c.svc.Lists.CreateItem(ctx, operator, inventory.Item{Code: "TRACTION" + n, Name: "Traction splint",
		Category: inventory.CategoryImmobilisation, Unit: "each", TrackedBy: inventory.BySerial,
		Life: inventory.Life{InspectDays: 30}, InspectionPoints: []string{"straps"}}))
	ok(c.svc.Lists.CreateKitList(ctx, operator, inventory.KitList{Code: "BIG" + n, Name: "Big bag",
		Lines:   []inventory.Line{{Item: "GAUZE", Par: 2, Accepts: []string{"SPLINT"}}},
		Modules: []inventory.Module{{KitList: "SMALL", Count: 1}},
		Rules: []inventory.KitRule{{WhenCategory: inventory.CategoryTourniquet, NeedItem: "GAUZE", AtLeast: 1,
			Severity: inventory.SeverityWarn, Because: "so"}}}))
	device, err := c.svc.Ledger.Receive(ctx, operator, inventory.Receipt{Place: "N1-STORE", Item: "TRACTION" + n,
		Serial: "T-" + n, Qty: 1})
	require.NoError(c, err)
	ok(c.svc.Ledger.Inspect(ctx, operator, device.ID, ledger.InspectionReport{
		Points: []inventory.PointCheck{{Point: "straps", Pass: true}}}))
	ok(c.svc.Ledger.Move(ctx, operator, []inventory.Movement{{LotID: device.ID, Qty: 1, From: "N1-STORE",
		To: "N1-TRAINING", Reason: inventory.ReasonToTraining}}))
	ok(c.svc.Ledger.Train(ctx, operator, device.ID, inventory.TrainingUse{Cycles: 2, Class: "C-" + n}))
	ok(c.svc.Register.RecordBalanceCheck(ctx, c.signed(), inventory.BalanceCheck{Item: "AMP", Place: "N1-QUARANTINE",
		Counted: 2, Note: "in the light"}))
	ok(nil, c.svc.Store.Write(inventory.Acting(ctx, operator), func(_ context.Context, w inventory.Writer) error {
		return w.SetPastUsage(inventory.PastUsage{Station: "N1", Item: "GAUZE", Period: "2026-0" + itoa(int64(i+1)), Qty: 7})
	}))
	ok(c.svc.Lists.CreateItem(ctx, operator, inventory.Item{Code: "WIPE" + n, Name: "Wipe", Unit: "each",
		Category: inventory.CategoryOther, TrackedBy: inventory.ByLot}))
	ok(c.svc.Ledger.Receive(ctx, operator, inventory.Receipt{Place: "N1-STORE", Item: "WIPE" + n, Qty: 20}))
	ok(c.svc.Lists.ConvertUnit(ctx, operator, "WIPE"+n, lists.UnitConversion{Unit: "box", Old: 10, New: 1,
		Reason: "kept in boxes"}))
	ok(c.svc.Transfer.Ask(ctx, operator, transfer.TransferRequest{From: "N1-STORE", To: "S2-STORE",
		Lines: []transfer.AskedLine{{Item: "WIPE" + n, Qty: 1}}}))
	ok(c.svc.Lists.CreateStation(ctx, operator, inventory.Station{Code: "C" + n, Name: "Closing", Timezone: "UTC"}))
	ok(c.svc.Lists.CreatePlace(ctx, operator, inventory.Place{Code: "C-BELT" + n, Station: "C" + n, Name: "Belt",
		Kind: inventory.KindCarrier, Purpose: inventory.ForIssue}))
	ok(c.svc.Lists.CloseStation(ctx, operator, "C"+n, "N1"))
	by, err := c.svc.Account.SignAlone(ctx, operator, account.Signature{Person: secondName, PIN: secondSecret}, plainly{})
	require.NoError(c, err)
	rows, err := c.svc.Register.OwedRows(ctx, operator, nil)
	require.NoError(c, err)
	ok(c.svc.Register.SignEntry(ctx, by, rows[min(i, len(rows)-1)].Entry))
	_, err = c.svc.Account.SignIn(ctx, keeperName, "wrong "+n, account.From{Address: "192.0.2." + n}, plainly{})
	require.Error(c, err)
}

// tampering is a filled service whose file somebody changes with plain SQL.
type tampering struct {
	*controlled
	db *sql.DB
}

// column is one of a table, as the schema has it.
type column struct {
	name   string
	of     string // what it holds: day, instant, json, truth, or its type
	inKey  bool
	absent string // why no chain has it
}

func (c *tampering) tables() map[string][]column {
	c.Helper()
	out := map[string][]column{}
	rows, err := c.db.Query(`SELECT m.name, c.name, c.type, c.pk > 0, m.sql FROM sqlite_schema m
JOIN pragma_table_info(m.name) c WHERE m.type = 'table' AND m.name NOT LIKE 'sqlite_%' AND m.name <> 'schema_version'`)
	require.NoError(c, err)
	defer rows.Close()
	for rows.Next() {
		var table, text string
		var x column
		require.NoError(c, rows.Scan(&table, &x.name, &x.of, &x.inKey, &text))
		for kind, mark := range map[string]string{"day": " IS date(%s)", "instant": "(%s IS strftime(",
			"json": "json_valid(%s)", "truth": "(%s IN (0, 1))"} {
			if strings.Contains(text, fmt.Sprintf(mark, x.name)) {
				x.of = kind
			}
		}
		if x.absent = fact.NoFact[table+"."+x.name]; x.absent == "" {
			x.absent = fact.NoFact[table]
		}
		out[table] = append(out[table], x)
	}
	require.NoError(c, rows.Err())
	return out
}

// another is an expression for another value of a column that it can hold.
func (x column) another() string {
	return strings.ReplaceAll(map[string]string{
		"day":     "CASE WHEN $ IS '2031-05-06' THEN '2031-05-07' ELSE '2031-05-06' END",
		"instant": "'2031-05-06T07:08:09.000010Z'", "json": `CASE WHEN $ IS '["x"]' THEN '["y"]' ELSE '["x"]' END`,
		"truth": "1 - $", "INTEGER": "coalesce($, 0) + 1000", "TEXT": "coalesce($, '') || 'x'",
		"BLOB": "x'00'"}[x.of], "$", x.name)
}

// one is a condition for the n-th row of a table.
func (c *tampering) one(table string, columns []column, n int) string {
	var key []string
	for _, x := range columns {
		if x.inKey {
			key = append(key, x.name)
		}
	}
	if len(key) == 0 {
		return "TRUE"
	}
	return fmt.Sprintf("(%[1]s) = (SELECT %[1]s FROM %[2]s ORDER BY %[1]s LIMIT 1 OFFSET %[3]d)", strings.Join(key, ", "),
		table, n)
}

func (c *tampering) exec(text string) {
	c.Helper()
	_, err := c.db.Exec(text)
	require.NoError(c, err, text)
}

// with changes a table, and puts it back after it was looked at.
func (c *tampering) with(table string, look func(faults []verify.Fault), changes ...string) {
	c.Helper()
	c.exec("CREATE TEMP TABLE as_it_was AS SELECT * FROM " + table)
	defer func() {
		c.exec("DELETE FROM " + table)
		c.exec("INSERT INTO " + table + " SELECT * FROM as_it_was")
		c.exec("DROP TABLE as_it_was")
	}()
	for _, change := range changes {
		c.exec(change)
	}
	r, err := c.svc.Verify.Verify(c.Context())
	require.NoError(c, err, "%v", changes)
	look(r.Faults)
}

// calledOtherwise is how a fault names rows of a table otherwise than by its name.
var calledOtherwise = map[string]string{"movement": "movement", "balance": "balance",
	"actor": "by_name|_by|movement", "kept": "judged|counted",
	"service": "chain service", "station": "station|chain", "history_entry": "history_entry|chain|is missing"}

func (c *tampering) named(table, what string, faults []verify.Fault) {
	c.Helper()
	name := calledOtherwise[table]
	if name == "" {
		name = `\b` + table + " "
	}
	assert.Regexp(c, regexp.MustCompile(name), fmt.Sprint(faults), "%s: %s", table, what)
}

// TestNothingIsAlteredUnnoticed changes every column of every table of a filled
// service, one at a time, deletes a row of each and swaps two: verify names each.
// What is in no chain stands in a list, with the reason.
func TestNothingIsAlteredUnnoticed(t *testing.T) {
	c := &tampering{controlled: filled(t)}
	c.db = openPlainly(t, c.file)
	c.db.SetMaxOpenConns(1)
	defer c.db.Close()
	r, err := c.svc.Verify.Verify(t.Context())
	require.NoError(t, err)
	require.Empty(t, r.Faults)
	all, absent := 0, 0
	const passing = "upload upload_part" // of whose columns each is as little a fact as the table
	for table, columns := range c.tables() {
		var n int
		require.NoError(t, c.db.QueryRow("SELECT count(*) FROM "+table).Scan(&n))
		require.Positive(t, n, "%s: put something into it in this test", table)
		row := c.one(table, columns, n/2)
		for _, x := range columns {
			all++
			c.with(table, func(faults []verify.Fault) {
				if x.absent == "" {
					c.named(table, x.name, faults)
				} else {
					if !strings.Contains(passing, table) {
						absent++
					}
					assert.Empty(t, faults, "%s.%s is in no chain, they say", table, x.name)
				}
			}, fmt.Sprintf("UPDATE %s SET %s = %s WHERE %s", table, x.name, x.another(), row))
		}
		if fact.NoFact[table] == "" {
			c.with(table, func(faults []verify.Fault) {
				if table == "kept" { // a bag of which nothing is kept is judged again
					assert.Empty(t, faults)
					return
				}
				c.named(table, "a row deleted", faults)
			}, "DELETE FROM "+table+" WHERE "+row)
			c.swap(table, columns, n)
		}
	}
	t.Logf("%d columns, of which %d carry no fact", all, absent)
	assert.Greater(t, all, 260)
	assert.LessOrEqual(t, absent, 25)
}

// swap has two neighbours of a table say what the other said, where that is not
// the same.
func (c *tampering) swap(table string, columns []column, n int) {
	c.Helper()
	var keys, others []string
	for _, x := range columns {
		if x.inKey {
			keys = append(keys, x.name)
		} else {
			others = append(others, x.name)
		}
	}
	if n < 2 || len(others) == 0 {
		return
	}
	key, first, second := strings.Join(keys, ", "), c.one(table, columns, n/2-1), c.one(table, columns, n/2)
	if table == "history_entry" { // of one chain: in what order those of several were numbered is no fact
		first, second = "chain = 'N1' AND seq = 5", "chain = 'N1' AND seq = 6"
	}
	var different int
	require.NoError(c, c.db.QueryRow(fmt.Sprintf("SELECT count(*) FROM (SELECT %[1]s FROM %[2]s WHERE %[3]s UNION "+
		"SELECT %[1]s FROM %[2]s WHERE %[4]s)", strings.Join(others, ", "), table, first, second)).Scan(&different))
	if different < 2 {
		return
	}
	c.with(table, func(faults []verify.Fault) { c.named(table, "two rows swapped", faults) },
		"CREATE TEMP TABLE a AS SELECT * FROM "+table+" WHERE "+first,
		"CREATE TEMP TABLE b AS SELECT * FROM "+table+" WHERE "+second,
		"CREATE TEMP TABLE k AS SELECT "+key+" FROM a",
		fmt.Sprintf("DELETE FROM %s WHERE (%[2]s) IN (SELECT %[2]s FROM a UNION SELECT %[2]s FROM b)", table, key),
		fmt.Sprintf("UPDATE a SET (%[1]s) = (SELECT %[1]s FROM b)", key),
		fmt.Sprintf("UPDATE b SET (%[1]s) = (SELECT %[1]s FROM k)", key),
		"INSERT INTO "+table+" SELECT * FROM a", "INSERT INTO "+table+" SELECT * FROM b",
		"DROP TABLE a", "DROP TABLE b", "DROP TABLE k")
}

// TestTheTailIsFoundByEarlierHeads: a database whose chains were cut together
// with their heads, rows and all, verifies, and so does a chain that was made
// anew; heads that were kept elsewhere find both, and find nothing wrong with
// what was only added to.
func TestTheTailIsFoundByEarlierHeads(t *testing.T) {
	c := newControlled(t)
	plain := openPlainly(t, c.file)
	defer plain.Close()
	copied := func() string { // with all that the log of SQLite still has
		file := filepath.Join(t.TempDir(), "copy.db")
		_, err := plain.Exec("VACUUM INTO ?", file)
		require.NoError(t, err)
		return file
	}
	heads := func() string {
		file := filepath.Join(t.TempDir(), "heads.txt")
		require.NoError(t, os.WriteFile(file, []byte(succeed(t, "verify", "--db", c.file, "--heads")), 0o600))
		return file
	}
	before, early := heads(), copied()
	require.NoError(t, c.svc.Lists.AddCategory(c.Context(), operator, "animal"))
	_, err := c.svc.Ledger.Move(c.Context(), c.signed(), []inventory.Movement{{LotID: 2, Qty: 1, From: "N1-STORE",
		To: "used", Reason: inventory.ReasonUsed}})
	require.NoError(t, err)
	after := heads()
	succeed(t, "verify", "--db", c.file, "--since", before)
	succeed(t, "verify", "--db", c.file, "--since", after)
	folder := filepath.Join(t.TempDir(), "export")
	succeed(t, "export", "--db", c.file, folder)
	succeed(t, "verify", "--db", c.file, "--since", filepath.Join(folder, "heads.csv"))
	succeed(t, "verify", "--db", early, "--since", before)
	succeed(t, "verify", "--db", early) // cut with its heads: nothing in it tells
	o := stowkeeper(t, "verify", "--db", early, "--since", after)
	assert.Equal(t, 1, o.code)
	for _, chain := range []string{"service", "N1"} {
		assert.Regexp(t, "the chain "+chain+` has no entry \d+ with the hash that was kept elsewhere`, o.out)
	}
	assert.NotContains(t, o.out, "chain S2", "nothing was done there")
	wrong := filepath.Join(t.TempDir(), "wrong.txt")
	require.NoError(t, os.WriteFile(wrong, []byte("N1 twelve\n"), 0o600))
	assert.Contains(t, stowkeeper(t, "verify", "--db", c.file, "--since", wrong).err,
		"give heads as verify --heads prints them")
}
