package web

import (
	"cmp"
	"context"
	"strconv"

	"stowkeeper/inventory"
	"stowkeeper/inventory/message"
)

type fullCheckPage struct {
	Base
	Bag                               inventory.Bag
	Station                           inventory.Station
	Sealed                            bool
	Pouches                           []CountPouch
	Inspect                           []InspectFields // devices whose inspection is due
	Found                             []FoundFields
	More                              bool // the block of found things is open
	Incident, SealSeen, SealSet, Note Field
	HappenedAt                        Field // of one that was made on paper
	Signing                           *SigningFields
	Modules                           []ModuleView // each checked by its own label
	OutOfService                      bool         // the bag was taken off, and this check may put it back
	Returns                           bool         // it shall
	Partial                           Field        // says how many lines were not counted, where it was sent without them
}

// CountPouch is a pouch of the form.
type CountPouch struct {
	Name message.Message
	Rows []CountFields
	Act  bool // a line of it needs somebody
}

// CountFields is a line of the list with the fields to count its lots.
type CountFields struct {
	Name      string
	Asked     message.Message
	Elsewhere bool // nothing to count here
	Lots      []LotFields
}

// LotFields is one lot to be counted.
type LotFields struct {
	LotView
	Row             string // prefix of its fields' names
	Expected        string
	Counted, Reason Field
	Seen            Field // ticked when it was looked at
	Open            bool  // the reason is shown
}

var countReasonOptions = optionsOf([]inventory.CountReason{inventory.CountUsed, inventory.CountMissing,
	inventory.CountDamaged, inventory.CountExpired, inventory.CountFound}, countReasonWords)

var countReasonWords = map[inventory.CountReason]message.Message{
	inventory.CountUsed:    message.M("used"),
	inventory.CountMissing: message.M("missing"),
	inventory.CountDamaged: message.M("damaged"),
	inventory.CountExpired: message.M("expired"),
	inventory.CountFound:   message.M("found"),
}

func (s *server) recordFullCheck(v *visit, f *form) error {
	if f.text("more") != "" {
		return s.fullCheckForm(v, f, nil)
	}
	station, err := s.stationOfBag(v)
	if err != nil {
		return err
	}
	counts, left := readTicked(f)
	in := inventory.Check{Bag: v.Param("code"), Kind: inventory.FullCheck, SeenPosition: f.id("position"),
		HappenedAt: cmp.Or(f.localTime("happened_at", station), v.madeAt()), SealSeen: f.text("seal_seen"),
		SealSet: f.text("seal_set"), Note: f.text("note"),
		Lines: counts.lines, NotCounted: left, By: v.saidBy(), ReturnToService: f.text("return_to_service") != ""}
	var foundAt []int
	in.Found, foundAt = readFound(f)
	if in.Inspections, err = s.readInspections(v, f); err != nil {
		return err
	}
	f.names = func(path string) string { return foundName(counts.name(path), foundAt) }
	return s.record(v, f, func(ctx context.Context, by inventory.Actor, key string) (string, error) {
		x, err := s.svc.Shift.RecordCheck(ctx, by, in, key)
		return doneAt(x.Bag, "check", x.ID), err
	})
}

// fullCheckForm shows the form with what should be in the bag now, and with what was typed, if anything was.
func (s *server) fullCheckForm(v *visit, f *form, failed error) error {
	c, err := s.checklist(v)
	if err != nil {
		return err
	}
	if !inService(v, c.Bag) {
		return nil
	}
	p := &fullCheckPage{Base: Base{Title: message.M("Full check of {1}", c.Bag.Code), Caution: true}, Bag: c.Bag,
		Station: c.Station, Sealed: c.KitList.Sealed}
	next := v.nextBags(c.Bag)
	p.Pouches = countPouches(c, f, next)
	if err := s.addLeftover(v, f, p, next); err != nil {
		return err
	}
	if p.Inspect, err = s.inspectFields(v, c, f); err != nil {
		return err
	}
	p.Found = foundFields(f, itemOptions(v.items(), c.KitList), next)
	p.Modules = moduleViews(c, false)
	p.OutOfService, p.Returns = c.Bag.OutOfService != nil, f.text("return_to_service") != ""
	p.More = f.text("more") != "" || anyFilled(p.Found)
	p.Incident = f.field("incident", message.M("Incident number")).WithHint(message.M("Never about a patient"))
	p.SealSeen = f.field("seal_seen", message.M("Seal found")).WithHint(message.M("As read"))
	p.SealSet = f.field("seal_set", message.M("New seal number"))
	if v.onPaper() || f.values.Has("happened_at") {
		p.HappenedAt = f.happenedField(c.Station)
	}
	p.Signing = f.signing(anyControlled(c.Items)).folded()
	p.Note, p.Partial = f.area("note", message.M("Note")), f.field("partial", message.M("Record as partial"))
	position := f.id("position")
	if f.values.Get("position") == "" || inventory.KindOf(failed) == inventory.Stale {
		position = v.seenPosition(c.Bag)
	}
	p.Form.Position = position
	return s.renderForm(v, f, p, failed)
}

// countPouches makes the fields of every lot that should be in the bag. The
// counts are filled in as expected, so that a bag in order needs no typing.
func countPouches(c inventory.Checklist, f *form, next []NextBag) []CountPouch {
	var out []CountPouch
	for _, pv := range actFirst(contentsOf(c)) {
		pouch := CountPouch{Name: pv.Name}
		for _, line := range pv.Lines {
			row := CountFields{Name: line.Name, Asked: askedFor(line), Elsewhere: line.CarriedElsewhere != ""}
			for _, l := range line.Lots {
				row.Lots = append(row.Lots, lotFields(f, rowName(line.Line, l.LotID), l, next))
			}
			pouch.Act = pouch.Act || line.Act
			pouch.Rows = append(pouch.Rows, row)
		}
		out = append(out, pouch)
	}
	return out
}

// addLeftover adds rows that were counted and that the bag no longer shows,
// since it changed meanwhile, so that what was counted is not lost.
func (s *server) addLeftover(v *visit, f *form, p *fullCheckPage, next []NextBag) error {
	shown := map[string]bool{}
	for _, pouch := range p.Pouches {
		for _, row := range pouch.Rows {
			for _, l := range row.Lots {
				shown[l.Row] = true
			}
		}
	}
	left := CountPouch{Name: message.M("No longer in records")}
	for _, row := range rowsWith(f, countPrefix, ".counted") {
		if shown[row] {
			continue
		}
		l, err := s.lotView(v, lotOfRow(row))
		if err != nil {
			return err
		}
		left.Rows = append(left.Rows, CountFields{Name: l.Name, Lots: []LotFields{lotFields(f, row, l, next)}})
	}
	if len(left.Rows) > 0 {
		p.Pouches = append(p.Pouches, left)
	}
	return nil
}

// lotView shows a lot that is not, or no longer, in a bag. One that does not exist shows as its number.
func (s *server) lotView(v *visit, id int64) (LotView, error) {
	l, err := s.svc.Stock.Lot(v.ctx(), v.actor, id)
	if err != nil {
		if inventory.KindOf(err) == inventory.NotFound {
			return LotView{LotOnLine: inventory.LotOnLine{LotID: id}, Label: message.M("batch {1}##a number of ours", id)}, nil
		}
		return LotView{}, err
	}
	on := inventory.LotOnLine{LotID: id, Item: l.Item, BatchNo: l.BatchNo, Serial: l.Serial,
		UsableThrough: l.UsableThrough}
	return LotView{LotOnLine: on, Name: v.itemsByCode()[l.Item].Name, Label: lotLabel(l.BatchNo, l.Serial)}, nil
}

func lotFields(f *form, row string, l LotView, next []NextBag) LotFields {
	x := LotFields{LotView: l, Row: row, Expected: cmp.Or(f.text(row+".expected"), strconv.Itoa(l.Qty))}
	x.Counted = f.numberField(row+".counted", message.M("Count: {1}, {2}", l.Name, l.Label)).Need()
	if !f.values.Has(row + ".counted") {
		x.Counted.Value = x.Expected
	}
	x.Reason = f.choice(row+".reason", message.M("Reason: {1} differs", l.Name), keepChosen(countReasons(next),
		f.values.Get(row+".reason")))
	x.Seen = f.field(seenPrefix+row, message.M("{1}, {2}", l.Name, l.Label))
	x.Open = x.Reason.Value != "" || x.Reason.Fix != nil
	return x
}

func askedFor(l LineView) message.Message {
	switch {
	case l.CarriedElsewhere != "":
		return message.M("carried elsewhere: {1}", l.CarriedElsewhere)
	case l.Line < 0:
		return nil
	case l.PresenceOnly:
		return message.M("must be there")
	}
	return message.M("needs {1}", l.Par)
}
