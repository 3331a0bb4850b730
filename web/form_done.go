package web

import (
	"strconv"
	"strings"

	"stowkeeper/inventory"
	"stowkeeper/inventory/message"
)

// doneParam reads what the address says was just recorded, as in ?done=check-12.
func doneParam(v *visit) (kind string, id int64) {
	return doneIn(v.Query("done"))
}

func doneIn(param string) (kind string, id int64) {
	kind, number, _ := strings.Cut(param, "-")
	id, _ = strconv.ParseInt(number, 10, 64) // 0 is found nowhere
	return kind, id
}

// doneOf tells what became of what was just recorded. An address that names nothing of this bag says nothing.
func (s *server) doneOf(v *visit, c inventory.Checklist) (*Done, error) {
	kind, id := doneParam(v)
	var d *Done
	var err error
	switch kind {
	case "check":
		d, err = s.doneCheck(v, c, id)
	case "use":
		d, err = s.doneUse(v, c, id)
	case "restock":
		d, err = s.doneRestock(v, c, id)
	case "swap":
		d = &Done{Title: message.M("Module swapped"),
			Text: message.M("The module taken out stays under Bags until restocked.")}
	case "away":
		d = &Done{Title: message.M("Recorded as away"), Text: message.M("Listed under Away until returned.")}
	case "seal":
		d = doneSeal(c)
	}
	if err != nil && inventory.KindOf(err) == inventory.NotFound {
		return nil, nil
	}
	return d, err
}

func (s *server) doneCheck(v *visit, c inventory.Checklist, id int64) (*Done, error) {
	x, err := s.svc.Shift.Check(v.ctx(), v.actor, id)
	if err != nil || x.Bag != c.Bag.Code {
		return nil, err
	}
	d := recorded(checkWords[x.Kind], x.Status, x.ReviewBecause, whenAt(x.RecordedAt, c.Station),
		s.texts.Text(x.Whose()))
	d.Title = message.Join(", ", d.Title, leftOut(x))
	for _, o := range c.Open {
		if o.Kind == inventory.SawFailedPoint && o.Source == "check "+formatID(x.ID) {
			d.Text = message.M("{1} {2}. Take it out of the bag, to quarantine.", d.Text, o.Text)
		}
	}
	if x.Kind == inventory.SealCheck && x.Status == inventory.StatusAccepted && len(c.Reports) > 0 {
		d.Text = message.M("{1} A seal check does not settle this: {2}.", d.Text, reportTexts(c))
	}
	return d, nil
}

func reportTexts(c inventory.Checklist) message.Message {
	var all []message.Message
	for _, u := range c.Reports {
		all = append(all, u.Text)
	}
	return message.Join("; ", all...)
}

func doneSeal(c inventory.Checklist) *Done {
	if c.Bag.Seal == "" {
		return nil
	}
	d := &Done{Title: message.M("Seal {1} recorded", c.Bag.Seal), Text: message.M("{1}.",
		whenAt(c.Bag.SealSeenAt, c.Station).Text())}
	if c.Bag.SealUnsettled() {
		d.Text = message.M("{1} Seal was broken or different. A full check must follow.", d.Text)
	}
	return d
}

func (s *server) doneUse(v *visit, c inventory.Checklist, id int64) (*Done, error) {
	x, err := s.svc.Shift.Use(v.ctx(), v.actor, id)
	if err != nil || x.Bag != c.Bag.Code {
		return nil, err
	}
	return recorded(message.M("Use for {1}", x.Incident), x.Status, x.ReviewBecause, whenAt(x.RecordedAt, c.Station),
		s.texts.Text(x.Whose())), nil
}

func (s *server) doneRestock(v *visit, c inventory.Checklist, id int64) (*Done, error) {
	all, err := s.svc.Storeroom.Restocks(v.ctx(), v.actor, c.Bag.Code, inventory.Page{Limit: 20})
	if err != nil {
		return nil, err
	}
	for _, x := range all {
		if x.ID == id {
			d := recorded(message.M("Restock"), inventory.StatusAccepted, nil, whenAt(x.RecordedAt, c.Station), x.By)
			d.Next = v.may(inventory.ActKeepStock)
			return d, nil
		}
	}
	return nil, nil
}

func recorded(what message.Message, status inventory.RecordStatus, because message.Message, at When, by string) *Done {
	switch status {
	case inventory.StatusToReview:
		return &Done{Title: message.M("{1}: to review", what), ToReview: true,
			Text: message.M("Not booked yet: {1}. No need to send it again.", because)}
	case inventory.StatusRejected:
		return &Done{Title: message.M("{1} rejected by the quartermaster", what),
			Text: message.M("Kept in history, not counted.")}
	case inventory.StatusWithdrawn:
		return &Done{Title: message.M("{1} withdrawn", what), Text: message.M("Kept in history, not counted.")}
	}
	return &Done{Title: message.M("{1} recorded", what), Text: message.M("{1}, by {2}.", at.Text(), by)}
}

// Done says what was recorded a moment ago, and what became of it.
type Done struct {
	Title, Text message.Message
	ToReview    bool
	Next        bool // lead on to the next bag to restock
}
