package table

import "strings"

// starters begin what spreadsheets run as a formula (OWASP, CSV Injection); the last four are their full-width forms.
const starters = "=+-@\t\r\n＝＋－＠"

// Defuse makes a text harmless to a spreadsheet that would run it as a formula: it gets an apostrophe before it. So
// does a text that looks defused already, so that Arm gives back every text.
func Defuse(s string) string {
	if looksRun(s) {
		return "'" + s
	}
	return s
}

// Arm gives back what Defuse was given.
func Arm(s string) string {
	if strings.HasPrefix(s, "'") && looksRun(s) {
		return s[1:]
	}
	return s
}

// looksRun tells whether a text begins like a formula, apostrophes apart. A whole number below zero is none.
func looksRun(s string) bool {
	s = strings.TrimLeft(s, "'")
	if digits, ok := strings.CutPrefix(s, "-"); ok && digits != "" && strings.Trim(digits, "0123456789") == "" {
		return false
	}
	for _, r := range s {
		return strings.ContainsRune(starters, r)
	}
	return false
}
