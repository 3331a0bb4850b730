// Package sqltext helps to write statements.
package sqltext

import "strings"

// Marks returns (?, ?, …).
func Marks(n int) string { return "(" + strings.Repeat("?, ", n-1) + "?)" }

// Rows returns (?, …), (?, …) … for an insert of n rows.
func Rows(n, columns int) string { return strings.Repeat(Marks(columns)+", ", n-1) + Marks(columns) }

// Args turns values into arguments.
func Args[T any](values []T) []any {
	out := make([]any, len(values))
	for i, v := range values {
		out[i] = v
	}
	return out
}
