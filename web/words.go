package web

import (
	"html/template"
	"strconv"
	"strings"
	"unicode"
	"unicode/utf8"

	"stowkeeper/inventory"
)

// funcs are what templates may call.
func funcs(a assets, c *catalogue) template.FuncMap {
	return template.FuncMap{
		"asset":     func(name string) string { return a.byName[name].href },
		"language":  c.tag,
		"tr":        c.say,
		"trword":    c.word,
		"day":       dayHTML,
		"said":      c.saidHTML,
		"count":     count,
		"stateWord": stateWord,
		"sentence":  sentence,
		"drawing":   func(svg []byte) template.HTML { return template.HTML(svg) }, // drawn by us

		"heldBy": heldBy,
	}
}

// heldBy tells whether somebody has a place with them whom its name does not
// name already.
func heldBy(name, holder string) bool { return holder != "" && !strings.Contains(name, holder) }

// count writes a number with its noun.
func count(n int, noun string) string {
	if n != 1 {
		noun = plurals(noun)
	}
	return strconv.Itoa(n) + " " + noun
}

func plurals(noun string) string {
	if strings.HasSuffix(noun, "ch") || strings.HasSuffix(noun, "x") {
		return noun + "es"
	}
	return noun + "s"
}

var stateWords = map[inventory.State]string{
	inventory.Ready:         "Ready",
	inventory.ReadyWithGaps: "Ready, with gaps",
	inventory.NotReady:      "Not ready",
	inventory.OutOfService:  "Taken off",
}

func stateWord(s inventory.State) string { return stateWords[s] }

// findingWords says in two or three words what is the matter with a lot.
var findingWords = map[inventory.FindingKind]string{
	inventory.FindUnderNotice:   "under notice",
	inventory.FindPastEnd:       "past its date",
	inventory.FindEndsSoon:      "ends soon",
	inventory.FindInspectionDue: "inspection due",
	inventory.FindWornOut:       "worn out",
	inventory.FindNotOnList:     "not on the list",
	inventory.FindSurplus:       "more than asked for",

	inventory.FindRegister:      "register does not balance",
	inventory.FindSignatureOwed: "second signature owed",
}

// boardFindings are what the board says of a bag besides its headline: what
// sends somebody to it, and is no shortage.
var boardFindings = []inventory.FindingKind{inventory.FindUnderNotice, inventory.FindWornOut,
	inventory.FindInspectionDue, inventory.FindSignatureOwed}

// sentence begins a text with a capital and ends it with a full stop.
func sentence(s string) string {
	if s == "" {
		return ""
	}
	r, n := utf8.DecodeRuneInString(s)
	s = string(unicode.ToUpper(r)) + s[n:]
	if !strings.HasSuffix(s, ".") && !strings.HasSuffix(s, "?") {
		s += "."
	}
	return s
}

// lotLabel names a lot as its pack does.
func lotLabel(batchNo, serial string) string {
	switch {
	case serial != "":
		return "serial " + serial
	case batchNo != "":
		return "batch " + batchNo
	}
	return "no batch number"
}

var wordingWords = map[inventory.Wording]string{
	inventory.WordExpiry:    "expiry (EXP)",
	inventory.WordHourglass: "hourglass symbol",
	inventory.WordUseBy:     "use by",
	inventory.WordUseBefore: "use before",
}

func wordingOptions() []Option {
	out := make([]Option, 0, len(inventory.Wordings))
	for _, w := range inventory.Wordings {
		out = append(out, Option{Value: string(w), Text: wordingWords[w]})
	}
	return out
}

var checkWords = map[inventory.CheckKind]string{inventory.SealCheck: "Seal check", inventory.FullCheck: "Full check"}

// outsideWords are how pages speak of what left the service or came into it:
// never as of a place.
var outsideWords = map[inventory.PlaceKind]string{
	inventory.KindSupplier: "received",
	inventory.KindUsed:     "used",
	inventory.KindDisposed: "disposed of",
	inventory.KindLost:     "lost",
	inventory.KindFound:    "found",
}

var placeKindWords = map[inventory.PlaceKind]string{
	inventory.KindStore: "store", inventory.KindBag: "bag", inventory.KindCarrier: "carrier",
	inventory.KindQuarantine: "quarantine", inventory.KindAway: "away",
}

func cmpText(a, b string) int { return strings.Compare(strings.ToLower(a), strings.ToLower(b)) }
