package inventory

import (
	"fmt"
	"strings"
	"unicode"
	"unicode/utf8"

	"golang.org/x/text/unicode/runenames"
)

// Limits of what people may type, in characters.
const (
	MaxCode = 40
	MaxName = 120
	MaxNote = 2000
)

// NormalCode brings a code that a person typed to its one stored form: upper
// case, without blanks around it, blanks inside as hyphens.
func NormalCode(s string) string {
	return strings.ToUpper(strings.Join(strings.Fields(s), "-"))
}

// CheckCode refuses a code that could not be typed, printed or put in a web
// address: A-Z, 0-9, hyphen and full stop, starting with a letter or digit.
func CheckCode(p *Problems, path, code string) {
	if code == "" {
		p.Add(path, "fill this in")
		return
	}
	ok := len(code) <= MaxCode && code[0] != '-' && code[0] != '.'
	for _, c := range []byte(code) {
		ok = ok && (c >= 'A' && c <= 'Z' || c >= '0' && c <= '9' || c == '-' || c == '.')
	}
	p.When(!ok, path, "enter 1 to {1} letters A–Z, digits, hyphens or full stops", MaxCode)
}

// OneLine folds all blanks in a text to single ones and cuts those around it.
func OneLine(s string) string { return strings.Join(strings.Fields(s), " ") }

// CheckText refuses text that is missing, too long, not UTF-8, or that holds control characters. Line breaks are for
// notes: texts of up to MaxNote characters; all shorter ones are one line.
func CheckText(p *Problems, path, s string, required bool, longest int) {
	switch {
	case !utf8.ValidString(s):
		p.Add(path, "send UTF-8 text")
	case required && strings.TrimSpace(s) == "":
		p.Add(path, "fill this in")
	case utf8.RuneCountInString(s) > longest:
		p.Add(path, "shorten to {1} characters", longest)
	case strings.ContainsFunc(s, forbiddenRune):
		p.Add(path, "remove {1}", signIn(s, forbiddenRune))
	case longest < MaxNote && strings.ContainsAny(s, "\n\r\u2028\u2029"):
		p.Add(path, "enter one line")
	}
}

func forbiddenRune(r rune) bool {
	return unicode.IsControl(r) && r != '\n' && r != '\r' && r != '\t'
}

// CheckName refuses what CheckText does, and signs that nobody sees: they turn the direction of text or have no width,
// so that two names look like one (Unicode UTS 39, section 3.1: default ignorable).
func CheckName(p *Problems, path, s string, longest int) {
	if utf8.ValidString(s) && strings.ContainsFunc(s, unseenRune) {
		p.Add(path, "remove {1}", signIn(s, unseenRune))
		return
	}
	CheckText(p, path, s, true, longest)
}

func unseenRune(r rune) bool {
	return unicode.In(r, unicode.Cf, unicode.Other_Default_Ignorable_Code_Point, unicode.Variation_Selector)
}

// signIn names the first of some signs in a text, as Unicode does.
func signIn(s string, is func(rune) bool) string {
	r, _ := utf8.DecodeRuneInString(s[strings.IndexFunc(s, is):])
	return fmt.Sprintf("%U %s", r, runenames.Name(r))
}
