package web

import (
	"cmp"
	"context"
	"slices"
	"strconv"
	"strings"

	"stowkeeper/inventory"
	"stowkeeper/inventory/amount"
	"stowkeeper/inventory/lists"
	"stowkeeper/inventory/message"
)

type usePage struct {
	Base
	Bag                                 inventory.Bag
	Station                             inventory.Station
	Sealed                              bool
	Incident, HappenedAt, SealSet, Note Field
	Other                               Field // code of another bag that things came from
	Signing                             *SigningFields
	Bags                                []UseBag
	Aboard                              []UseBag  // the other bags on the vehicle, closed until one is tapped
	Next                                []NextBag // those of the station that are not shown yet
	Shown                               string    // code of the one that is
	Paper                               bool      // it was written on paper, with the time
}

// UseBag is a bag with its contents to pick from.
type UseBag struct {
	Code       string // empty for the bag itself
	Name       string
	Pouches    []UsePouch
	Open       bool // something of it was filled in
	Controlled bool // something in it is
}

// UsePouch is a pouch of the form.
type UsePouch struct {
	Name message.Message
	Lots []UseFields
}

// UseFields is one lot that may have been used.
type UseFields struct {
	LotView
	Qty           Field
	Controlled    bool
	Given, Wasted Field // asked for where units have a content
}

func (s *server) recordUse(v *visit, f *form) error {
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
		SealSet: f.text("seal_set"), By: v.saidBy(),
		Note: f.text("note"), HappenedAt: cmp.Or(f.localTime("happened_at", station), v.madeAt()), Lines: lines}
	if len(lines) == 0 && f.ok() {
		f.wrong("lines", message.M("enter at least one quantity"))
	}
	f.names = lineNames(rows, "")
	return s.record(v, f, func(ctx context.Context, by inventory.Actor, key string) (string, error) {
		x, err := s.svc.Shift.RecordUse(ctx, by, in, key)
		return doneAt(x.Bag, "use", x.ID), err
	})
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

// useName is the prefix of the fields of a lot in a bag; the bag's own lots have none.
func useName(bag string, lot int64) string {
	return usePrefix + formatID(lot) + "@" + bag
}

func readUsed(f *form) (lines []inventory.UseLine, rows []string) {
	for _, row := range rowsWith(f, usePrefix, ".qty") {
		n := f.number(row + ".qty")
		if n == 0 && f.fixes[row+".qty"] == nil {
			continue
		}
		lot, bag := splitLotAt(strings.TrimPrefix(row, usePrefix))
		rows = append(rows, row)
		lines = append(lines, inventory.UseLine{LotID: lot, Qty: n, CameFrom: bag,
			Given: amount.Amount(f.text(row + ".given")), Wasted: amount.Amount(f.text(row + ".wasted"))})
	}
	return lines, rows
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
	p := &usePage{Base: Base{Title: message.M("Use from {1}", c.Bag.Code), Caution: true}, Bag: c.Bag, Station: c.Station,
		Sealed: c.KitList.Sealed}
	p.Incident = f.field("incident", message.M("Incident number")).Need().
		WithHint(message.M("Never about a patient"))
	p.Bags = []UseBag{useBag(c, f, "")}
	for _, other := range bags[1:] {
		p.Aboard = append(p.Aboard, useBag(other, f, other.Bag.Code))
	}
	if err := s.addNext(v, f, p, next[len(p.Aboard):]); err != nil {
		return err
	}
	p.HappenedAt, p.Paper = f.happenedField(c.Station), v.onPaper()
	p.SealSet = f.field("seal_set", message.M("New seal number"))
	p.Signing = f.signing(anyControlled(c.Items) ||
		slices.ContainsFunc(p.Bags, func(b UseBag) bool { return b.Controlled })).alone()
	p.Note = f.area("note", message.M("Note"))
	position := f.id("position")
	if f.values.Get("position") == "" {
		position = v.seenPosition(c.Bag)
	}
	p.Form.Position = position
	return s.renderForm(v, f, p, failed)
}

// aboardShown is how many other bags on the vehicle come with the form, so that
// taking from one of them needs no second page, and no signal.
const aboardShown = 3

// addNext adds the bags that are not shown yet, which things may have been taken from instead.
func (s *server) addNext(v *visit, f *form, p *usePage, next []NextBag) error {
	asked := inventory.NormalCode(f.text("other"))
	p.Next = slices.DeleteFunc(next, func(b NextBag) bool { return b.Code == asked })
	p.Other = f.field("other", message.M("Bag code"))
	if asked == "" || slices.ContainsFunc(p.Aboard, func(b UseBag) bool { return b.Code == asked }) {
		return nil
	}
	return s.addOther(v, f, p, asked)
}

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
		f.wrong("other", message.M("not found at your stations"))
		p.Other = f.field("other", p.Other.Label)
		return nil
	}
	return err
}

// useBag lists what lies in a bag, pouch by pouch: a lot that lies in two pouches can be taken from either.
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
				x := useFields(c, f, row, l)
				pouch.Lots, out.Controlled = append(pouch.Lots, x), out.Controlled || x.Controlled
			}
		}
		if len(pouch.Lots) > 0 {
			out.Pouches = append(out.Pouches, pouch)
		}
	}
	return out
}

func useFields(c inventory.Checklist, f *form, row string, l LotView) UseFields {
	it := c.Items[l.Item]
	x := UseFields{LotView: l, Controlled: it.Controlled}
	x.Qty = f.numberField(row+".qty", message.M("Used: {1}, {2}", l.Name, l.Label))
	if x.Controlled {
		x.Given, x.Wasted = f.parts(row, it.Content)
	}
	return x
}

// parts are the fields for what was given and wasted of units with a content; without one nothing is asked.
func (f *form) parts(row string, of amount.Content) (given, wasted Field) {
	if of.None() {
		return given, wasted
	}
	given = f.field(row+".given", message.M("Given ({1})", of.Unit))
	wasted = f.field(row+".wasted", message.M("Wasted ({1})", of.Unit))
	given.Mode, wasted.Mode = "decimal", "decimal"
	return given, wasted
}
