package migrations

import (
	"cmp"
	"context"
	"database/sql"
	"errors"
	"fmt"
	"net/url"
	"os"
	"path/filepath"
	"slices"
	"strings"
)

// keptCopies is how many files from before a migration stay beside a database.
const keptCopies = 3

// Kept is what the file beside a database is called that holds it as it was at a version of the schema.
func Kept(file string, version int64) string { return fmt.Sprintf("%s.schema-%d", file, version) }

// keep copies a SQLite file beside itself, once it was tried on another copy whether all that is pending can be done:
// so either all of it is, or nothing.
func keep(ctx context.Context, db *sql.DB, file string, version int64) (kept string, err error) {
	folder, err := os.MkdirTemp(filepath.Dir(file), ".migrate-*")
	if err != nil {
		return "", err
	}
	defer os.RemoveAll(folder)
	part, tried := filepath.Join(folder, "kept"), filepath.Join(folder, "tried")
	for _, name := range []string{part, tried} {
		if _, err := db.ExecContext(ctx, "VACUUM INTO ?", name); err != nil {
			return "", fmt.Errorf("copy the database before it is changed, is there room: %w", err)
		}
		if err := os.Chmod(name, 0o600); err != nil {
			return "", err
		}
	}
	if err := try(ctx, tried); err != nil {
		return "", fmt.Errorf("the database cannot be brought up to date, nothing was changed: %w", err)
	}
	kept = Kept(file, version)
	for n := 2; os.Link(part, kept) != nil; n++ { // which never overwrites
		if _, err := os.Lstat(kept); err != nil || n > 99 {
			return "", errors.Join(errors.New("copy the database before it is changed"), err)
		}
		kept = fmt.Sprintf("%s.%d", Kept(file, version), n)
	}
	return kept, letGo(file)
}

// try does on a copy what is pending.
func try(ctx context.Context, file string) error {
	db, err := sql.Open("sqlite", "file:"+(&url.URL{Path: filepath.ToSlash(file)}).EscapedPath()+
		"?_pragma=foreign_keys(1)&_txlock=immediate")
	if err != nil {
		return err
	}
	defer db.Close()
	db.SetMaxOpenConns(1)
	p, err := Provider(db, SQLite)
	if err == nil {
		_, err = p.Up(ctx)
	}
	return err
}

// letGo removes what was kept before the newest few.
func letGo(file string) error {
	entries, err := os.ReadDir(filepath.Dir(file))
	if err != nil {
		return err
	}
	var all []os.FileInfo
	for _, e := range entries {
		info, err := e.Info()
		if err == nil && strings.HasPrefix(e.Name(), filepath.Base(file)+".schema-") {
			all = append(all, info)
		}
	}
	slices.SortFunc(all, func(a, b os.FileInfo) int {
		return cmp.Or(b.ModTime().Compare(a.ModTime()), strings.Compare(b.Name(), a.Name()))
	})
	for _, old := range all[min(len(all), keptCopies):] {
		err = errors.Join(err, os.Remove(filepath.Join(filepath.Dir(file), old.Name())))
	}
	return err
}
