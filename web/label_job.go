package web

import (
	"cmp"
	"errors"
	"net/url"
	"slices"
	"strconv"
	"strings"

	"stowkeeper/inventory"
	"stowkeeper/inventory/message"
	"stowkeeper/inventory/storeroom"
	"stowkeeper/labels"
	"stowkeeper/labels/labelof"
)

// labelsAsked is what the address of the page of labels, or of what it prints, says.
type labelsAsked struct {
	values url.Values
	ask    storeroom.LabelAsk
	chosen bool // something is to be printed
}

// usualSheet is where people begin: a card needs the room.
func usualSheet(k storeroom.LabelKind) string {
	if k == storeroom.LabelCard {
		return "a4-2x2"
	}
	return "a4-3x7"
}

// labelsAsked reads an address. What it does not say is filled in: bags, on the usual sheet.
func (s *server) labelsAsked(v *visit) labelsAsked {
	a := labelsAsked{values: v.Request.URL.Query()}
	a.ask = storeroom.LabelAsk{Kind: storeroom.LabelKind(a.values.Get("kind")), Place: a.values.Get("place")}
	if !slices.Contains(storeroom.LabelKinds, a.ask.Kind) {
		a.ask.Kind = storeroom.LabelBag
	}
	a.values.Set("kind", string(a.ask.Kind))
	for name, usual := range map[string]string{"sheet": usualSheet(a.ask.Kind), "start": "1"} {
		if a.values.Get(name) == "" {
			a.values.Set(name, usual)
		}
	}
	if station := inventory.NormalCode(a.values.Get("station")); station != "" {
		a.ask.Stations = []string{station}
	}
	named := a.named()
	a.chosen = len(named) > 0
	if a.values.Get("all") != "" {
		a.chosen, named = true, nil
	}
	switch a.ask.Kind {
	case storeroom.LabelShelf:
		a.ask.Items = named
	case storeroom.LabelDevice:
		for _, id := range named {
			n, _ := strconv.ParseInt(id, 10, 64) // 0 is no lot
			a.ask.Devices = append(a.ask.Devices, n)
		}
	default:
		a.ask.Bags = named
	}
	return a
}

var pickNames = map[storeroom.LabelKind]string{
	storeroom.LabelBag: "bag", storeroom.LabelCard: "bag", storeroom.LabelShelf: "item", storeroom.LabelDevice: "device",
}

func (a labelsAsked) named() []string { return a.values[pickNames[a.ask.Kind]] }

// href is an address with what was asked for, and some of it changed.
func (a labelsAsked) href(path string, change ...string) string {
	q := url.Values{}
	for name, values := range a.values {
		q[name] = slices.Clone(values)
	}
	for i := 0; i+1 < len(change); i += 2 {
		q.Set(change[i], change[i+1])
	}
	return path + "?" + q.Encode()
}

// asKind leads to the page for another kind of label, with what is chosen where the same can be.
func (a labelsAsked) asKind(k storeroom.LabelKind) string {
	q := url.Values{"kind": {string(k)}}
	if station := a.values.Get("station"); station != "" && k != storeroom.LabelShelf {
		q.Set("station", station)
	}
	if pickNames[k] == pickNames[a.ask.Kind] {
		for _, name := range []string{pickNames[k], "all"} {
			if chosen := a.values[name]; len(chosen) > 0 {
				q[name] = chosen
			}
		}
	}
	return "/labels?" + q.Encode()
}

type labelJob struct {
	facts   []storeroom.LabelFacts
	labels  []labels.Label
	sheet   labels.Sheet
	opt     labels.Options
	printer string                // station whose offsets are used
	kept    inventory.SheetOffset // and what is remembered of them
}

// labelJob reads what is to be printed. Where something about the sheet is wrong the job still holds what was found.
func (s *server) labelJob(v *visit, a labelsAsked) (labelJob, error) {
	var j labelJob
	var err error
	if a.chosen {
		if j.facts, err = s.svc.Storeroom.Labels(v.ctx(), v.actor, a.ask); err != nil {
			return j, err
		}
	}
	for _, f := range j.facts {
		j.labels = append(j.labels, labelof.Facts(f, s.opt.BaseURL))
	}
	j.printer = printerOf(v, a, j.facts)
	if j.sheet, err = labels.SheetByName(a.values.Get("sheet")); err != nil {
		return j, err
	}
	if j.kept, err = s.svc.Storeroom.SheetOffset(v.ctx(), v.actor, j.printer, j.sheet.Name); err != nil {
		return j, err
	}
	j.opt, err = a.options(j)
	return j, cmp.Or(v.failed, err)
}

// printerOf is the station that prints: the one that the page is about, else
// that of the first label, else the only one that the person has.
func printerOf(v *visit, a labelsAsked, facts []storeroom.LabelFacts) string {
	if len(a.ask.Stations) > 0 {
		return a.ask.Stations[0]
	}
	if len(facts) > 0 {
		return facts[0].Station
	}
	if stations := v.stations(); len(stations) == 1 {
		return stations[0].Code
	}
	return ""
}

// options reads how to print. Offsets that were typed for another sheet, or
// another station's printer, are not meant for this one.
func (a labelsAsked) options(j labelJob) (labels.Options, error) {
	opt := labels.Options{OffsetX: j.kept.X, OffsetY: j.kept.Y, Outline: a.values.Get("outline") != ""}
	var err error
	if opt.Start, err = strconv.Atoi(strings.TrimSpace(a.values.Get("start"))); err != nil {
		return opt, &labels.FieldError{Field: "start", Fix: message.M("enter a whole number")}
	}
	if of := a.values.Get("offsets_of"); of != "" && of != j.offsetsOf() {
		return opt, nil
	}
	for name, mm := range map[string]*float64{"offset_x": &opt.OffsetX, "offset_y": &opt.OffsetY} {
		text := strings.TrimSpace(strings.Replace(a.values.Get(name), ",", ".", 1))
		if text == "" {
			continue
		}
		if *mm, err = strconv.ParseFloat(text, 64); err != nil {
			return opt, &labels.FieldError{Field: name, Fix: message.M("enter -{1} to {1} mm", 5)}
		}
	}
	return opt, nil
}

// offsetsOf says what the offsets on the page belong to.
func (j labelJob) offsetsOf() string { return cmp.Or(j.printer, "-") + "/" + j.sheet.Name }

// labelProblem says in words what keeps labels from being printed as asked, or
// nothing where the error is of another sort.
func labelProblem(err error, facts []storeroom.LabelFacts) message.Message {
	of := func(label int, text message.Message) message.Message {
		if label > 0 && label <= len(facts) {
			text = message.M("{1}: {2}", labelName(facts[label-1]), text)
		}
		return text
	}
	var field *labels.FieldError
	var no *labels.RefusedError
	var e *inventory.Error
	switch {
	case errors.As(err, &field) && field.Label > 0:
		return of(field.Label, field.Fix)
	case errors.As(err, &field):
		if words := optionWords[field.Field]; words != nil {
			return message.M("{1}: {2}", words, field.Fix)
		}
		return field.Fix
	case errors.As(err, &no):
		return of(no.Label, message.Join("; ", no.Reason, no.Nearest))
	case errors.As(err, &e) && e.Kind == inventory.Invalid:
		if len(e.Fields) == 0 {
			return e.Message
		}
		return e.Fields[0].Fix
	}
	return nil
}

var optionWords = map[string]message.Message{"sheet": message.M("Sheet"), "start": message.M("First free label"),
	"offset_x": message.M("Move right"), "offset_y": message.M("Move down")}

func labelName(f storeroom.LabelFacts) string {
	if f.Kind == storeroom.LabelDevice {
		return "serial " + f.Serial
	}
	return f.Code
}
