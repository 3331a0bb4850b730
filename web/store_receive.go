package web

import (
	"context"
	"net/url"
	"slices"

	"stowkeeper/inventory"
	"stowkeeper/inventory/message"
)

type receivePage struct {
	Base
	Place, Item, Product, BatchNo, Serial, MadeOn Field
	EndPrinted, EndWording, Qty, Reference        Field
	Conflict                                      ConflictFields
	Unidentified                                  bool
	Booked                                        *LotRow
	Deliveries                                    []DeliveryLink // still being scanned
	Scan                                          Field          // where a delivery that is scanned goes
	ScanKey                                       string
	Signing                                       *SigningFields
}

func (s *server) receive(v *visit, f *form) error {
	in := inventory.Receipt{Place: f.text("place"), Item: f.text("item"), Product: f.id("product"),
		BatchNo: f.text("batch_no"), Serial: f.text("serial"), MadeOn: f.text("made_on"), EndPrinted: f.text("end_printed"),
		EndWording: inventory.Wording(f.text("end_wording")), Qty: f.number("qty"), Reference: f.text("reference"),
		OnConflict: inventory.OnConflict(f.text("on_conflict")), CorrectionReason: f.text("correction_reason"),
		Unidentified: f.text("unidentified") != ""}
	return s.record(v, f, func(ctx context.Context, by inventory.Actor, _ string) (string, error) {
		lot, err := s.svc.Order.Book(ctx, by, in)
		next := url.Values{"place": {in.Place}, "item": {in.Item}, "reference": {in.Reference},
			"done": {"lot-" + formatID(lot.ID)}}
		return "/receive?" + next.Encode(), err
	})
}

func (s *server) receiveForm(v *visit, f *form, failed error) error {
	for _, name := range []string{"place", "item", "reference"} { // kept for the next pack
		if !f.values.Has(name) {
			f.values.Set(name, v.Query(name))
		}
	}
	places := v.receivingPlaces()
	items := v.items()
	p := &receivePage{Base: Base{Title: message.M("Receive")}}
	if f.text("place") == "" && len(places) > 0 {
		f.values.Set("place", places[0].Value)
	}
	p.Place = f.choice("place", message.M("Store"), places).Need()
	p.Item = f.choice("item", message.M("Item"), itemOptions(items, inventory.KitList{})).Need()
	p.Product = f.choice("product", message.M("Product"), productOptions(v.products(), items))
	p.BatchNo = f.field("batch_no", message.M("Batch number"))
	p.Serial = f.field("serial", message.M("Serial number")).WithHint(message.M("Devices only"))
	p.EndPrinted = f.field("end_printed", message.M("Date on pack")).WithHint(message.M("2027-06 or 2027-06-14"))
	p.EndWording = f.choice("end_wording", message.M("Date wording on pack"),
		wordingOptions()).WithHint(message.M("Needed for medicines. Default: expiry"))
	p.MadeOn = f.field("made_on", message.M("Date of manufacture")).WithHint(message.M("2027-06 or 2027-06-14"))
	p.Qty = f.numberField("qty", message.M("Units")).Need().WithHint(message.M("Single units, not packs"))
	p.Reference = f.field("reference", message.M("Order or delivery note"))
	p.Signing = f.signing(slices.ContainsFunc(items, func(it inventory.Item) bool { return it.Controlled })).folded()
	p.Conflict, p.Unidentified = conflictFields(f), f.text("unidentified") != ""
	var err error
	if p.Booked, err = s.bookedIn(v); err != nil {
		return err
	}
	if p.Deliveries, err = s.openDeliveries(v); err != nil {
		return err
	}
	if !f.values.Has("scan_place") {
		f.values.Set("scan_place", f.text("place"))
	}
	p.Scan, p.ScanKey = f.choice("scan_place", message.M("Store"), places).Need(), newKey()
	return s.renderForm(v, f, p, failed)
}

// receivingPlaces lists where packs may be received, the stores first.
func (v *visit) receivingPlaces() (out []Option) {
	for _, kind := range []inventory.PlaceKind{inventory.KindStore, inventory.KindQuarantine} {
		for _, p := range v.placesOf(inventory.PlaceFilter{Kind: kind}) {
			out = append(out, Option{Value: p.Code, Text: message.Plain(p.Name)})
		}
	}
	return out
}

func productOptions(products []inventory.Product, items []inventory.Item) []Option {
	names := map[string]string{}
	for _, it := range items {
		names[it.Code] = it.Name
	}
	var out []Option
	for _, p := range products {
		out = append(out, Option{Value: formatID(p.ID), Text: message.Join(", ", message.Plain(names[p.Item]),
			message.Plain(p.Supplier), message.Plain(p.MakerReference), message.M("pack of {1} {1|unit|units}", p.PackSize))})
	}
	slices.SortStableFunc(out, func(a, b Option) int { return cmpText(a.Text.String(), b.Text.String()) })
	return out
}

func (s *server) bookedIn(v *visit) (*LotRow, error) {
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
	row := lotRow(l.LotSummary, v.itemsByCode())
	return &row, nil
}
