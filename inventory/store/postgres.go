package store

import (
	"cmp"
	"context"
	"net"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgconn"
	"github.com/jackc/pgx/v5/stdlib"
	"gorm.io/driver/postgres"
	"gorm.io/gorm"
)

const postgresConns = 16

// A server that is gone without a word, as with its machine, is found out in about so long: by who connects, and by who
// waits for an answer.
const (
	connectTimeout = 5 * time.Second
	silence        = 2 * time.Second // three times
)

// openPostgres opens one pool that both reads and writes. Of several addresses it takes the one that can be written.
func (s *database) openPostgres(ctx context.Context, address string, opts Options) error {
	s.engine = Postgres
	config, err := pgx.ParseConfig(address)
	if err != nil {
		return err
	}
	if config.ValidateConnect == nil {
		config.ValidateConnect = pgconn.ValidateConnectTargetSessionAttrsReadWrite
	}
	config.ConnectTimeout = cmp.Or(config.ConnectTimeout, connectTimeout)
	dialer := net.Dialer{Timeout: config.ConnectTimeout,
		KeepAliveConfig: net.KeepAliveConfig{Enable: true, Idle: silence, Interval: silence, Count: 3}}
	config.DialFunc = dialer.DialContext
	pool := stdlib.OpenDB(*config)
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
