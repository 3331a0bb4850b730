package api_test

import (
	"encoding/json"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stowkeeper/testdata/before"
)

// TestDatabaseFromBefore answers, of a database from before names were changed
// and with a token of then, by the names of now.
func TestDatabaseFromBefore(t *testing.T) {
	w := newWorldOn(t, before.Service(t))
	for path, want := range map[string]string{
		"/checks?status=to_review": `[{"id":4,"bag":"FM-2","status":"to_review","seen_position":4}]`,
		"/uses?status=rejected":    `[{"id":3,"bag":"FM-1","status":"rejected","decision":{"decision":"reject"}}]`,
		"/notices":                 `[{"reference":"FSN-8"},{"reference":"FSN-7","batch_nos":["G-2"]}]`,
		"/lots?batch_no=G-2":       `[{"item":"GAUZE","batch_no":"G-2"}]`,
	} {
		var list struct{ Data []map[string]any }
		require.NoError(t, json.Unmarshal(w.with(before.Keeper, "GET", path).want(200).body, &list), path)
		holds(t, path, want, list.Data)
	}
	for path, want := range map[string]string{
		"/bags/FM-2": `{"station":"FM","at_station":"FM","out_of_service":{"reason":"zip torn","by":"keeper-desk"}}`,
		"/bags/OV-1": `{"station":"OV","at_station":"FM"}`,
		"/items/AMP": `{"controlled":true}`,
	} {
		var got any
		require.NoError(t, json.Unmarshal(w.with(before.Keeper, "GET", path).want(200).body, &got), path)
		holds(t, path, want, got)
	}
}

// holds has an answer hold all that a JSON text says, and perhaps more.
func holds(t *testing.T, what, want string, got any) {
	var wanted any
	require.NoError(t, json.Unmarshal([]byte(want), &wanted))
	data, err := json.Marshal(got)
	require.NoError(t, err)
	var all any
	require.NoError(t, json.Unmarshal(data, &all))
	within(t, what, wanted, all)
}

func within(t *testing.T, what string, want, got any) {
	switch want := want.(type) {
	case map[string]any:
		is, ok := got.(map[string]any)
		require.True(t, ok, what)
		for k, v := range want {
			within(t, what+" "+k, v, is[k])
		}
	case []any:
		is, ok := got.([]any)
		require.True(t, ok && len(is) == len(want), "%s: %v", what, got)
		for i, v := range want {
			within(t, what, v, is[i])
		}
	default:
		assert.Equal(t, want, got, what)
	}
}
