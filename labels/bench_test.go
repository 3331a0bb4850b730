package labels

import (
	"io"
	"testing"
	"time"

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

// BenchmarkThousand prints 1,000 labels and encodes the same 1,000 symbols
// alone, by turns in one run, so that a busy machine slows both. It reports
// the share: how many times the encoding the printing takes.
func BenchmarkThousand(b *testing.B) {
	s := sheet(b, "a4-3x7")
	for name, list := range map[string][]Label{"bags": thousand(false), "every kind": thousand(true)} {
		drawings, _, err := plan(s, list, Options{})
		require.NoError(b, err)
		b.Run(name, func(b *testing.B) {
			var symbols, printing time.Duration
			for b.Loop() {
				start := time.Now()
				for _, d := range drawings {
					_, err := encode(d.symbol.text, d.symbol.Fit)
					require.NoError(b, err)
				}
				between := time.Now()
				_, err := WritePDF(io.Discard, s, list, Options{})
				require.NoError(b, err)
				symbols += between.Sub(start)
				printing += time.Since(between)
			}
			b.ReportMetric(float64(printing)/float64(symbols), "share")
			b.ReportMetric(float64(symbols.Milliseconds())/float64(b.N), "ms/symbols")
			b.ReportMetric(float64(printing.Milliseconds())/float64(b.N), "ms/labels")
		})
	}
}
