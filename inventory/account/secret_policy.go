package account

import (
	_ "embed"
	"slices"
	"strings"
	"unicode"
	"unicode/utf8"

	"stowkeeper/inventory"
)

// Lengths of PINs in digits and of passwords in characters. The rule for passwords follows NIST SP 800-63B (from
// memory): length, no rule about kinds of characters, and a look into a list of what is commonly chosen.
const (
	MinPIN      = 4
	MaxPIN      = 8
	MinPassword = 12
	MaxPassword = 200
)

//go:embed common.txt
var commonText string

//go:embed passwords.txt
var passwordsText string

// common is every word that passwords are commonly made of, and that belongs to this trade or this program (OWASP
// ASVS 5.0.0, 6.1.2 and 6.2.11); seen is those and the passwords most commonly seen (6.2.4).
var common, seen = wordsOf(commonText), wordsOf(commonText + passwordsText)

func wordsOf(text string) map[string]bool {
	words := map[string]bool{}
	for line := range strings.Lines(text) {
		if strings.HasPrefix(line, "#") {
			continue
		}
		for _, w := range strings.Fields(line) {
			words[w] = true
		}
	}
	return words
}

// commonPINs are chosen often without being a run or a repetition: columns of the keypad and years. From memory.
var commonPINs = []string{"2580", "0852", "1357", "2468", "1470", "3690", "1397", "1984", "2000", "2001", "2020",
	"1122", "6969", "5683", "112233"}

// checkSecret refuses a PIN or password that is too short or easily guessed.
// It tells what to do, and never repeats what was typed.
func checkSecret(ps *inventory.Problems, path string, role inventory.Role, name, secret string) {
	if role.UsesPIN() {
		switch {
		case len(secret) < MinPIN || len(secret) > MaxPIN || strings.Trim(secret, "0123456789") != "":
			ps.Add(path, "enter {1} to {2} digits", MinPIN, MaxPIN)
		case weakPIN(secret):
			ps.Add(path, "choose a harder PIN: no sequences, repeats or years")
		}
		return
	}
	switch n := utf8.RuneCountInString(secret); {
	case !utf8.ValidString(secret) || n < MinPassword || n > MaxPassword:
		ps.Add(path, "enter at least {1} characters", MinPassword)
	case holdsName(secret, name):
		ps.Add(path, "no names in a password")
	case weakPassword(secret):
		ps.Add(path, "choose a harder password: three or four unrelated words")
	}
}

// weakPIN tells whether a PIN is a run, repeats itself, or is chosen often.
func weakPIN(pin string) bool {
	return repeats(pin, len(pin)/2) || isRun(pin) || slices.Contains(commonPINs, pin)
}

// repeats tells whether a text is one part, of at most longest characters, again and again.
func repeats(s string, longest int) bool {
	for n := 1; n <= longest; n++ {
		if len(s)%n == 0 && strings.Repeat(s[:n], len(s)/n) == s {
			return true
		}
	}
	return false
}

// isRun tells whether each digit is one more, or one less, than the one before; 0 follows 9.
func isRun(s string) bool {
	up, down := true, true
	for i := 1; i < len(s); i++ {
		step := (int(s[i]) - int(s[i-1]) + 10) % 10
		up, down = up && step == 1, down && step == 9
	}
	return up || down
}

// holdsName tells whether a part of somebody's name, of four letters or more, is in the password.
func holdsName(secret, name string) bool {
	plain := strings.ToLower(secret)
	return slices.ContainsFunc(strings.FieldsFunc(strings.ToLower(name),
		func(r rune) bool { return !unicode.IsLetter(r) }), func(part string) bool {
		return utf8.RuneCountInString(part) >= 4 && strings.Contains(plain, part)
	})
}

// lookalikes are digits and signs that people put for letters.
var lookalikes = strings.NewReplacer("0", "o", "1", "l", "3", "e", "4", "a", "5", "s", "7", "t", "@", "a", "$", "s")

// weakPassword tells whether a password is made of few different characters, of one part again and again, of at most
// three common words and runs, or of at most two passwords commonly seen, with digits and signs between.
func weakPassword(secret string) bool {
	s := strings.ToLower(secret)
	if distinct(s) < 5 || repeats(s, len(s)/2) {
		return true
	}
	letters := func(s string) string {
		return strings.Map(func(r rune) rune {
			if unicode.IsLetter(r) {
				return r
			}
			return -1
		}, s)
	}
	core := strings.TrimFunc(s, func(r rune) bool { return !unicode.IsLetter(r) })
	for _, text := range []string{letters(s), letters(lookalikes.Replace(core))} {
		if madeOf(common, text, 3) || madeOf(seen, text, 2) {
			return true
		}
	}
	return false
}

func distinct(s string) int {
	seen := map[rune]bool{}
	for _, r := range s {
		seen[r] = true
	}
	return len(seen)
}

// madeOf tells whether a text is at most so many of the words one after another; a text without letters is.
func madeOf(words map[string]bool, s string, most int) bool {
	if s == "" {
		return true
	}
	if most == 0 {
		return false
	}
	for n := 1; n <= len(s); n++ {
		if words[s[:n]] && madeOf(words, s[n:], most-1) {
			return true
		}
	}
	return false
}
