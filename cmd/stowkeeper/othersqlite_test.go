package main

import (
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stowkeeper/labels/labelstest"
)

// TestAnotherSQLiteReadsIt: somebody with nothing but their system's sqlite3, which is older than ours, finds the file
// whole, writes all of it out as text, and reads that back into a file that says the same and verifies.
func TestAnotherSQLiteReadsIt(t *testing.T) {
	program := labelstest.Tool(t, "sqlite3")
	c := filled(t)
	ask := func(db, text string) string {
		t.Helper()
		cmd := exec.CommandContext(t.Context(), program, "-bail", db)
		cmd.Stdin = strings.NewReader(text)
		out, err := cmd.CombinedOutput()
		require.NoError(t, err, "%s", out)
		return string(out)
	}
	whole := func(db string) {
		t.Helper()
		assert.Equal(t, "ok\n", ask(db, "PRAGMA integrity_check;"))
		assert.Empty(t, ask(db, "PRAGMA foreign_key_check;"))
	}
	copied := filepath.Join(t.TempDir(), "copied.db")
	ask(c.file, "VACUUM INTO '"+copied+"';")
	whole(copied)
	text := ask(copied, ".dump")
	again := filepath.Join(t.TempDir(), "again.db")
	assert.Empty(t, ask(again, text))
	whole(again)
	assert.Equal(t, text, ask(again, ".dump"))
	info, err := os.Stat(again)
	require.NoError(t, err)
	assert.Greater(t, info.Size(), int64(100_000))
	succeed(t, "verify", "--db", again)
}
