package web

import (
	"strconv"
	"strings"

	"stowkeeper/inventory"
)

// doneParam reads what the address says was just recorded, as in
// ?done=check-12.
func doneParam(v *visit) (kind string, id int64) {
	return doneIn(v.Query("done"))
}

func doneIn(param string) (kind string, id int64) {
	kind, number, _ := strings.Cut(param, "-")
	id, _ = strconv.ParseInt(number, 10, 64) // 0 is found nowhere
	return kind, id
}

// doneOf tells what became of what was just recorded. An address that names
// nothing of this bag says nothing.
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
		d = &Done{Title: "Module swapped", Text: "What came out is on the board until it is restocked."}
	case "away":
		d = &Done{Title: "Recorded as left somewhere", Text: "It is listed under Away until it is back."}
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
	d := recorded(checkWords[x.Kind], x.Status, x.ReviewBecause, whenAt(x.RecordedAt, c.Station), x.By)
	for _, o := range c.Open {
		if o.Kind == inventory.SawFailedPoint && o.Source == "check "+formatID(x.ID) {
			d.Text += " " + sentence(o.Text) + " It is set apart: take it out of the bag and to the quarantine."
		}
	}
	return d, nil
}

// doneSeal tells which seal went on a moment ago.
func doneSeal(c inventory.Checklist) *Done {
	if c.Bag.Seal == "" {
		return nil
	}
	d := &Done{Title: "Seal " + c.Bag.Seal + " recorded", Text: whenAt(c.Bag.SealSeenAt, c.Station).Text + "."}
	if c.Bag.SealUnsettled() {
		d.Text += " The seal before it was found broken or different: a full check still has to follow."
	}
	return d
}

func (s *server) doneUse(v *visit, c inventory.Checklist, id int64) (*Done, error) {
	x, err := s.svc.Shift.Use(v.ctx(), v.actor, id)
	if err != nil || x.Bag != c.Bag.Code {
		return nil, err
	}
	return recorded("Use for "+x.Incident, x.Status, x.ReviewBecause, whenAt(x.RecordedAt, c.Station), x.By), nil
}

func (s *server) doneRestock(v *visit, c inventory.Checklist, id int64) (*Done, error) {
	all, err := s.svc.Storeroom.Restocks(v.ctx(), v.actor, c.Bag.Code, inventory.Page{Limit: 20})
	if err != nil {
		return nil, err
	}
	for _, x := range all {
		if x.ID == id {
			d := recorded("Restock", inventory.StatusAccepted, "", whenAt(x.RecordedAt, c.Station), x.By)
			d.Next = v.may(inventory.ActKeepStock)
			return d, nil
		}
	}
	return nil, nil
}

// recorded words what became of a check or use.
func recorded(what string, status inventory.RecordStatus, because string, at When, by string) *Done {
	switch status {
	case inventory.StatusToReview:
		return &Done{Title: what + " kept: it waits for the quartermaster", ToReview: true,
			Text: sentence(because) + " Nothing has been booked yet. You need not send it again."}
	case inventory.StatusRejected:
		return &Done{Title: what + " was dismissed by the quartermaster", Text: "It is kept, and does not count."}
	}
	return &Done{Title: what + " recorded", Text: at.Text + ", by " + by + "."}
}

// Done says what was recorded a moment ago, and what became of it.
type Done struct {
	Title, Text string
	ToReview    bool
	Next        bool // lead on to the next bag to restock
}
