package web

import (
	"context"
	"net/http"
	"net/url"

	"stowkeeper/inventory"
	"stowkeeper/inventory/notice"
	"stowkeeper/inventory/shift"
	"stowkeeper/inventory/storeroom"
)

type deskPage struct {
	Base
	Stations []StationLink
	Today    []StationDay
	Bags     []DeskRow
	Checks   []ReviewRow
	Uses     []ReviewRow
	Open     []ObservationRow
	Apart    []PlaceCount
	Notices  []DeskNotice
	Overdue  []shift.AwayPlace
	Scanning []DeliveryLink
	Troubles []RegisterLink
	Owed     int // signatures
	Key      string
	Problems Form
}

// DeskNotice is a notice that something is left to do for.
type DeskNotice struct {
	notice.NoticeSummary
	Href string
}

// DeskRow is a bag to restock, with what that would mend.
type DeskRow struct {
	storeroom.DeskBag
	Texts []string // the first of them
	More  int      // how many more there are
}

// WaitingRow is a check or use that waits.
type ReviewRow struct {
	Href, Bag, What string
	By              string
	Done, Recorded  When
	Because         string
}

// Waits counts what waits for a decision.
func (p *deskPage) Waits() int { return len(p.Checks) + len(p.Uses) }

// ObservationRow is an open observation with the field to close it.
type ObservationRow struct {
	inventory.Observation
	At     When
	Reason Field
}

// deskTexts is how much of what a bag lacks the desk says; the pick list has
// it all.
const deskTexts = 3

func (s *server) showDesk(v *visit) error { return s.desk(v, openForm(nil), nil) }

func (s *server) desk(v *visit, f *form, failed error) error {
	only, chosen := v.stationsAsked()
	d, err := s.svc.Storeroom.Desk(v.ctx(), v.actor, only)
	if err != nil {
		return err
	}
	p := &deskPage{Base: Base{Title: "Store desk"}, Overdue: d.Overdue, Stations: v.allStationLinks("/store", chosen),
		Today: v.today(only), Key: f.keyOr(newKey)}
	for _, b := range d.ToRestock {
		row := DeskRow{DeskBag: b, More: max(0, len(b.Mend)-deskTexts)}
		for _, x := range b.Mend[:len(b.Mend)-row.More] {
			row.Texts = append(row.Texts, x.Text)
		}
		p.Bags = append(p.Bags, row)
	}
	p.Checks, p.Uses = reviewRows(d, func(bag string) inventory.Station { return d.At[bag] })
	for _, o := range d.Open {
		row := ObservationRow{Observation: o, At: whenAt(o.OpenedAt, d.At[o.Bag])}
		row.Reason = f.field(closeField(o.ID), "How it was settled").Need()
		p.Open = append(p.Open, row)
	}
	if err := s.deskRegisters(v, p, only); err != nil {
		return err
	}
	called := v.called()
	for _, a := range d.SetApart {
		p.Apart = append(p.Apart, PlaceCount{Href: "/stock/" + url.PathEscape(a.Place), Place: a.Place,
			Name: called.place(a.Place), Qty: a.Qty})
	}
	if err := s.addOwed(v, p); err != nil {
		return err
	}
	p.Problems = f.state(failed, p.Key, 0)
	return s.render(v, statusOf(failed), p)
}

// deskRegisters adds the registers that do not balance, and how many signatures
// are owed.
func (s *server) deskRegisters(v *visit, p *deskPage, only []string) error {
	all, err := s.registersAt(v, only)
	for _, st := range all {
		p.Owed += len(st.Owed)
		p.Troubles = append(p.Troubles, st.troubles()...)
	}
	return err
}

// addOwed lists the notices that something is left to do for, and the deliveries
// that are being scanned.
func (s *server) addOwed(v *visit, p *deskPage) error {
	notices, err := s.svc.Notice.Notices(v.ctx(), v.actor, inventory.NoticeFilter{Status: inventory.NoticeOpen},
		inventory.Page{})
	if err != nil {
		return err
	}
	for _, n := range notices {
		if n.Outstanding > 0 {
			p.Notices = append(p.Notices, DeskNotice{n, noticePath(n.ID)})
		}
	}
	p.Scanning, err = s.openDeliveries(v)
	return err
}

func closeField(id int64) string { return "reason-" + formatID(id) }

// closeObservation ends an observation with a reason.
func (s *server) closeObservation(v *visit) error {
	f := openForm(v.Request.PostForm)
	id := paramID(v, "id")
	err := v.once(func(ctx context.Context, _ string) (string, error) {
		_, err := s.svc.Storeroom.CloseObservation(ctx, v.actor, v.Param("code"), id, f.text(closeField(id)))
		return "/store", err
	})
	return f.fix(v, err, func(string) string { return closeField(id) }, s.desk)
}

type reviewPage struct {
	Base
	Stations []StationLink
	Checks   []ReviewRow
	Uses     []ReviewRow
}

func (s *server) showReview(v *visit) error {
	only, chosen := v.stationsAsked()
	f := inventory.RecordFilter{Status: inventory.StatusToReview, AtStations: only}
	var d storeroom.Desk
	var err error
	if d.Checks, err = s.svc.Shift.Checks(v.ctx(), v.actor, f, inventory.Page{}); err != nil {
		return err
	}
	if d.Uses, err = s.svc.Shift.Uses(v.ctx(), v.actor, f, inventory.Page{}); err != nil {
		return err
	}
	p := &reviewPage{Base: Base{Title: "Waiting"}, Stations: v.allStationLinks("/review", chosen)}
	p.Checks, p.Uses = reviewRows(d, v.stationOfBag)
	return s.render(v, http.StatusOK, p)
}

func reviewRows(d storeroom.Desk, at func(bag string) inventory.Station) (checks, uses []ReviewRow) {
	for _, c := range d.Checks {
		station := at(c.Bag)
		checks = append(checks, ReviewRow{Href: "/review/checks/" + formatID(c.ID), Bag: c.Bag, What: checkWords[c.Kind],
			By: c.By, Done: whenAt(c.HappenedAt, station), Recorded: whenAt(c.RecordedAt, station), Because: c.ReviewBecause})
	}
	for _, u := range d.Uses {
		station := at(u.Bag)
		uses = append(uses, ReviewRow{Href: "/review/uses/" + formatID(u.ID), Bag: u.Bag, What: "Use for " + u.Incident,
			By: u.By, Done: whenAt(u.HappenedAt, station), Recorded: whenAt(u.RecordedAt, station), Because: u.ReviewBecause})
	}
	return checks, uses
}
