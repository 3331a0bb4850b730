package api_test

import (
	"bytes"
	"encoding/json"
	"flag"
	"os"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stowkeeper/api"
)

var update = flag.Bool("update", false, "write the files in testdata anew")

const golden = "testdata/openapi.json"

// TestOpenAPIGolden compares the served document with the committed one. A
// change of the text without a higher version is its own failure, since a
// client goes by the version.
func TestOpenAPIGolden(t *testing.T) {
	w := newWorld(t)
	var now bytes.Buffer
	require.NoError(t, json.Indent(&now, w.served(), "", "  "))
	now.WriteByte('\n')
	if *update {
		require.NoError(t, os.MkdirAll("testdata", 0o755))
		require.NoError(t, os.WriteFile(golden, now.Bytes(), 0o644))
	}
	then, err := os.ReadFile(golden)
	require.NoError(t, err, "run go test ./api -update")
	if bytes.Equal(then, now.Bytes()) {
		return
	}
	if version(t, then) == version(t, now.Bytes()) {
		t.Fatalf("the document changed and its version %s did not: raise api.SpecVersion, then run go test ./api -update",
			api.SpecVersion)
	}
	t.Fatal("the document changed with its version: run go test ./api -update and look at the difference")
}

func version(t *testing.T, document []byte) string {
	t.Helper()
	var d struct {
		OpenAPI string `json:"openapi"`
		Info    struct {
			Version string `json:"version"`
		} `json:"info"`
	}
	require.NoError(t, json.Unmarshal(document, &d))
	assert.Equal(t, "3.1.0", d.OpenAPI)
	return d.Info.Version
}
