// Package before unpacks, for tests, what the program left behind when its schema had version 13 and stations were
// called sites. README.md says how it was made.
package before

import (
	"archive/zip"
	"bytes"
	"compress/gzip"
	"embed"
	"io"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"
)

//go:embed service.db.gz service.zip demo.zip
var files embed.FS

// Keeper is the token of a quartermaster's program in the service.
const Keeper = "sk_CESTKDXEUJ4EOC6X5S7JYZ6DBUXS6T7EWUUL3PHMEILZYC3KJB7N"

// Service writes the database of a small service into a new file.
func Service(t testing.TB) (file string) {
	t.Helper()
	packed, err := files.Open("service.db.gz")
	require.NoError(t, err)
	r, err := gzip.NewReader(packed)
	require.NoError(t, err)
	data, err := io.ReadAll(r)
	require.NoError(t, err)
	file = filepath.Join(t.TempDir(), "service.db")
	require.NoError(t, os.WriteFile(file, data, 0o600))
	return file
}

// Export unpacks the export of that service, or of the demo, into a new folder.
func Export(t testing.TB, of string) (folder string) {
	t.Helper()
	data, err := files.ReadFile(of + ".zip")
	require.NoError(t, err)
	z, err := zip.NewReader(bytes.NewReader(data), int64(len(data)))
	require.NoError(t, err)
	folder = t.TempDir()
	require.NoError(t, os.CopyFS(folder, z))
	return folder
}
