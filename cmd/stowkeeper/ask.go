package main

import (
	"bufio"
	"cmp"
	"context"
	"fmt"
	"io"
	"os"
	"strings"

	"golang.org/x/term"

	"stowkeeper/inventory"
)

// asker reads PINs and passwords from standard input, unseen where that is a terminal: never from the command line or
// the environment, which others on the machine can see.
type asker struct {
	std  streams
	in   *bufio.Reader
	file int  // descriptor of the terminal
	tty  bool // whether somebody types
}

func newAsker(std streams) asker {
	a := asker{std: std, in: bufio.NewReader(io.LimitReader(std.in, 4096))}
	if f, ok := std.in.(*os.File); ok {
		a.file, a.tty = int(f.Fd()), term.IsTerminal(int(f.Fd()))
	}
	return a
}

// newSecret asks for the PIN or password that somebody is to have: twice where it is typed unseen.
func newSecret(ctx context.Context, std streams) (string, error) {
	a := newAsker(std)
	typed, err := a.ask(ctx, "PIN or password: ")
	if err != nil || !a.tty {
		return typed, err
	}
	again, err := a.ask(ctx, "Type it again: ")
	if err == nil && again != typed {
		err = inventory.InvalidField("secret", "the two entries differ: try again")
	}
	return typed, err
}

// ask returns a line. At a terminal it prompts, and gives up when ctx ends, with the terminal as it was.
func (a asker) ask(ctx context.Context, prompt string) (string, error) {
	if !a.tty {
		line, err := a.in.ReadString('\n')
		if err == io.EOF {
			err = nil
		}
		return strings.TrimRight(line, "\r\n"), err
	}
	fmt.Fprint(a.std.err, prompt)
	before, err := term.GetState(a.file)
	if err != nil {
		return "", err
	}
	typed := make(chan error, 1)
	var line []byte
	go func() {
		var err error
		line, err = term.ReadPassword(a.file)
		typed <- err
	}()
	defer fmt.Fprintln(a.std.err)
	select {
	case err := <-typed:
		return string(line), err
	case <-ctx.Done():
		return "", cmp.Or(term.Restore(a.file, before), ctx.Err())
	}
}
