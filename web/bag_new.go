package web

import (
	"context"
	"net/url"
	"strconv"

	"stowkeeper/inventory"
	"stowkeeper/inventory/message"
)

type bagNewPage struct {
	Base
	Code, Name, Station, KitList, Vehicle, Priority Field
	Training                                        bool
	Back                                            NavLink
}

// bagNewForm makes a bag on a kit list: what the address says of a list, or of a bag to copy, is filled in.
func (s *server) bagNewForm(v *visit, f *form, failed error) error {
	if len(f.values) == 0 {
		f.values = url.Values{"station": {v.ownStation().Code}, "kit_list": {v.Query("kit_list")}, "priority": {"5"}}
		if code := v.Query("copy"); code != "" {
			b, err := s.svc.Lists.Bag(v.ctx(), v.actor, inventory.NormalCode(code))
			if err != nil {
				return noSuchBag(err)
			}
			f.values = url.Values{"station": {b.Station}, "kit_list": {b.KitList}, "priority": {strconv.Itoa(b.Priority)},
				"name": {b.Name}, "vehicle": {b.Vehicle}, "training": {yes(b.Purpose == inventory.ForTraining)}}
		}
	}
	p := &bagNewPage{Base: Base{Title: message.M("New bag")}, Training: f.text("training") != "",
		Back: NavLink{Href: "/board", Text: message.M("Bags")}}
	if list, bag := v.Query("kit_list"), v.Query("copy"); list != "" {
		p.Back = NavLink{Href: "/kit-lists/" + url.PathEscape(list), Text: message.Plain(list)}
	} else if bag != "" {
		p.Back = NavLink{Href: bagPath(bag), Text: message.Plain(bag)}
	}
	p.Code, p.Name = f.field("code", message.M("Code")).Need(), f.field("name", message.M("Name")).Need()
	p.Station = v.stationField(f, "station", message.M("Station")).Need()
	var options []Option
	for _, k := range v.kitLists() {
		options = append(options, Option{Value: k.Code, Text: message.Plain(k.Name)})
	}
	p.KitList = f.choice("kit_list", message.M("Kit list"), options).Need()
	p.Vehicle = f.field("vehicle", message.M("Vehicle"))
	p.Priority = f.numberField("priority", message.M("Priority")).Need().WithHint(message.M("1 first, 9 last"))
	return s.renderForm(v, f, p, failed)
}

func (s *server) createBag(v *visit, f *form) error {
	in := inventory.Bag{Code: inventory.NormalCode(f.text("code")), Name: f.text("name"), Station: f.text("station"),
		KitList: f.text("kit_list"), Vehicle: f.text("vehicle"), Priority: f.number("priority"),
		Purpose: inventory.ForIssue}
	if f.text("training") != "" {
		in.Purpose = inventory.ForTraining
	}
	return s.record(v, f, func(ctx context.Context, by inventory.Actor, _ string) (string, error) {
		made, err := s.svc.Lists.CreateBag(ctx, by, in)
		return bagPath(made.Code), err
	})
}
