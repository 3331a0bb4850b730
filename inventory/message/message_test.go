package message_test

import (
	"encoding/json"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	. "stowkeeper/inventory/message"
)

type day struct{}

func (day) String() string               { return "2027-06-14" }
func (day) Date() (int, time.Month, int) { return 2027, 6, 14 }

func TestString(t *testing.T) {
	for want, m := range map[string]Message{
		"":                     nil,
		"Bags":                 M("Bags"),
		"Open":                 M("Open##of a bag"),
		"expired 2027-06-14":   M("expired {1}", day{}),
		"1 unit of {1} %d <b>": M("{1} {1|unit|units} of {2}", 1, "{1} %d <b>"),
		"30000 units of Lid":   M("{1} {1|unit|units} of {2}", 30000, "Lid"),
		"0 units of Lid":       M("{1} {1|unit|units} of {2}", 0, "Lid"),
		"1 box":                M("{1} {1|box|boxes}", int64(1)),
		"Lid: 1 gap, 2 units of {1|a|b}": M("{1}: {2}, {3}", "Lid", M("{1} {1|gap|gaps}", 1), M("{1} {1|unit|units} of {2}",
			2, "{1|a|b}")),
		"lost: ":                          M("lost: {1}"),
		"100 %, {x}, {}, {0} and {1|one}": M("100 %, {x}, {}, {0} and {1}", "{1|one}"),
		"Bags; {1}, typed; Store":         Join("; ", M("Bags"), nil, Plain("{1}, typed"), Plain(""), M("Store")),
		"{1}":                             Plain("{1}"),
	} {
		assert.Equal(t, want, m.String())
	}
	assert.Nil(t, Plain(""))
	assert.Nil(t, Join(", "))
	assert.Nil(t, Join(", ", nil, nil))
}

// Files and the API have a message in English, and read it as what it says.
func TestJSON(t *testing.T) {
	type answer struct {
		Text Message `json:"text"`
		None Message `json:"none,omitempty"`
	}
	body, err := json.Marshal(answer{Text: M("{1} {1|unit|units} of {2}", 3, `"Lid"`)})
	require.NoError(t, err)
	assert.Equal(t, `{"text":"3 units of \"Lid\""}`, string(body))
	var read answer
	require.NoError(t, json.Unmarshal(body, &read))
	assert.Equal(t, Plain(`3 units of "Lid"`), read.Text)
	assert.Nil(t, read.None)
}

func TestFill(t *testing.T) {
	assert.Equal(t, "a 2[] b 1[x y]", Fill("a {2} b {1|x|y}##note", func(arg int, words []string) string {
		s := string(rune('0'+arg)) + "["
		for i, w := range words {
			if i > 0 {
				s += " "
			}
			s += w
		}
		return s + "]"
	}))
}

// A database keeps a message as what is said and of what, and an older text as it is.
func TestKept(t *testing.T) {
	for _, m := range []Message{nil, Plain("typed {1}"), M("Bags"), M("{1} {1|unit|units} of {2}", 1, "{1|a|b}"),
		M("{1}: {2}", M("expired {1}", day{}), M("{1}", 2)), M("{1}", M("nested")), M("“{1}”", "\x1e[]")} {
		again := Kept(m.Keep())
		assert.Equal(t, m.String(), again.String())
		assert.Equal(t, m.Key(), again.Key())
		assert.Equal(t, m.Keep(), again.Keep())
	}
	again := Kept(M("{1} and {2} of {3}", 3, M("Bags"), day{}).Keep())
	assert.Equal(t, 3, again.Arg(1), "whole numbers stay such: they choose the plural")
	assert.Equal(t, M("Bags"), again.Arg(2))
	_, isDay := again.Arg(3).(interface{ Date() (int, time.Month, int) })
	assert.True(t, isDay)
	for _, old := range []string{"the bag is retired", "", "\x1enot ours", `["Bags"]`} {
		assert.Equal(t, Plain(old), Kept(old))
	}
}
