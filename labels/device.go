package labels

import (
	"math"
	"strings"

	"stowkeeper/inventory/message"
)

// Device is the label on a device with a serial number. A training device's label differs from that of an issue
// device in words (a black bar that says TRAINING, and "never use on a patient") and in shape (striped ends), so that
// no printer, copier or dim light can make one pass for the other.
type Device struct {
	Serial        string // required; never shortened
	Name          string // of the item
	Code          string // of the item
	UsableThrough string // last day on which it counts, as it is to be printed; may be empty
	Training      bool
	Address       string // required; what the symbol opens
}

// Kind implements [Label].
func (d Device) Kind() string {
	if d.Training {
		return "training device label"
	}
	return "device label"
}

func (d Device) check() error {
	if strings.TrimSpace(d.Serial) == "" {
		return &FieldError{Field: "Serial", Fix: message.M("enter the serial number")}
	}
	return required(d.Serial, d.Address)
}

func (d Device) draw(c *composer) {
	box := c.all()
	if d.Training {
		box = c.stripes(box)
	}
	square, rest := c.split(box, 0.6)
	c.place(d.Address, square)
	h := typeHeight(rest)
	c.stack(append(d.purpose(h), d.blocks(h)...), rest, align{centre: !box.wide()})
}

// purpose is what the device is for, in words.
func (d Device) purpose(h float64) []block {
	if !d.Training {
		return []block{{text: "For issue", size: 0.1 * h, least: smallest, lines: 1}}
	}
	return []block{
		{text: "TRAINING", face: bold, size: 0.2 * h, firm: max(9*pt, 0.15*h), least: 8 * pt, lines: 1, band: true,
			whole: true},
		{text: "Never use on a patient", face: bold, size: 0.12 * h, least: smallest, lines: 2, gap: 0.02 * h, whole: true},
	}
}

func (d Device) blocks(h float64) []block {
	blocks := []block{
		{field: "Name", text: tidy(d.Name), face: bold, size: 0.16 * h, least: smallest, lines: 3, gap: 0.03 * h},
		{field: "Serial", text: "SN" + glue + d.Serial, face: bold, size: 0.15 * h, least: smallest, lines: 1, gap: 0.02 * h,
			whole: true},
	}
	if d.UsableThrough != "" {
		blocks = append(blocks, block{field: "UsableThrough", text: "Use by" + glue + strings.ReplaceAll(d.UsableThrough,
			" ", glue), size: 0.12 * h, least: smallest, lines: 2, gap: 0.03 * h, whole: true})
	}
	return append(blocks, block{field: "Code", text: d.Code, size: 0.1 * h, least: smallest, lines: 1, gap: 0.02 * h,
		whole: true, optional: true})
}

// stripes draws slanted stripes on the two ends of box and returns what is between them.
func (c *composer) stripes(box rect) rect {
	if box.wide() {
		w := max(2.5, 0.04*box.w)
		c.stripe(rect{box.x, box.y, w, box.h})
		c.stripe(rect{box.x + box.w - w, box.y, w, box.h})
		return rect{box.x + w, box.y, box.w - 2*w - 1.5, box.h}
	}
	h := max(3, 0.04*box.h)
	c.stripe(rect{box.x, box.y, box.w, h})
	c.stripe(rect{box.x, box.y + box.h - h, box.w, h})
	return rect{box.x, box.y + h + 1, box.w, box.h - 2*h - 2}
}

// stripe fills r with whole slanted stripes at 45 degrees, as wide as the gaps
// between them and evenly spaced along its longer side.
func (c *composer) stripe(r rect) {
	long, across := r.h, r.w
	at := func(along, d float64) point { return point{r.x + d, r.y + along} }
	if r.w > r.h {
		long, across = r.w, r.h
		at = func(along, d float64) point { return point{r.x + along, r.y + d} }
	}
	gaps := math.Floor((long - across) / (1.4 * across)) // each with its stripe
	thick := (long - across) / (2*gaps + 1)
	for i := range int(gaps) + 1 {
		from := 2 * thick * float64(i)
		c.drawing.shapes = append(c.drawing.shapes, shape{points: []point{
			at(from, across), at(from+thick, across), at(from+across+thick, 0), at(from+across, 0),
		}})
	}
}
