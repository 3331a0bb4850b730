// Package message holds texts for people as an English text and its arguments. Whoever shows one words it: in English
// with String, as in logs, files and the API, or in a reader's language, as on pages.
package message

import (
	"fmt"
	"regexp"
	"strings"
)

// Message is a text and then its arguments; nil is none. Only this package makes parts: nothing typed becomes a text.
type Message []part
type part struct{ value any }

// M is the message of an English text, a literal, since it is also the key of its translations. In it
//
//	{1}             stands for the first argument, {9} for the last there can be,
//	{1|unit|units}  for the first word where that argument is 1, else the other; the words may hold {1},
//	##note          at its end tells translators which meaning is meant.
//
// An argument is what people typed or a code (string), a whole number, a day, or a message.
func M(text string, args ...any) Message {
	m := Message{{text}}
	for _, a := range args {
		m = append(m, part{a})
	}
	return m
}

// Plain is what is the same in every language: a code, whatever people typed. The empty text is no message.
func Plain(text string) Message {
	if text == "" {
		return nil
	}
	return M("{1}", text)
}

// Join is messages with punctuation between them. It leaves out those that are nil.
func Join(between string, all ...Message) (joined Message) {
	for _, m := range all {
		if joined == nil {
			joined = m
		} else if m != nil {
			joined = M("{1}"+between+"{2}", joined, m)
		}
	}
	return joined
}

// Key is the text that M was given; nil has none.
func (m Message) Key() string { key, _ := m.Arg(0).(string); return key }

// Arg is the nth argument, counted from 1; the empty text if there are fewer.
func (m Message) Arg(n int) any {
	if n >= len(m) {
		return ""
	}
	return m[n].value
}

// String words the message in English.
func (m Message) String() string { return m.fill(m.Key()) }

func (m Message) fill(text string) string {
	return Fill(text, func(n int, words []string) string {
		a := fmt.Sprint(m.Arg(n))
		if len(words) == 0 {
			return a
		}
		return m.fill(map[bool]string{true: words[0], false: words[len(words)-1]}[a == "1"])
	})
}

var mark = regexp.MustCompile(`\{[1-9](\|([^{|}]|\{[1-9]\})+)*\}`)

// Fill returns a text without its note, with something put in, not looked at again, for each {1} and {1|unit|units}.
func Fill(text string, put func(arg int, words []string) string) string {
	text, _, _ = strings.Cut(text, "##")
	return mark.ReplaceAllStringFunc(text, func(s string) string {
		return put(int(s[1]-'0'), strings.Split(s[2:len(s)-1], "|")[1:])
	})
}

// MarshalText writes the message in English.
func (m Message) MarshalText() ([]byte, error) { return []byte(m.String()), nil }

// UnmarshalText reads what MarshalText wrote, as a text that stays as it is.
func (m *Message) UnmarshalText(b []byte) error { *m = Plain(string(b)); return nil }
