package store_test

import (
	"database/sql"
	"encoding/csv"
	"fmt"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stowkeeper/inventory"
	"stowkeeper/inventory/services"
	"stowkeeper/inventory/store"
	"stowkeeper/inventory/store/migrations"
	"stowkeeper/inventory/store/storetest"
	"stowkeeper/inventory/table"
	"stowkeeper/testdata/before"
)

// versionBefore is the schema's version before its names were changed.
const versionBefore = 13

// TestDatabaseFromBefore opens a database from before names were changed, on
// each engine: it verifies, the heads of its chains are what they were, and what
// it exports is what the program of then exported of it, by the names of now.
func TestDatabaseFromBefore(t *testing.T) {
	for engine, prepare := range map[string]func(*testing.T) string{
		store.SQLite:   func(t *testing.T) string { return before.Service(t) },
		store.Postgres: postgresFromBefore,
	} {
		t.Run(engine, func(t *testing.T) {
			old := openRaw(t, before.Service(t))
			heads := texts(t, old, "SELECT code || ' ' || chain_seq || ' ' || chain_hash FROM site ORDER BY code")
			require.Regexp(t, `^FM \d\d [0-9a-f]{64}$`, heads[0])
			s := storetest.Open(t, prepare(t))
			db, _ := store.Pools(s)
			assert.Equal(t, heads,
				texts(t, db, "SELECT code || ' ' || chain_seq || ' ' || chain_hash FROM station ORDER BY code"))
			evening := inventory.InstantOf(time.Date(2026, 11, 29, 18, 0, 0, 0, time.UTC))
			svc := services.New(s, func() inventory.Instant { return evening }, services.Options{})
			report, err := svc.Verify.Verify(t.Context())
			require.NoError(t, err)
			assert.Empty(t, report.Faults)
			assert.Equal(t, []int{24, 16, 3}, []int{report.Movements, report.Balances, report.Bags})
			assert.Equal(t, heads, texts(t, db, lateHeads[engine]), "each stands in an entry of its station")
			want, got := asNamedNow(t, before.Export(t, "service")), exportOf(t, svc)
			delete(got, "heads") // of the chains that came since
			delete(got, "discrepancies")
			delete(got, "documents")
			assert.Equal(t, slices.Sorted(maps.Keys(want)), slices.Sorted(maps.Keys(got)))
			for name := range want { // in what order histories stand is not promised
				for i := range got[name] { // columns that came since stand last
					if i < len(want[name]) {
						got[name][i] = got[name][i][:len(want[name][i])]
					}
				}
				assert.ElementsMatch(t, want[name], got[name], name)
			}
			setup := inventory.Actor{Name: "setup", Role: inventory.Administrator}
			former, err := svc.Stock.Lots(t.Context(), setup, inventory.LotFilter{BatchNo: "g z"}, 0, inventory.Page{})
			require.NoError(t, err)
			require.NotEmpty(t, former, "a batch is found by the number that was corrected then")
			assert.Equal(t, []any{"G-2", "GAUZE", "G-Z"}, []any{former[0].BatchNo, former[0].Formerly[0].Item,
				former[0].Formerly[0].BatchNo})
			assert.Equal(t, []string{"see out_of_service keep_stations"}, // what no export holds
				texts(t, db, "SELECT scope FROM token WHERE name = 'scanner'"))
			lines := texts(t, db, "SELECT CAST(lines AS TEXT) FROM delivery")
			assert.Regexp(t, `"batch_no": ?"G-9"`, lines[0])
		})
	}
}

// lateHeads lists what stands for the movements from before, as heads are listed.
var lateHeads = map[string]string{
	store.SQLite: `SELECT s.code || ' ' || (f.value ->> '$[2].seq') || ' ' || (f.value ->> '$[2].hash')
FROM station s JOIN history_entry h ON h.chain = s.code AND h.kind = 'entered_late', json_each(nullif(h.facts, '')) f
WHERE f.value ->> '$[0]' = 'movements' AND f.value ->> '$[1][0]' = s.code ORDER BY s.code`,
	store.Postgres: `SELECT s.code || ' ' || (f -> 2 ->> 'seq') || ' ' || (f -> 2 ->> 'hash')
FROM station s JOIN history_entry h ON h.chain = s.code AND h.kind = 'entered_late',
    json_array_elements(h.facts::json) f
WHERE f ->> 0 = 'movements' AND f -> 1 ->> 0 = s.code ORDER BY s.code`,
}

// TestEnteringGoesOn: what was broken off while the rows from before were entered
// goes on at the next start, and enters nothing twice.
func TestEnteringGoesOn(t *testing.T) {
	file := before.Service(t)
	db := openRaw(t, file)
	require.NoError(t, store.MigrateTo(t.Context(), db, store.SQLite, 15))
	_, err := db.Exec(`CREATE TRIGGER breaks BEFORE INSERT ON history_entry
WHEN (SELECT sum(entry_seq) FROM station) > 0 BEGIN SELECT RAISE(ABORT, 'the power went'); END`)
	require.NoError(t, err)
	_, err = store.Open(t.Context(), file, store.Options{})
	require.ErrorContains(t, err, "enter what was there before the chains")
	const count = "SELECT CAST(count(*) AS TEXT) FROM history_entry h, json_each(nullif(h.facts, '')) f " +
		"WHERE h.kind = 'entered_late'"
	begun := texts(t, db, count)[0]
	require.NotEqual(t, "0", begun)
	_, err = db.Exec("DROP TRIGGER breaks")
	require.NoError(t, err)
	s := storetest.Open(t, file)
	assert.NotEqual(t, begun, texts(t, db, count)[0])
	assert.Empty(t, texts(t, db, "SELECT f.value ->> '$[0]' || (f.value ->> '$[1]') FROM history_entry h, "+
		"json_each(nullif(h.facts, '')) f GROUP BY 1 HAVING count(*) > 1"))
	assert.Empty(t, texts(t, db, "SELECT name FROM sqlite_schema WHERE name = 'entering'"))
	report, err := services.New(s, func() inventory.Instant { return 0 }, services.Options{}).Verify.Verify(t.Context())
	require.NoError(t, err)
	assert.Empty(t, report.Faults)
}

// postgresFromBefore copies the rows of the SQLite file into a database on
// PostgreSQL whose schema has the version of then, and returns its address.
func postgresFromBefore(t *testing.T) string {
	address := storetest.Database(t, store.Postgres)
	to, err := sql.Open("pgx", address)
	require.NoError(t, err)
	defer to.Close()
	to.SetMaxOpenConns(2) // one of them holds the lock of the migrations
	require.NoError(t, store.MigrateTo(t.Context(), to, store.Postgres, versionBefore))
	from := openRaw(t, before.Service(t))
	tx, err := to.BeginTx(t.Context(), nil)
	require.NoError(t, err)
	// Items and products name each other, so references are not looked at.
	_, err = tx.ExecContext(t.Context(), "SET LOCAL session_replication_role = replica")
	require.NoError(t, err)
	names := texts(t, from, "SELECT name FROM sqlite_master WHERE type = 'table' AND name NOT LIKE 'sqlite%'")
	for _, name := range names {
		if name != migrations.VersionTable {
			copyTable(t, from, tx, name)
		}
	}
	require.NoError(t, tx.Commit())
	return address
}

// copyTable copies a table's rows as text, cast to what its columns are there.
func copyTable(t *testing.T, from *sql.DB, to *sql.Tx, name string) {
	types, err := to.QueryContext(t.Context(),
		"SELECT column_name, data_type FROM information_schema.columns WHERE table_name = $1 ORDER BY 1", name)
	require.NoError(t, err)
	var columns, read, write []string
	for types.Next() {
		var column, is string
		require.NoError(t, types.Scan(&column, &is))
		columns = append(columns, column)
		if is == "bytea" {
			read, write = append(read, "hex("+column+")"), append(write, fmt.Sprintf("decode($%d, 'hex')", len(columns)))
			continue
		}
		read = append(read, "CAST("+column+" AS TEXT)")
		write = append(write, fmt.Sprintf("$%d::text::%s", len(columns), is))
	}
	require.NoError(t, types.Err())
	require.NotEmpty(t, columns, name)
	_, err = to.ExecContext(t.Context(), "DELETE FROM "+name) // categories and places that a new schema has
	require.NoError(t, err)
	rows, err := from.Query("SELECT " + strings.Join(read, ", ") + " FROM " + name)
	require.NoError(t, err)
	defer rows.Close()
	for rows.Next() {
		cells := make([]sql.NullString, len(columns))
		into, values := make([]any, len(columns)), make([]any, len(columns))
		for i := range cells {
			into[i] = &cells[i]
		}
		require.NoError(t, rows.Scan(into...))
		for i, c := range cells {
			values[i] = c
		}
		_, err = to.ExecContext(t.Context(), "INSERT INTO "+name+" ("+strings.Join(columns, ", ")+
			") OVERRIDING SYSTEM VALUE VALUES ("+strings.Join(write, ", ")+")", values...)
		require.NoError(t, err, name)
	}
	require.NoError(t, rows.Err())
	if slices.Contains(columns, "id") { // the next ids follow these
		_, err = to.ExecContext(t.Context(), "SELECT setval(pg_get_serial_sequence('"+name+"', 'id'), "+
			"(SELECT coalesce(max(id), 1) FROM "+name+"))")
		require.NoError(t, err, name)
	}
}

func openRaw(t *testing.T, file string) *sql.DB {
	db, err := sql.Open("sqlite", "file:"+filepath.ToSlash(file))
	require.NoError(t, err)
	t.Cleanup(func() { require.NoError(t, db.Close()) })
	return db
}

// exportOf exports everything, by table, without the names of columns.
func exportOf(t *testing.T, svc *services.All) map[string][][]string {
	dir := filepath.Join(t.TempDir(), "export")
	sink, err := table.NewFolder(dir)
	require.NoError(t, err)
	by := inventory.Actor{Name: "setup", Role: inventory.Administrator}
	require.NoError(t, svc.Exchange.Export(t.Context(), by, sink))
	require.NoError(t, sink.Close())
	return rowsOf(t, dir)
}

// asNamedNow is an export from before, with the values that have another name
// now.
func asNamedNow(t *testing.T, dir string) map[string][][]string {
	tables := rowsOf(t, dir)
	for was, is := range map[string]string{"sites": "stations", "deeds": "history"} {
		tables[is] = tables[was]
		delete(tables, was)
	}
	rename := strings.NewReplacer(`"lot_no":`, `"batch_no":`, `"at":`, `"recorded_at":`, `"kind":"taken_off"`,
		`"kind":"out_of_service"`, `"kind":"site"`, `"kind":"station"`, `"decision":"post"`, `"decision":"accept"`,
		`"decision":"adjust"`, `"decision":"edit"`, `"decision":"dismiss"`, `"decision":"reject"`)
	values := map[string]map[string]string{
		"checks":  {"posted": "accepted", "waiting": "to_review", "dismissed": "rejected"},
		"uses":    {"posted": "accepted", "waiting": "to_review", "dismissed": "rejected"},
		"history": {"site": "station"},
	}
	for name, rows := range tables {
		for _, row := range rows {
			for i, cell := range row {
				row[i] = rename.Replace(cell)
				if is, ok := values[name][cell]; ok {
					row[i] = is
				}
			}
		}
	}
	return tables
}

func rowsOf(t *testing.T, dir string) map[string][][]string {
	files, err := filepath.Glob(filepath.Join(dir, "*.csv"))
	require.NoError(t, err)
	out := map[string][][]string{}
	for _, name := range files {
		file, err := os.Open(name)
		require.NoError(t, err)
		rows, err := csv.NewReader(file).ReadAll()
		require.NoError(t, err)
		require.NoError(t, file.Close())
		out[strings.TrimSuffix(filepath.Base(name), ".csv")] = slices.Clone(rows[1:])
	}
	return out
}
