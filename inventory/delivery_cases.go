package inventory

import (
	"stowkeeper/inventory/barcode"
)

// LastItem is the item of the line of the newest scan, where it is known.
func (d Delivery) LastItem() string {
	for _, l := range d.Lines {
		if l.N == d.Last {
			return l.Item
		}
	}
	return ""
}

// NameAll makes every line with a code known, and adds those together that are
// alike now.
func (d *Delivery) NameAll(scheme barcode.Scheme, code string, pr Product, it Item) error {
	last := d.Last
	for i := 0; i < len(d.Lines); i++ {
		l := &d.Lines[i]
		if l.Product != 0 || l.Scheme != scheme || l.Code != code && barcode.GTIN14(l.Code) != barcode.GTIN14(code) {
			continue
		}
		l.Know(pr, it)
		before := len(d.Lines)
		if _, err := d.merge(i); err != nil {
			return err
		}
		if len(d.Lines) < before {
			i--
		}
	}
	d.Last = last
	return nil
}

func (d *Delivery) Line(n int) (*DeliveryLine, error) {
	for i := range d.Lines {
		if d.Lines[i].N == n {
			return &d.Lines[i], nil
		}
	}
	return nil, Errorf(NotFound, "the delivery has no such line any more")
}
