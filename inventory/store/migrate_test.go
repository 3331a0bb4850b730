package store_test

import (
	"database/sql"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stowkeeper/inventory/store"
	"stowkeeper/inventory/store/migrations"
	"stowkeeper/inventory/store/storetest"
	"stowkeeper/testdata/before"
)

// TestUpgradeKeepsTheFileFromBefore: before a newer program changes a file it keeps it as it was, and says where; of
// several the newest three stay, and nothing that is called otherwise goes.
func TestUpgradeKeepsTheFileFromBefore(t *testing.T) {
	file := before.Service(t)
	long := time.Now().Add(-time.Hour)
	for i, name := range []string{".schema-9", ".schema-10", ".schema-11", ".schema-13", "-notes"} {
		require.NoError(t, os.WriteFile(file+name, []byte(name), 0o600))
		require.NoError(t, os.Chtimes(file+name, long, long.Add(time.Duration(i)*time.Minute)))
	}
	rows := texts(t, openRaw(t, file), "SELECT count(*) FROM movement")
	var said []string
	s, err := store.Open(t.Context(), file, store.Options{Tell: func(text string) { said = append(said, text) }})
	require.NoError(t, err)
	require.NoError(t, s.Close())
	kept := migrations.Kept(file, versionBefore) + ".2"
	require.Len(t, said, 1)
	assert.Contains(t, said[0], kept)
	info, err := os.Stat(kept)
	require.NoError(t, err)
	assert.Equal(t, os.FileMode(0o600), info.Mode().Perm())
	old := openRaw(t, kept)
	assert.Equal(t, rows, texts(t, old, "SELECT count(*) FROM movement"))
	assert.Equal(t, []string{"13"}, texts(t, old, "SELECT max(version_id) FROM "+migrations.VersionTable))
	all, err := filepath.Glob(file + "*")
	require.NoError(t, err)
	assert.ElementsMatch(t, []string{file, file + ".schema-11", file + ".schema-13", kept, file + "-notes"}, all)

	s, err = store.Open(t.Context(), file, store.Options{Tell: func(text string) { said = append(said, text) }})
	require.NoError(t, err)
	require.NoError(t, s.Close())
	assert.Len(t, said, 1, "nothing to do the second time")
}

// TestUpgradeIsWholeOrNone: a step that fails in the middle leaves the file as it was, so that the program from before
// opens it.
func TestUpgradeIsWholeOrNone(t *testing.T) {
	file := before.Service(t)
	raw := openRaw(t, file)
	_, err := raw.Exec("CREATE TABLE actor (stranger TEXT)") // which a later step makes too
	require.NoError(t, err)
	const schema = "SELECT sql FROM sqlite_schema WHERE sql IS NOT NULL ORDER BY name"
	was := texts(t, raw, schema)
	_, err = store.Open(t.Context(), file, store.Options{})
	require.ErrorContains(t, err, "nothing was changed")
	assert.Equal(t, was, texts(t, raw, schema))
	assert.Equal(t, []string{"13"}, texts(t, raw, "SELECT max(version_id) FROM "+migrations.VersionTable))
	left, err := os.ReadDir(filepath.Dir(file))
	require.NoError(t, err)
	for _, e := range left {
		assert.NotRegexp(t, `schema-|migrate`, e.Name())
	}
}

// TestUpgradeOfPostgresIsWholeOrNone: the same there, where the last step of several fails: the program from before
// still opens it, and once the reason is gone the upgrade is made.
func TestUpgradeOfPostgresIsWholeOrNone(t *testing.T) {
	address := postgresFromBefore(t)
	raw, err := sql.Open("pgx", address)
	require.NoError(t, err)
	t.Cleanup(func() { assert.NoError(t, raw.Close()) })
	const schema = `SELECT table_name || '.' || column_name || ' ' || data_type FROM information_schema.columns
WHERE table_schema = 'public' ORDER BY 1`
	steps, err := fs.Glob(migrations.Texts, "*.sql")
	require.NoError(t, err)
	planted := "CREATE FUNCTION refuse() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN RAISE EXCEPTION 'no more'; END $$;" +
		"CREATE TRIGGER refuse BEFORE INSERT ON " + migrations.VersionTable + " FOR EACH ROW WHEN (NEW.version_id = " +
		strings.TrimLeft(steps[len(steps)-1][:5], "0") + ") EXECUTE FUNCTION refuse()"
	_, err = raw.Exec(planted)
	require.NoError(t, err)
	was := texts(t, raw, schema)
	_, err = store.Open(t.Context(), address, store.Options{})
	require.ErrorContains(t, err, "nothing was changed")
	assert.Equal(t, was, texts(t, raw, schema))
	assert.Equal(t, []string{"13"}, texts(t, raw, "SELECT max(version_id)::text FROM "+migrations.VersionTable))
	_, err = raw.Exec("DROP FUNCTION refuse CASCADE")
	require.NoError(t, err)
	require.NoError(t, storetest.Open(t, address).Probe(t.Context()))
	assert.NotEqual(t, was, texts(t, raw, schema))
}
