package main

import (
	"bytes"
	"context"
	"io"
	"os"
	"os/exec"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// beTheProgram, set to 1, makes the test binary be stowkeeper itself, so that
// the tests can run it as processes of their own. With the value tied it also
// ends when its standard input does, so that it never outlives the tests.
const beTheProgram = "STOWKEEPER_TEST_BE_THE_PROGRAM"

func TestMain(m *testing.M) {
	switch os.Getenv(beTheProgram) {
	case "tied":
		go func() {
			_, _ = io.Copy(io.Discard, os.Stdin)
			os.Exit(3)
		}()
		main()
	case "1":
		main()
	}
	os.Exit(inFolder(m))
}

// folder is for what the tests of this package share; it goes when they end.
var folder string

func inFolder(m *testing.M) int {
	var err error
	if folder, err = os.MkdirTemp("", "stowkeeper"); err != nil {
		panic(err)
	}
	defer os.RemoveAll(folder)
	return m.Run()
}

// demoBinary returns the binary that runs the demo: this one.
var demoBinary = func(testing.TB) string { return os.Args[0] }

// patience is how long anything may take on a slow and busy machine.
const patience = 10 * time.Minute

// command returns the program as a command with a clean environment, to be
// started by the caller.
func command(ctx context.Context, mode string, args ...string) *exec.Cmd {
	cmd := exec.CommandContext(ctx, os.Args[0], args...)
	for _, e := range os.Environ() {
		if !strings.HasPrefix(e, "STOWKEEPER_") {
			cmd.Env = append(cmd.Env, e)
		}
	}
	cmd.Env = append(cmd.Env, beTheProgram+"="+mode)
	return cmd
}

// outcome is how a command ended and what it wrote.
type outcome struct {
	code     int
	out, err string
}

// stowkeeper runs one command line to its end.
func stowkeeper(t testing.TB, args ...string) outcome {
	t.Helper()
	return stowkeeperWith(t, "", nil, args...)
}

// stowkeeperWith runs one command line with standard input and further
// environment variables.
func stowkeeperWith(t testing.TB, stdin string, env []string, args ...string) outcome {
	t.Helper()
	ctx, cancel := context.WithTimeout(t.Context(), patience)
	defer cancel()
	cmd := command(ctx, "1", args...)
	cmd.Env = append(cmd.Env, env...)
	var out, err bytes.Buffer
	cmd.Stdin, cmd.Stdout, cmd.Stderr = strings.NewReader(stdin), &out, &err
	failure := cmd.Run()
	require.NoError(t, ctx.Err(), "stowkeeper %s took too long", args)
	if _, exited := failure.(*exec.ExitError); failure != nil && !exited {
		require.NoError(t, failure)
	}
	return outcome{cmd.ProcessState.ExitCode(), out.String(), err.String()}
}

// succeed runs one command line that must succeed and returns what it printed.
func succeed(t testing.TB, args ...string) string {
	t.Helper()
	o := stowkeeper(t, args...)
	require.Zero(t, o.code, "stowkeeper %s\n%s%s", args, o.out, o.err)
	return o.out
}

// newToken makes a token and returns its text.
func newToken(t testing.TB, db, role, name string, stations ...string) string {
	t.Helper()
	args := []string{"token", "create", "--db", db, "--role", role, "--name", name}
	for _, s := range stations {
		args = append(args, "--station", s)
	}
	return strings.TrimSpace(succeed(t, args...))
}
