package store

import (
	"context"
	"log/slog"
	"time"

	"gorm.io/gorm/logger"
)

// gormLog lets gorm report slow statements to the program's log. Errors are
// returned, never logged here, and values are never shown.
type gormLog struct{ log *slog.Logger }

const slowStatement = 500 * time.Millisecond

func (l gormLog) LogMode(logger.LogLevel) logger.Interface      { return l }
func (l gormLog) Info(context.Context, string, ...interface{})  {}
func (l gormLog) Warn(context.Context, string, ...interface{})  {}
func (l gormLog) Error(context.Context, string, ...interface{}) {}

// Trace is called after each statement.
func (l gormLog) Trace(ctx context.Context, begin time.Time, text func() (string, int64), _ error) {
	if took := time.Since(begin); took > slowStatement {
		sql, rows := text()
		l.log.WarnContext(ctx, "slow statement", "took", took, "rows", rows, "sql", sql)
	}
}

// ParamsFilter keeps values out of the text that Trace is given.
func (l gormLog) ParamsFilter(_ context.Context, sql string, _ ...interface{}) (string, []interface{}) {
	return sql, nil
}
