package main

import (
	"context"
	"fmt"
	"io"
	"os"
	"strings"
	"syscall"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"golang.org/x/sys/unix"
)

// terminal runs a command line at a terminal of its own, types each answer once its prompt has appeared, and returns
// what the terminal shows and the exit code.
func terminal(t *testing.T, answers [][2]string, args ...string) (*lockedBuffer, int) {
	t.Helper()
	here, err := os.OpenFile("/dev/ptmx", os.O_RDWR|syscall.O_NOCTTY, 0)
	require.NoError(t, err)
	t.Cleanup(func() { _ = here.Close() })
	raw, err := here.SyscallConn()
	require.NoError(t, err)
	var n int
	require.NoError(t, raw.Control(func(fd uintptr) {
		if err = unix.IoctlSetPointerInt(int(fd), unix.TIOCSPTLCK, 0); err == nil {
			n, err = unix.IoctlGetInt(int(fd), unix.TIOCGPTN)
		}
	}))
	require.NoError(t, err)
	there, err := os.OpenFile(fmt.Sprintf("/dev/pts/%d", n), os.O_RDWR|syscall.O_NOCTTY, 0)
	require.NoError(t, err)
	defer there.Close()
	ctx, cancel := context.WithTimeout(t.Context(), patience)
	defer cancel()
	cmd := command(ctx, "1", args...)
	cmd.Stdin, cmd.Stdout, cmd.Stderr = there, there, there
	cmd.SysProcAttr = &syscall.SysProcAttr{Setsid: true, Setctty: true}
	require.NoError(t, cmd.Start())
	seen := &lockedBuffer{}
	go func() { _, _ = io.Copy(seen, here) }()
	for _, a := range answers {
		eventually(t, a[0], func() bool { return strings.Contains(seen.String(), a[0]) && hidden(t, there) })
		_, err := io.WriteString(here, a[1])
		require.NoError(t, err)
	}
	_ = cmd.Wait()
	assert.False(t, hidden(t, there), "the terminal shows again what is typed")
	return seen, cmd.ProcessState.ExitCode()
}

// hidden tells whether what is typed at a terminal is not shown.
func hidden(t *testing.T, terminal *os.File) bool {
	state, err := unix.IoctlGetTermios(int(terminal.Fd()), unix.TCGETS)
	require.NoError(t, err)
	return state.Lflag&unix.ECHO == 0
}

// TestPasswordAtTerminal: a password is typed unseen, twice, and Ctrl-C gives up, which changes nothing.
func TestPasswordAtTerminal(t *testing.T) {
	db := smallDatabase(t)
	add := []string{"person", "--db", db, "add", "Cy Dahl", "--role", "manager"}
	const first, again, typed = "PIN or password: ", "Type it again: ", "eight boats at noon"
	for _, c := range []struct {
		answers [][2]string
		says    string
		code    int
	}{
		{[][2]string{{first, "\x03"}}, "stowkeeper: stopped", 1},
		{[][2]string{{first, typed + "\n"}, {again, "nine boats at noon\n"}}, "the two entries differ: try again", 1},
		{[][2]string{{first, typed + "\n"}, {again, typed + "\n"}}, again, 0},
	} {
		shown, code := terminal(t, c.answers, add...)
		eventually(t, c.says, func() bool { return strings.Contains(shown.String(), c.says) })
		assert.Equal(t, c.code, code, shown)
		assert.NotContains(t, shown.String(), "boats")
	}
	p := serve(t, db)
	assert.NotEmpty(t, signIn(t, p, "Cy Dahl", typed))
	p.stop()
}
