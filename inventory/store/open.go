package store

import (
	"cmp"
	"context"
	"database/sql"
	"errors"
	"fmt"
	"io/fs"
	"log/slog"
	"strings"
	"sync"

	"gorm.io/gorm"
	"gorm.io/gorm/schema"
	"modernc.org/sqlite"

	"stowkeeper/inventory"
	"stowkeeper/inventory/message"
	"stowkeeper/inventory/store/fact"
	"stowkeeper/inventory/store/fault"
	"stowkeeper/inventory/store/group"
	"stowkeeper/inventory/store/migrations"
	"stowkeeper/inventory/store/slow"
	"stowkeeper/inventory/store/sqlitefile"
)

// The engines' names, as Engine returns them.
const (
	SQLite   = migrations.SQLite
	Postgres = migrations.Postgres
)

// Options are what may be set when a store is opened. The zero value serves.
type Options struct {
	Logger   *slog.Logger // nil for the program's default logger
	MaxConns int          // connections to PostgreSQL, 0 for 16; readers of a SQLite file, 0 for 6

	Tell func(string) // is told what who runs the program should know; nil for the log

	SQLiteDriver string // of database/sql, prepared.Driver where it is empty; tests put a counter in front of it
}

// database is the one implementation of inventory.Store. On PostgreSQL both pools are the same one.
type database struct {
	engine string
	driver string // of SQLite
	writes *sql.DB
	queue  *group.Queue // of who writes to a SQLite file
	reads  *sql.DB
	gorm   *gorm.DB
	log    *slog.Logger
	files  sqlitefile.Files // of SQLite, as they were when it opened them

	facts    fact.Schema
	entering bool // there may be rows from before the chains
	history  *schema.Schema
	numbers  sync.Map // of people, by name
}

// Open opens the store that db names, a file for SQLite (made where there is
// none) or a postgres:// address, and brings its schema up to date.
func Open(ctx context.Context, db string, opts Options) (inventory.Store, error) {
	if opts.Logger == nil {
		opts.Logger = slog.Default()
	}
	if opts.Tell == nil {
		opts.Tell = func(text string) { opts.Logger.InfoContext(ctx, text) }
	}
	s := &database{log: opts.Logger}
	if err := s.open(ctx, db, opts); err != nil {
		return nil, errors.Join(cannotOpen(err), s.Close())
	}
	return s, nil
}

// cannotOpen says what to do about a file, to who is at the command line.
func cannotOpen(err error) error {
	var lite *sqlite.Error
	code, do := 0, ""
	if errors.As(err, &lite) {
		code = lite.Code() & 0xff
	}
	switch {
	case errors.Is(err, fs.ErrPermission) || code == fault.SQLiteReadOnly:
		do = "this user may not write the file or into its folder: allow it"
	case code == fault.SQLiteCorrupt || code == fault.SQLiteNotADB:
		do = "damaged, or no database of this program: move it away, with -wal and -shm beside it, then restore the newest " +
			"backup"
	default:
		return err
	}
	return errors.Join(inventory.InvalidField("db", do), err)
}

func (s *database) open(ctx context.Context, db string, opts Options) (err error) {
	if IsPostgres(db) {
		err = s.openPostgres(ctx, db, opts)
	} else {
		err = s.openSQLite(ctx, db, opts)
	}
	if err != nil {
		return fmt.Errorf("open the database: %w", err)
	}
	if err := migrations.Run(ctx, s.writes, s.engine, db, s.log, opts.Tell, fault.Pause); err != nil {
		return err
	}
	if err := cmp.Or(learn(s.gorm), foldNumbers(ctx, s.gorm)); err != nil {
		return err
	}
	if err := s.check(ctx); err != nil {
		return err
	}
	return s.prepareChains(ctx)
}

// IsPostgres tells whether db is the address of a PostgreSQL database rather than a file name.
func IsPostgres(db string) bool {
	return strings.HasPrefix(db, "postgres://") || strings.HasPrefix(db, "postgresql://")
}

// check refuses to run on connections that are not as they must be.
func (s *database) check(ctx context.Context) error {
	if s.engine == SQLite {
		return s.checkPragmas(ctx)
	}
	return s.Probe(ctx)
}

// gormConfig leaves translation of errors to errors.go, the clock to the use cases and transactions to unit.go.
func (s *database) gormConfig() *gorm.Config {
	return &gorm.Config{SkipDefaultTransaction: true, Logger: slow.Log{To: s.log}, NamingStrategy: naming}
}

// Engine names the engine.
func (s *database) Engine() string { return s.engine }

// Probe tells whether the database answers and takes a write, which changes nothing. Refuses: Unavailable,
// StorageFull.
func (s *database) Probe(ctx context.Context) error {
	for _, pool := range []*sql.DB{s.reads, s.writes} {
		var one int
		if err := pool.QueryRowContext(ctx, "SELECT 1").Scan(&one); err != nil {
			return &inventory.Error{Kind: inventory.Unavailable, Message: message.M("not available"), Cause: err}
		}
	}
	if err := s.files.Swapped(); err != nil {
		return err
	}
	_, err := s.writes.ExecContext(ctx, "UPDATE service SET entry_seq = entry_seq")
	return failure("probe", "", err)
}

// Close closes all connections.
func (s *database) Close() error {
	var errs []error
	if s.reads != nil && s.reads != s.writes {
		errs = append(errs, s.reads.Close())
	}
	if s.writes != nil {
		errs = append(errs, s.writes.Close())
	}
	return errors.Join(errs...)
}
