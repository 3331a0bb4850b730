package main

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"log/slog"
	"os"
	"path/filepath"
	"strings"
	"text/tabwriter"

	"stowkeeper/cmd/stowkeeper/demo"
	"stowkeeper/inventory"
	"stowkeeper/inventory/secret"
	"stowkeeper/inventory/store"
	"stowkeeper/testdata"
	"stowkeeper/web"
)

// demoCommand runs the invented scenario.
type demoCommand struct {
	DB     string `name:"db" help:"Database: a file, or a postgres:// address of an empty database. A file of its own if left out." placeholder:"FILE"`
	Listen string `default:"127.0.0.1:8080" help:"Address to listen on; a free port is taken when the default is in use."`
	Fresh  bool   `help:"Begin again with the scenario ending now."`
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
	p := &program{svc: inventory.NewService(db, clock), listen: c.Listen, log: slog.New(slog.NewTextHandler(std.err, nil))}
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

// prepare opens the demo's database and loads the scenario where it is new, or
// was loaded on another day: the scenario always ends today.
func (c *demoCommand) prepare(ctx context.Context, std streams) (inventory.Store, error) {
	path, own := c.DB, c.DB == ""
	if own {
		dir, err := os.UserCacheDir()
		if err != nil {
			dir = os.TempDir()
		}
		path = filepath.Join(dir, "stowkeeper", "demo.db")
		if err := os.MkdirAll(filepath.Dir(path), 0o700); err != nil {
			return nil, err
		}
	}
	if !store.IsPostgres(path) && (c.Fresh || own && !loadedToday(path)) {
		if err := remove(path); err != nil {
			return nil, err
		}
	}
	db, err := store.Open(ctx, path, store.Options{Logger: quiet(std)})
	if err != nil {
		return nil, err
	}
	empty, err := isEmpty(ctx, db)
	if err == nil && empty {
		err = demo.Load(ctx, db, testdata.Demo, secret.Argon2id{}, clock(), func(day, of int) {
			if day%5 == 0 || day == of {
				fmt.Fprintf(std.err, "\rLoading the scenario: day %d of %d", day, of)
			}
		})
		fmt.Fprintln(std.err)
	}
	if err == nil && empty && own {
		err = os.WriteFile(path+".day", []byte(clock().Time().Format("2006-01-02")), 0o600)
	}
	if err != nil {
		return nil, errors.Join(err, db.Close())
	}
	return db, nil
}

// loadedToday tells whether the file was made today.
func loadedToday(path string) bool {
	b, err := os.ReadFile(path + ".day")
	return err == nil && strings.TrimSpace(string(b)) == clock().Time().Format("2006-01-02")
}

// remove deletes a demo database with what SQLite keeps beside it.
func remove(path string) error {
	for _, suffix := range []string{"", "-wal", "-shm", ".day"} {
		if err := os.Remove(path + suffix); err != nil && !errors.Is(err, fs.ErrNotExist) {
			return err
		}
	}
	return nil
}

func isEmpty(ctx context.Context, db inventory.Store) (empty bool, err error) {
	err = db.Read(ctx, func(_ context.Context, r inventory.Reader) error {
		sites, err := r.Sites()
		empty = len(sites) == 0
		return err
	})
	return empty, err
}

func greet(std streams, address string, signIns []demo.SignIn) {
	fmt.Fprintf(std.out, "\nStowkeeper demo: an invented service, invented people, invented stock.\n\n  %s\n\n", address)
	w := tabwriter.NewWriter(std.out, 0, 0, 2, ' ', 0)
	fmt.Fprintln(w, "  sign in as\trole\tstations\tPIN or password")
	for _, s := range signIns {
		sites := s.Sites
		if sites == "" {
			sites = "all"
		}
		fmt.Fprintf(w, "  %s\t%s\t%s\t%s\n", s.Name, s.Role, sites, s.Secret)
	}
	w.Flush()
	fmt.Fprintf(std.out, "\nA bag's label opens its checklist: %s/b/FM-TR1\nStop with Ctrl-C.\n", address)
}
