package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"slices"

	"stowkeeper/inventory"
	"stowkeeper/inventory/services"
	"stowkeeper/inventory/store"
	"stowkeeper/inventory/store/whole"
)

// kindWhole is what import calls a whole service.
const kindWhole = "whole"

// exportWhole writes all of a service into a new file, once its records verify.
func exportWhole(ctx context.Context, std streams, svc *services.All, name string) error {
	file, err := os.OpenFile(name, os.O_CREATE|os.O_EXCL|os.O_WRONLY, 0o600) // #nosec G304 -- the operator names it
	if err != nil {
		return inventory.InvalidField("folder", "with --whole, choose a new file in a folder that exists")
	}
	end, err := whole.Write(ctx, svc.Store, clock(), file, func(ctx context.Context) error {
		return verified(ctx, std, svc)
	})
	if err := errors.Join(err, file.Sync(), file.Close()); err != nil {
		return errors.Join(err, os.Remove(name))
	}
	fmt.Fprintf(std.out, "%s: %d rows. It holds everything that sign-in secrets are checked against: keep it as safe as "+
		"the database.\n", name, end.Total())
	return nil
}

// verified refuses records that do not verify, and prints why.
func verified(ctx context.Context, std streams, svc *services.All) error {
	r, err := svc.Verify.Verify(ctx)
	for _, f := range r.Faults {
		fmt.Fprintln(std.err, f)
	}
	if err == nil && len(r.Faults) > 0 {
		err = errors.New("the records do not verify, nothing was written: see the faults above")
	}
	return err
}

// importWhole reads such a file into an empty database.
func (c *importCommand) importWhole(ctx context.Context, std streams) error {
	open := func() (io.ReadCloser, error) {
		file, err := os.Open(c.File)
		if err != nil {
			return nil, inventory.InvalidField("file", "no such file: check the path")
		}
		return file, nil
	}
	file, err := open()
	if err != nil {
		return err
	}
	begin, end, err := whole.Check(file)
	if err := errors.Join(err, file.Close()); err != nil {
		return err
	}
	if c.DryRun {
		fmt.Fprintf(std.out, "dry run, nothing was changed: %d rows of %s\n", end.Total(), begin.MadeAt)
		return nil
	}
	return fill(ctx, std, c.DB, open, func(context.Context, whole.Header) error { return nil })
}

// fill fills an empty database, which may be new, and verifies it before it counts.
func fill(ctx context.Context, std streams, db string, open func() (io.ReadCloser, error),
	confirm func(context.Context, whole.Header) error) error {
	_, missing := os.Lstat(db)
	err := database{DB: db}.orNew(ctx, std, services.Options{}, func(svc *services.All) error {
		end, err := whole.Fill(ctx, svc.Store, open, func(in context.Context, begin whole.Header) error {
			return errors.Join(verified(in, std, svc), confirm(ctx, begin))
		})
		if err != nil {
			return err
		}
		heads, err := svc.Verify.Heads(ctx)
		if err == nil && !store.IsPostgres(db) {
			err = writeHeads(headsFile(db), heads)
		}
		fmt.Fprintf(std.out, "%d rows, verified: %d chains end as they did. People sign in again.\n", end.Total(), len(heads))
		return err
	})
	if err != nil && missing != nil && !store.IsPostgres(db) { // it was made for this
		for _, beside := range []string{"", "-wal", "-shm"} {
			_ = os.Remove(db + beside)
		}
	}
	return err
}

// streamed is what whole.Write writes of a store, as it is read.
func streamed(ctx context.Context, from inventory.Store, first func(context.Context) error) func() (io.ReadCloser,
	error) {
	return func() (io.ReadCloser, error) {
		r, w := io.Pipe()
		go func() {
			_, err := whole.Write(ctx, from, clock(), w, first)
			_ = w.CloseWithError(err)
		}()
		return r, nil
	}
}

// moveCommand takes a service to another database.
type moveCommand struct {
	From string `required:"" help:"Database: file or postgres:// address." placeholder:"FILE"`
	To   string `required:"" field:"db" help:"A new file or an empty database." placeholder:"FILE"`
}

// Help says what happens to the database that there was.
func (c *moveCommand) Help() string {
	return "Between SQLite and PostgreSQL, either way. Stop the service first. All is read at one moment, written in " +
		"one transaction and verified there against the chains before it counts: if anything fails, nothing is left. The " +
		"old database stays as it is; do not serve it any more."
}

func (c *moveCommand) Run(ctx context.Context, std streams) error {
	if c.From == c.To {
		return inventory.InvalidField("to", "choose another database")
	}
	err := database{DB: c.From}.with(ctx, std, func(svc *services.All) error {
		open := streamed(ctx, svc.Store, func(in context.Context) error { return verified(in, std, svc) })
		return fill(ctx, std, c.To, open, func(ctx context.Context, begin whole.Header) error {
			now, err := svc.Verify.Heads(ctx)
			if err == nil && !slices.Equal(now, begin.Chains) {
				err = inventory.InvalidField("from", "it is served, and recorded more meanwhile: stop the service first")
			}
			return err
		})
	})
	if err == nil {
		fmt.Fprintln(std.out, "Moved. Serve the new database, and the old one no more.")
	}
	return err
}
