package web

import (
	"cmp"
	"slices"
	"strconv"

	"stowkeeper/inventory"
	"stowkeeper/inventory/stock"
)

type devicePage struct {
	Base
	stock.DeviceStory
	At      []AtRow
	Station inventory.Station
	Today   inventory.Day
	Printed string
	Clocks  []string
	Cycles  string // applications in training against the maximum
	Looked  []InspectionView
	Lines   []StoryView // newest first
	Told    []NoticeLink
	Done    *Done
	Form    Form

	Older        []StoryView      // what the story tells before Lines
	LookedBefore []InspectionView // inspections before Looked
	Cause        Field            // why it is disposed of
	To           Field            // where a device that passed goes on to

	Apart                             bool // it is set apart, or away
	Kept                              bool // it is in the service, at one of the person's stations
	MayInspect, MayTrain, MayTakeAway bool
	Correct                           string // the way to correct what was mistyped
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

// NoticeLink is a notice that means something, with the way there for who may
// look.
type NoticeLink struct {
	inventory.Notice
	Word string
	Href string
}

// showDevice tells everything that ever happened to a device.
func (s *server) showDevice(v *visit) error {
	return s.deviceForm(v, openForm(nil), nil)
}

// deviceForm shows a device with the forms that send it on.
func (s *server) deviceForm(v *visit, f *form, failed error) error {
	p, err := s.devicePage(v, f)
	if err != nil {
		return err
	}
	p.Form = f.state(failed, f.keyOr(newKey), 0)
	kind, id := doneParam(v)
	p.Done = s.doneDevice(v, p, kind, id)
	return s.render(v, statusOf(failed), p)
}

// device reads the device that the address names.
func (s *server) device(v *visit) (stock.DeviceStory, error) {
	d, err := s.svc.Stock.Device(v.ctx(), v.actor, paramID(v, "lot"))
	if err != nil && inventory.KindOf(err) == inventory.NotFound {
		return d, inventory.Errorf(inventory.NotFound, "no such device")
	}
	return d, err
}

func (s *server) devicePage(v *visit, f *form) (*devicePage, error) {
	d, err := s.device(v)
	if err != nil {
		return nil, err
	}
	p := &devicePage{Base: Base{Title: d.Name + ", serial " + d.Serial, Caution: true}, DeviceStory: d,
		Cycles: cyclesText(d.DeviceSummary), MaySee: v.may(inventory.ActHistory), MayInspect: v.may(inventory.ActCheck)}
	if d.EndPrinted != "" {
		p.Printed = wordingWords[d.EndWording] + " " + d.EndPrinted
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
	}
	p.MayTrain = p.MayTakeAway && stock.MayGoToTraining(d.Item, d.Lot, here)
	p.Apart = here.Kind == inventory.KindQuarantine || here.Kind == inventory.KindAway
	p.MayTrain = p.MayTrain && !p.Apart // it is inspected first
	p.To = f.choice("to", "Put it into", releaseOptions(v.places(), here)).Need()
	p.Cause = f.choice("cause", "Why it is disposed of", causeOptions).Need()
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

// addStory words the story, newest first, and the inspections.
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

// cyclesText counts applications in training against the maximum.
func cyclesText(d stock.DeviceSummary) string {
	switch {
	case d.Life.TrainingCycles > 0:
		return strconv.Itoa(d.Cycles) + " of " + count(d.Life.TrainingCycles, "application") + " in training"
	case d.Cycles > 0:
		return count(d.Cycles, "application") + " in training, without a maximum"
	}
	return ""
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
		d := &Done{Title: "Inspection recorded: passed", Text: "It stands: " + p.Standing + "."}
		if p.InspectionDue != 0 {
			d.Text += " The next inspection is due by " + dayText(p.InspectionDue) + "."
		}
		return d
	}
	d := &Done{Title: "Inspection recorded: failed", ToReview: true}
	d.Text = sentence("it " + inventory.FailedText(p.Item, x.Points))
	for _, w := range p.Where {
		d.Text += " It is recorded in " + cmp.Or(nameAt(p.At, w.Place), w.Place) + " now: put it there."
	}
	if b, err := s.svc.Lists.Bag(v.ctx(), v.actor, x.Place); err == nil {
		d.Text += " " + b.Code + " must not go out until a quartermaster has looked into it."
	}
	return d
}
