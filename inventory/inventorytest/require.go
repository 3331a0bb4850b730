package inventorytest

import (
	"github.com/stretchr/testify/require"

	"stowkeeper/inventory"
)

// RequireFields asserts an Invalid error about exactly these fields, each with a fix.
func RequireFields(t require.TestingT, err error, paths ...string) {
	var e *inventory.Error
	require.ErrorAs(t, err, &e)
	require.Equal(t, inventory.Invalid, e.Kind, "%v", err)
	var got []string
	for _, f := range e.Fields {
		got = append(got, f.Path)
		require.NotEmpty(t, f.Fix)
	}
	require.ElementsMatch(t, paths, got, "%v", err)
}

// RequireKind asserts the kind of an error, and that it has words for people.
func RequireKind(t require.TestingT, kind inventory.ErrorKind, err error) {
	require.Error(t, err)
	require.Equal(t, kind, inventory.KindOf(err), "%v", err)
	var e *inventory.Error
	require.ErrorAs(t, err, &e)
	require.NotEmpty(t, e.Message)
}
