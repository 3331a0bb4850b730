package web

import (
	"net/http"
	"slices"

	"stowkeeper/inventory"
	"stowkeeper/inventory/ledger"
	"stowkeeper/inventory/message"
	"stowkeeper/inventory/stock"
)

type lotPage struct {
	Base
	stock.LotStory
	Item    inventory.Item
	Label   message.Message
	Printed message.Message // the date as printed with its words
	Clocks  []message.Message
	At      []AtRow
	Others  LotTable
	Moves   []MoveRow
	Used    []UsedRow
	Told    []NoticeLink // the notices that withdraw it, for who reads them
	Done    *Done
	MaySee  bool      // the movements are shown to this person
	Correct string    // the way to correct what was mistyped
	Wrong   []StepRow // what was, and is right since

	Back   string
	BackTo message.Message // the item, or for crew the place where it lies
}

// AtRow is a quantity in a place, with the way there for who may look.
type AtRow struct {
	stock.AtPlace
	Href       string
	Name       string // its name, where it is one of the person's places
	Open       string // the way to open units there
	Training   string // the way to give them to training
	Quarantine string // the way to move, return or dispose of them
}

// MoveRow is one movement in words.
type MoveRow struct {
	At                               When
	Text                             message.Message
	By, Extra                        string
	LotID, IntoLot, Number, Corrects int64
	Correct                          string // the way to correct a receipt
}

// showLot tells a lot's story: where it is, until when it counts and why, and what happened to it.
func (s *server) showLot(v *visit) error {
	l, err := s.svc.Stock.Lot(v.ctx(), v.actor, paramID(v, "id"))
	if err != nil {
		return notFound(err)
	}
	if l.Device() { // a device has one page, whichever of its lots is asked for
		return v.to(devicePath(l.ID))
	}
	items := v.itemsByCode()
	it := items[l.Item]
	p := &lotPage{LotStory: l, Item: it, Label: lotLabel(l.BatchNo, l.Serial), MaySee: v.may(inventory.ActHistory),
		Others: LotTable{Where: true, One: true}}
	p.Base = Base{Title: message.M("{1}, {2}", it.Name, p.Label),
		Caution: l.Device() || it.Category.Medicinal() || len(l.Withdrawn) > 0}
	if l.EndPrinted != "" {
		p.Printed = printedWords(l.EndWording, l.EndPrinted)
	}
	p.At = atRows(v, l.Where)
	s.addLotActions(v, p)
	p.Back, p.BackTo = "/board", message.M("Bags")
	if len(p.At) == 1 && p.At[0].Href != "" {
		p.Back, p.BackTo = p.At[0].Href, message.Plain(p.At[0].Name)
	}
	if p.MaySee {
		p.Back, p.BackTo = itemPath(it.Code), message.Plain(it.Name)
	}
	for _, u := range l.Incidents {
		p.Used = append(p.Used, usedRow(u, v.station(s.placeAt(v, u.Bag).Station)))
	}
	if v.may(inventory.ActKeepStock) && l.BatchNo != "" {
		p.Correct = correctPath(l.ID)
	}
	p.Wrong = correctionRows(l.Corrections, v.ownStation())
	p.Done = doneLot(v, p)
	if len(l.Withdrawn) > 0 && p.MaySee {
		if p.Told, err = s.noticesOn(v, l.Lot); err != nil {
			return err
		}
	}
	for _, o := range l.SameBatch {
		p.Others.Rows = append(p.Others.Rows, lotRow(o, items))
	}
	for _, m := range l.History {
		row := moveRow(m, v.station(m.Station))
		if v.may(inventory.ActKeepStock) && ledger.MayCorrectReceipt(m, l.History) == nil {
			row.Correct = receiptPath(l.ID, m.ID)
		}
		p.Moves = append(p.Moves, row)
	}
	return s.render(v, http.StatusOK, p)
}

func atRows(v *visit, where []stock.AtPlace) []AtRow {
	out := make([]AtRow, 0, len(where))
	for _, w := range where {
		row := AtRow{AtPlace: w}
		for _, p := range v.places() {
			if p.Code != w.Place {
				continue
			}
			row.Name = p.Name
			row.Href = placePath(p)
		}
		out = append(out, row)
	}
	return out
}

// addLotActions adds what may be done with the units where they lie, and how their clocks stand there.
func (s *server) addLotActions(v *visit, p *lotPage) {
	p.Clocks = clockTexts(p.Lot, v.station(s.placeOf(v, p.Where).Station).Today(v.now))
	for i := range p.At {
		at := &p.At[i]
		here := s.placeAt(v, at.Place)
		if here.Code == "" {
			continue
		}
		if v.may(inventory.ActCheck) && stock.MayOpen(p.Item, p.Lot) {
			at.Open = openPath(p.ID, here.Code)
		}
		if v.may(inventory.ActKeepStock) && stock.MayBeMoved(here) {
			at.Quarantine = quarantinePath(p.ID, here.Code)
		}
		if v.may(inventory.ActKeepStock) && stock.MayGoToTraining(p.Item, p.Lot, here) {
			at.Training = toTrainingPath(p.ID, here.Code)
		}
	}
}

func (s *server) noticesOn(v *visit, l inventory.Lot) ([]NoticeLink, error) {
	all, err := s.svc.Notice.Notices(v.ctx(), v.actor, inventory.NoticesOn(l.Batch), inventory.Page{})
	var mean []inventory.Notice
	for _, n := range all {
		if n.Binds(l.Batch) {
			mean = append(mean, n.Notice)
		}
	}
	return noticeLinks(v, mean), err
}

// doneLot says what became of a lot a moment ago.
func doneLot(v *visit, p *lotPage) *Done {
	kind, id := doneParam(v)
	moved := slices.ContainsFunc(p.History, func(m inventory.Movement) bool { return m.ID == id && m.IntoLotID == p.ID })
	switch {
	case kind == "training" && moved && p.Training:
		return &Done{Title: message.M("Given to training"), Text: message.M("Mark the units for training now.")}
	case kind == "received" && moved:
		return &Done{Title: message.M("Corrected"), Text: message.M("Old values are kept below.")}
	case kind == "corrected" && len(p.Corrections) > 0:
		return &Done{Title: message.M("Corrected"), Text: message.M("Old values are kept below.")}
	case kind == "identified" && id == p.ID:
		return &Done{Title: message.M("Identified"), Text: message.M("The units stay in quarantine until returned.")}
	case kind == "apart" && id == p.ID:
		return &Done{Title: message.M("Recorded"), Text: message.M("See the location below.")}
	case kind == "opened" && id == p.ID && p.OpenedOn != 0:
		return &Done{Title: message.M("Recorded as opened"), Text: message.M("Unopened units are unchanged.")}
	}
	return nil
}

func clockTexts(l inventory.Lot, today inventory.Day) []message.Message {
	var out []message.Message
	add := func(d inventory.Day, m message.Message) {
		if d != 0 {
			out = append(out, m)
		}
	}
	add(l.MadeOn, message.M("made {1}", l.MadeOn))
	add(l.ReceivedOn, message.M("received {1}", l.ReceivedOn))
	add(l.StowedOn, message.M("first in a bag {1}", l.StowedOn))
	add(l.OpenedOn, message.M("opened {1}", l.OpenedOn))
	switch n := l.DaysExposed(today); {
	case l.ExposedSince != 0:
		out = append(out, message.M("carried exposed since {1}, {2} {2|day|days} in all", l.ExposedSince, n))
	case l.ExposedDays > 0:
		out = append(out, message.M("carried exposed {1} {1|day|days} in all, until {2}", n, l.ExposedLast))
	}
	if l.Training {
		out = append(out, message.M("Training"))
	}
	if l.Unidentified {
		out = append(out, message.M("unidentified, not counted"))
	}
	return out
}

func moveRow(m inventory.Movement, station inventory.Station) MoveRow {
	row := MoveRow{At: whenAt(m.HappenedAt, station), Text: moveText(m), By: m.By, LotID: m.LotID, IntoLot: m.IntoLotID,
		Number: m.ID, Corrects: m.Corrects}
	for _, x := range []string{m.Reference, m.Note} {
		if x != "" && row.Extra != "" {
			row.Extra += "; "
		}
		row.Extra += x
	}
	if m.Witness != "" {
		row.By += ", witnessed by " + m.Witness
	}
	return row
}

// moveText words a movement. The places outside are bookkeeping: what came or
// went is said as something that happened.
func moveText(m inventory.Movement) message.Message {
	in, out := inventory.OutsideCode(m.From), inventory.OutsideCode(m.To)
	var s message.Message
	switch {
	case m.Reason == inventory.ReasonConverted:
		s = message.M("{1}: {2}", message.M("Unit converted"), message.M("{1} in {2}", -m.Qty, m.From))
		if in {
			s = message.M("{1}: {2}", message.M("Unit converted"), message.M("{1} in {2}", m.Qty, m.To))
		}
	case in && m.Corrects != 0:
		s = message.M("{1} back into {2}, correction", m.Qty, m.To)
	case in:
		s = message.M("{1} {2}, into {3}##how many, received or found, place", m.Qty,
			outsideWords[inventory.PlaceKind(m.From)], m.To)
	case m.To == string(inventory.KindSupplier) && m.Corrects == 0:
		s = message.M("{1} from {2} to {3}, {4}", m.Qty, m.From, message.M("supplier"), reasonWords[inventory.ReasonReturn])
	case out && m.Corrects != 0:
		s = message.M("{1} out of {2}, correction", m.Qty, m.From)
	case out:
		s = message.M("{1} {2}, from {3}##how many, used or lost, place", m.Qty, outsideWords[inventory.PlaceKind(m.To)],
			m.From)
	default:
		s = message.M("{1} from {2} to {3}, {4}", m.Qty, m.From, m.To, reasonWords[m.Reason])
	}
	if m.Cause != "" {
		s = message.M("{1}: {2}", s, wordFor(causeWords, string(m.Cause)))
	}
	return s
}

var reasonWords = map[inventory.Reason]message.Message{
	inventory.ReasonStow: message.M("stowed"), inventory.ReasonReturn: message.M("returned"),
	inventory.ReasonTransfer: message.M("transferred"), inventory.ReasonToTraining: message.M("To training"),
	inventory.ReasonQuarantine: message.M("to quarantine"), inventory.ReasonRelease: message.M("released"),
	inventory.ReasonAway: message.M("sent away"), inventory.ReasonCorrection: message.M("correction"),
}
