package web

import (
	"fmt"
	"html/template"
	"reflect"
	"strings"

	"stowkeeper/inventory"
	"stowkeeper/inventory/exchange"
	"stowkeeper/inventory/message"
	"stowkeeper/web/text"
)

// funcs are what templates may call. What a template says stands in it as {{t "English, of {1}" .X}}; what Go worded
// for it as {{say .Text}}; what people typed as {{.Name}}, which is never looked up.
func funcs(a assets, c *text.Catalogue) template.FuncMap {
	t := func(key string, args ...any) template.HTML {
		for i, a := range args { // what may be missing is kept by its address: the words are of what is there
			if v := reflect.ValueOf(a); v.Kind() == reflect.Pointer && !v.IsNil() {
				args[i] = v.Elem().Interface()
			}
		}
		return c.HTML(message.M(key, args...))
	}
	return template.FuncMap{
		"asset":    func(name string) string { return a.byName[name].href },
		"language": func() string { return c.Language },
		"t":        t,
		"say": func(said any) any {
			if m, ok := said.(message.Message); ok {
				return c.HTML(m)
			}
			return said
		},
		"link":         link,
		"tag":          tag,
		"at":           whenAt,
		"utc":          func(at inventory.Instant) When { return whenAt(at, utc) },
		"placePath":    placePath,
		"placeKind":    placeKind,
		"vehiclePath":  vehiclePath,
		"when":         func(w When) template.HTML { return w.html(c, w.Text()) },
		"clock":        func(w When) template.HTML { return w.html(c, message.Plain(w.Clock)) },
		"training":     func() template.HTML { return `<strong class="training">` + t("TRAINING") + `</strong>` },
		"day":          func(d inventory.Day) template.HTML { return c.HTML(message.M("{1}", dayOrNone(d))) },
		"stateWord":    stateWord,
		"ours":         func(doc string) template.HTML { return t(doc) }, // what documents a column of a file
		"roleWord":     func(role any) template.HTML { return c.HTML(wordFor(roleWords, fmt.Sprint(role))) },
		"causeWord":    func(cause any) template.HTML { return c.HTML(wordFor(causeWords, fmt.Sprint(cause))) },
		"sourceWord":   sourceWord,
		"categoryWord": func(of inventory.Category) template.HTML { return c.HTML(of.Text()) },
		"decisionWord": func(k inventory.DecisionKind) message.Message { return decisionWords[k] },
		"rowWord":      rowWord,
		"days":         daysText,
		"join":         func(between string, all any) message.Message { return joined(between, all) },
		"drawing":      func(svg []byte) template.HTML { return template.HTML(svg) }, // #nosec G203 -- drawn by us
		"heldBy":       heldBy,
	}
}

// tag makes an element of a page for <1>…</1> in a text.
func tag(name string, class ...string) text.Tag {
	begin := name
	if len(class) > 0 {
		begin += ` class="` + class[0] + `"`
	}
	// #nosec G203 -- literals of our templates
	return text.Tag{Begin: template.HTML("<" + begin + ">"), End: template.HTML("</" + name + ">")}
}

// link makes a link for <1>…</1> in a text. Its address begins with a slash.
func link(href string, class ...string) text.Tag {
	x := tag("a", class...)
	// #nosec G203 -- escaped here
	x.Begin = template.HTML(`<a href="`+template.HTMLEscapeString(href)+`"`) + x.Begin[len("<a"):]
	return x
}

// wordFor is the word for one of a closed list, and for anything else what it is:
// a category that the service made itself.
func wordFor(words map[string]message.Message, code string) message.Message {
	if w, ok := words[code]; ok {
		return w
	}
	return message.Plain(code)
}

var roleWords = map[string]message.Message{"crew": message.M("crew"), "quartermaster": message.M("quartermaster"),
	"manager": message.M("manager"), "administrator": message.M("administrator")}

var causeWords = map[string]message.Message{"expired": message.M("expired"), "damaged": message.M("damaged"),
	"wasted": message.M("wasted"), "training": message.M("used in training"), "recalled": message.M("recalled"),
	"missing": message.M("missing"), "other": message.M("other")}

var decisionWords = map[inventory.DecisionKind]message.Message{inventory.DecideAccept: message.M("Accepted"),
	inventory.DecideEdit: message.M("Accepted with changes"), inventory.DecideReject: message.M("Rejected"),
	inventory.DecideWithdraw: message.M("Withdrawn")}

// sourceWord words where a record came from, as in "check 12".
func sourceWord(source string) message.Message {
	kind, id, _ := strings.Cut(source, " ")
	switch kind {
	case "check":
		return message.M("check {1}", id)
	case "use":
		return message.M("use {1}", id)
	case "restock":
		return message.M("restock {1}", id)
	case "inspection":
		return message.M("inspection {1}", id)
	case "import":
		return message.M("import")
	}
	return message.Plain(source)
}

// rowWord words what an import made, or would make, of a row.
func rowWord(o exchange.Outcome, done bool) message.Message {
	switch {
	case o == exchange.Refused:
		return message.M("Rejected")
	case o == exchange.Created && done:
		return message.M("Created")
	case o == exchange.Created:
		return message.M("To create")
	case o == exchange.Changed && done:
		return message.M("Changed")
	case o == exchange.Changed:
		return message.M("To change")
	}
	return message.M("Unchanged")
}

func daysText(days []StationDay) message.Message {
	var all []message.Message
	for _, d := range days {
		m := message.M("{1}", d.Day)
		if d.Names != "" {
			m = message.M("{1} at {2}", d.Day, d.Names)
		}
		all = append(all, m)
	}
	return message.Join(", ", all...)
}

// joined is a list of messages or of what people typed.
func joined(between string, all any) message.Message {
	if typed, ok := all.([]string); ok {
		return message.Plain(strings.Join(typed, between))
	}
	said, _ := all.([]message.Message)
	return message.Join(between, said...)
}

// heldBy tells whether somebody has a place with them whom its name does not name already.
func heldBy(name, holder string) bool { return holder != "" && !strings.Contains(name, holder) }

func plurals(noun string) string {
	if strings.HasSuffix(noun, "ch") || strings.HasSuffix(noun, "x") {
		return noun + "es"
	}
	return noun + "s"
}

var stateWords = map[inventory.State]message.Message{
	inventory.Ready:         message.M("Ready"),
	inventory.ReadyWithGaps: message.M("Ready with gaps"),
	inventory.NotReady:      message.M("Not ready"),
	inventory.OutOfService:  message.M("Out of service"),
}

func stateWord(s inventory.State) message.Message { return stateWords[s] }

// findingWords says in two or three words what is the matter with a lot.
var findingWords = map[inventory.FindingKind]message.Message{
	inventory.FindUnderNotice:   message.M("under notice"),
	inventory.FindPastEnd:       message.M("expired"),
	inventory.FindEndsSoon:      message.M("ends soon"),
	inventory.FindInspectionDue: message.M("inspection due"),
	inventory.FindWornOut:       message.M("worn out"),
	inventory.FindNotOnList:     message.M("not on the list"),
	inventory.FindSurplus:       message.M("surplus"),

	inventory.FindRegister:      message.M("does not balance"),
	inventory.FindSignatureOwed: message.M("signature owed"),
	inventory.FindUnderReview:   message.M("to review"),
}

// boardFindings are what the board says of a bag besides its headline: what sends somebody to it, and is no shortage.
var boardFindings = []inventory.FindingKind{inventory.FindUnderNotice, inventory.FindWornOut,
	inventory.FindInspectionDue, inventory.FindSignatureOwed, inventory.FindUnderReview}

// orElse is the first message, or if there is none the other.
func orElse(first, other message.Message) message.Message {
	if first != nil {
		return first
	}
	return other
}

// about is a text of what people typed, if they typed anything.
func about(text, typed string) message.Message {
	if typed == "" {
		return nil
	}
	return message.M(text, typed)
}

func orNone(typed string) message.Message { return orElse(message.Plain(typed), message.M("none")) }

// lotLabel names a lot as its pack does.
func lotLabel(batchNo, serial string) message.Message {
	switch {
	case serial != "":
		return message.M("serial {1}", serial)
	case batchNo != "":
		return message.M("batch {1}", batchNo)
	}
	return message.M("no batch number")
}

var wordingWords = map[inventory.Wording]message.Message{
	inventory.WordExpiry:    message.M("expiry (EXP)"),
	inventory.WordHourglass: message.M("hourglass symbol"),
	inventory.WordUseBy:     message.M("use by"),
	inventory.WordUseBefore: message.M("use before"),
}

// printedWords is a date as the pack has it.
func printedWords(w inventory.Wording, end string) message.Message {
	if w == inventory.WordUnstated {
		return message.M("{1}, wording not recorded: check the pack", end)
	}
	return message.M("{1} {2}", wordingWords[w], end)
}

func wordingOptions() []Option { return optionsOf(inventory.Wordings, wordingWords) }

// optionsOf are the choices of a closed list.
func optionsOf[T ~string](all []T, words map[T]message.Message) []Option {
	out := make([]Option, 0, len(all))
	for _, x := range all {
		out = append(out, Option{Value: string(x), Text: words[x]})
	}
	return out
}

// checkText names a check, and says what it left out.
func checkText(c inventory.Check) message.Message {
	return message.Join(", ", checkWords[c.Kind], leftOut(c))
}

// leftOut says how many lines a check did not count; nothing of one that counted all.
func leftOut(c inventory.Check) message.Message {
	if c.NotCounted == 0 {
		return nil
	}
	return message.M("{1} {1|line|lines} not counted", c.NotCounted)
}

var checkWords = map[inventory.CheckKind]message.Message{inventory.SealCheck: message.M("Seal check"),
	inventory.FullCheck: message.M("Full check")}

// outsideWords are how pages speak of what left the service or came into it: never as of a place.
var outsideWords = map[inventory.PlaceKind]message.Message{
	inventory.KindSupplier: message.M("received"),
	inventory.KindUsed:     message.M("used"),
	inventory.KindDisposed: message.M("disposed of"),
	inventory.KindLost:     message.M("lost"),
	inventory.KindFound:    message.M("found"),
}

var placeKindWords = map[inventory.PlaceKind]message.Message{
	inventory.KindStore: message.M("store"), inventory.KindBag: message.M("bag"),
	inventory.KindCarrier:    message.M("carrier"),
	inventory.KindQuarantine: message.M("quarantine"), inventory.KindAway: message.M("away"),
	inventory.KindTransit: message.M("in transit"),
}

func cmpText(a, b string) int { return strings.Compare(strings.ToLower(a), strings.ToLower(b)) }
