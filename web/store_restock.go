package web

import (
	"context"
	"net/http"
	"slices"
	"strings"

	"stowkeeper/inventory"
	"stowkeeper/inventory/lists"
	"stowkeeper/inventory/message"
	"stowkeeper/inventory/storeroom"
)

type restockPage struct {
	Base
	Bag                 inventory.Bag
	Station             inventory.Station
	AsOf                inventory.Day
	State               inventory.State
	Headline            message.Message
	KitLists            KitLists
	Sealed              bool
	Move                *inventory.ListMove // to a newer version of its kit list
	TakeOut             []TakeOutFields
	PutIn               []PickFields
	Modules             []inventory.ModulePick
	Swap                string // the way to put a module in
	Unfilled            []UnfilledView
	StandIns            []StandInView
	Own                 string       // the swaps for them are on the list
	From                string       // the other bag that something comes from
	FromBag             []PickFields // what lies in it
	Next                []NextBag    // the other bags to choose from
	Extra               []ExtraFields
	ExtraOpen           bool
	Other               []OtherOutFields
	OtherOpen           bool
	SealSet, Note, Scan Field
	HappenedAt          Field // of a sheet of paper
	ScanSaid            message.Message
	Ticked              int // lines of PutIn that were picked
	Unpicked            string
	Signing             *SigningFields
	Authorised          Field // of controlled items that are disposed of
}

func (s *server) recordRestock(v *visit, f *form) error {
	if more := f.text("more"); more != "" {
		if bag, ok := strings.CutPrefix(more, fromPrefix); ok {
			f.values.Set("from", bag)
		} else {
			f.values.Set("own", "yes")
		}
		return s.restockForm(v, f, nil)
	}
	if scanned, err := s.scan(v, f); err != nil {
		return err
	} else if scanned {
		return s.restockForm(v, f, nil)
	}
	c, err := s.checklist(v)
	if err != nil {
		return err
	}
	sent := readRestock(f)
	sent.readOther(f, c)
	in := inventory.Restock{Bag: v.Param("code"), Lines: sent.in, TakeOut: sent.out, SealSet: f.text("seal_set"),
		Note: f.text("note")}
	position := f.id("position")
	in.HappenedAt = f.localTime("happened_at", c.Station)
	f.wantPicked()
	f.names = sent.name
	return s.record(v, f, func(ctx context.Context, by inventory.Actor, _ string) (string, error) {
		x, err := s.svc.Storeroom.RecordRestock(ctx, by, in, position)
		return doneAt(x.Bag, "restock", x.ID), err
	})
}

func (s *server) restockForm(v *visit, f *form, failed error) error {
	plan, err := s.restockPlan(v, f)
	if inventory.KindOf(err) == inventory.Invalid { // it is retired, and its page says so
		v.Redirect(http.StatusSeeOther, bagPath(v.Param("code")))
		return nil
	}
	if err != nil {
		return noSuchBag(err)
	}
	c, pl := plan.Checklist, plan.PickList
	stores, err := s.storesAt(v, c.Bag)
	if err != nil {
		return err
	}
	items := v.itemsByCode()
	if inventory.KindOf(failed) == inventory.Stale && failed != nil {
		f.dropRows(inPrefix, outPrefix) // the list below is new, and so are its quantities
	}
	p := &restockPage{Base: Base{Title: message.M("Restock {1}", c.Bag.Code), Caution: true}, Bag: c.Bag,
		Station: c.Station, AsOf: pl.AsOf, State: c.Readiness.State, Headline: inventory.Headline(c.Bag, c.Readiness),
		Sealed: plan.Sealed, Move: pl.ListMove, KitLists: v.kitLists()}
	p.TakeOut = takeOutFields(f, pl, items)
	p.PutIn = pickFields(f, pl, items, stores)
	p.Modules, p.Swap = pl.Modules, swapPath(c.Bag.Code, "")
	for _, u := range pl.Unfilled {
		p.Unfilled = append(p.Unfilled, UnfilledView{u, nameOf(items, u.Item)})
	}
	for _, x := range pl.StandIns {
		p.StandIns = append(p.StandIns, StandInView{x, nameOf(items, x.Item), nameOf(items, x.With)})
	}
	p.Own = f.text("own")
	p.Extra = extraFields(f, plan.Stored, items)
	for _, x := range p.Extra {
		p.ExtraOpen = p.ExtraOpen || x.Lot.Value != "" || x.Qty.Value != ""
	}
	if err := s.addFrom(v, f, p, items); err != nil {
		return err
	}
	p.Other = otherOutFields(f, c)
	for _, x := range p.Other {
		p.OtherOpen = p.OtherOpen || x.Lot.Value != "" || x.Qty.Value != ""
	}
	p.SealSet = f.field("seal_set", message.M("New seal number"))
	p.Note = f.field("note", message.M("Note"))
	if v.onPaper() || f.values.Has("happened_at") {
		p.HappenedAt = f.happenedField(c.Station)
	}
	p.addScan(f)
	p.Authorised = f.authorised(anyControlled(c.Items))
	p.Signing = f.signing(anyControlled(c.Items)).folded()
	p.Form.Position = pl.Position
	return s.renderForm(v, f, p, failed)
}

// restockPlan is the pick list that a form goes by: with the swaps that are offered, once they were asked for.
func (s *server) restockPlan(v *visit, f *form) (storeroom.RestockPlan, error) {
	plan, err := s.svc.Storeroom.RestockPlan(v.ctx(), v.actor, v.Param("code"), lists.Outlook{Horizon: -1})
	if f.text("own") != "" {
		plan.WithOwn()
	}
	return plan, err
}

func (s *server) addFrom(v *visit, f *form, p *restockPage, items map[string]inventory.Item) error {
	p.Next = v.nextBags(p.Bag)
	i := slices.IndexFunc(p.Next, func(b NextBag) bool { return b.Code == f.text("from") })
	if i < 0 {
		return nil
	}
	from := p.Next[i]
	p.From, p.Next = from.Code, slices.Delete(p.Next, i, i+1)
	lots, err := s.svc.Stock.StockAt(v.ctx(), v.actor, from.Code)
	for _, l := range sortLots(lots, items) {
		x := PickFields{Pick: inventory.Pick{Item: l.Item, LotID: l.ID, UsableThrough: l.UsableThrough},
			Name: nameOf(items, l.Item), Label: lotLabel(l.BatchNo, l.Serial), Row: inPrefix + lotAt(l.ID, from.Code) + "@o"}
		for _, w := range l.Where {
			x.FromName = message.M("{1} there", w.Qty)
		}
		x.Count = f.numberField(x.Row+".qty", message.M("Put in from {1}: {2}, {3}", from.Code, x.Name, x.Label))
		p.FromBag = append(p.FromBag, x)
	}
	return err
}

func (f *form) dropRows(prefixes ...string) {
	for name := range f.values {
		for _, p := range prefixes {
			if strings.HasPrefix(name, p) {
				f.values.Del(name)
			}
		}
	}
}

func (s *server) storesAt(v *visit, b inventory.Bag) ([]inventory.Place, error) {
	all, err := s.svc.Lists.Places(v.ctx(), v.actor, inventory.PlaceFilter{Stations: []string{b.AtStation},
		Kind: inventory.KindStore}, inventory.Page{})
	return slices.DeleteFunc(all, func(p inventory.Place) bool { return p.Purpose != b.Purpose }), err
}
