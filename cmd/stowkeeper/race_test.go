//go:build race

package main

import (
	"os/exec"
	"path/filepath"
	"sync"
	"testing"

	"github.com/stretchr/testify/require"
)

// Under the race detector everything takes ten times as long, SQLite above all.
func init() {
	raced = true
	writesARound = 4
	demoBinary = withoutDetector
}

var built struct {
	once sync.Once
	path string
	out  []byte
	err  error
}

// withoutDetector builds this test binary without the detector, for the demo
// alone: loading a year would take minutes, and its use cases are watched by
// the tests of their own package.
func withoutDetector(t testing.TB) string {
	built.once.Do(func() {
		built.path = filepath.Join(folder, "stowkeeper.test")
		built.out, built.err = exec.Command("go", "test", "-c", "-o", built.path, ".").CombinedOutput()
	})
	require.NoError(t, built.err, "%s", built.out)
	return built.path
}
