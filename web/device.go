package web

import (
	"cmp"
	"slices"

	"stowkeeper/inventory"
	"stowkeeper/inventory/ledger"
	"stowkeeper/inventory/message"
	"stowkeeper/inventory/stock"
)

type devicePage struct {
	Base
	stock.DeviceStory
	At      []AtRow
	Station inventory.Station
	Today   inventory.Day
	Printed message.Message
	Clocks  []message.Message
	Cycles  message.Message // applications in training against the maximum
	Looked  []InspectionView
	Lines   []StoryView // newest first
	Told    []NoticeLink
	Done    *Done

	Older        []StoryView      // what the story tells before Lines
	LookedBefore []InspectionView // inspections before Looked
	Cause        Field            // why it is disposed of
	To           Field            // where a device that passed goes on to
	Reference    Field            // of its return to the supplier, where it may go there from here

	Apart                             bool // it is set apart, or away
	Kept                              bool // it is in the service, at one of the person's stations
	MayInspect, MayTrain, MayTakeAway bool
	Correct                           string // the way to correct what was mistyped
	Receipt                           string // the way to say that it was never received
	Print                             string // leads to its label, for who may print it
	MaySee                            bool   // movements and classes are shown to this person
}

// StoryView is one thing that happened to a device.
type StoryView struct {
	stock.StoryLine
	When When
}

// InspectionView is an inspection in words.
type InspectionView struct {
	inventory.Inspection
	When When
}

// NoticeLink is a notice that means something, with the way there for who may look.
type NoticeLink struct {
	inventory.Notice
	Word message.Message
	Href string
}

// deviceForm tells everything that ever happened to a device, with the forms that send it on.
func (s *server) deviceForm(v *visit, f *form, failed error) error {
	p, err := s.devicePage(v, f)
	if err != nil {
		return err
	}
	kind, id := doneParam(v)
	p.Done = s.doneDevice(v, p, kind, id)
	return s.renderForm(v, f, p, failed)
}

func (s *server) device(v *visit) (stock.DeviceStory, error) {
	d, err := s.svc.Stock.Device(v.ctx(), v.actor, paramID(v, "lot"))
	return d, notFound(err)
}

func (s *server) devicePage(v *visit, f *form) (*devicePage, error) {
	d, err := s.device(v)
	if err != nil {
		return nil, err
	}
	p := &devicePage{Base: Base{Title: message.M("{1}, serial {2}", d.Name, d.Serial), Caution: true}, DeviceStory: d,
		Cycles: cyclesText(d.DeviceSummary), MaySee: v.may(inventory.ActHistory), MayInspect: v.may(inventory.ActCheck)}
	if d.EndPrinted != "" {
		p.Printed = printedWords(d.EndWording, d.EndPrinted)
	}
	p.At = atRows(v, d.Where)
	p.Kept = len(d.Where) > 0
	here := s.placeOf(v, d.Where)
	p.Station = v.station(here.Station)
	p.Today = p.Station.Today(v.now)
	p.Clocks = clockTexts(d.Lot, p.Today)
	if p.Kept && v.may(inventory.ActLabel) {
		p.Print = "/labels?kind=device&device=" + formatID(d.LotSummary.ID)
	}
	p.MayTakeAway = p.Kept && v.may(inventory.ActKeepStock)
	if v.may(inventory.ActKeepStock) {
		p.Correct = correctPath(d.ID)
		for _, m := range d.History {
			if p.Kept && ledger.MayCorrectReceipt(m, d.History) == nil && m.To == here.Code {
				p.Receipt = receiptPath(m.LotID, m.ID)
			}
		}
	}
	p.MayTrain = p.MayTakeAway && stock.MayGoToTraining(d.Item, d.Lot, here)
	p.Apart = here.Kind == inventory.KindQuarantine || here.Kind == inventory.KindAway
	p.MayTrain = p.MayTrain && !p.Apart // it is inspected first
	p.To = f.choice("to", message.M("Return to"), releaseOptions(v.places(), here)).Need()
	p.Cause = f.choice("cause", message.M("Reason"), causeOptions).Need()
	if inventory.Allowed(here, inventory.OutsidePlace(inventory.KindSupplier), inventory.ReasonToSupplier, "") == nil {
		p.Reference = f.field("reference", message.M("Credit or return note number")).Need()
	}
	p.addStory()
	p.Told = noticeLinks(v, d.Notices)
	return p, nil
}

// latest is how many lines of a device's story, and how many of its
// inspections, stand open; what is older can be opened.
const (
	latestLines  = 8
	latestLooked = 2
)

func (p *devicePage) addStory() {
	for _, x := range slices.Backward(p.Story) {
		p.Lines = append(p.Lines, StoryView{x, whenAt(x.HappenedAt, p.Station)})
	}
	if n := len(p.Lines); n > latestLines+2 {
		p.Lines, p.Older = p.Lines[:latestLines], p.Lines[latestLines:]
	}
	for _, x := range p.Inspections {
		p.Looked = append(p.Looked, InspectionView{x, whenAt(x.HappenedAt, p.Station)})
	}
	if n := len(p.Looked); n > latestLooked+1 {
		p.Looked, p.LookedBefore = p.Looked[:latestLooked], p.Looked[latestLooked:]
	}
}

func cyclesText(d stock.DeviceSummary) message.Message {
	switch {
	case d.Life.TrainingCycles > 0:
		return message.M("{1} of {2} {2|application|applications} in training", d.Cycles, d.Life.TrainingCycles)
	case d.Cycles > 0:
		return message.M("{1} {1|application|applications} in training", d.Cycles)
	}
	return nil
}

func noticeLinks(v *visit, notices []inventory.Notice) []NoticeLink {
	var out []NoticeLink
	for _, n := range notices {
		l := NoticeLink{Notice: n, Word: noticeWord(n)}
		if v.may(inventory.ActHistory) {
			l.Href = noticePath(n.ID)
		}
		out = append(out, l)
	}
	return out
}

// doneDevice says what became of an inspection that was recorded a moment ago.
func (s *server) doneDevice(v *visit, p *devicePage, kind string, id int64) *Done {
	i := slices.IndexFunc(p.Inspections, func(x inventory.Inspection) bool { return x.ID == id })
	if kind != "inspection" || i < 0 {
		return nil
	}
	x := p.Inspections[i]
	if x.Passed {
		d := &Done{Title: message.M("Inspection passed"), Text: p.Standing}
		if p.InspectionDue != 0 {
			d.Text = message.M("{1}. Next inspection by {2}.", p.Standing, p.InspectionDue)
		}
		return d
	}
	d := &Done{Title: message.M("Inspection failed"), ToReview: true}
	d.Text = message.M("{1}.", inventory.FailedText(p.Item, x.Points))
	for _, w := range p.Where {
		d.Text = message.Join(" ", d.Text, message.M("Put it into {1}.", cmp.Or(nameAt(p.At, w.Place), w.Place)))
	}
	if b, err := s.svc.Lists.Bag(v.ctx(), v.actor, x.Place); err == nil {
		d.Text = message.Join(" ", d.Text, message.M("{1}: do not use until a quartermaster has reviewed it.", b.Code))
	}
	return d
}
