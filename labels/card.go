package labels

import (
	"slices"
	"strings"

	"stowkeeper/inventory/message"
)

// Card is the contents card for the outside of a bag: what is inside, the earliest governing date among it, the date
// of the last full check and the number of the seal, as is asked of sealed kits. Dates are printed as given.
type Card struct {
	Code          string // required, of the bag; never shortened
	Name          string // of the bag
	KitList       string
	Edition       string     // of the kit list
	Contents      []CardLine // in the order to print them; at least one
	EarliestDate  string     // earliest governing date; empty prints a line to write on
	LastFullCheck string     // date of the last full check; empty likewise
	Seal          string     // seal number; empty likewise
	Address       string     // required; what the symbol opens
}

// CardLine is one line of a card's contents.
type CardLine struct {
	Pouch    string // lines of one pouch follow each other; empty for none
	Item     string // required
	Quantity int    // 0 prints no number: present, not counted
}

// Kind implements [Label].
func (Card) Kind() string { return "contents card" }

func (k Card) check() error {
	if len(k.Contents) == 0 {
		return &FieldError{Field: "Contents", Fix: message.M("fill this in")}
	}
	for _, l := range k.Contents {
		switch {
		case strings.TrimSpace(l.Item) == "":
			return &FieldError{Field: "Contents.Item", Fix: message.M("fill this in")}
		case l.Quantity < 0:
			return &FieldError{Field: "Contents.Quantity", Fix: message.M("enter 0 or more")}
		}
	}
	return required(k.Code, k.Address)
}

// headScales are the sizes of the head that are tried, largest first, to leave
// room for the contents; at the barest it does not name the kit list.
var headScales = []float64{1, 0.8, 0.6, 0.45, barest}

const barest = 0.3

// comfortable is the type size of the contents that no more head is given up for.
const comfortable = 8 * pt

// draw takes the largest head that leaves the contents a comfortable size, or else the head that leaves them the
// largest. Names of items are shortened only when leaving out those of the pouches does not help. The contents are
// always complete.
func (k Card) draw(c *composer) {
	var best *composer
	var size float64
	for _, pouches := range []bool{true, false} {
		for _, scale := range headScales {
			trial := &composer{box: c.box}
			table := k.attempt(trial, scale, pouches)
			if trial.err != nil {
				c.fail(trial.err)
				continue
			}
			if !table.shortened && table.size >= comfortable {
				*c = *trial
				return
			}
			if table.shortened {
				table.size = -1 / table.size // any whole size is better, and a larger one still
			}
			if best == nil || table.size > size {
				best, size = trial, table.size
			}
		}
		if best != nil && size > 0 {
			break
		}
	}
	if best != nil {
		*c = *best
	}
}

// attempt draws the card with a head of that scale.
func (k Card) attempt(c *composer, scale float64, pouches bool) arrangement {
	contents := k.Contents
	if !pouches {
		contents = slices.Clone(contents)
		for i := range contents {
			contents[i].Pouch = ""
		}
		c.warn("Contents.Pouch", "pouch names not printed: no room")
	}
	if c.all().wide() {
		return c.table(contents, k.wideHead(c, scale))
	}
	return c.table(contents, k.tallHead(c, scale))
}

// wideHead puts the symbol at the left and the rest of the head at the right; the dates stand under the symbol where
// there is room for them. It returns the room for the contents.
func (k Card) wideHead(c *composer, scale float64) rect {
	side := min(c.box.H, 0.36*c.box.W)
	c.place(k.Address, rect{0, 0, side, side})
	under := rect{1, side, side - 2, c.box.H - side}
	right := rect{side + 1, 0, c.box.W - side - 1, c.box.H}
	h := typeHeight(right) * scale
	head := k.head(c, h, scale)
	if under.w >= 28 && under.h >= 0.6*under.w {
		c.stack(k.facts(0.1*typeHeight(right), narrow), under, align{centre: true})
	} else {
		head = append(head, k.facts(0.08*h, scarce)...)
	}
	return below(right, c.stack(head, right, align{top: true}))
}

// tallHead puts the symbol and the dates at the top.
func (k Card) tallHead(c *composer, scale float64) rect {
	side := min(0.42*c.box.W, 70)
	c.place(k.Address, rect{0, 0, side, side})
	right := rect{side, 0, c.box.W - side, side}
	c.stack(append(k.head(c, side*scale, scale), k.facts(0.1*side*scale, roomy)...), right, align{})
	return below(rect{0, 0, c.box.W, c.box.H}, side)
}

// head is the bag's part of the card.
func (k Card) head(c *composer, h, scale float64) []block {
	blocks := []block{
		codeBlock(k.Code, 0.22*h, 8*pt),
		{field: "Name", text: tidy(k.Name), face: bold, size: 0.11 * h, least: smallest, lines: 2},
		{field: "KitList", text: kitLine(k.KitList, k.Edition), size: 0.08 * h, least: smallest, lines: 2, gap: 0.01 * h,
			optional: true},
	}
	if scale == barest && k.KitList+k.Edition != "" {
		c.warn("KitList", "not printed: no room")
		return blocks[:2]
	}
	return blocks
}

// room says how the facts of a card stand.
type room int

const (
	narrow room = iota // each fact on one or two lines
	roomy              // each fact on one line
	scarce             // the last full check and the seal follow each other
)

// facts are the dates and the seal.
func (k Card) facts(size float64, in room) []block {
	join := glue
	if in == narrow {
		join = " "
	}
	earliest := fact("Earliest date", k.EarliestDate, join)
	checked := fact("Last full check", k.LastFullCheck, join)
	seal := fact("Seal", k.Seal, join)
	blocks := []block{
		{field: "EarliestDate", text: earliest, face: bold, size: size, least: smallest, lines: 2, gap: size / 3,
			whole: true},
		{field: "LastFullCheck", text: checked, size: size, least: smallest, lines: 2, gap: size / 3, whole: true},
		{field: "Seal", text: seal, size: size, least: smallest, lines: 2, gap: size / 3, whole: true},
	}
	if in == scarce {
		blocks[1].text += ", " + seal
		blocks[1].gap = 0
		return blocks[:2]
	}
	return blocks
}

// fact joins a word to its value, or to a line to write it on. What is glued stays on one line.
func fact(word, value, join string) string {
	if value == "" {
		value = "__________"
	}
	return strings.ReplaceAll(word, " ", glue) + join + strings.ReplaceAll(value, " ", glue)
}

// below is what is left of r under the first used mm, with a little air.
func below(r rect, used float64) rect {
	used += 0.02 * r.h
	return rect{r.x, r.y + used, r.w, r.h - used}
}
