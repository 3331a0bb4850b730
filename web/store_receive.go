package web

import (
	"context"
	"net/url"
	"slices"

	"stowkeeper/inventory"
	"stowkeeper/inventory/stock"
)

type receivePage struct {
	Base
	Form                        Form
	Place, Item, Product        Field
	BatchNo, Serial, MadeOn     Field
	EndPrinted, EndWording, Qty Field
	Reference                   Field
	Conflict                    ConflictFields
	Unidentified                bool
	Booked                      *BookedIn
	Deliveries                  []DeliveryLink // still being scanned
	Scan                        Field          // where a delivery that is scanned goes
	ScanKey                     string
	Signing                     *SigningFields
}

// BookedIn is what was received a moment ago.
type BookedIn struct {
	stock.LotSummary
	Name, Label string
}

func (s *server) showReceive(v *visit) error {
	start := url.Values{}
	for _, name := range []string{"place", "item", "reference"} { // kept for the next pack
		start.Set(name, v.Query(name))
	}
	return s.receiveForm(v, openForm(start), nil)
}

func (s *server) receive(v *visit) error {
	f := openForm(v.Request.PostForm)
	in := inventory.Receipt{Place: f.text("place"), Item: f.text("item"), Product: f.id("product"),
		BatchNo: f.text("batch_no"), Serial: f.text("serial"), MadeOn: f.text("made_on"), EndPrinted: f.text("end_printed"),
		EndWording: inventory.Wording(f.text("end_wording")), Qty: f.number("qty"), Reference: f.text("reference"),
		OnConflict: inventory.OnConflict(f.text("on_conflict")), CorrectionReason: f.text("correction_reason"),
		Unidentified: f.text("unidentified") != ""}
	err := s.record(v, f, func(ctx context.Context, by inventory.Actor, _ string) (string, error) {
		lot, err := s.svc.Ledger.Receive(ctx, by, in)
		next := url.Values{"place": {in.Place}, "item": {in.Item}, "reference": {in.Reference},
			"done": {"lot-" + formatID(lot.ID)}}
		return "/receive?" + next.Encode(), err
	})
	return f.fix(v, err, nil, s.receiveForm)
}

func (s *server) receiveForm(v *visit, f *form, failed error) error {
	places, err := s.receivingPlaces(v)
	if err != nil {
		return err
	}
	items := v.items()
	p := &receivePage{Base: Base{Title: "Receive"}}
	if f.text("place") == "" && len(places) > 0 {
		f.values.Set("place", places[0].Value)
	}
	p.Place = f.choice("place", "Into", places).Need()
	p.Item = f.choice("item", "Item", itemOptions(items, inventory.KitList{})).Need()
	p.Product = f.choice("product", "Product", productOptions(v.products(), items))
	p.BatchNo = f.field("batch_no", "Batch number as printed")
	p.Serial = f.field("serial", "Serial number as printed").WithHint("Only for a device.")
	p.EndPrinted = f.field("end_printed", "Date as printed").WithHint("2027-06 or 2027-06-14")
	p.EndWording = f.choice("end_wording", "Words beside the date",
		wordingOptions()).WithHint("Needed for medicines, since it changes what a month means; else expiry if left out.")
	p.MadeOn = f.field("made_on", "Date of manufacture as printed").WithHint("2024-06 or 2024-06-14")
	p.Qty = f.numberField("qty", "How many units").Need().WithHint("Units, not packs.")
	p.Reference = f.field("reference", "Order or delivery note")
	p.Signing = f.signing(slices.ContainsFunc(items, func(it inventory.Item) bool { return it.Controlled })).folded()
	p.Conflict, p.Unidentified = conflictFields(f), f.text("unidentified") != ""
	if p.Booked, err = s.bookedIn(v); err != nil {
		return err
	}
	if p.Deliveries, err = s.openDeliveries(v); err != nil {
		return err
	}
	if !f.values.Has("scan_place") {
		f.values.Set("scan_place", f.text("place"))
	}
	p.Scan, p.ScanKey = f.choice("scan_place", "Into", places).Need(), newKey()
	p.Form = f.state(failed, f.keyOr(newKey), 0)
	return s.render(v, statusOf(failed), p)
}

// receivingPlaces lists where packs may be received, the stores first.
func (s *server) receivingPlaces(v *visit) ([]Option, error) {
	var out []Option
	for _, kind := range []inventory.PlaceKind{inventory.KindStore, inventory.KindQuarantine} {
		places, err := s.svc.Lists.Places(v.ctx(), v.actor, inventory.PlaceFilter{Kind: kind}, inventory.Page{})
		if err != nil {
			return nil, err
		}
		for _, p := range places {
			out = append(out, Option{Value: p.Code, Text: p.Name})
		}
	}
	return out, nil
}

func productOptions(products []inventory.Product, items []inventory.Item) []Option {
	names := map[string]string{}
	for _, it := range items {
		names[it.Code] = it.Name
	}
	var out []Option
	for _, p := range products {
		o := Option{Value: formatID(p.ID), Text: names[p.Item]}
		for _, part := range []string{p.Supplier, p.MakerReference} {
			if part != "" {
				o.Text += ", " + part
			}
		}
		o.Text += ", pack of " + count(p.PackSize, "unit")
		out = append(out, o)
	}
	slices.SortStableFunc(out, func(a, b Option) int { return cmpText(a.Text, b.Text) })
	return out
}

// bookedIn reads the lot that the address says was just received.
func (s *server) bookedIn(v *visit) (*BookedIn, error) {
	kind, id := doneParam(v)
	if kind != "lot" {
		return nil, nil
	}
	l, err := s.svc.Stock.Lot(v.ctx(), v.actor, id)
	if err != nil {
		if inventory.KindOf(err) == inventory.NotFound {
			return nil, nil
		}
		return nil, err
	}
	it, err := s.svc.Lists.Item(v.ctx(), v.actor, l.Item)
	return &BookedIn{l.LotSummary, it.Name, lotLabel(l.BatchNo, l.Serial)}, err
}
