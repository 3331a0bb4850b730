package store

import (
	"cmp"
	"context"
	"database/sql"
	"errors"
	"strings"

	dialect "github.com/glebarez/sqlite"
	"gorm.io/gorm"

	"stowkeeper/inventory/store/group"
	"stowkeeper/inventory/store/prepared"
	"stowkeeper/inventory/store/sqlitefile"
)

const sqliteReaders = 6

// openSQLite opens two pools on one file: one connection that writes, whose transactions take the write lock when
// they begin, and several that may only read.
func (s *database) openSQLite(ctx context.Context, path string, opts Options) error {
	if strings.TrimSpace(path) == "" {
		return errors.New("name a file")
	}
	s.engine = SQLite
	err := sqlitefile.MakePrivate(path)
	if err != nil {
		return err
	}
	s.driver = cmp.Or(opts.SQLiteDriver, prepared.Driver)
	if s.writes, err = sql.Open(s.driver, sqlitefile.DSN(path, false)); err != nil {
		return err
	}
	s.writes.SetMaxOpenConns(1)
	s.queue = group.New(s.writes)
	if err := sqlitefile.Enter(ctx, s.writes); err != nil { // sets the journal mode before readers look for it
		return err
	}
	if s.reads, err = sql.Open(s.driver, sqlitefile.DSN(path, true)); err != nil {
		return err
	}
	s.files.Remember(path)
	readers := cmp.Or(opts.MaxConns, sqliteReaders)
	s.reads.SetMaxOpenConns(readers)
	s.reads.SetMaxIdleConns(readers)
	s.gorm, err = gorm.Open(dialect.Dialector{Conn: s.writes}, s.gormConfig())
	return err
}

// checkPragmas reads the settings back on the writer and on every connection that the readers' pool may open.
func (s *database) checkPragmas(ctx context.Context) error {
	err := sqlitefile.CheckPool(ctx, s.writes, 1, false)
	return cmp.Or(err, sqlitefile.CheckPool(ctx, s.reads, s.reads.Stats().MaxOpenConnections, true))
}
