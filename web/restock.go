package web

import (
	"cmp"
	"context"
	"slices"
	"strconv"
	"strings"

	"stowkeeper/inventory"
)

type restockPage struct {
	Base
	Bag       inventory.Bag
	Site      inventory.Site
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

func (*restockPage) template() string { return "restock" }

// PickFields is a pick with the field to confirm it.
type PickFields struct {
	inventory.Pick
	Name, Label, FromName string
	Inspect               string // the way to the inspection that it needs first
	Ticked                bool   // it was picked
	Row                   string
	Count                 Field
}

// TakeOutFields is a take-out with the field to confirm it.
type TakeOutFields struct {
	inventory.TakeOut
	Name, Label, Goes string
	Row               string
	Count             Field
}

// UnfilledView is what the stores cannot fill.
type UnfilledView struct {
	inventory.Unfilled
	Name string
}

// ExtraFields is something put in that the list did not propose.
type ExtraFields struct{ Lot, Qty Field }

// OtherOutFields is something taken out that the list did not propose.
type OtherOutFields struct{ Lot, Qty, How Field }

const extraRows = 2

var wayOutOptions = []Option{
	{Value: string(inventory.OutDamaged), Text: "damaged, disposed of"},
	{Value: string(inventory.OutToQuarantine), Text: "to be looked at, to quarantine"},
	{Value: string(inventory.OutToStore), Text: "not needed there, back to the store"},
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
	in := inventory.Restock{Bag: v.Param("code"), Lines: sent.in, TakeOut: sent.out, SealSet: f.text("seal_set"), Note: f.text("note")}
	position := f.id("position")
	var by inventory.Actor
	f.wantPicked()
	if err = f.err(); err == nil {
		by, err = s.signed(v, f)
	}
	if err == nil {
		err = v.once(func(ctx context.Context, _ string) (string, error) {
			x, err := s.svc.RecordRestock(ctx, by, in, position)
			return doneAt(x.Bag, "restock", x.ID), err
		})
	}
	if again(err) {
		f.take(err, sent.name)
		return s.restockForm(v, f, err, "")
	}
	return err
}

// restockSent is what a restock form confirmed, and which row each line came
// from.
type restockSent struct {
	in              []inventory.RestockLine
	out             []inventory.TakeOutLine
	inRows, outRows []string
}

const (
	inPrefix    = "in."
	outPrefix   = "out."
	extraPrefix = "extra."
	otherPrefix = "other."
)

// lotAt names a lot and a place in the names of fields.
func lotAt(lot int64, place string) string { return formatID(lot) + "@" + place }

func splitLotAt(s string) (lot int64, place string) {
	number, place, _ := strings.Cut(s, "@")
	lot, _ = strconv.ParseInt(number, 10, 64) // 0 is no lot, and is refused as such
	place, _, _ = strings.Cut(place, "@")     // the pouch's number follows
	return lot, place
}

// readRestock reads the rows with a quantity.
func readRestock(f *form) restockSent {
	var r restockSent
	for _, row := range rowsWith(f, inPrefix) {
		if n := f.number(row + ".qty"); n != 0 {
			lot, from := splitLotAt(strings.TrimPrefix(row, inPrefix))
			r.in, r.inRows = append(r.in, inventory.RestockLine{LotID: lot, Qty: n, From: from}), append(r.inRows, row)
		}
	}
	for _, row := range rowsWith(f, extraPrefix) {
		if n := f.number(row + ".qty"); n != 0 || f.text(row+".lot") != "" {
			lot, from := splitLotAt(f.text(row + ".lot"))
			r.in, r.inRows = append(r.in, inventory.RestockLine{LotID: lot, Qty: n, From: from}), append(r.inRows, row)
		}
	}
	for _, row := range rowsWith(f, outPrefix) {
		if n := f.number(row + ".qty"); n != 0 {
			lot, to := splitLotAt(strings.TrimPrefix(row, outPrefix))
			r.out = append(r.out, inventory.TakeOutLine{LotID: lot, Qty: n, To: to,
				Reason: inventory.Reason(f.text(row + ".reason")), Cause: inventory.Cause(f.text(row + ".cause"))})
			r.outRows = append(r.outRows, row)
		}
	}
	return r
}

// readOther reads what came out besides what the list proposed.
func (r *restockSent) readOther(f *form, c inventory.Checklist) {
	for _, row := range rowsWith(f, otherPrefix) {
		n := f.number(row + ".qty")
		if n == 0 && f.text(row+".lot") == "" {
			continue
		}
		if f.text(row+".how") == "" {
			f.wrong(row+".how", "say where it goes")
		}
		lot, _ := strconv.ParseInt(f.text(row+".lot"), 10, 64) // 0 is no lot, and is refused as such
		r.out = append(r.out, inventory.TakeOutBy(c.Site, c.Bag, inventory.WayOut(f.text(row+".how")), lot, n))
		r.outRows = append(r.outRows, row)
	}
}

// rowsWith lists the prefixes of a form's rows in a fixed order.
func rowsWith(f *form, prefix string) []string {
	var rows []string
	for name := range f.values {
		if row, ok := strings.CutSuffix(name, ".qty"); ok && strings.HasPrefix(row, prefix) {
			rows = append(rows, row)
		}
	}
	slices.SortFunc(rows, func(a, b string) int { return cmp.Or(cmp.Compare(len(a), len(b)), strings.Compare(a, b)) })
	return rows
}

// name turns the path of a wrong field into the field's name on the form.
func (r restockSent) name(path string) string {
	if i, field, ok := indexed(path, "lines"); ok && i < len(r.inRows) {
		if strings.HasPrefix(r.inRows[i], extraPrefix) && field != "qty" {
			field = "lot"
		} else {
			field = "qty"
		}
		return r.inRows[i] + "." + field
	}
	if i, field, ok := indexed(path, "take_out"); ok && i < len(r.outRows) {
		if strings.HasPrefix(r.outRows[i], otherPrefix) && field == "lot_id" {
			return r.outRows[i] + ".lot"
		}
		return r.outRows[i] + ".qty"
	}
	return path
}

func (s *server) restockForm(v *visit, f *form, failed error, said string) error {
	c, err := s.checklist(v)
	if err != nil {
		return err
	}
	if !inService(v, c.Bag) {
		return nil
	}
	pl, err := s.svc.PickList(v.ctx(), v.actor, c.Bag.Code, inventory.Ask{Horizon: -1})
	if err != nil {
		return err
	}
	stores, err := s.storesAt(v, c.Bag)
	if err != nil {
		return err
	}
	items, err := s.itemsByCode(v)
	if err != nil {
		return err
	}
	if inventory.KindOf(failed) == inventory.Stale && failed != nil {
		f.dropRows(inPrefix, outPrefix) // the list below is new, and so are its quantities
	}
	p := &restockPage{Base: Base{Title: "Restock " + c.Bag.Code, Caution: true}, Bag: c.Bag, Site: c.Site, AsOf: pl.AsOf,
		State: c.Readiness.State, Headline: inventory.Headline(c.Bag, c.Readiness), Sealed: c.KitList.Sealed}
	p.TakeOut = takeOutFields(f, pl, items)
	p.PutIn = pickFields(f, pl, items, stores)
	for _, u := range pl.Unfilled {
		p.Unfilled = append(p.Unfilled, UnfilledView{u, nameOf(items, u.Item)})
	}
	if p.Extra, err = s.extraFields(v, f, stores, items); err != nil {
		return err
	}
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
	var err error
	if p.Next, err = s.nextBags(v, p.Bag); err != nil {
		return err
	}
	i := slices.IndexFunc(p.Next, func(b NextBag) bool { return b.Code == f.text("from") })
	if i < 0 {
		return nil
	}
	from := p.Next[i]
	p.From, p.Next = from.Code, slices.Delete(p.Next, i, i+1)
	lots, err := s.svc.StockAt(v.ctx(), v.actor, from.Code)
	for _, l := range sortLots(lots, items) {
		x := PickFields{Pick: inventory.Pick{Item: l.Item, LotID: l.ID, UsableThrough: l.UsableThrough}, Name: nameOf(items, l.Item), Label: lotLabel(l.LotNo, l.Serial),
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

func (s *server) itemsByCode(v *visit) (map[string]inventory.Item, error) {
	all, err := s.svc.Items(v.ctx(), v.actor, inventory.ItemFilter{}, inventory.Page{})
	m := make(map[string]inventory.Item, len(all))
	for _, it := range all {
		m[it.Code] = it
	}
	return m, err
}

// storesAt lists the stores that a bag is filled from.
func (s *server) storesAt(v *visit, b inventory.Bag) ([]inventory.Place, error) {
	all, err := s.svc.Places(v.ctx(), v.actor, inventory.PlaceFilter{Sites: []string{b.AtSite}, Kind: inventory.KindStore}, inventory.Page{})
	return slices.DeleteFunc(all, func(p inventory.Place) bool { return p.Purpose != b.Purpose }), err
}

func placeName(places []inventory.Place, code string) string {
	for _, p := range places {
		if p.Code == code {
			return p.Name
		}
	}
	return code
}

func pickFields(f *form, pl inventory.PickList, items map[string]inventory.Item, stores []inventory.Place) []PickFields {
	var out []PickFields
	for i, pick := range pl.Lines {
		x := PickFields{Pick: pick, Name: nameOf(items, pick.Item), Label: lotLabel(pick.LotNo, pick.Serial), FromName: placeName(stores, pick.From),
			Row: pickRow(pl, i)}
		x.Ticked = f.text(x.Row+tickedField) != ""
		if pick.InspectFirst {
			x.Inspect = devicePath(pick.LotID) + "/inspect"
		}
		x.Count = f.numberField(x.Row+".qty", "Put in: "+x.Name+", "+x.Label)
		if !f.values.Has(x.Row + ".qty") {
			x.Count.Value = strconv.Itoa(pick.Qty)
		}
		out = append(out, x)
	}
	// In the order of the way round the store.
	slices.SortStableFunc(out, func(a, b PickFields) int { return cmp.Or(cmpText(a.FromName, b.FromName), cmpText(a.Name, b.Name)) })
	return out
}

func takeOutFields(f *form, pl inventory.PickList, items map[string]inventory.Item) []TakeOutFields {
	var out []TakeOutFields
	for i, t := range pl.TakeOut {
		x := TakeOutFields{TakeOut: t, Name: nameOf(items, t.Item), Label: lotLabel(t.LotNo, t.Serial), Goes: goesTo(t.To, t.Reason),
			Row: outPrefix + lotAt(t.LotID, t.To) + "@" + strconv.Itoa(i)}
		x.Count = f.numberField(x.Row+".qty", "Take out: "+x.Name+", "+x.Label)
		if !f.values.Has(x.Row + ".qty") {
			x.Count.Value = strconv.Itoa(t.Qty)
		}
		out = append(out, x)
	}
	return out
}

// goesTo says where something taken out goes. What leaves the service goes to
// no place that a page shows.
func goesTo(place string, why inventory.Reason) string {
	switch {
	case inventory.OutsideCode(place):
		return outsideWords[inventory.PlaceKind(place)]
	case why == inventory.ReasonQuarantine:
		return "to quarantine, " + place
	}
	return "back to " + place
}

// otherOutFields are for taking out something else than the list proposes: any
// lot in the bag.
func otherOutFields(f *form, c inventory.Checklist) []OtherOutFields {
	var options []Option
	seen := map[int64]bool{}
	for _, pv := range contentsOf(c) {
		for _, line := range pv.Lines {
			for _, l := range line.Lots {
				if !seen[l.LotID] {
					seen[l.LotID] = true
					options = append(options, Option{Value: formatID(l.LotID), Text: l.Name + ", " + l.Label})
				}
			}
		}
	}
	out := make([]OtherOutFields, extraRows)
	for i := range out {
		row := otherPrefix + strconv.Itoa(i)
		out[i] = OtherOutFields{f.choice(row+".lot", "Lot", options), f.numberField(row+".qty", "How many"), f.choice(row+".how", "Where it goes", wayOutOptions)}
	}
	return out
}

// extraFields are for something else than the list proposes: any lot in the
// bag's stores.
func (s *server) extraFields(v *visit, f *form, stores []inventory.Place, items map[string]inventory.Item) ([]ExtraFields, error) {
	var options []Option
	for _, place := range stores {
		lots, err := s.svc.StockAt(v.ctx(), v.actor, place.Code)
		if err != nil {
			return nil, err
		}
		for _, l := range sortLots(lots, items) {
			options = append(options, Option{Value: lotAt(l.ID, place.Code), Text: lotOption(l, items)})
		}
	}
	out := make([]ExtraFields, extraRows)
	for i := range out {
		row := extraPrefix + strconv.Itoa(i)
		out[i] = ExtraFields{f.choice(row+".lot", "Lot", options), f.numberField(row+".qty", "How many")}
	}
	return out, nil
}

// lotOption words a lot in a store as one line of a list.
func lotOption(l inventory.LotSummary, items map[string]inventory.Item) string {
	s := nameOf(items, l.Item) + ", " + lotLabel(l.LotNo, l.Serial)
	if l.UsableThrough != 0 {
		s += ", usable through " + dayText(l.UsableThrough)
	}
	for _, w := range l.Where {
		s += ", " + strconv.Itoa(w.Qty) + " there"
	}
	return s
}

// sortLots orders lots by item name, then as they end.
func sortLots(lots []inventory.LotSummary, items map[string]inventory.Item) []inventory.LotSummary {
	slices.SortStableFunc(lots, func(a, b inventory.LotSummary) int {
		return cmp.Or(strings.Compare(nameOf(items, a.Item), nameOf(items, b.Item)), inventory.ComparePickOrder(a, b))
	})
	return lots
}
