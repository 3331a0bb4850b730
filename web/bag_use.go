package web

import (
	"cmp"
	"context"
	"net/url"
	"slices"
	"strconv"
	"strings"

	"stowkeeper/inventory"
	"stowkeeper/inventory/lists"
)

type usePage struct {
	Base
	Bag        inventory.Bag
	Station    inventory.Station
	Sealed     bool
	Form       Form
	Incident   Field
	HappenedAt Field
	SealSet    Field
	Note       Field
	Other      Field // code of another bag that things came from
	Signing    *SigningFields
	Bags       []UseBag
	Aboard     []UseBag  // the other bags on the vehicle, closed until one is tapped
	Next       []NextBag // those of the station that are not shown yet
	Shown      string    // code of the one that is
}

// controlled tells whether a lot to pick from is of a controlled item.
func (p *usePage) controlled() bool {
	for _, b := range p.Bags {
		for _, pouch := range b.Pouches {
			for _, l := range pouch.Lots {
				if l.Controlled {
					return true
				}
			}
		}
	}
	return false
}

// UseBag is a bag with its contents to pick from.
type UseBag struct {
	Code    string // empty for the bag itself
	Name    string
	Pouches []UsePouch
	Open    bool // something of it was filled in
}

// UsePouch is a pouch of the form.
type UsePouch struct {
	Name string
	Lots []UseFields
}

// UseFields is one lot that may have been used.
type UseFields struct {
	LotView
	Qty           Field
	Controlled    bool
	Given, Wasted Field
}

func (s *server) showUse(v *visit) error { return s.useForm(v, openForm(nil), nil) }

func (s *server) recordUse(v *visit) error {
	f := openForm(v.Request.PostForm)
	if more := f.text("more"); more != "" {
		if bag, ok := strings.CutPrefix(more, fromPrefix); ok {
			f.values.Set("other", bag)
		}
		return s.useForm(v, f, nil)
	}
	station, err := s.stationOfBag(v)
	if err != nil {
		return err
	}
	lines, rows := readUsed(f)
	in := inventory.Use{Bag: v.Param("code"), Incident: f.text("incident"), SeenPosition: f.id("position"),
		SealSet: f.text("seal_set"),
		Note:    f.text("note"), HappenedAt: cmp.Or(f.localTime("happened_at", station), v.madeAt()), Lines: lines}
	if len(lines) == 0 && f.ok() {
		f.wrong("lines", "say how many of at least one thing were used")
	}
	err = s.record(v, f, func(ctx context.Context, by inventory.Actor, key string) (string, error) {
		x, err := s.svc.Shift.RecordUse(ctx, by, in, key)
		return doneAt(x.Bag, "use", x.ID), err
	})
	return f.fix(v, err, lineNames(rows, ""), s.useForm)
}

// stationOfBag returns the station where the bag is, for its time zone.
func (s *server) stationOfBag(v *visit) (inventory.Station, error) {
	b, err := s.svc.Lists.Bag(v.ctx(), v.actor, v.Param("code"))
	if err != nil {
		return inventory.Station{}, noSuchBag(err)
	}
	return v.station(b.AtStation), nil
}

const usePrefix = "use."

// useName is the prefix of the fields of a lot in a bag; the bag's own lots
// have none.
func useName(bag string, lot int64) string {
	return usePrefix + strconv.FormatInt(lot, 10) + "@" + bag
}

// readUsed reads the lots with a quantity, and the rows they came from.
func readUsed(f *form) (lines []inventory.UseLine, rows []string) {
	for _, row := range useRows(f.values) {
		n := f.number(row + ".qty")
		if n == 0 && f.fixes[row+".qty"] == "" {
			continue
		}
		lot, bag, _ := strings.Cut(strings.TrimPrefix(row, usePrefix), "@")
		bag, _, _ = strings.Cut(bag, "@") // the rest tells pouches apart
		id, _ := strconv.ParseInt(lot, 10, 64)
		rows = append(rows, row)
		lines = append(lines, inventory.UseLine{LotID: id, Qty: n, CameFrom: bag, Given: f.text(row + ".given"),
			Wasted: f.text(row + ".wasted")})
	}
	return lines, rows
}

func useRows(values url.Values) []string {
	var rows []string
	for name := range values {
		if row, ok := strings.CutSuffix(name, ".qty"); ok && strings.HasPrefix(row, usePrefix) {
			rows = append(rows, row)
		}
	}
	slices.SortFunc(rows, func(a, b string) int { return cmp.Or(cmp.Compare(len(a), len(b)), strings.Compare(a, b)) })
	return rows
}

func (s *server) useForm(v *visit, f *form, failed error) error {
	b, err := s.svc.Lists.Bag(v.ctx(), v.actor, v.Param("code"))
	if err != nil {
		return noSuchBag(err)
	}
	if !inService(v, b) {
		return nil
	}
	next := v.nextBags(b)
	codes := []string{b.Code}
	for i := 0; i < min(len(next), aboardShown) && next[i].Aboard; i++ {
		codes = append(codes, next[i].Code)
	}
	bags, err := s.svc.Shift.Checklists(v.ctx(), v.actor, codes, lists.Outlook{Horizon: -1})
	if err != nil {
		return err
	}
	c := bags[0]
	p := &usePage{Base: Base{Title: "Use from " + c.Bag.Code, Caution: true}, Bag: c.Bag, Station: c.Station,
		Sealed: c.KitList.Sealed}
	p.Incident = f.field("incident", "Incident reference").Need().
		WithHint("The number only. Never anything about a patient.")
	p.Bags = []UseBag{useBag(c, f, "")}
	for _, other := range bags[1:] {
		p.Aboard = append(p.Aboard, useBag(other, f, other.Bag.Code))
	}
	if err := s.addNext(v, f, p, next[len(p.Aboard):]); err != nil {
		return err
	}
	p.HappenedAt = f.happenedField(c.Station)
	p.SealSet = f.field("seal_set", "New seal number")
	p.Signing = f.signing(anyControlled(c.Items) || p.controlled()).alone()
	p.Note = f.area("note", "Note")
	position := f.id("position")
	if f.values.Get("position") == "" {
		position = c.Bag.Position
	}
	p.Form = f.state(failed, f.keyOr(newKey), position)
	return s.render(v, statusOf(failed), p)
}

// aboardShown is how many other bags on the vehicle come with the form, so that
// taking from one of them needs no second page, and no signal.
const aboardShown = 3

// addNext adds the bags that are not shown yet, which things may have been taken
// from instead.
func (s *server) addNext(v *visit, f *form, p *usePage, next []NextBag) error {
	asked := inventory.NormalCode(f.text("other"))
	p.Next = slices.DeleteFunc(next, func(b NextBag) bool { return b.Code == asked })
	p.Other = f.field("other", "Code of another bag")
	if asked == "" || slices.ContainsFunc(p.Aboard, func(b UseBag) bool { return b.Code == asked }) {
		return nil
	}
	return s.addOther(v, f, p, asked)
}

// addOther adds the contents of another bag that things were taken from.
func (s *server) addOther(v *visit, f *form, p *usePage, code string) error {
	b, err := s.svc.Stock.FindBag(v.ctx(), v.actor, code)
	if err == nil {
		var c inventory.Checklist
		if c, err = s.svc.Shift.Checklist(v.ctx(), v.actor, b.Code, lists.Outlook{Horizon: -1}); err == nil {
			p.Bags, p.Shown = append(p.Bags, useBag(c, f, b.Code)), b.Code
			return nil
		}
	}
	switch inventory.KindOf(err) {
	case inventory.NotFound, inventory.Forbidden:
		f.wrong("other", "none of your stations has a bag with this code")
		p.Other = f.field("other", p.Other.Label)
		return nil
	}
	return err
}

// useBag lists what lies in a bag, pouch by pouch: a lot that lies in two
// pouches can be taken from either.
func useBag(c inventory.Checklist, f *form, bag string) UseBag {
	out := UseBag{Code: bag, Name: c.Bag.Name}
	seen := map[int64]int{}
	for _, pv := range contentsOf(c) {
		pouch := UsePouch{Name: pv.Name}
		for _, line := range pv.Lines {
			for _, l := range line.Lots {
				row := useName(bag, l.LotID)
				if n := seen[l.LotID]; n > 0 {
					row += "@" + strconv.Itoa(n)
				}
				seen[l.LotID]++
				out.Open = out.Open || f.text(row+".qty") != ""
				pouch.Lots = append(pouch.Lots, useFields(c, f, row, l))
			}
		}
		if len(pouch.Lots) > 0 {
			out.Pouches = append(out.Pouches, pouch)
		}
	}
	return out
}

func useFields(c inventory.Checklist, f *form, row string, l LotView) UseFields {
	x := UseFields{LotView: l, Controlled: c.Items[l.Item].Controlled}
	x.Qty = f.numberField(row+".qty", "Used: "+l.Name+", "+l.Label)
	if x.Controlled {
		x.Given = f.field(row+".given", "Given, with its unit")
		x.Wasted = f.field(row+".wasted", "Wasted, with its unit")
	}
	return x
}
