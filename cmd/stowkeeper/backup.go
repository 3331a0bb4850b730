package main

import (
	"compress/gzip"
	"context"
	"database/sql"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"net/url"
	"os"
	"path/filepath"
	"time"

	"filippo.io/age"

	"stowkeeper/inventory"
	"stowkeeper/inventory/services"
	"stowkeeper/inventory/store"
	"stowkeeper/inventory/verify"
)

// backupCommand copies a SQLite database, also while it is served, into one file that was read back.
type backupCommand struct {
	database
	EncryptTo string `help:"Encrypt to an age public key." placeholder:"KEY"`
	Out       string `arg:"" help:"A new file, a folder, or - for standard output."`
}

// Help says what a copy by other means loses.
func (c *backupCommand) Help() string {
	return "Makes one consistent copy, while others write, checks every row of it against the chains, and compresses " +
		"it. Never copy the file of a running program by other means: the newest records are in the file beside it. For " +
		"PostgreSQL use pg_dump."
}

func (c *backupCommand) Run(ctx context.Context, std streams) error {
	b := backup{db: c.DB, encryptTo: c.EncryptTo}
	if c.Out == "-" {
		_, err := b.write(ctx, std, std.out)
		return err
	}
	if info, err := os.Stat(c.Out); err == nil && info.IsDir() {
		c.Out = filepath.Join(c.Out, b.name(clock().Time()))
	}
	what, err := b.toFile(ctx, std, c.Out)
	if err == nil {
		fmt.Fprintf(std.out, "%s: %s\n", c.Out, what)
	}
	return err
}

// backup is how one database is copied.
type backup struct{ db, encryptTo string }

const nameOfBackup = "stowkeeper-20060102T150405Z.db.gz"

func (b backup) name(at time.Time) string {
	name := at.UTC().Format(nameOfBackup)
	if b.encryptTo != "" {
		name += ".age"
	}
	return name
}

// toFile writes a backup under a name that is new, all of it or nothing.
func (b backup) toFile(ctx context.Context, std streams, name string) (what string, err error) {
	if _, err := os.Lstat(name); err == nil {
		return "", inventory.InvalidField("out", "choose a new file")
	}
	part, err := os.CreateTemp(filepath.Dir(name), ".backup-*")
	if err != nil {
		return "", inventory.InvalidField("out", "no such folder: check the path")
	}
	defer os.Remove(part.Name())
	what, err = b.write(ctx, std, part)
	if err = errors.Join(err, part.Sync(), part.Close()); err != nil {
		return "", err
	}
	return what, os.Rename(part.Name(), name)
}

// write copies, reads the copy back and sends it, compressed and, where asked for, encrypted.
func (b backup) write(ctx context.Context, std streams, out io.Writer) (what string, err error) {
	if store.IsPostgres(b.db) {
		return "", inventory.InvalidField("db", "a PostgreSQL database is copied by pg_dump: see the README")
	}
	to, err := b.recipient()
	if err != nil {
		return "", err
	}
	folder, err := os.MkdirTemp(filepath.Dir(b.db), ".backup-*")
	if err != nil {
		return "", inventory.InvalidField("db", "no such file: check the path")
	}
	defer os.RemoveAll(folder)
	copied := filepath.Join(folder, "copy.db")
	if err := vacuumInto(ctx, b.db, copied); err != nil {
		return "", err
	}
	if what, _, err = readBack(ctx, std, copied, filepath.Join(folder, "read.db")); err != nil {
		return "", err
	}
	noteVerified(b.db)
	return what, b.send(copied, to, out)
}

func (b backup) recipient() (age.Recipient, error) {
	if b.encryptTo == "" {
		return nil, nil
	}
	to, err := age.ParseHybridRecipient(b.encryptTo)
	if err == nil {
		return to, nil
	}
	old, err := age.ParseX25519Recipient(b.encryptTo)
	if err != nil {
		return nil, inventory.InvalidField("encrypt_to", "give a public key as age-keygen prints it: age1…")
	}
	return old, nil
}

// vacuumInto has SQLite write a copy of what is in a file at one moment, its log included.
func vacuumInto(ctx context.Context, from, to string) error {
	if _, err := os.Stat(from); errors.Is(err, fs.ErrNotExist) {
		return inventory.InvalidField("db", "no such file: check the path")
	}
	db, err := sql.Open("sqlite", "file:"+(&url.URL{Path: filepath.ToSlash(from)}).EscapedPath()+
		"?mode=ro&_pragma=busy_timeout(5000)")
	if err != nil {
		return err
	}
	defer db.Close()
	_, err = db.ExecContext(ctx, "VACUUM INTO ?", to)
	if err != nil {
		return fmt.Errorf("copy the database: %w", err)
	}
	return os.Chmod(to, 0o600)
}

// readBack opens a copy of a copy, so that what is kept stays untouched, and checks all of it. heads are the ends of
// its chains.
func readBack(ctx context.Context, std streams, file, scratch string) (what string, heads []inventory.Head, err error) {
	if err := copyFile(file, scratch); err != nil {
		return "", nil, err
	}
	var r verify.VerifyReport
	err = database{DB: scratch}.with(ctx, std, func(svc *services.All) error {
		r, err = svc.Verify.Verify(ctx)
		if err == nil {
			heads, err = svc.Verify.Heads(ctx)
		}
		return err
	})
	if err != nil {
		return "", nil, fmt.Errorf("the copy cannot be read: %w", err)
	}
	for _, f := range r.Faults {
		fmt.Fprintln(std.err, f)
	}
	if len(r.Faults) > 0 {
		return "", nil, errors.New("the copy does not verify: see the faults above")
	}
	what = fmt.Sprintf("%d entries, %d rows, %d stock records, 0 faults", r.Entries, r.Facts, r.Movements)
	return what, heads, nil
}

func copyFile(from, to string) error {
	in, err := os.Open(from) // #nosec G304 -- our copy
	if err != nil {
		return err
	}
	defer in.Close()
	out, err := os.OpenFile(to, os.O_CREATE|os.O_EXCL|os.O_WRONLY, 0o600) // #nosec G304 -- the operator names it
	if err != nil {
		return err
	}
	_, err = io.Copy(out, in)
	return errors.Join(err, out.Sync(), out.Close())
}

func (b backup) send(copied string, to age.Recipient, out io.Writer) error {
	in, err := os.Open(copied) // #nosec G304 -- our copy
	if err != nil {
		return err
	}
	defer in.Close()
	var sealed io.WriteCloser
	if to != nil {
		if sealed, err = age.Encrypt(out, to); err != nil {
			return err
		}
		out = sealed
	}
	z := gzip.NewWriter(out)
	_, err = io.Copy(z, in)
	err = errors.Join(err, z.Close())
	if sealed != nil {
		err = errors.Join(err, sealed.Close())
	}
	return err
}
