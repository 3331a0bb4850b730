package api

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// TestCursorOfWhatIsGone: where the entry of a cursor is gone, the list goes on
// after it and does not begin anew.
func TestCursorOfWhatIsGone(t *testing.T) {
	for _, tt := range []struct {
		all  []string
		gone int
	}{{[]string{"8", "9", "10", "11"}, 1}, {[]string{"airway", "marker", "tool"}, 1}, {[]string{"1", "2"}, 1}} {
		same := func(s string) string { return s }
		first, err := listWhole(Paging{Limit: tt.gone + 1}, same)(append(tt.all, "999"), nil)
		require.NoError(t, err)
		left := append(append([]string{}, tt.all[:tt.gone]...), tt.all[tt.gone+1:]...)
		next, err := listWhole(Paging{Limit: 10, Cursor: first.Body.NextCursor}, same)(left, nil)
		require.NoError(t, err)
		assert.Equal(t, append([]string{}, tt.all[tt.gone+1:]...), next.Body.Data)
	}
}
