package store

import (
	"cmp"
	"context"
	"database/sql"
	"time"

	_ "github.com/jackc/pgx/v5/stdlib" // the driver "pgx"
	"gorm.io/driver/postgres"
	"gorm.io/gorm"
)

const postgresConns = 16

// openPostgres opens one pool that both reads and writes.
func (s *database) openPostgres(ctx context.Context, address string, opts Options) error {
	s.engine = Postgres
	pool, err := sql.Open("pgx", address)
	if err != nil {
		return err
	}
	s.reads, s.writes = pool, pool
	conns := cmp.Or(opts.MaxConns, postgresConns)
	pool.SetMaxOpenConns(conns)
	pool.SetMaxIdleConns(conns)
	pool.SetConnMaxIdleTime(5 * time.Minute)
	if err := pool.PingContext(ctx); err != nil {
		return err
	}
	s.gorm, err = gorm.Open(postgres.New(postgres.Config{Conn: pool}), s.gormConfig())
	return err
}
