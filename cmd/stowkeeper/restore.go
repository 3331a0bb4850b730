package main

import (
	"bufio"
	"compress/gzip"
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"

	"filippo.io/age"

	"stowkeeper/inventory"
	"stowkeeper/inventory/store"
)

// restoreCommand puts a backup where no database is.
type restoreCommand struct {
	DB       string `name:"db" required:"" help:"The new database file." placeholder:"FILE"`
	Identity string `help:"File with the age key that the backup was encrypted to." placeholder:"FILE"`
	Since    string `help:"Heads kept after the backup, to say what it lacks." placeholder:"FILE"`
	Backup   string `arg:"" help:"The backup, or - for standard input."`
}

// Help says what is never done.
func (c *restoreCommand) Help() string {
	return "Overwrites nothing: move the old database away first, with the -wal and -shm files beside it. What does not " +
		"verify is not put in place."
}

func (c *restoreCommand) Run(ctx context.Context, std streams) error {
	if store.IsPostgres(c.DB) {
		return inventory.InvalidField("db", "name a file; PostgreSQL is restored by pg_restore: see the README")
	}
	for _, beside := range []string{"", "-wal", "-shm", "-journal"} {
		if _, err := os.Lstat(c.DB + beside); err == nil {
			return inventory.InvalidField("db", c.DB+beside+" is there: nothing is overwritten, move it away first")
		}
	}
	folder, err := os.MkdirTemp(filepath.Dir(c.DB), ".restore-*")
	if err != nil {
		return inventory.InvalidField("db", "no such folder: check the path")
	}
	defer os.RemoveAll(folder)
	part := filepath.Join(folder, "part.db")
	if err := c.unpack(std, part); err != nil {
		return err
	}
	what, heads, err := readBack(ctx, std, part, filepath.Join(folder, "read.db"))
	if err != nil {
		return err
	}
	kept, err := c.later()
	if err != nil {
		return err
	}
	if err := os.Link(part, c.DB); err != nil { // which never overwrites
		return err
	}
	fmt.Fprintf(std.out, "%s: %s\n", c.DB, what)
	for _, lost := range missing(heads, kept) {
		fmt.Fprintln(std.out, "recorded after the backup, and not in it:", lost)
	}
	return writeHeads(headsFile(c.DB), heads)
}

// unpack reads the backup, whatever of encryption and compression it has.
func (c *restoreCommand) unpack(std streams, to string) error {
	in := std.in
	if c.Backup != "-" {
		file, err := os.Open(c.Backup)
		if err != nil {
			return inventory.InvalidField("backup", "no such file: check the path")
		}
		defer file.Close()
		in = file
	}
	r := bufio.NewReader(in)
	if begins(r, "age-encryption.org/") {
		key, err := os.Open(c.Identity)
		if err != nil {
			return inventory.InvalidField("identity", "the backup is encrypted: give the file with its key")
		}
		defer key.Close()
		own, err := age.ParseIdentities(key)
		if err != nil {
			return inventory.InvalidField("identity", "give a file as age-keygen writes it")
		}
		plain, err := age.Decrypt(r, own...)
		if err != nil {
			return inventory.InvalidField("identity", "not the key of this backup, or the backup was changed")
		}
		r = bufio.NewReader(plain)
	}
	var all io.Reader = r
	if begins(r, gzipMagic) {
		if !begins(r, gzipHead) {
			return errDamaged(nil)
		}
		z, err := gzip.NewReader(r)
		if err != nil {
			return errDamaged(err)
		}
		all = z
	}
	out, err := os.OpenFile(to, os.O_CREATE|os.O_EXCL|os.O_WRONLY, 0o600) // #nosec G304 -- the operator names it
	if err != nil {
		return err
	}
	_, err = io.Copy(out, all)
	if err != nil {
		err = errDamaged(err)
	}
	return errors.Join(err, out.Sync(), out.Close())
}

// gzipHead is how a backup begins: its check sum does not cover that.
const gzipMagic, gzipHead = "\x1f\x8b", "\x1f\x8b\x08\x00\x00\x00\x00\x00\x00\xff"

func begins(r *bufio.Reader, with string) bool {
	head, _ := r.Peek(len(with))
	return string(head) == with
}

func errDamaged(err error) error {
	return errors.Join(inventory.InvalidField("backup", "damaged or cut off: use another one"), err)
}

// later are heads from after the backup: those that were given, or of the database that was here.
func (c *restoreCommand) later() ([]inventory.Head, error) {
	if c.Since != "" {
		kept, err := readHeads(c.Since)
		if errors.Is(err, fs.ErrNotExist) {
			err = inventory.InvalidField("since", "no such file: check the path")
		}
		return kept, err
	}
	kept, err := readHeads(headsFile(c.DB))
	if errors.Is(err, fs.ErrNotExist) {
		err = nil
	}
	return kept, err
}
