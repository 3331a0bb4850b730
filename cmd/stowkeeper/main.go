// Command stowkeeper keeps first-aid bags fit to go out: the server, the demo
// and the tools around them.
package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"log/slog"
	"os"
	"os/signal"
	"path/filepath"
	"strconv"
	"strings"
	"syscall"
	"time"
	_ "time/tzdata" // stations need their zones on machines without a zone database

	"github.com/alecthomas/kong"

	"stowkeeper/inventory"
	"stowkeeper/inventory/lists"
	"stowkeeper/inventory/services"
	"stowkeeper/inventory/store"
	"stowkeeper/testdata"
)

// commands is the command line. Each option is also an environment variable
// of the same name with STOWKEEPER_ before it.
type commands struct {
	Demo   demoCommand   `cmd:"" help:"Run the invented demo and print how to sign in."`
	Serve  serveCommand  `cmd:"" help:"Run the service."`
	Token  tokenCommand  `cmd:"" help:"Make a token for a program, list tokens, revoke one."`
	Person personCommand `cmd:"" help:"Add, list or disable the people who sign in, or give one a new PIN or password."`
	Import importCommand `cmd:"" help:"Import lists from CSV, XLSX or an export: all or nothing."`
	Export exportCommand `cmd:"" help:"Export everything as CSV files and an XLSX workbook."`
	Labels labelsCommand `cmd:"" help:"Print labels as a PDF: of bags, their contents, shelves and devices."`
	Verify verifyCommand `cmd:"" help:"Recompute everything from the movements; exit 1 on a difference."`
}

// streams is where a command writes, so that tests can look.
type streams struct {
	in       io.Reader
	out, err io.Writer
}

func main() {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	defer stop()
	os.Exit(run(ctx, os.Args[1:], streams{os.Stdin, os.Stdout, os.Stderr}))
}

// run parses and runs one command line and returns the exit code: 0, or 1 for
// a failure, or 2 for a command line that cannot be understood.
func run(ctx context.Context, args []string, std streams) int {
	var cli commands
	exit := -1
	parser, err := kong.New(&cli,
		kong.Name("stowkeeper"),
		kong.Description("First-aid kit inventory and device service life, for the station quartermaster."),
		kong.DefaultEnvars("STOWKEEPER"),
		kong.Writers(std.out, std.err),
		kong.Vars{"lists": kindsOfLists()},
		kong.Exit(func(code int) { exit = code }),
	)
	if err != nil {
		fmt.Fprintln(std.err, "stowkeeper:", err)
		return 1
	}
	parsed, err := parser.Parse(withNegatives(args))
	if exit >= 0 { // --help has been printed
		return exit
	}
	if err != nil {
		fmt.Fprintf(std.err, "stowkeeper: %v\nSee stowkeeper --help, or the help of the command.\n", err)
		return 2
	}
	ctx = inventory.Acting(ctx, operator)
	parsed.BindTo(ctx, (*context.Context)(nil))
	if err := parsed.Run(std, &cli); err != nil {
		fmt.Fprintln(std.err, "stowkeeper:", forPeople(err))
		return 1
	}
	return 0
}

// withNegatives joins a negative number to the option before it, which would
// else be read as further options.
func withNegatives(args []string) []string {
	var out []string
	for i, arg := range args {
		_, err := strconv.ParseFloat(arg, 64)
		if i > 0 && err == nil && strings.HasPrefix(arg, "-") && strings.HasPrefix(args[i-1], "--") &&
			!strings.Contains(args[i-1], "=") {
			out[len(out)-1] += "=" + arg
			continue
		}
		out = append(out, arg)
	}
	return out
}

// forPeople writes an error with each wrong field on its own line.
func forPeople(err error) string {
	var e *inventory.Error
	if !errors.As(err, &e) {
		return err.Error()
	}
	s := e.Message
	for _, f := range e.Fields {
		s += "\n  " + f.Path + ": " + f.Fix
	}
	return s
}

// database is the option that every command shares.
type database struct {
	DB string `name:"db" required:"" help:"Database: a file, or a postgres:// address." placeholder:"FILE"`

	registerYears int // the owner's policy, where a command has it
}

// open opens the database and returns the use cases over it.
func (d database) open(ctx context.Context, std streams) (*services.All, func() error, error) {
	db, err := openStore(ctx, d.DB, std)
	if err != nil {
		return nil, nil, err
	}
	svc, err := newServices(db, d.registerYears)
	return svc, db.Close, err
}

// newServices returns the use cases over a store, with the kit lists that the
// program carries. registerYears is the owner's policy, where they have one.
func newServices(db inventory.Store, registerYears int) (*services.All, error) {
	published, err := lists.ParsePublished(testdata.KitStandards)
	return services.New(db, clock, services.Options{Published: published, KeepRegisters: registerYears}), err
}

// openStore opens a database, and says what to mend where there can be none.
func openStore(ctx context.Context, db string, std streams) (inventory.Store, error) {
	if !store.IsPostgres(db) {
		if _, err := os.Stat(filepath.Dir(db)); errors.Is(err, fs.ErrNotExist) {
			return nil, inventory.Invalidf("db", "name a file in a folder that exists")
		}
	}
	return store.Open(ctx, db, store.Options{Logger: quiet(std)})
}

// mustExist refuses a file that is not there, where making an empty database
// would hide a mistyped name.
func (d database) mustExist() error {
	if store.IsPostgres(d.DB) {
		return nil
	}
	if _, err := os.Stat(d.DB); errors.Is(err, fs.ErrNotExist) {
		return inventory.Invalidf("db", "name a database that exists: there is no such file")
	}
	return nil
}

// clock is the one place where the program looks at the time.
func clock() inventory.Instant { return inventory.InstantOf(time.Now()) }

// quiet logs errors only: what a command prints is for people.
func quiet(std streams) *slog.Logger {
	return slog.New(slog.NewTextHandler(std.err, &slog.HandlerOptions{Level: slog.LevelError}))
}

// operator is who acts when somebody at the machine's own command line does.
var operator = inventory.Actor{Name: "command line", Role: inventory.Administrator, From: "command line"}
