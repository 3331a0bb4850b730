package main

import (
	"encoding/json"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stowkeeper/cmd/stowkeeper/bench"
)

// A developer measures some rows on a small service: each says what was measured, and whether it holds. Seal checks are
// accepted there, a notice is on every bag, and what is made for ten times the bags is only made once.
func TestBenchMeasures(t *testing.T) {
	out := stowkeeperWith(t, "", nil, "bench", "--stations", "2", "--bags", "4", "--batches", "12", "--only",
		"pick list|search|checks: 64|notice|ten times the bags", "--json")
	require.Zero(t, out.code, out.err)
	var got struct{ Rows []bench.Row }
	require.NoError(t, json.Unmarshal([]byte(out.out), &got), out.out)
	require.Len(t, got.Rows, 7)
	for _, r := range got.Rows {
		assert.Positive(t, r.Ratio, r.Measure)
		assert.Equal(t, r.Ratio <= r.Limit, r.Holds != (r.Measure[:6] == "checks"), r.Measure)
	}
	assert.Contains(t, out.err, "made 20 stations with 4 bags each")
}

func TestBenchRefuses(t *testing.T) {
	assert.Contains(t, stowkeeperWith(t, "", nil, "bench", "--only", "(").err, "is no regular expression")
	out := stowkeeperWith(t, "", nil, "bench", "--bags", "3", "--stations", "0", "--short", "2")
	assert.Equal(t, 1, out.code)
	for _, want := range []string{"--bags: enter 4 or more", "--stations: enter 1 or more", "--short: enter a share"} {
		assert.Contains(t, out.err, want)
	}
}
