package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"log/slog"
	"strings"

	"gorm.io/gorm"

	"stowkeeper/inventory"
)

// The engines' names, as Engine returns them.
const (
	SQLite   = "sqlite"
	Postgres = "postgres"
)

// Options are what may be set when a store is opened. The zero value serves.
type Options struct {
	Logger   *slog.Logger // nil for the program's default logger
	MaxConns int          // connections to PostgreSQL, 0 for 16; readers of a SQLite file, 0 for 6

	SQLiteDriver string // of database/sql, "sqlite" where it is empty; tests put a counter in front of it
}

// database is the one implementation of inventory.Store. On PostgreSQL both
// pools are the same one.
type database struct {
	engine string
	writes *sql.DB
	reads  *sql.DB
	gorm   *gorm.DB
	log    *slog.Logger
}

// Open opens the store that db names, a file for SQLite (made where there is
// none) or a postgres:// address, and brings its schema up to date.
func Open(ctx context.Context, db string, opts Options) (inventory.Store, error) {
	if opts.Logger == nil {
		opts.Logger = slog.Default()
	}
	s := &database{log: opts.Logger}
	if err := s.open(ctx, db, opts); err != nil {
		return nil, errors.Join(err, s.Close())
	}
	return s, nil
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
	if err := migrate(ctx, s.writes, s.engine, s.log); err != nil {
		return err
	}
	if err := learn(s.gorm); err != nil {
		return err
	}
	return s.check(ctx)
}

// IsPostgres tells whether db is the address of a PostgreSQL database rather
// than a file name.
func IsPostgres(db string) bool {
	return strings.HasPrefix(db, "postgres://") || strings.HasPrefix(db, "postgresql://")
}

// check refuses to run on connections that are not as they must be.
func (s *database) check(ctx context.Context) error {
	if s.engine == SQLite {
		return s.checkPragmas(ctx)
	}
	return s.Ping(ctx)
}

// gormConfig leaves translation of errors to errors.go, the clock to the use
// cases and transactions to unit.go.
func (s *database) gormConfig() *gorm.Config {
	return &gorm.Config{SkipDefaultTransaction: true, Logger: gormLog{s.log}}
}

// Engine names the engine.
func (s *database) Engine() string { return s.engine }

// Ping tells whether the database answers.
func (s *database) Ping(ctx context.Context) error {
	for _, pool := range []*sql.DB{s.reads, s.writes} {
		var one int
		if err := pool.QueryRowContext(ctx, "SELECT 1").Scan(&one); err != nil {
			return &inventory.Error{Kind: inventory.Unavailable, Message: "the database does not answer", Cause: err}
		}
	}
	return nil
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
