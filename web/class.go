package web

import (
	"cmp"
	"context"
	"net/url"
	"slices"
	"strings"

	"stowkeeper/inventory"
	"stowkeeper/inventory/ledger"
	"stowkeeper/inventory/stock"
)

type classPage struct {
	Base
	Stations   []StationLink
	Station    inventory.Station
	Form       Form
	Class      Field
	HappenedAt Field
	Devices    []ClassFields
	UsedUp     []UsedUpFields
	Done       *Done
}

// ClassFields is a training device with the field for its applications.
type ClassFields struct {
	stock.DeviceSummary
	Cycles string // so far, against the maximum
	Place  string
	Count  Field
}

const cyclePrefix = "cycles."

func cycleField(lot int64) string { return cyclePrefix + formatID(lot) }

func (s *server) showClass(v *visit) error { return s.classForm(v, openForm(nil), nil) }

// recordClass records a class's applications of several training devices and
// what it used up: all of it or, where something is refused, nothing.
func (s *server) recordClass(v *visit) error {
	station, err := v.stationAsked()
	if err != nil {
		return err
	}
	f := openForm(v.Request.PostForm)
	uses, usedUp := readClass(f), readUsedUp(f)
	at := f.localTime("happened_at", station)
	if len(uses)+len(usedUp) == 0 && f.ok() {
		f.wrong("cycles", "count the applications of at least one device, or what was used up")
	}
	refused, rows := "", []string(nil)
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
	if fixable(err) {
		f.take(err, func(path string) string {
			if i, _, ok := indexed(path, "lines"); ok && i < len(rows) {
				return rows[i] + ".qty"
			}
			if path == "cycles" {
				return refused
			}
			return path
		})
		if inventory.KindOf(err) == inventory.Conflict && refused != "" {
			f.wrong(refused, "this device was refused, so nothing of the class was recorded")
		}
		return s.classForm(v, f, err)
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
	p := &classPage{Base: Base{Title: "Record a class", Caution: true}, Station: station,
		Stations: v.stationLinks("/classes", station.Code)}
	p.Class = f.field("class", "Name or number of the class")
	p.HappenedAt = f.happenedField(station)
	for _, d := range found {
		x := ClassFields{DeviceSummary: d, Cycles: cyclesText(d), Place: placeName(places, d.Where[0].Place)}
		x.Count = f.numberField(cycleField(d.ID), "Applications of "+d.Name+", serial "+d.Serial)
		p.Devices = append(p.Devices, x)
	}
	if p.UsedUp, err = s.usedUpFields(v, f, station, places); err != nil {
		return err
	}
	if kind, _ := doneParam(v); kind == "usedup" && failed == nil {
		p.Done = &Done{Title: "Class recorded",
			Text: "What it used up has left the training stock, and is not counted as waste."}
	}
	p.Form = f.state(failed, f.keyOr(newKey), 0)
	return s.render(v, statusOf(failed), p)
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
	title := "Class recorded"
	if t.Class != "" {
		title = "Class " + t.Class + " recorded"
	}
	at := whenAt(t.RecordedAt, v.station(s.placeOf(v, d.Where).Station))
	return &Done{Title: title, Text: at.Text + ", by " + t.By + "."}, nil
}
