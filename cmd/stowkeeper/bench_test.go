package main

import (
	"encoding/json"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stowkeeper/cmd/stowkeeper/bench"
)

// A developer measures two rows on a small service: each says what was measured, and whether it holds.
func TestBenchMeasures(t *testing.T) {
	out := stowkeeperWith(t, "", nil, "bench", "--stations", "2", "--bags", "2", "--batches", "12", "--only",
		"pick list|search", "--json")
	require.Zero(t, out.code, out.err)
	var got struct{ Rows []bench.Row }
	require.NoError(t, json.Unmarshal([]byte(out.out), &got), out.out)
	require.Len(t, got.Rows, 2)
	for _, r := range got.Rows {
		assert.Positive(t, r.Ratio, r.Measure)
		assert.Equal(t, r.Ratio <= r.Limit, r.Holds, r.Measure)
	}
	assert.Contains(t, stowkeeperWith(t, "", nil, "bench", "--only", "(").err, "is no regular expression")
}
