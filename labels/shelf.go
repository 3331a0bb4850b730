package labels

// Shelf is the label on a shelf of a store: which item lies there, in type to
// be read while walking past, and a symbol that opens its page.
type Shelf struct {
	Code    string // required, of the item; never shortened
	Name    string // of the item
	Place   string // the store, and where in it
	Unit    string // what is counted, as in "each" or "box of 10"
	Address string // required; what the symbol opens
}

// Kind implements [Label].
func (Shelf) Kind() string { return "store shelf label" }

func (s Shelf) check() error { return required(s.Code, s.Address) }

func (s Shelf) draw(c *composer) {
	square, rest := c.split(c.all(), 0.55)
	c.place(s.Address, square)
	h := typeHeight(rest)
	c.stack([]block{
		{field: "Name", text: tidy(s.Name), face: bold, size: 0.22 * h, least: smallest, lines: 4},
		{field: "Code", text: s.Code, face: bold, size: 0.17 * h, least: smallest, lines: 1, gap: 0.02 * h, whole: true},
		{field: "Unit", text: s.Unit, size: 0.11 * h, least: smallest, lines: 2, gap: 0.03 * h},
		{field: "Place", text: s.Place, size: 0.11 * h, least: smallest, lines: 2, gap: 0.01 * h},
		// Every store picks first expired, first out; the shelf is where it happens.
		{text: "Take the earliest date first", face: bold, size: 0.09 * h, least: smallest, lines: 2, gap: 0.04 * h,
			optional: true},
	}, rest, align{centre: !c.all().wide()})
}
