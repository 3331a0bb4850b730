package slow_test

import (
	"bytes"
	"log/slog"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"

	"stowkeeper/inventory/store/slow"
)

// TestSlowStatements sees slow statements reported, others not, and values
// never.
func TestSlowStatements(t *testing.T) {
	var out bytes.Buffer
	log := slow.Log{To: slog.New(slog.NewTextHandler(&out, nil))}
	text := func() (string, int64) { return "SELECT 1", 1 }
	log.Trace(t.Context(), time.Now(), text, nil)
	assert.Empty(t, out.String())
	log.Trace(t.Context(), time.Now().Add(-2*slow.Statement), text, nil)
	assert.Contains(t, out.String(), "slow statement")
	assert.Contains(t, out.String(), "SELECT 1")

	sql, values := log.ParamsFilter(t.Context(), "SELECT ?", "hidden")
	assert.Equal(t, "SELECT ?", sql)
	assert.Empty(t, values)
}
