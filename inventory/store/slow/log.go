// Package slow reports statements that take long.
package slow

import (
	"context"
	"log/slog"
	"time"

	"gorm.io/gorm/logger"
)

// Log lets gorm report slow statements to the program's log. Errors are
// returned, never logged here, and values are never shown.
type Log struct{ To *slog.Logger }

// Statement is how long one takes that is reported.
const Statement = 500 * time.Millisecond

func (l Log) LogMode(logger.LogLevel) logger.Interface      { return l }
func (l Log) Info(context.Context, string, ...interface{})  {}
func (l Log) Warn(context.Context, string, ...interface{})  {}
func (l Log) Error(context.Context, string, ...interface{}) {}

// Trace is called after each statement.
func (l Log) Trace(ctx context.Context, begin time.Time, text func() (string, int64), _ error) {
	if took := time.Since(begin); took > Statement {
		sql, rows := text()
		l.To.WarnContext(ctx, "slow statement", "took", took, "rows", rows, "sql", sql)
	}
}

// ParamsFilter keeps values out of the text that Trace is given.
func (l Log) ParamsFilter(_ context.Context, sql string, _ ...interface{}) (string, []interface{}) {
	return sql, nil
}
