package web

import (
	"context"
	"strconv"

	"stowkeeper/inventory"
	"stowkeeper/inventory/barcode"
	"stowkeeper/inventory/message"
	"stowkeeper/inventory/storeroom"
)

type deliveryPage struct {
	Base
	storeroom.DeliveryPlan
	Said      message.Message // what became of the newest scan
	Rows      []DeliveryRow
	Reference Field
	Packs     int
	Troubles  int             // lines that cannot be put away yet
	Separator message.Message // what this scanner sends for it, in words; empty while that is not known
	PutAway   bool
	Signing   *SigningFields
}

func deliveryPath(id int64) string { return "/deliveries/" + formatID(id) }

func (s *server) startDelivery(v *visit, f *form) error {
	f.names = func(path string) string { return "scan_" + path }
	return v.once(func(ctx context.Context, _ string) (string, error) {
		d, err := s.svc.Storeroom.StartDelivery(ctx, v.actor, f.text("scan_place"), "")
		return deliveryPath(d.ID), err
	})
}

// scanPack takes one scan. The test symbol is no pack: it says what the scanner sends for a separator.
func (s *server) scanPack(v *visit, f *form) error {
	text := f.values.Get("text")
	if sep, err := barcode.LearnSeparator(text); err == nil {
		s.keepSeparator(v, sep)
		return v.to(deliveryPath(paramID(v, "delivery")) + "?done=learnt")
	}
	return s.takeScan(v, s.separatorOf(v).Restore(text))
}

// takeScan puts a pack into the delivery.
func (s *server) takeScan(v *visit, text string) error {
	id := paramID(v, "delivery")
	return v.once(func(ctx context.Context, _ string) (string, error) {
		got, err := s.svc.Storeroom.ScanPack(ctx, v.actor, id, text)
		if got.Separator {
			s.noteSeparator(v)
		}
		return deliveryPath(id) + "?done=line-" + strconv.Itoa(got.Line), scanFailed(err)
	})
}

func (s *server) changeLine(v *visit, f *form) error {
	id, line := paramID(v, "delivery"), int(paramID(v, "line"))
	suffix := "." + strconv.Itoa(line)
	do, err := s.lineAsked(v, f, id, line, suffix)
	if err == nil {
		err = f.err()
	}
	if err == nil {
		err = v.once(func(ctx context.Context, _ string) (string, error) {
			return deliveryPath(id) + "#line" + suffix, do(ctx)
		})
	}
	f.names = func(path string) string { return path + suffix }
	return err
}

func (s *server) lineAsked(v *visit, f *form, id int64, line int, suffix string) (func(context.Context) error, error) {
	text := func(name string) *string { t := f.text(name + suffix); return &t }
	c := storeroom.LineChange{}
	switch f.text("do") {
	case "name":
		in := inventory.Product{Item: f.text("item" + suffix), PackSize: f.number("pack_size" + suffix),
			Supplier: f.text("supplier" + suffix)}
		return func(ctx context.Context) error { return s.svc.Storeroom.NameCode(ctx, v.actor, id, line, in) }, nil
	case "way":
		way := inventory.WayIn(f.text("way"))
		c.Way = &way
	case "conflict":
		choice := inventory.OnConflict(f.text("on_conflict"))
		c.OnConflict, c.Reason = &choice, text("reason")
		if choice == inventory.CorrectEarlier && *c.Reason == "" {
			f.wrong("reason"+suffix, message.M("enter a reason"))
		}
	case "remove":
		none := 0
		c.Packs = &none
	case "change":
		packs, units, wording := f.number("packs"+suffix), f.number("units"+suffix),
			inventory.Wording(f.text("end_wording"+suffix))
		c = storeroom.LineChange{BatchNo: text("batch_no"), Serial: text("serial"), MadeOn: text("made_on"),
			EndPrinted: text("end_printed"), EndWording: &wording, Packs: &packs, Units: &units}
	default:
		return nil, inventory.Refuse(inventory.Invalid, "reload the page")
	}
	return func(ctx context.Context) error { return s.svc.Storeroom.ChangeLine(ctx, v.actor, id, line, c) }, nil
}

// putAway receives the whole delivery.
func (s *server) putAway(v *visit, f *form) error {
	id := paramID(v, "delivery")
	return s.record(v, f, func(ctx context.Context, by inventory.Actor, _ string) (string, error) {
		_, err := s.svc.Storeroom.PutAway(ctx, by, id, f.text("reference"))
		return deliveryPath(id), err
	})
}

func (s *server) dropDelivery(v *visit) error {
	id := paramID(v, "delivery")
	return v.once(func(ctx context.Context, _ string) (string, error) {
		return "/receive", s.svc.Storeroom.DropDelivery(ctx, v.actor, id)
	})
}

func (s *server) deliveryForm(v *visit, f *form, failed error) error {
	d, err := s.svc.Storeroom.Delivery(v.ctx(), v.actor, paramID(v, "delivery"))
	if err != nil {
		return err
	}
	p := &deliveryPage{Base: Base{Title: message.M("Scan delivery")}, DeliveryPlan: d,
		Separator: separatorWords(s.separatorOf(v)), PutAway: d.Status == inventory.DeliveryPutAway}
	if line := v.Query("line"); line != "" && !f.values.Has("item."+line) { // an item was made for it
		f.values.Set("item."+line, inventory.NormalCode(v.Query("item")))
	}
	kind, newest := doneParam(v)
	for _, r := range d.Rows {
		row := deliveryRow(f, r, d, v.items())
		row.Newest = kind == "line" && int64(r.N) == newest
		if row.Newest {
			p.Said = scannedWords(row)
		}
		if r.Trouble != storeroom.TroubleNone {
			p.Troubles++
		}
		p.Packs += r.DeliveryLine.Packs
		p.Rows = append([]DeliveryRow{row}, p.Rows...) // the newest on top, under the field
	}
	p.Reference = f.field("reference", message.M("Order or delivery note"))
	if p.Reference.Value == "" {
		p.Reference.Value = d.Reference
	}
	p.Signing = f.signing(d.Unsigned)
	f.values.Del("key")                             // each form of the page has one of its own
	v.Header("Permissions-Policy", "camera=(self)") // on this page alone
	return s.renderForm(v, f, p, failed)
}

// openDeliveries lists those that are still being scanned, for the page where packs are received.
func (s *server) openDeliveries(v *visit) ([]DeliveryLink, error) {
	all, err := s.svc.Storeroom.OpenDeliveries(v.ctx(), v.actor, nil)
	if err != nil {
		return nil, err
	}
	var out []DeliveryLink
	for _, d := range all {
		packs := 0
		for _, l := range d.Lines {
			packs += l.Packs
		}
		link := DeliveryLink{Href: deliveryPath(d.ID), Packs: packs, By: d.StartedBy, Place: d.Place}
		for _, p := range v.places() {
			if p.Code == d.Place {
				link.Place, link.At = p.Name, whenAt(d.StartedAt, v.station(p.Station))
			}
		}
		out = append(out, link)
	}
	return out, nil
}

// DeliveryLink leads to a delivery that is still being scanned.
type DeliveryLink struct {
	Href, Place, By string
	Packs           int
	At              When
}
