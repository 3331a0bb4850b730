package web

import (
	"fmt"
	"net/http"
	"slices"
	"strconv"

	"stowkeeper/inventory"
	"stowkeeper/inventory/stock"
)

type lotPage struct {
	Base
	stock.LotStory
	Item    inventory.Item
	Label   string
	Printed string // the date as printed with its words
	Clocks  []string
	At      []AtRow
	Others  LotTable
	Moves   []MoveRow
	Used    []UsedRow
	Told    []NoticeLink // the notices that withdraw it, for who reads them
	Done    *Done
	MaySee  bool            // the movements are shown to this person
	Correct string          // the way to correct what was mistyped
	Wrong   []CorrectionRow // what was, and is right since

	Back, BackTo string // the item, or for crew the place where it lies
}

// AtRow is a quantity in a place, with the way there for who may look.
type AtRow struct {
	stock.AtPlace
	Href       string
	Name       string // its name, where it is one of the person's places
	Open       string // the way to open units there
	Training   string // the way to give them to training
	Quarantine string // the way to do something with units that are set apart
}

// MoveRow is one movement in words.
type MoveRow struct {
	At       When
	Text     string
	By       string
	Extra    string
	LotID    int64
	IntoLot  int64
	Number   int64
	Corrects int64
}

// showLot tells a lot's story: where it is, until when it counts and why, and
// what happened to it.
func (s *server) showLot(v *visit) error {
	l, err := s.svc.Stock.Lot(v.ctx(), v.actor, paramID(v, "id"))
	if err != nil {
		return noSuchLot(err)
	}
	if l.Device() { // a device has one page, whichever of its lots is asked for
		return v.to(devicePath(l.ID))
	}
	items := v.itemsByCode()
	it := items[l.Item]
	p := &lotPage{LotStory: l, Item: it, Label: lotLabel(l.BatchNo, l.Serial), MaySee: v.may(inventory.ActHistory),
		Others: LotTable{Where: true, One: true}}
	p.Base = Base{Title: it.Name + ", " + p.Label, Caution: l.Device() || it.Category.Medicinal() || len(l.Withdrawn) > 0}
	if l.EndPrinted != "" {
		p.Printed = wordingWords[l.EndWording] + " " + l.EndPrinted
	}
	p.At = atRows(v, l.Where)
	s.addLotActions(v, p)
	p.Back, p.BackTo = "/board", "Board"
	if len(p.At) == 1 && p.At[0].Href != "" {
		p.Back, p.BackTo = p.At[0].Href, p.At[0].Name
	}
	if p.MaySee {
		p.Back, p.BackTo = itemPath(it.Code), it.Name
	}
	for _, u := range l.Incidents {
		p.Used = append(p.Used, usedRow(u, v.station(s.placeOf(v, []stock.AtPlace{{Place: u.Bag}}).Station)))
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
		p.Moves = append(p.Moves, moveRow(m, v.station(m.Station)))
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

// addLotActions adds what may be done with the units where they lie, and how
// their clocks stand there.
func (s *server) addLotActions(v *visit, p *lotPage) {
	p.Clocks = clockTexts(p.Lot, v.station(s.placeOf(v, p.Where).Station).Today(v.now))
	for i := range p.At {
		at := &p.At[i]
		here := s.placeOf(v, []stock.AtPlace{at.AtPlace})
		if here.Code == "" {
			continue
		}
		if v.may(inventory.ActCheck) && stock.MayOpen(p.Item, p.Lot) {
			at.Open = openPath(p.ID, here.Code)
		}
		if v.may(inventory.ActKeepStock) && here.Kind == inventory.KindQuarantine {
			at.Quarantine = quarantinePath(p.ID, here.Code)
		}
		if v.may(inventory.ActKeepStock) && stock.MayGoToTraining(p.Item, p.Lot, here) {
			at.Training = toTrainingPath(p.ID, here.Code)
		}
	}
}

// noticesOn leads to the notices that mean a lot.
func (s *server) noticesOn(v *visit, l inventory.Lot) ([]NoticeLink, error) {
	all, err := s.svc.Notice.Notices(v.ctx(), v.actor, inventory.NoticeFilter{Item: l.Item}, inventory.Page{})
	var mean []inventory.Notice
	for _, n := range all {
		if n.Means(l.Batch) {
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
		return &Done{Title: "Given to training, for good",
			Text: "Mark the units for training now, so that nobody takes them for issue stock."}
	case kind == "corrected" && len(p.Corrections) > 0:
		return &Done{Title: "Corrected", Text: "What stood there before is kept below."}
	case kind == "identified" && id == p.ID:
		return &Done{Title: "Identified", Text: "The units stay set apart until they are put back."}
	case kind == "apart" && id == p.ID:
		return &Done{Title: "Recorded", Text: "Where the units are now stands below."}
	case kind == "opened" && id == p.ID && p.OpenedOn != 0:
		return &Done{Title: "Recorded as opened", Text: "The others of the batch stay as they are."}
	}
	return nil
}

// clockTexts words what is known of a lot's clocks.
func clockTexts(l inventory.Lot, today inventory.Day) []string {
	var out []string
	add := func(d inventory.Day, text string) {
		if d != 0 {
			out = append(out, fmt.Sprintf(text, dayText(d)))
		}
	}
	add(l.MadeOn, "made on %s")
	add(l.ReceivedOn, "received on %s")
	add(l.StowedOn, "first stowed in a bag on %s")
	add(l.OpenedOn, "opened on %s")
	switch sum := count(l.DaysExposed(today), "day"); {
	case l.ExposedSince != 0:
		out = append(out, "carried exposed since "+dayText(l.ExposedSince)+", "+sum+" in all")
	case l.ExposedDays > 0:
		out = append(out, "carried exposed for "+sum+" in all, the last on "+dayText(l.ExposedLast)+
			"; the days stand still inside")
	}
	if l.Training {
		out = append(out, "training stock, for good")
	}
	if l.Unidentified {
		out = append(out, "unidentified: it never counts")
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
func moveText(m inventory.Movement) string {
	n := strconv.Itoa(m.Qty)
	in, out := inventory.OutsideCode(m.From), inventory.OutsideCode(m.To)
	var s string
	switch {
	case in && m.Corrects != 0:
		s = n + " back into " + m.To + ", as a correction"
	case in:
		s = n + " " + outsideWords[inventory.PlaceKind(m.From)] + " into " + m.To
	case out && m.Corrects != 0:
		s = n + " taken back out of " + m.From + ", as a correction"
	case out:
		s = n + " " + outsideWords[inventory.PlaceKind(m.To)] + " from " + m.From
	default:
		s = n + " from " + m.From + " to " + m.To + ", " + reasonWords[m.Reason]
	}
	if m.Cause != "" {
		s += ": " + string(m.Cause)
	}
	return s
}

var reasonWords = map[inventory.Reason]string{
	inventory.ReasonStow: "stowed", inventory.ReasonReturn: "returned", inventory.ReasonTransfer: "transferred",
	inventory.ReasonToTraining: "given to training, for good", inventory.ReasonQuarantine: "set apart",
	inventory.ReasonRelease: "released", inventory.ReasonAway: "sent away", inventory.ReasonCorrection: "as a correction",
}
