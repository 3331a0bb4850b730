package secret_test

import (
	"encoding/base64"
	"fmt"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"golang.org/x/crypto/argon2"

	"stowkeeper/inventory/secret"
)

func TestHashAndMatch(t *testing.T) {
	var s secret.Argon2id
	a, err := s.Hash("4711")
	require.NoError(t, err)
	b, err := s.Hash("4711")
	require.NoError(t, err)
	assert.NotEqual(t, a, b, "each hash has its own salt")
	assert.True(t, s.Match(a, "4711"))
	assert.False(t, s.Match(a, "4712"))
	assert.NotContains(t, a, "4711")
}

// The value was computed by the reference command line tool of Debian's argon2
// package: echo -n password | argon2 somesalt16bytes! -id -t 2 -k 19456 -p 1 -l 32 -e
func TestMatchesTheReferenceTool(t *testing.T) {
	assert.True(t, secret.Argon2id{}.Match(reference, "password"))
	assert.False(t, secret.Argon2id{}.Match(reference, "Password"))
}

func TestBrokenHashesMatchNothing(t *testing.T) {
	for _, h := range []string{"", "x", "$argon2id$v=19$m=19456,t=2,p=1$$", "$argon2id$v=19$m=0,t=0,p=0$AAAA$AAAA",
		"$bcrypt$a$b$c$d", "$argon2id$v=19$m=-1,t=1,p=1$AAAA$AAAA", "$argon2id$v=19$m=8,t=1,p=256$AAAA$AAAA"} {
		assert.False(t, secret.Argon2id{}.Match(h, ""), h)
	}
}

// Who puts a row of their own into the table of people keeps nobody's processor busy for days with it.
func TestCostlyHashesMatchNothing(t *testing.T) {
	hash := func(passes uint32) string {
		salt := []byte("sixteen bytes...")
		return fmt.Sprintf("$argon2id$v=19$m=8,t=%d,p=1$%s$%s", passes, base64.RawStdEncoding.EncodeToString(salt),
			base64.RawStdEncoding.EncodeToString(argon2.IDKey([]byte("4711"), salt, passes, 8, 1, 32)))
	}
	assert.True(t, secret.Argon2id{}.Match(hash(64), "4711"))
	assert.False(t, secret.Argon2id{}.Match(hash(65), "4711"))
}

const reference = `$argon2id$v=19$m=19456,t=2,p=1$c29tZXNhbHQxNmJ5dGVzIQ$tPXA8KRaMxUDqoVFOkz5qceiysamiMSLxBrcC5sAtmo`
