package api

import (
	"errors"
	"net/http"
	"testing"

	"github.com/danielgtaylor/huma/v2"
	"github.com/stretchr/testify/assert"

	"stowkeeper/inventory"
)

// TestEveryKindHasAStatus walks the closed list of kinds.
func TestEveryKindHasAStatus(t *testing.T) {
	for _, k := range inventory.ErrorKinds {
		assert.NotZero(t, statuses[k], k)
	}
	assert.Len(t, statuses, len(inventory.ErrorKinds))
}

// TestHumaTellsNothing of what went wrong inside, and no values.
func TestHumaTellsNothing(t *testing.T) {
	detail := &huma.ErrorDetail{Location: "body.pin", Message: "expected string", Value: "secret"}
	for _, status := range []int{500, 502, 503} {
		p := fromHuma(status, "secret", errors.New("secret"), detail).(*Problem)
		assert.Empty(t, p.Detail)
		assert.Empty(t, p.Errors)
	}
	p := fromHuma(http.StatusUnprocessableEntity, "validation failed", errors.New("secret"), detail).(*Problem)
	assert.Equal(t, []FieldProblem{{"body.pin", "expected string"}}, p.Errors)
	assert.NotContains(t, p.Detail, "secret")
}

func TestSafeLocation(t *testing.T) {
	for given, want := range map[string]string{
		"body.lines[0].qty": "body.lines[0].qty", "query.as_of": "query.as_of", "body.two words": "body",
		"query.<script>":                   "query",
		"path." + string(make([]byte, 90)): "path", "": "request", "other thing": "request",
	} {
		assert.Equal(t, want, safeLocation(given), "%q", given)
	}
}

func TestParseKey(t *testing.T) {
	for header, want := range map[string]string{"": "", "k-1": "k-1", `"k-1"`: "k-1", `"a\"b\\c"`: `a"b\c`,
		`"open`: `"open`} {
		got, err := parseKey(header)
		assert.NoError(t, err)
		assert.Equal(t, want, got)
	}
}
