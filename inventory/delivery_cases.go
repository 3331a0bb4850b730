package inventory

import (
	"context"
	"slices"

	"stowkeeper/inventory/barcode"
)

// StartDelivery begins to scan a delivery into a store or a quarantine.
func (s *Service) StartDelivery(ctx context.Context, by Actor, place string) (Delivery, error) {
	return write(ctx, s, func(w Writer) (Delivery, error) {
		if err := by.must(ActKeepStock, ""); err != nil {
			return Delivery{}, err
		}
		pl, err := w.Place(NormalCode(place))
		if err != nil {
			return Delivery{}, known(err, "place", "place")
		}
		if pl.Kind != KindStore && pl.Kind != KindQuarantine {
			return Delivery{}, Invalidf("place", "choose a store or a quarantine")
		}
		if err := by.must(ActKeepStock, pl.Site); err != nil {
			return Delivery{}, err
		}
		return w.AddDelivery(Delivery{Place: pl.Code, Status: DeliveryOpen, StartedAt: s.Now(), StartedBy: by.Name})
	})
}

// OpenDeliveries lists the deliveries that are still being scanned, newest
// first.
func (s *Service) OpenDeliveries(ctx context.Context, by Actor) ([]Delivery, error) {
	return read(ctx, s, func(r Reader) ([]Delivery, error) {
		if err := by.must(ActKeepStock, ""); err != nil {
			return nil, err
		}
		return r.OpenDeliveries(by.sitesSeen())
	})
}

// changeDelivery changes a delivery that is open, while others wait.
func (s *Service) changeDelivery(ctx context.Context, by Actor, id int64, change func(w Writer, d *Delivery) error) error {
	return s.Store.Write(ctx, func(_ context.Context, w Writer) error {
		if err := by.must(ActKeepStock, ""); err != nil {
			return err
		}
		d, err := w.LockDelivery(id)
		if err != nil {
			return err
		}
		place, err := w.Place(d.Place)
		if err != nil {
			return err
		}
		if err := by.must(ActKeepStock, place.Site); err != nil {
			return err
		}
		if d.Status != DeliveryOpen {
			return Errorf(Conflict, "this delivery has ended; start another")
		}
		d.Lines = slices.Clone(d.Lines)
		if err := change(w, &d); err != nil {
			return err
		}
		return w.SetDelivery(d)
	})
}

// Scanned is what became of a scan.
type Scanned struct {
	Line      int // of the delivery
	Separator bool
}

// ScanPack puts the pack that bears a code into a delivery. A code of no known
// product is kept as well, until somebody says which item it is.
func (s *Service) ScanPack(ctx context.Context, by Actor, id int64, text string) (Scanned, error) {
	var out Scanned
	err := s.changeDelivery(ctx, by, id, func(w Writer, d *Delivery) error {
		f, err := packFacts(text, s.Now().In(utc), "text")
		if err != nil {
			return err
		}
		found, err := productsWithCode(w, f.Scheme, f.ProductCode)
		if err != nil {
			return err
		}
		if len(found) > 1 {
			return Errorf(Conflict, "products %d and %d both have this code: take it from one of them, then scan again", found[0].ID, found[1].ID)
		}
		var pr *Product
		item := d.lastItem()
		if len(found) > 0 {
			pr, item = &found[0], found[0].Item
		}
		var it Item
		if item != "" && (pr != nil || f.ProductCode == "") {
			if it, err = w.Item(item); err != nil {
				return err
			}
		}
		out.Separator = f.Separator
		out.Line, err = d.take(f, pr, it)
		return err
	})
	return out, err
}

// lastItem is the item of the line of the newest scan, where it is known.
func (d Delivery) lastItem() string {
	for _, l := range d.Lines {
		if l.N == d.Last {
			return l.Item
		}
	}
	return ""
}

// NameCode says which item an unknown code of a delivery is, and how many units
// such a pack holds: the product is made and remembered, and every line with
// the code is known from then on.
func (s *Service) NameCode(ctx context.Context, by Actor, id int64, line int, in Product) error {
	return s.changeDelivery(ctx, by, id, func(w Writer, d *Delivery) error {
		l, err := d.line(line)
		if err != nil {
			return err
		}
		if l.Product != 0 {
			return Errorf(Conflict, "the item of this code is known already")
		}
		if in.Item == "" {
			return Invalidf("item", "choose which item it is")
		}
		in.GTIN, in.HIBC = l.Code, ""
		if l.Scheme == barcode.HIBC {
			in.GTIN, in.HIBC = "", l.Code
		}
		if err := by.must(ActKeepLists, ""); err != nil {
			return err
		}
		pr, err := addProduct(w, in)
		if err != nil {
			return renamed(renamed(err, "gtin", "item"), "hibc", "item")
		}
		it, err := w.Item(pr.Item)
		if err != nil {
			return err
		}
		return d.nameAll(l.Scheme, l.Code, pr, it)
	})
}

// nameAll makes every line with a code known, and adds those together that are
// alike now.
func (d *Delivery) nameAll(scheme barcode.Scheme, code string, pr Product, it Item) error {
	last := d.Last
	for i := 0; i < len(d.Lines); i++ {
		l := &d.Lines[i]
		if l.Product != 0 || l.Scheme != scheme || l.Code != code && barcode.GTIN14(l.Code) != barcode.GTIN14(code) {
			continue
		}
		l.know(pr, it)
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

func (d *Delivery) line(n int) (*DeliveryLine, error) {
	for i := range d.Lines {
		if d.Lines[i].N == n {
			return &d.Lines[i], nil
		}
	}
	return nil, Errorf(NotFound, "the delivery has no such line any more")
}

// LineChange is what a person says of a line; fields left out stay.
type LineChange struct {
	LotNo, Serial, MadeOn, EndPrinted *string
	EndWording                        *Wording
	Packs                             *int
	Units                             *int // in all; 0 for packs times pack size
	Way                               *WayIn
	OnConflict                        *OnConflict
	Reason                            *string
}

// ChangeLine changes a line of a delivery; with no packs it is taken out.
func (s *Service) ChangeLine(ctx context.Context, by Actor, id int64, line int, c LineChange) error {
	return s.changeDelivery(ctx, by, id, func(_ Writer, d *Delivery) error {
		l, err := d.line(line)
		if err != nil {
			return err
		}
		if c.Packs != nil && *c.Packs == 0 {
			d.Lines = slices.DeleteFunc(d.Lines, func(l DeliveryLine) bool { return l.N == line })
			return nil
		}
		c.applied(l)
		var ps problems
		ps.when(l.Packs < 1 || l.Packs > MaxPacks, "packs", "give 1 to %d packs, or 0 to take them out", MaxPacks)
		ps.when(l.Units < 0 || l.Units > MaxQty, "units", "give 1 to %d units, or leave this empty", MaxQty)
		checkText(&ps, "lot_no", l.LotNo, false, 40)
		checkText(&ps, "serial", l.Serial, false, 40)
		checkText(&ps, "made_on", l.MadeOn, false, 10)
		checkText(&ps, "end_printed", l.EndPrinted, false, 10)
		checkText(&ps, "end_wording", string(l.EndWording), false, 20)
		checkText(&ps, "way", string(l.Way), false, 20)
		checkText(&ps, "on_conflict", string(l.OnConflict), false, 20)
		checkText(&ps, "reason", l.Reason, false, MaxNote)
		return ps.err()
	})
}

func (c LineChange) applied(l *DeliveryLine) {
	set(&l.LotNo, c.LotNo)
	set(&l.Serial, c.Serial)
	set(&l.MadeOn, c.MadeOn)
	set(&l.EndPrinted, c.EndPrinted)
	set(&l.EndWording, c.EndWording)
	set(&l.Packs, c.Packs)
	set(&l.Units, c.Units)
	set(&l.Way, c.Way)
	set(&l.OnConflict, c.OnConflict)
	set(&l.Reason, c.Reason)
	if l.EndPrinted == "" {
		l.EndWording = ""
	}
}

// DropDelivery gives a delivery up: nothing of it was received.
func (s *Service) DropDelivery(ctx context.Context, by Actor, id int64) error {
	return s.changeDelivery(ctx, by, id, func(_ Writer, d *Delivery) error {
		d.Status, d.EndedAt, d.EndedBy = DeliveryDropped, s.Now(), by.Name
		return nil
	})
}

// PutAway receives a delivery: every line, or none where something is in the
// way of one.
func (s *Service) PutAway(ctx context.Context, by Actor, id int64, reference string) (DeliveryView, error) {
	var view DeliveryView
	err := s.Store.Write(ctx, func(ctx context.Context, w Writer) error {
		d, err := w.LockDelivery(id)
		if err != nil {
			return err
		}
		d.Reference = oneLine(reference)
		if view, err = s.deliveryView(w, by, d); err != nil {
			return err
		}
		var ps problems
		checkText(&ps, "reference", d.Reference, false, MaxName)
		if err := ps.err(); err != nil {
			return err
		}
		switch {
		case d.Status != DeliveryOpen:
			return Errorf(Conflict, "this delivery has ended already")
		case len(d.Lines) == 0:
			return Errorf(Conflict, "nothing has been scanned yet")
		}
		if err := s.bookAll(ctx, by, &view); err != nil {
			return err
		}
		if view.Unsigned {
			return errUnsigned
		}
		if !view.Ready {
			return Errorf(Conflict, "some packs need you first: nothing was put away yet")
		}
		d.Status, d.EndedAt, d.EndedBy, d.Lines = DeliveryPutAway, s.Now(), by.Name, nil
		for _, row := range view.Rows {
			d.Lines = append(d.Lines, row.DeliveryLine)
		}
		view.Delivery = d
		return w.SetDelivery(d)
	})
	return view, err
}
