// Command stowkeeper keeps first-aid bags fit to go out: the server, the demo and the tools around them.
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
	"runtime/debug"
	"strconv"
	"strings"
	"syscall"
	"time"
	_ "time/tzdata" // stations need their zones on machines without a zone database

	"github.com/alecthomas/kong"

	"stowkeeper/inventory"
	"stowkeeper/inventory/exchange"
	"stowkeeper/inventory/lists"
	"stowkeeper/inventory/services"
	"stowkeeper/inventory/store"
	"stowkeeper/labels"
	"stowkeeper/testdata"
)

// commands is the command line. What a service keeps from day to day is also an environment variable; what is said
// once, to one command, is not.
type commands struct {
	ShowVersion kong.VersionFlag `name:"version" help:"Print the version."`

	Demo       demoCommand       `cmd:"" help:"Run an invented service to try everything."`
	Serve      serveCommand      `cmd:"" help:"Run the service."`
	Token      tokenCommand      `cmd:"" help:"Create, list and revoke tokens for programs."`
	Person     personCommand     `cmd:"" help:"Add, list, disable and enable people; set PINs and passwords."`
	Import     importCommand     `cmd:"" help:"Import lists from CSV or XLSX files: all rows or none."`
	Export     exportCommand     `cmd:"" help:"Export everything as CSV and XLSX files."`
	Move       moveCommand       `cmd:"" help:"Move a service between SQLite and PostgreSQL."`
	Backup     backupCommand     `cmd:"" help:"Copy a SQLite database safely, also while it is served."`
	Restore    restoreCommand    `cmd:"" help:"Put a backup where no database is."`
	Labels     labelsCommand     `cmd:"" help:"Print labels as PDF: bags, contents, shelves, devices."`
	Verify     verifyCommand     `cmd:"" help:"Recompute all records; exit 1 if anything differs."`
	Doctor     doctorCommand     `cmd:"" help:"Look at all that keeps a service well; exit 1 if anything is wrong."`
	Evidence   evidenceCommand   `cmd:"" help:"Write what a station recorded, in a form that proves itself."`
	Completion completionCommand `cmd:"" help:"Print a completion script for your shell."`
	Bench      benchCommand      `cmd:"" hidden:"" help:"Measure the program against what its work takes by hand."`
	Complete   completeCommand   `cmd:"" hidden:"" passthrough:""`
	Version    versionCommand    `cmd:"" help:"Print the version."`
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
	parser, err := newParser(&cli, std, func(code int) { exit = code })
	if err != nil {
		fmt.Fprintln(std.err, "stowkeeper:", err)
		return 1
	}
	parsed, err := parser.Parse(withNegatives(args))
	if exit >= 0 { // --help or --version has been printed
		return exit
	}
	if err != nil {
		fmt.Fprintf(std.err, "stowkeeper: %v\nSee: %s --help\n", err, fullPath(parser, err))
		return 2
	}
	ctx = inventory.Acting(ctx, operator)
	parsed.BindTo(ctx, (*context.Context)(nil))
	if err := parsed.Run(std); err != nil {
		fmt.Fprintln(std.err, "stowkeeper:", forPeople(parsed, err))
		return 1
	}
	return 0
}

func newParser(cli *commands, std streams, exit func(code int)) (*kong.Kong, error) {
	return kong.New(cli,
		kong.Name("stowkeeper"),
		kong.Description("Keeps first-aid bags stocked, in date and ready to go out."),
		kong.ConfigureHelp(kong.HelpOptions{Compact: true, NoExpandSubcommands: true}),
		kong.Writers(std.out, std.err),
		kong.Vars{"version": versionText(debug.ReadBuildInfo()), "lists": commas(exchange.ImportKinds),
			"roles": commas(inventory.Roles), "sheets": commas(labels.SheetNames())},
		kong.PostBuild(func(k *kong.Kong) error { k.Model.HelpFlag.Help = "Print help."; return nil }),
		kong.Exit(exit),
	)
}

// commas joins what may be chosen, as help and checks of flags want it.
func commas[T ~string](all []T) string {
	var out []string
	for _, n := range all {
		out = append(out, string(n))
	}
	return strings.Join(out, ", ")
}

// fullPath is the command that a wrong command line got to.
func fullPath(parser *kong.Kong, err error) string {
	var wrong *kong.ParseError
	if errors.As(err, &wrong) && wrong.Context.Selected() != nil {
		return wrong.Context.Selected().FullPath()
	}
	return parser.Model.FullPath()
}

// withNegatives joins a negative number to the option before it, which would else be read as further options.
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

// forPeople writes an error with each wrong flag on its own line.
func forPeople(parsed *kong.Context, err error) string {
	var e *inventory.Error
	var option *labels.FieldError
	switch {
	case errors.Is(err, context.Canceled):
		return "stopped"
	case errors.As(err, &option) && option.Label == 0:
		return spoken(parsed, option.Field) + ": " + option.Fix.String()
	case !errors.As(err, &e):
		return err.Error()
	case len(e.Fields) == 0:
		return e.Message.String()
	}
	wrong := []string{e.Message.String()}
	if e.Kind == inventory.Invalid { // says no more than that fields are wrong
		wrong = nil
	}
	for _, f := range e.Fields {
		wrong = append(wrong, spoken(parsed, f.Path)+": "+f.Fix.String())
	}
	return strings.Join(wrong, "\n  ")
}

// spoken is what a command line calls a field: the flag of that name, or the one whose tag says that it fills it.
func spoken(parsed *kong.Context, path string) string {
	top, _, _ := strings.Cut(path, ".")
	for _, f := range parsed.Flags() {
		if f.Name == strings.ReplaceAll(top, "_", "-") || f.Tag.Get("field") == top {
			return "--" + f.Name
		}
	}
	for _, p := range parsed.Selected().Positional {
		if p.Name == top {
			return "<" + top + ">"
		}
	}
	if top == "secret" {
		return "PIN or password"
	}
	return path
}

// database is the option that most commands share.
type database struct {
	DB string `name:"db" required:"" env:"STOWKEEPER_DB" help:"Database: file or postgres:// address." placeholder:"FILE"`

	counting *metrics // stands before the store, where there is one
}

// with opens a database that exists and hands the use cases over it to do. A file that is not there is refused: an
// empty one in its place would hide a mistyped name.
func (d database) with(ctx context.Context, std streams, do func(*services.All) error) error {
	if !store.IsPostgres(d.DB) {
		if _, err := os.Stat(d.DB); errors.Is(err, fs.ErrNotExist) {
			return inventory.InvalidField("db", "no such file: check the path")
		}
	}
	return d.orNew(ctx, std, services.Options{}, do)
}

// toWrite is with for what records something: it is refused while the clock is behind, as the service refuses it.
func (d database) toWrite(ctx context.Context, std streams, do func(*services.All) error) error {
	return d.with(ctx, std, func(svc *services.All) error {
		if err := clockIsRight(ctx, svc); err != nil {
			return err
		}
		return do(svc)
	})
}

func clockIsRight(ctx context.Context, svc *services.All) error {
	if err := svc.History.LookAtClock(ctx); err != nil {
		return err
	}
	return svc.History.Clock().Err()
}

// orNew is with for a database that may be new. policy is the owner's.
func (d database) orNew(ctx context.Context, std streams, policy services.Options,
	do func(*services.All) error) error {
	db, err := openStore(ctx, d.DB, std)
	if err != nil {
		return err
	}
	defer db.Close()
	if d.counting != nil {
		d.counting.Store = db
		db = d.counting
	}
	svc, err := newServices(db, policy)
	if err != nil {
		return err
	}
	return do(svc)
}

// newServices returns the use cases over a store, with the kit lists that the
// program carries. policy is the owner's, where they have one.
func newServices(db inventory.Store, policy services.Options) (*services.All, error) {
	var err error
	policy.Published, err = lists.ParsePublished(testdata.KitStandards)
	return services.New(db, clock, policy), err
}

// openStore opens a database, or makes it.
func openStore(ctx context.Context, db string, std streams) (inventory.Store, error) {
	if !store.IsPostgres(db) {
		if _, err := os.Stat(filepath.Dir(db)); errors.Is(err, fs.ErrNotExist) {
			return nil, inventory.InvalidField("db", "no such folder: check the path")
		}
	}
	return store.Open(ctx, db, store.Options{Logger: quiet(std),
		Tell: func(text string) { fmt.Fprintln(std.err, text) }})
}

// clock is the one place where the program looks at the time.
func clock() inventory.Instant { return inventory.InstantOf(time.Now()) }

// quiet logs errors only: what a command prints is for people.
func quiet(std streams) *slog.Logger {
	return slog.New(slog.NewTextHandler(std.err, &slog.HandlerOptions{Level: slog.LevelError}))
}

// operator is who acts when somebody at the machine's own command line does.
var operator = inventory.Actor{Name: "command line", Role: inventory.Administrator, From: "command line"}
