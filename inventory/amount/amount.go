// Package amount reads, adds up and writes decimal amounts, such as what was given and wasted of a medicine, exactly.
package amount

import (
	"bytes"
	"encoding/json"
	"math/big"
	"regexp"
	"strings"
)

// Amount is a decimal number as its text, "2.5". What somebody wrote that is none stays as it is.
type Amount string

var (
	written = regexp.MustCompile(`^([0-9]{1,12}(?:[.,][0-9]{1,9})?)\s*(\pL*)$`)
	plain   = regexp.MustCompile(`^(?:0|[1-9][0-9]*)(?:\.[0-9]+)?$`)
)

// In reads an amount, the one rule of how: up to 12 digits, 9 after a point or comma, and the unit or none.
func (a Amount) In(unit string) (*big.Rat, bool) {
	found := written.FindStringSubmatch(strings.TrimSpace(string(a)))
	if found == nil || found[2] != "" && sign(found[2]) != sign(unit) {
		return nil, false
	}
	return new(big.Rat).SetString(strings.ReplaceAll(found[1], ",", "."))
}

// sign is a unit as it is compared: two characters stand for the micro sign.
func sign(unit string) string { return strings.ToLower(strings.ReplaceAll(unit, "μ", "µ")) }

// Of is what somebody wrote of an amount in a unit: "2.5" for "2,50 mg". What is none in that unit stays as it is.
func Of(text, unit string) Amount {
	n, ok := Amount(text).In(unit)
	if !ok {
		return Amount(strings.Join(strings.Fields(text), " "))
	}
	return short(n)
}

func short(n *big.Rat) Amount {
	return Amount(strings.TrimSuffix(strings.TrimRight(n.FloatString(9), "0"), "."))
}

// Words is an amount with its unit.
func (a Amount) Words(unit string) string {
	if unit == "" || !plain.MatchString(string(a)) {
		return string(a)
	}
	return string(a) + " " + unit
}

// MarshalJSON writes a number, or the text of what is none.
func (a Amount) MarshalJSON() ([]byte, error) {
	if plain.MatchString(string(a)) {
		return []byte(a), nil
	}
	return json.Marshal(string(a))
}

// UnmarshalJSON reads a number as it is written, or a text, which records from before hold.
func (a *Amount) UnmarshalJSON(b []byte) error {
	if bytes.HasPrefix(b, []byte(`"`)) {
		return json.Unmarshal(b, (*string)(a))
	}
	if *a = ""; !bytes.Equal(b, []byte("null")) {
		*a = Of(string(b), "")
	}
	return nil
}

// Content is how much one unit of an item holds, as in 10 mg.
type Content struct {
	Quantity Amount `json:"quantity" doc:"As in 10; above 0"`
	Unit     string `json:"unit" maxLength:"20" doc:"As in mg"`
}

// ContentOf reads a content as a person writes it, "10 mg". What is none is left as it is, which Right tells.
func ContentOf(text string) Content {
	found := written.FindStringSubmatch(strings.TrimSpace(text))
	if found == nil {
		return Content{Quantity: Amount(text)}
	}
	return Content{Of(found[1], ""), found[2]}
}

// None tells whether there is no content at all.
func (c Content) None() bool { return c == Content{} }

// Right tells whether a content is an amount above zero in a unit.
func (c Content) Right() bool {
	n, ok := c.Quantity.In("")
	return ok && n.Sign() > 0 && written.MatchString("1 "+c.Unit) && c.Unit != "" && len(c.Unit) <= 20
}

// Times is the content of so much more of it, a over b, and whether that can be written as a decimal number.
func (c Content) Times(a, b int) (Content, bool) {
	n, ok := c.Quantity.In("")
	if !ok {
		return c, false
	}
	n.Mul(n, big.NewRat(int64(a), int64(b)))
	c.Quantity = short(n)
	is, ok := c.Quantity.In("")
	return c, ok && is.Cmp(n) == 0
}

func (c Content) String() string { return c.Quantity.Words(c.Unit) }
