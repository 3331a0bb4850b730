package web

import (
	"cmp"
	"context"
	"net/url"
	"slices"
	"strings"

	"stowkeeper/inventory"
	"stowkeeper/inventory/ledger"
	"stowkeeper/inventory/message"
	"stowkeeper/inventory/stock"
)

type classPage struct {
	Base
	Stations          []NavLink
	Station           inventory.Station
	Class, HappenedAt Field
	Devices           []ClassFields
	UsedUp            []AwayFields
	Done              *Done
}

// ClassFields is a training device with the field for its applications.
type ClassFields struct {
	stock.DeviceSummary
	Cycles message.Message // so far, against the maximum
	Place  string
	Count  Field
}

const cyclePrefix = "cycles."

func cycleField(lot int64) string { return cyclePrefix + formatID(lot) }

// recordClass records a class's applications of several training devices and
// what it used up: all of it or, where something is refused, nothing.
func (s *server) recordClass(v *visit, f *form) error {
	station, err := v.stationAsked()
	if err != nil {
		return err
	}
	uses, usedUp := readClass(f), readUsedUp(f)
	at := f.localTime("happened_at", station)
	if len(uses)+len(usedUp) == 0 && f.ok() {
		f.wrong("cycles", message.M("enter at least one quantity"))
	}
	refused, rows := "", []string(nil)
	f.names = func(path string) string {
		if i, _, ok := indexed(path, "lines"); ok && i < len(rows) {
			return rows[i] + ".qty"
		}
		if path == "cycles" {
			return refused
		}
		return path
	}
	err = s.record(v, f, func(ctx context.Context, by inventory.Actor, _ string) (string, error) {
		for _, c := range usedUp {
			rows = c.rows
			if _, err := s.svc.Ledger.RecordClass(ctx, by, ledger.Class{Place: c.place, Class: f.text("class"),
				HappenedAt: at, Lines: c.lines}); err != nil {
				return "", err
			}
		}
		for _, u := range uses {
			u.HappenedAt, u.Class = at, f.text("class")
			refused = cycleField(u.LotID)
			if _, err := s.svc.Ledger.Train(ctx, by, u.LotID, u); err != nil {
				return "", err
			}
		}
		if len(uses) == 0 {
			return "/classes?" + url.Values{"station": {station.Code}, "done": {"usedup"}}.Encode(), nil
		}
		return "/devices?" + url.Values{"station": {station.Code}, "done": {"class-" + formatID(uses[0].LotID)}}.Encode(),
			nil
	})
	if inventory.KindOf(err) == inventory.Conflict && refused != "" && len(inventory.FieldsOf(err)) == 0 {
		f.wrong(refused, message.M("this device was rejected: nothing was recorded"))
	}
	return err
}

// readClass reads the devices with a number of applications.
func readClass(f *form) []inventory.TrainingUse {
	var names []string
	for name := range f.values {
		if strings.HasPrefix(name, cyclePrefix) && f.text(name) != "" && f.text(name) != "0" {
			names = append(names, name)
		}
	}
	slices.Sort(names)
	var out []inventory.TrainingUse
	for _, name := range names {
		n := f.number(name)
		out = append(out, inventory.TrainingUse{LotID: idOf(strings.TrimPrefix(name, cyclePrefix)), Cycles: n})
	}
	return out
}

func (s *server) classForm(v *visit, f *form, failed error) error {
	station, err := v.stationAsked()
	if err != nil {
		return err
	}
	found, err := s.svc.Stock.TrainingDevices(v.ctx(), v.actor, station.Code)
	if err != nil {
		return err
	}
	places := v.places()
	p := &classPage{Base: Base{Title: message.M("Record class"), Caution: true}, Station: station,
		Stations: v.stationLinks("/classes", station.Code)}
	p.Class = f.field("class", message.M("Class"))
	p.HappenedAt = f.happenedField(station)
	for _, d := range found {
		x := ClassFields{DeviceSummary: d, Cycles: cyclesText(d), Place: placeName(places, d.Where[0].Place)}
		x.Count = f.numberField(cycleField(d.ID), message.M("Applications of {1}, serial {2}", d.Name, d.Serial))
		p.Devices = append(p.Devices, x)
	}
	if p.UsedUp, err = s.usedUpFields(v, f, station, places); err != nil {
		return err
	}
	if kind, _ := doneParam(v); kind == "usedup" && failed == nil {
		p.Done = &Done{Title: message.M("Class recorded"), Text: message.M("Units used up are not counted as waste.")}
	}
	return s.renderForm(v, f, p, failed)
}

// doneClass tells which class was recorded a moment ago, by one of its devices.
func (s *server) doneClass(v *visit, stations []inventory.Station) (*Done, error) {
	kind, id := doneParam(v)
	if kind != "class" {
		return nil, nil
	}
	d, err := s.svc.Stock.Device(v.ctx(), v.actor, id)
	if err != nil || len(d.TrainingUses) == 0 {
		if inventory.KindOf(err) == inventory.NotFound {
			err = nil
		}
		return nil, err
	}
	// recorded last
	t := slices.MaxFunc(d.TrainingUses, func(a, b inventory.TrainingUse) int { return cmp.Compare(a.ID, b.ID) })
	title := message.M("Class recorded")
	if t.Class != "" {
		title = message.M("Class {1} recorded", t.Class)
	}
	at := whenAt(t.RecordedAt, v.station(s.placeOf(v, d.Where).Station))
	return &Done{Title: title, Text: message.M("{1}, by {2}.", at.Text(), t.By)}, nil
}
