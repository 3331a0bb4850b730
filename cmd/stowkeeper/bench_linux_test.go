package main

import (
	"fmt"
	"io"
	"os"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"syscall"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stowkeeper/cmd/stowkeeper/bench"
)

// A developer's measuring fails since the small service does not start, or nobody can sign in there. Nothing that was
// started goes on running, and nothing is left on the disk.
func TestBenchLeavesNothingRunning(t *testing.T) {
	for name, instead := range map[string]string{
		"does not start": "exit 1",
		"no sign-in":     `set -- serve --db "$0.other.db" --listen 127.0.0.1:0`,
	} {
		t.Run(name, func(t *testing.T) {
			t.Setenv("TMPDIR", t.TempDir())
			program := filepath.Join(t.TempDir(), "program")
			require.NoError(t, os.WriteFile(program, fmt.Appendf(nil, "#!/bin/sh\ncase \"$*\" in *serve*small.db*) %s ;; esac\n"+
				"echo $$ >> \"$0.started\"\n%s=1 exec '%s' \"$@\"\n", instead, beTheProgram, os.Args[0]), 0o700))
			_, err := bench.Run(t.Context(), bench.Options{Program: program, Stations: 1, Bags: bench.LeastBags,
				Only: regexp.MustCompile("no measure"), Progress: io.Discard})
			require.Error(t, err)
			started, err := os.ReadFile(program + ".started")
			require.NoError(t, err)
			pids := strings.Fields(string(started))
			assert.GreaterOrEqual(t, len(pids), 3, "two tokens, and a service")
			for _, pid := range pids {
				n, err := strconv.Atoi(pid)
				require.NoError(t, err)
				assert.ErrorIs(t, syscall.Kill(n, 0), syscall.ESRCH, "%s goes on running", pid)
			}
			left, err := os.ReadDir(os.TempDir())
			require.NoError(t, err)
			assert.Empty(t, left)
		})
	}
}
