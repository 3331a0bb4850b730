// Package message holds texts for people as what is said and of what: an
// English text and its arguments. Rules, findings and errors make messages;
// whoever shows one words it: in English with String, as in logs, files, the
// API and on the command line, or in a reader's language, as on pages.
package message

import (
	"fmt"
	"regexp"
	"strings"
)

// Message is a text for people and then its arguments. Nil is no text. Only this
// package makes the parts, so what people typed is never taken for a text.
type Message []part

type part struct{ value any }

// M is the message of an English text, which is also the key of its
// translations, so it is a literal. In it
//
//	{1}             stands for the first argument, {9} for the last there can be,
//	{1|unit|units}  for one word where that argument is 1, else for the other;
//	                the words may hold {1} and its like,
//	##note          at its end tells translators which meaning is meant.
//
// An argument is what people typed or a code (string), a whole number (int,
// int64), a day, or a message. A day is in English as its String has it.
func M(text string, args ...any) Message {
	m := Message{{text}}
	for _, a := range args {
		m = append(m, part{a})
	}
	return m
}

// Plain is a text that is the same in every language: a name, a code, whatever
// people typed. The empty text is no message.
func Plain(text string) Message {
	if text == "" {
		return nil
	}
	return M("{1}", text)
}

// Join is messages with punctuation between them. It leaves out those that are
// nil.
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
func (m Message) Key() string {
	key, _ := m.Arg(0).(string)
	return key
}

// Arg is the nth argument, counted from 1; nil if there are fewer.
func (m Message) Arg(n int) any {
	if n >= len(m) {
		return nil
	}
	return m[n].value
}

// String words the message in English.
func (m Message) String() string { return m.fill(m.Key()) }

func (m Message) fill(text string) string {
	return Fill(text, func(n int, words []string) string {
		switch a := fmt.Sprint(m.Arg(n)); {
		case m.Arg(n) == nil:
			return ""
		case len(words) == 0:
			return a
		case a == "1":
			return m.fill(words[0])
		}
		return m.fill(words[len(words)-1])
	})
}

var mark = regexp.MustCompile(`\{[1-9](\|([^{|}]|\{[1-9]\})+)*\}`)

// Fill returns a text without its note, with something put in for each {1} and
// {1|unit|units}. What is put in is not looked at again.
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
