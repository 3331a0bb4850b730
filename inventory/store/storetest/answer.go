package storetest

import (
	"context"
	"errors"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stowkeeper/inventory"
)

var answerPromises = []promise{
	{"an answer is kept whole, once for its request", answerKept},
	{"an answer waits for the one who holds its key", answerWaits},
}

func answerKept(c *scene) {
	k := inventory.RequestKey{Key: "8c1f", Principal: "person 3", Method: "POST", Path: "/api/v1/x"}
	want := inventory.Answer{
		BodyHash: "aa", Status: 201, ContentType: "application/json", Body: []byte("{\"a\":\"\x00\xff\"}"), CreatedAt: noon,
	}
	answer := func(k inventory.RequestKey) func(inventory.Reader) (inventory.Answer, error) {
		return func(r inventory.Reader) (inventory.Answer, error) { return r.Answer(k) }
	}
	keep := func(k inventory.RequestKey, a inventory.Answer) func(inventory.Writer) error {
		return func(w inventory.Writer) error { return w.KeepAnswer(k, a) }
	}
	absent(c, answer(k))
	c.write(keep(k, want))
	assert.Equal(c.t, want, got(c, answer(k)), "byte for byte")
	c.refused(inventory.Conflict, keep(k, want))
	for _, other := range []inventory.RequestKey{
		{Key: "8c20", Principal: k.Principal, Method: k.Method, Path: k.Path}, {Key: k.Key, Principal: "person 4",
			Method: k.Method, Path: k.Path},
		{Key: k.Key, Principal: k.Principal, Method: "PUT", Path: k.Path}, {Key: k.Key, Principal: k.Principal,
			Method: k.Method, Path: "/y"},
	} {
		absent(c, answer(other))
		c.write(keep(other, inventory.Answer{Status: 204, CreatedAt: noon})) // without a body
		kept := got(c, answer(other))
		assert.Equal(c.t, 204, kept.Status)
		assert.Empty(c.t, kept.Body)
	}
}

// answerWaits keeps an answer in a unit of work that stays open for a moment: the other one must come after it, and
// be refused or, when the first is given up, succeed.
func answerWaits(c *scene) {
	for _, gaveUp := range []bool{false, true} {
		k := inventory.RequestKey{Key: "k", Principal: "p", Method: "POST", Path: map[bool]string{false: "/a",
			true: "/b"}[gaveUp]}
		keep := func(w inventory.Writer) error { return w.KeepAnswer(k, inventory.Answer{Status: 200, CreatedAt: noon}) }
		other := make(chan error, 1)
		err := c.store.Write(c.t.Context(), func(_ context.Context, w inventory.Writer) error {
			require.NoError(c.t, keep(w))
			go func() { other <- c.tryWrite(keep) }()
			select {
			case <-other:
				assert.Fail(c.t, "the other unit of work did not wait")
			case <-time.After(100 * time.Millisecond):
			}
			if gaveUp {
				return errOnPurpose
			}
			return nil
		})
		if gaveUp {
			require.True(c.t, errors.Is(err, errOnPurpose))
			require.NoError(c.t, <-other)
		} else {
			require.NoError(c.t, err)
			require.Equal(c.t, inventory.Conflict, inventory.KindOf(<-other))
		}
	}
}
