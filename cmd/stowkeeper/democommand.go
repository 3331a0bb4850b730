package main

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"log/slog"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"text/tabwriter"
	"time"

	"stowkeeper/cmd/stowkeeper/demo"
	"stowkeeper/inventory"
	"stowkeeper/inventory/secret"
	"stowkeeper/inventory/services"
	"stowkeeper/inventory/store"
	"stowkeeper/inventory/store/whole"
	"stowkeeper/testdata"
	"stowkeeper/web"
)

// demoCommand runs the invented scenario.
type demoCommand struct {
	DB     string `name:"db" help:"Empty database: a file or postgres:// address. Default: a new file." placeholder:"FILE"`
	Listen string `default:"127.0.0.1:8080" help:"Address to listen on. Without it: a free port if 8080 is taken."`
	Fresh  bool   `help:"Start over."`
}

func (c *demoCommand) Run(ctx context.Context, std streams) error {
	db, err := c.prepare(ctx, std)
	if err != nil {
		return err
	}
	defer db.Close()
	signIns, err := demo.SignIns(testdata.Demo)
	if err != nil {
		return err
	}
	svc, err := newServices(db, services.Options{})
	if err != nil {
		return err
	}
	p := &program{svc: svc, listen: c.Listen, hosts: []string{"*"}, log: slog.New(slog.NewTextHandler(std.err, nil))}
	if p.terminal, err = demoTerminal(ctx, p.svc); err != nil {
		return err
	}
	for _, s := range signIns {
		p.demo = append(p.demo, web.DemoSignIn{Name: s.Name, Role: s.Role, Secret: s.Secret})
	}
	address, err := p.start()
	if err != nil && c.Listen == "127.0.0.1:8080" {
		p.listen = "127.0.0.1:0"
		address, err = p.start()
	}
	if err != nil {
		return err
	}
	greet(std, address, signIns)
	return p.serve(ctx)
}

// demoTerminal enrols the terminal that every browser on this machine is taken
// for, so that crew sign in by PIN without further ado.
func demoTerminal(ctx context.Context, svc *services.All) (string, error) {
	const name = "Demo computer"
	all, err := svc.Account.Terminals(ctx, operator)
	if err != nil {
		return "", err
	}
	for _, t := range all {
		if t.Name == name && t.RevokedAt == 0 {
			return svc.Account.EnrolHere(ctx, operator, t.ID)
		}
	}
	t, err := svc.Account.AddTerminal(ctx, operator, name, "")
	if err != nil {
		return "", err
	}
	return svc.Account.EnrolHere(ctx, operator, t.ID)
}

// prepare opens the demo's database and loads the scenario where there is none. The demo's own file is made anew each
// day, since the scenario always ends today. A database that holds anything but the demo is left alone.
func (c *demoCommand) prepare(ctx context.Context, std streams) (inventory.Store, error) {
	path, own := c.DB, c.DB == ""
	if own {
		var err error
		if path, err = ownFile(); err != nil {
			return nil, err
		}
		if c.Fresh || !loadedToday(path) {
			if err := remove(path); err != nil {
				return nil, err
			}
		}
	}
	db, empty, err := openDemo(ctx, path, std)
	if err == nil && !empty && c.Fresh && !own {
		db, empty, err = again(ctx, db, path, std)
	}
	if err != nil || !empty {
		return db, err
	}
	if err := load(ctx, db, path, std); err != nil {
		return nil, errors.Join(err, db.Close())
	}
	if own {
		err = os.WriteFile(path+".day", []byte(today()), 0o600)
	}
	return db, err
}

// again replaces a demo database by an empty one.
func again(ctx context.Context, db inventory.Store, path string, std streams) (inventory.Store, bool, error) {
	err := db.Close()
	if err == nil && store.IsPostgres(path) {
		err = inventory.InvalidField("fresh", "choose an empty database: this one has the demo already")
	}
	if err == nil {
		err = remove(path)
	}
	if err != nil {
		return nil, false, err
	}
	return openDemo(ctx, path, std)
}

// ownFile is where the demo keeps its database when nobody says.
func ownFile() (string, error) {
	dir, err := os.UserCacheDir()
	if err != nil {
		dir = os.TempDir()
	}
	path := filepath.Join(dir, "stowkeeper", "demo.db")
	return path, os.MkdirAll(filepath.Dir(path), 0o700)
}

// openDemo opens a database that is empty or the demo's; any other is refused.
func openDemo(ctx context.Context, path string, std streams) (db inventory.Store, empty bool, err error) {
	if db, err = openStore(ctx, path, std); err != nil {
		return nil, false, err
	}
	if empty, err = isEmpty(ctx, db); err != nil {
		return nil, false, errors.Join(err, db.Close())
	}
	return db, empty, nil
}

// isEmpty tells a database without a station from the demo's, by the people in it, and refuses what is neither.
func isEmpty(ctx context.Context, db inventory.Store) (bool, error) {
	svc := services.New(db, clock, services.Options{})
	stations, err := svc.Lists.Stations(ctx, operator)
	if err != nil || len(stations) == 0 {
		return err == nil, err
	}
	people, err := svc.Account.People(ctx, operator)
	if err != nil {
		return false, err
	}
	signIns, err := demo.SignIns(testdata.Demo)
	for _, s := range signIns {
		if !slices.ContainsFunc(people, func(p inventory.Person) bool { return p.Name == s.Name }) {
			return false, inventory.InvalidField("db",
				"choose an empty database, or one made by the demo: this one holds other data")
		}
	}
	return false, err
}

// load loads the scenario beside the database and then puts all of it there at once: half a scenario is none, also
// where the program is killed.
func load(ctx context.Context, db inventory.Store, path string, std streams) (err error) {
	defer fmt.Fprintln(std.err)
	beside := path + ".loading"
	if store.IsPostgres(path) {
		folder, err := os.MkdirTemp("", "stowkeeper-*")
		if err != nil {
			return err
		}
		defer os.RemoveAll(folder)
		beside = filepath.Join(folder, "demo.db")
	}
	if err := remove(beside); err != nil {
		return err
	}
	defer func() { err = errors.Join(err, remove(beside)) }()
	loaded, err := openStore(ctx, beside, std)
	if err != nil {
		return err
	}
	defer loaded.Close()
	err = demo.Load(ctx, loaded, testdata.Demo, secret.Argon2id{}, clock(), func(day, of int) {
		if day%5 == 0 || day == of {
			fmt.Fprintf(std.err, "\rLoading the scenario: day %d of %d", day, of)
		}
	})
	if err == nil {
		_, err = whole.Fill(ctx, db, streamed(ctx, loaded, func(context.Context) error { return nil }),
			func(context.Context, whole.Header) error { return nil })
	}
	return err
}

// loadedToday tells whether the demo's own file was made today.
func loadedToday(path string) bool {
	b, err := os.ReadFile(path + ".day") // #nosec G304 -- the operator's file
	return err == nil && strings.TrimSpace(string(b)) == today()
}

func today() string { return clock().Time().Format(time.DateOnly) }

// remove deletes a demo's database with what SQLite keeps beside it.
func remove(path string) error {
	if store.IsPostgres(path) {
		return nil
	}
	for _, suffix := range []string{"", "-wal", "-shm", ".day"} {
		if err := os.Remove(path + suffix); err != nil && !errors.Is(err, fs.ErrNotExist) {
			return err
		}
	}
	return nil
}

func greet(std streams, address string, signIns []demo.SignIn) {
	fmt.Fprintf(std.out, "\nStowkeeper demo: an invented service, invented people, invented stock.\n\n  %s\n\n", address)
	w := tabwriter.NewWriter(std.out, 0, 0, 2, ' ', 0)
	fmt.Fprintln(w, "  sign in as\trole\tstations\tPIN or password")
	for _, s := range signIns {
		stations := s.Stations
		if stations == "" {
			stations = "all"
		}
		fmt.Fprintf(w, "  %s\t%s\t%s\t%s\n", s.Name, s.Role, stations, s.Secret)
	}
	_ = w.Flush()
	fmt.Fprintf(std.out, "\nA bag's label opens its checklist: %s/b/FM-TR1\nStop with Ctrl-C.\n", address)
}
