// Package sqltext helps to write statements.
package sqltext

import "strings"

// Marks returns (?, ?, …).
func Marks(n int) string { return "(" + strings.Repeat("?, ", n-1) + "?)" }

// Rows returns (?, …), (?, …) … for an insert of n rows.
func Rows(n, columns int) string { return Times(n, Marks(columns)) }

// Times returns n times what stands for a row.
func Times(n int, one string) string { return strings.Repeat(one+", ", n-1) + one }

// Args turns values into arguments.
func Args[T any](values []T) []any {
	out := make([]any, len(values))
	for i, v := range values {
		out[i] = v
	}
	return out
}
