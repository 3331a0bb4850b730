package web

import (
	"context"
	"slices"
	"strconv"
	"strings"

	"stowkeeper/inventory"
	"stowkeeper/inventory/lists"
)

type restockPage struct {
	Base
	Bag       inventory.Bag
	Station   inventory.Station
	AsOf      inventory.Day
	State     inventory.State
	Headline  string
	Sealed    bool
	Form      Form
	TakeOut   []TakeOutFields
	PutIn     []PickFields
	Unfilled  []UnfilledView
	From      string       // the other bag that something comes from
	FromBag   []PickFields // what lies in it
	Next      []NextBag    // the other bags to choose from
	Extra     []ExtraFields
	ExtraOpen bool
	Other     []OtherOutFields
	OtherOpen bool
	SealSet   Field
	Note      Field
	Scan      Field
	ScanSaid  string
	Ticked    int // lines of PutIn that were picked
	Unpicked  bool
	Signing   *SigningFields
}

func (s *server) showRestock(v *visit) error { return s.restockForm(v, openForm(nil), nil, "") }

func (s *server) recordRestock(v *visit) error {
	f := openForm(v.Request.PostForm)
	if bag, ok := strings.CutPrefix(f.text("more"), fromPrefix); ok {
		f.values.Set("from", bag)
		return s.restockForm(v, f, nil, "")
	}
	if said, scanned, err := s.scan(v, f); scanned || err != nil {
		if err != nil {
			return err
		}
		return s.restockForm(v, f, nil, said)
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
	f.wantPicked()
	err = s.record(v, f, func(ctx context.Context, by inventory.Actor, _ string) (string, error) {
		x, err := s.svc.Storeroom.RecordRestock(ctx, by, in, position)
		return doneAt(x.Bag, "restock", x.ID), err
	})
	return f.fix(v, err, sent.name, func(v *visit, f *form, err error) error { return s.restockForm(v, f, err, "") })
}

func (s *server) restockForm(v *visit, f *form, failed error, said string) error {
	plan, err := s.svc.Storeroom.RestockPlan(v.ctx(), v.actor, v.Param("code"), lists.Outlook{Horizon: -1})
	if err != nil {
		return noSuchBag(err)
	}
	c, pl := plan.Checklist, plan.PickList
	if !inService(v, c.Bag) {
		return nil
	}
	stores, err := s.storesAt(v, c.Bag)
	if err != nil {
		return err
	}
	items := v.itemsByCode()
	if inventory.KindOf(failed) == inventory.Stale && failed != nil {
		f.dropRows(inPrefix, outPrefix) // the list below is new, and so are its quantities
	}
	p := &restockPage{Base: Base{Title: "Restock " + c.Bag.Code, Caution: true}, Bag: c.Bag, Station: c.Station,
		AsOf: pl.AsOf, State: c.Readiness.State, Headline: inventory.Headline(c.Bag, c.Readiness), Sealed: c.KitList.Sealed}
	p.TakeOut = takeOutFields(f, pl, items)
	p.PutIn = pickFields(f, pl, items, stores)
	for _, u := range pl.Unfilled {
		p.Unfilled = append(p.Unfilled, UnfilledView{u, nameOf(items, u.Item)})
	}
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
	p.SealSet = f.field("seal_set", "New seal number")
	p.Note = f.field("note", "Note")
	p.addScan(f, said)
	p.Signing = f.signing(anyControlled(c.Items)).folded()
	p.Form = f.state(failed, f.keyOr(newKey), pl.Position)
	return s.render(v, statusOf(failed), p)
}

// addFrom shows what lies in another bag that something is put in from.
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
		x := PickFields{Pick: inventory.Pick{Item: l.Item, LotID: l.ID, UsableThrough: l.UsableThrough}, Name: nameOf(items,
			l.Item), Label: lotLabel(l.BatchNo, l.Serial),
			Row: inPrefix + lotAt(l.ID, from.Code) + "@o"}
		for _, w := range l.Where {
			x.FromName = strconv.Itoa(w.Qty) + " there"
		}
		x.Count = f.numberField(x.Row+".qty", "Put in from "+from.Code+": "+x.Name+", "+x.Label)
		p.FromBag = append(p.FromBag, x)
	}
	return err
}

// dropRows forgets the rows with these prefixes.
func (f *form) dropRows(prefixes ...string) {
	for name := range f.values {
		for _, p := range prefixes {
			if strings.HasPrefix(name, p) {
				f.values.Del(name)
			}
		}
	}
}

// storesAt lists the stores that a bag is filled from.
func (s *server) storesAt(v *visit, b inventory.Bag) ([]inventory.Place, error) {
	all, err := s.svc.Lists.Places(v.ctx(), v.actor, inventory.PlaceFilter{Stations: []string{b.AtStation},
		Kind: inventory.KindStore}, inventory.Page{})
	return slices.DeleteFunc(all, func(p inventory.Place) bool { return p.Purpose != b.Purpose }), err
}
