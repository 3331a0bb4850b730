package search

import (
	"testing"

	"github.com/stretchr/testify/assert"
)

// The better a text matches, the smaller its rank.
func TestMatchRank(t *testing.T) {
	for _, c := range []struct {
		asked string
		texts []string
		want  int
	}{
		{"a1", []string{"A1"}, rankExact},
		{"A1", []string{"B7", "a1"}, rankExact},
		{"a", []string{"A1", "BA"}, rankPrefix},
		{"1", []string{"A1"}, rankPart},
		{"%", []string{"A1"}, rankNone},
		{"adult windlass", []string{"TQ", "Tourniquet, windlass, adult"}, rankWords},
		{"windlass child", []string{"TQ", "Tourniquet, windlass, adult"}, rankNone},
		{"a", []string{""}, rankNone},
		{"größe", []string{"Binde GRÖSSE", "Binde, Größe 2"}, rankPart},
	} {
		assert.Equal(t, c.want, matchRank(c.asked, c.texts...), "%q in %q", c.asked, c.texts)
	}
}
