package web

import (
	"cmp"
	"slices"
	"strings"

	"stowkeeper/inventory"
	"stowkeeper/inventory/message"
)

// NextBag is another bag that a crew may have helped themselves from.
type NextBag struct {
	Code, Name, Vehicle string
	Aboard              bool // it rides on the same vehicle
}

// nextBags lists the other bags where a bag is, those on its vehicle first.
func (v *visit) nextBags(b inventory.Bag) []NextBag {
	all, err := v.s.svc.Storeroom.Bags(v.ctx(), v.actor, inventory.BagFilter{AtStations: []string{b.AtStation},
		Purpose: b.Purpose}, inventory.Page{})
	v.failed = cmp.Or(v.failed, err)
	var out []NextBag
	for _, x := range all {
		if x.Code != b.Code {
			out = append(out, NextBag{x.Code, x.Name, x.Vehicle, b.Vehicle != "" && x.Vehicle == b.Vehicle})
		}
	}
	slices.SortStableFunc(out, func(x, y NextBag) int {
		if x.Aboard != y.Aboard {
			return map[bool]int{true: -1, false: 1}[x.Aboard]
		}
		return cmp.Compare(x.Code, y.Code)
	})
	return out
}

// fromPrefix begins the choice of a bag that something was taken from: it
// stands among the reasons, so that saying so takes one touch.
const fromPrefix = "from:"

// fromOptions are the choices of the bags that something may have come from, each in a text.
func fromOptions(text string, bags []NextBag) []Option {
	var out []Option
	for _, b := range bags {
		out = append(out, Option{Value: fromPrefix + b.Code, Text: about(text, b.Code+", "+b.Name)})
	}
	return out
}

// keepChosen adds a bag that was chosen and is not in the list any more, so that what was typed is not lost.
func keepChosen(options []Option, chosen string) []Option {
	if !strings.HasPrefix(chosen, fromPrefix) || slices.ContainsFunc(options,
		func(o Option) bool { return o.Value == chosen }) {
		return options
	}
	return append(slices.Clip(options), Option{Value: chosen, Text: message.M("from {1}",
		strings.TrimPrefix(chosen, fromPrefix))})
}

// countReasons are the reasons why a count differs, with the bags that more than expected may have come from.
func countReasons(bags []NextBag) []Option {
	return slices.Concat(countReasonOptions, fromOptions("extra: came from {1}", bags))
}

func readReason(text string) (why inventory.CountReason, cameFrom string) {
	if bag, ok := strings.CutPrefix(text, fromPrefix); ok {
		return inventory.CountFound, bag
	}
	return inventory.CountReason(text), ""
}

func reasonText(why inventory.CountReason, cameFrom string) string {
	if cameFrom != "" {
		return fromPrefix + cameFrom
	}
	return string(why)
}
