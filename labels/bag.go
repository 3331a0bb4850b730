package labels

import "strings"

// Bag is the label on the outside of a bag: the symbol as large as the label allows, the code in large type, the
// bag's name, and the kit list that it is packed to.
type Bag struct {
	Code    string // required; never shortened
	Name    string
	KitList string
	Edition string // of the kit list
	Address string // required; what the symbol opens
}

// Kind implements [Label].
func (Bag) Kind() string { return "bag label" }

func (b Bag) check() error { return required(b.Code, b.Address) }

func (b Bag) draw(c *composer) {
	square, rest := c.split(c.all(), 0.67)
	c.place(b.Address, square)
	h := typeHeight(rest)
	c.stack([]block{
		codeBlock(b.Code, 0.34*h, 10*pt),
		{field: "Name", text: tidy(b.Name), face: bold, size: 0.17 * h, least: smallest, lines: 3, gap: 0.02 * h},
		{field: "KitList", text: kitLine(b.KitList, b.Edition), size: 0.12 * h, least: smallest, lines: 2, gap: 0.05 * h},
		addressBlock(b.Address, 0.08*h),
	}, rest, align{centre: !c.all().wide()})
}

// typeHeight is the height that type sizes are measured by: a narrow column is no place for tall type.
func typeHeight(box rect) float64 { return min(box.h, 0.9*box.w) }

// codeBlock is a code in large type: always whole, on one line, and the last to give way.
func codeBlock(code string, size, firm float64) block {
	return block{field: "Code", text: code, face: bold, size: size, firm: firm, least: smallest, lines: 1, whole: true}
}

// addressBlock is the address in words, to be typed when no scanner works; it goes first when there is no room.
func addressBlock(address string, size float64) block {
	_, shown, found := strings.Cut(address, "://")
	if !found {
		shown = address
	}
	return block{field: "Address", text: shown, size: size, least: 5 * pt, lines: 1, gap: size / 2, whole: true,
		optional: true}
}

// tidy keeps a short last word, such as a number, with the word before it, so
// that it does not stand on a line of its own.
func tidy(name string) string {
	i := strings.LastIndexByte(name, ' ')
	if i < 0 || len(name)-i > 3 || i-strings.LastIndexByte(name[:i], ' ') > 10 {
		return name
	}
	return name[:i] + glue + name[i+1:]
}

func kitLine(list, edition string) string {
	switch {
	case edition == "":
		return list
	case list == "":
		return "Edition " + edition
	}
	return list + ", edition" + glue + edition
}
