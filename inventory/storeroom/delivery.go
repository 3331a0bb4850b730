package storeroom

import (
	"context"
	"slices"

	"stowkeeper/inventory"
	"stowkeeper/inventory/account"
	"stowkeeper/inventory/barcode"
	"stowkeeper/inventory/ledger"
	"stowkeeper/inventory/lists"
	"stowkeeper/inventory/order"
	"stowkeeper/inventory/scope"
)

// StartDelivery begins to scan a delivery into a store or a quarantine, with the reference that it will have. Refuses:
// Forbidden without keep_stock at its station; Invalid for the place.
func (s *Service) StartDelivery(ctx context.Context, by inventory.Actor, place, reference string) (inventory.Delivery,
	error) {
	return inventory.WriteAs(ctx, s.store, by, inventory.ActKeepStock, func(w inventory.Writer) (inventory.Delivery,
		error) {
		pl, err := w.Place(inventory.NormalCode(place))
		if err != nil {
			return inventory.Delivery{}, inventory.AsField(err, "place", "not found")
		}
		if pl.Kind != inventory.KindStore && pl.Kind != inventory.KindQuarantine {
			return inventory.Delivery{}, inventory.InvalidField("place", "choose one of {1}",
				inventory.KindList(inventory.KindStore, inventory.KindQuarantine))
		}
		if err := by.Must(inventory.ActKeepStock, pl.Station); err != nil {
			return inventory.Delivery{}, err
		}
		return w.AddDelivery(inventory.Delivery{Place: pl.Code, Status: inventory.DeliveryOpen, StartedAt: s.now(),
			StartedBy: by.Name, Reference: inventory.OneLine(reference)})
	})
}

// OpenDeliveries lists the deliveries at the actor's stations, or at some, that are still being scanned, newest first.
// Refuses: Forbidden without keep_stock, and for a station that is not the actor's; NotFound for a station.
func (s *Service) OpenDeliveries(ctx context.Context, by inventory.Actor, stations []string) ([]inventory.Delivery,
	error) {
	return inventory.ReadAs(ctx, s.store, by, inventory.ActKeepStock, func(r inventory.Reader) ([]inventory.Delivery,
		error) {
		seen, err := scope.Narrowed(by, r, stations)
		if err != nil {
			return nil, err
		}
		return r.OpenDeliveries(seen)
	})
}

// changeDelivery changes a delivery that is open, while others wait.
func (s *Service) changeDelivery(ctx context.Context, by inventory.Actor, id int64, change func(w inventory.Writer,
	d *inventory.Delivery) error) error {
	return s.store.Write(ctx, func(_ context.Context, w inventory.Writer) error {
		if err := by.Must(inventory.ActKeepStock, ""); err != nil {
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
		if err := by.Must(inventory.ActKeepStock, place.Station); err != nil {
			return err
		}
		if d.Status != inventory.DeliveryOpen {
			return inventory.Refuse(inventory.Conflict, "delivery closed: start another")
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

// ScanPack puts the pack that bears a code into a delivery. A code of no known product is kept as well, until
// somebody says which item it is. Refuses: Forbidden without keep_stock at its station; NotFound; Invalid for a code
// that cannot be read or names no product by itself; Conflict where the delivery has ended or is full, the very pack
// is in it, or two products have the code. Locks the delivery.
func (s *Service) ScanPack(ctx context.Context, by inventory.Actor, id int64, text string) (Scanned, error) {
	var out Scanned
	err := s.changeDelivery(ctx, by, id, func(w inventory.Writer, d *inventory.Delivery) error {
		f, err := inventory.ReadPack(text, s.now().InUTC(), "text")
		if err != nil {
			return err
		}
		found, err := ledger.ProductsWithCode(w, f.Scheme, f.ProductCode)
		if err != nil {
			return err
		}
		if len(found) > 1 {
			return inventory.Refuse(inventory.Conflict, "products {1} and {2} both have this code: correct one, scan again",
				found[0].ID, found[1].ID)
		}
		var pr *inventory.Product
		item := d.LastItem()
		if len(found) > 0 {
			pr, item = &found[0], found[0].Item
		}
		var it inventory.Item
		if item != "" && (pr != nil || f.ProductCode == "") {
			if it, err = w.Item(item); err != nil {
				return err
			}
		}
		out.Separator = f.Separator
		out.Line, err = d.Take(f, pr, it)
		return err
	})
	return out, err
}

// NameCode says which item an unknown code of a delivery is, and how many units such a pack holds: the product is
// made and remembered, and every line with the code is known from then on. Refuses: Forbidden without keep_stock at
// its station, and without keep_lists; NotFound for delivery or line; Invalid by field; Conflict where the delivery
// has ended or the code is known. Locks the delivery.
func (s *Service) NameCode(ctx context.Context, by inventory.Actor, id int64, line int, in inventory.Product) error {
	return s.changeDelivery(ctx, by, id, func(w inventory.Writer, d *inventory.Delivery) error {
		l, err := d.Line(line)
		if err != nil {
			return err
		}
		if l.Product != 0 {
			return inventory.Refuse(inventory.Conflict, "code already used")
		}
		if in.Item == "" {
			return inventory.InvalidField("item", "choose the item")
		}
		in.GTIN, in.HIBC = l.Code, ""
		if l.Scheme == barcode.HIBC {
			in.GTIN, in.HIBC = "", l.Code
		}
		if err := by.Must(inventory.ActKeepLists, ""); err != nil {
			return err
		}
		pr, err := lists.AddProduct(w, in)
		if err != nil {
			return ledger.Renamed(ledger.Renamed(err, "gtin", "item"), "hibc", "item")
		}
		it, err := w.Item(pr.Item)
		if err != nil {
			return err
		}
		return d.NameAll(l.Scheme, l.Code, pr, it)
	})
}

// LineChange is what a person says of a line; fields left out stay.
type LineChange struct {
	BatchNo, Serial, MadeOn, EndPrinted *string
	EndWording                          *inventory.Wording
	Packs                               *int
	Units                               *int // in all; 0 for packs times pack size
	Way                                 *inventory.WayIn
	OnConflict                          *inventory.OnConflict
	Reason                              *string
}

// ChangeLine changes a line of a delivery; with no packs it is taken out. Refuses: Forbidden without keep_stock at
// its station; NotFound for delivery or line; Invalid by field; Conflict where the delivery has ended. Locks the
// delivery.
func (s *Service) ChangeLine(ctx context.Context, by inventory.Actor, id int64, line int, c LineChange) error {
	return s.changeDelivery(ctx, by, id, func(_ inventory.Writer, d *inventory.Delivery) error {
		l, err := d.Line(line)
		if err != nil {
			return err
		}
		if c.Packs != nil && *c.Packs == 0 {
			d.Lines = slices.DeleteFunc(d.Lines, func(l inventory.DeliveryLine) bool { return l.N == line })
			return nil
		}
		c.applied(l)
		var ps inventory.Problems
		ps.When(l.Packs < 1 || l.Packs > inventory.MaxPacks, "packs", "enter {1} to {2}", 0, inventory.MaxPacks)
		ps.When(l.Units < 0 || l.Units > inventory.MaxQty, "units", "enter {1} to {2}", 1, inventory.MaxQty)
		inventory.CheckText(&ps, "batch_no", l.BatchNo, false, 40)
		inventory.CheckText(&ps, "serial", l.Serial, false, 40)
		inventory.CheckText(&ps, "made_on", l.MadeOn, false, 10)
		inventory.CheckText(&ps, "end_printed", l.EndPrinted, false, 10)
		inventory.CheckText(&ps, "end_wording", string(l.EndWording), false, 20)
		inventory.CheckText(&ps, "way", string(l.Way), false, 20)
		inventory.CheckText(&ps, "on_conflict", string(l.OnConflict), false, 20)
		inventory.CheckText(&ps, "reason", l.Reason, false, inventory.MaxNote)
		return ps.Err()
	})
}

func (c LineChange) applied(l *inventory.DeliveryLine) {
	inventory.Set(&l.BatchNo, c.BatchNo)
	inventory.Set(&l.Serial, c.Serial)
	inventory.Set(&l.MadeOn, c.MadeOn)
	inventory.Set(&l.EndPrinted, c.EndPrinted)
	inventory.Set(&l.EndWording, c.EndWording)
	inventory.Set(&l.Packs, c.Packs)
	inventory.Set(&l.Units, c.Units)
	inventory.Set(&l.Way, c.Way)
	inventory.Set(&l.OnConflict, c.OnConflict)
	inventory.Set(&l.Reason, c.Reason)
	if l.EndPrinted == "" {
		l.EndWording = ""
	}
}

// DropDelivery gives a delivery up: nothing of it was received. Refuses: Forbidden without keep_stock at its
// station; NotFound; Conflict where it has ended. Locks the delivery.
func (s *Service) DropDelivery(ctx context.Context, by inventory.Actor, id int64) error {
	return s.changeDelivery(ctx, by, id, func(_ inventory.Writer, d *inventory.Delivery) error {
		d.Status, d.EndedAt, d.EndedBy = inventory.DeliveryDropped, s.now(), by.Name
		return nil
	})
}

// Delivery shows a delivery with what would happen if it were put away now, or as it ended; rows in the order of
// scanning. Refuses: NotFound; Forbidden without keep_stock at its station. Locks nothing.
func (s *Service) Delivery(ctx context.Context, by inventory.Actor, id int64) (DeliveryPlan, error) {
	return inventory.Read(ctx, s.store, func(r inventory.Reader) (DeliveryPlan, error) {
		d, err := r.Delivery(id)
		if err != nil {
			return DeliveryPlan{}, err
		}
		return s.planned(r, by, d, func(string) error { return nil })
	})
}

// planned reads what a delivery is judged by, its items locked first where they are to be, and judges it.
func (s *Service) planned(r inventory.Reader, by inventory.Actor, d inventory.Delivery,
	lock func(item string) error) (DeliveryPlan, error) {
	k := DeliveryFacts{Signed: by.BothSigned(s.now())}
	var err error
	if k.Store, err = r.Place(d.Place); err != nil {
		return DeliveryPlan{}, err
	}
	if err := by.Must(inventory.ActKeepStock, k.Store.Station); err != nil {
		return DeliveryPlan{}, err
	}
	if k.Station, err = r.Station(k.Store.Station); err != nil {
		return DeliveryPlan{}, err
	}
	k.Today = k.Station.Today(s.now())
	if k.Products, err = r.Products(inventory.ProductFilter{}, inventory.Page{}); err != nil {
		return DeliveryPlan{}, err
	}
	items := mayBeOf(d, k.Products)
	for _, item := range items {
		if err := lock(item); err != nil {
			return DeliveryPlan{}, err
		}
	}
	if k.Items, err = r.Items(inventory.ItemFilter{Codes: items}, inventory.Page{}); err != nil {
		return DeliveryPlan{}, err
	}
	if k.Notices, err = r.Notices(inventory.NoticeFilter{}, inventory.Page{}); err != nil {
		return DeliveryPlan{}, err
	}
	if k.Back, err = r.Lots(inventory.LotFilter{Last: inventory.KindSupplier}, inventory.Page{}); err != nil {
		return DeliveryPlan{}, err
	}
	k.Batches, err = r.Batches(inventory.BatchFilter{Items: items})
	return PlanDelivery(d, k), err
}

// PutAway receives a delivery: every line, or none where something is in the way of one. Refuses: Forbidden without
// keep_stock at its station; NotFound; Invalid for the reference, and where a controlled item lacks signatures;
// Conflict where it has ended, is empty, or a line cannot be received. Locks the delivery and its items.
func (s *Service) PutAway(ctx context.Context, by inventory.Actor, id int64,
	reference string) (DeliveryPlan, error) {
	return inventory.Write(ctx, s.store, func(w inventory.Writer) (DeliveryPlan, error) {
		d, err := w.LockDelivery(id)
		if err != nil {
			return DeliveryPlan{}, err
		}
		d.Reference = inventory.OneLine(reference)
		plan, err := s.planned(w, by, d, w.LockItem)
		if err != nil {
			return plan, err
		}
		if err := plan.MayPutAway(); err != nil {
			return plan, err
		}
		if plan.Unsigned {
			return plan, account.ErrUnsigned
		}
		return s.putAway(w, by, plan)
	})
}

// putAway books the rows of a delivery together.
func (s *Service) putAway(w inventory.Writer, by inventory.Actor,
	plan DeliveryPlan) (DeliveryPlan, error) {
	p := ledger.NewUnit(w, by, s.now(), ledger.TwoSign)
	var in, out []inventory.Movement
	d := &plan.Delivery
	d.Lines = nil
	for i := range plan.Rows {
		row := &plan.Rows[i]
		m, err := p.Book(row.Plan)
		if err != nil {
			return plan, err
		}
		in = append(in, m)
		if gone, yes := row.Disposal(m); yes {
			out = append(out, gone)
		}
		row.LotID = m.LotID
		d.Lines = append(d.Lines, row.DeliveryLine)
	}
	if _, err := p.Post(append(in, out...), "lines"); err != nil {
		return plan, err
	}
	if err := order.Arrived(w, by, s.now(), plan.Store.Station, d.Reference); err != nil {
		return plan, err
	}
	d.Status, d.EndedAt, d.EndedBy = inventory.DeliveryPutAway, s.now(), by.Name
	return plan, w.SetDelivery(*d)
}
