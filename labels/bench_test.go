package labels

import (
	"fmt"
	"io"
	"testing"

	"github.com/stretchr/testify/require"
)

// thousand is 1,000 bag labels, or every kind in turn, each with its own
// address.
func thousand(mixed bool) []Label {
	out := make([]Label, 0, 1000)
	for i := 0; len(out) < cap(out); i++ {
		kinds := everyKind(i)
		if !mixed {
			kinds = kinds[:1]
		}
		out = append(out, kinds[:min(len(kinds), cap(out)-len(out))]...)
	}
	return out
}

// BenchmarkThousand compares, in one run, the encoding of 1,000 symbols alone
// with the printing of the 1,000 labels that hold them.
func BenchmarkThousand(b *testing.B) {
	for _, mixed := range []bool{false, true} {
		list := thousand(mixed)
		s, err := SheetByName("a4-3x7")
		require.NoError(b, err)
		drawings, _, err := plan(s, list, Options{})
		require.NoError(b, err)
		b.Run(fmt.Sprintf("mixed=%v/symbols", mixed), func(b *testing.B) {
			for b.Loop() {
				for _, d := range drawings {
					_, err := encode(d.symbol.text, d.symbol.Fit)
					require.NoError(b, err)
				}
			}
		})
		b.Run(fmt.Sprintf("mixed=%v/labels", mixed), func(b *testing.B) {
			for b.Loop() {
				_, err := WritePDF(io.Discard, s, list, Options{})
				require.NoError(b, err)
			}
		})
	}
}
