package web

import (
	"context"
	"net/http"
	"net/url"
	"slices"

	"stowkeeper/inventory"
	"stowkeeper/inventory/message"
	"stowkeeper/inventory/notice"
	"stowkeeper/inventory/shift"
	"stowkeeper/inventory/storeroom"
)

type deskPage struct {
	Base
	Stations     []NavLink
	Today        []StationDay
	Bags         []DeskRow
	Checks, Uses []ReviewRow
	Open         []ObservationRow
	Apart        []PlaceCount
	Notices      []notice.NoticeSummary
	Overdue      []shift.AwayPlace
	Scanning     []DeliveryLink
	Troubles     []RegisterLink
	Owed         int // signatures
	Transfers    int // open ones
	ToCount      int // places, this week
}

// DeskRow is a bag to restock, with what that would mend.
type DeskRow struct {
	storeroom.DeskBag
	Texts []message.Message // the first of them
	More  int               // how many more there are
}

// WaitingRow is a check or use that waits.
type ReviewRow struct {
	Href, Bag      string
	What           message.Message
	By             message.Message
	Done, Recorded When
	Because        message.Message
}

// Waits counts what waits for a decision.
func (p *deskPage) Waits() int { return len(p.Checks) + len(p.Uses) }

// ObservationRow is an open observation with the field to close it.
type ObservationRow struct {
	inventory.Observation
	At     When
	Reason Field
}

// deskTexts is how much of what a bag lacks the desk says; the pick list has it all.
const deskTexts = 3

func (s *server) desk(v *visit, f *form, failed error) error {
	only, chosen := v.stationsAsked()
	d, err := s.svc.Storeroom.Desk(v.ctx(), v.actor, only)
	if err != nil {
		return err
	}
	p := &deskPage{Base: Base{Title: message.M("Store")}, Overdue: d.Overdue,
		Stations: v.allStationLinks("/store", chosen), Today: v.today(only)}
	for _, b := range d.ToRestock {
		row := DeskRow{DeskBag: b, More: max(0, len(b.Mend)-deskTexts)}
		stops := func(x inventory.Finding) bool { return x.Severity == inventory.SeverityStop }
		if b.State == inventory.OutOfService || b.Stops > 0 && !slices.ContainsFunc(b.Mend, stops) { // no restock ends it
			row.Texts = append(row.Texts, b.Headline)
		}
		for _, x := range b.Mend[:len(b.Mend)-row.More] {
			row.Texts = append(row.Texts, x.Text)
		}
		p.Bags = append(p.Bags, row)
	}
	p.Checks, p.Uses = reviewRows(d, func(bag string) inventory.Station { return d.At[bag] })
	for _, o := range d.Open {
		row := ObservationRow{Observation: o, At: whenAt(o.OpenedAt, d.At[o.Bag])}
		row.Reason = f.field(closeField(o.ID), message.M("Reason")).Need()
		p.Open = append(p.Open, row)
	}
	if err := s.deskRegisters(v, p, only); err != nil {
		return err
	}
	for _, a := range d.SetApart {
		p.Apart = append(p.Apart, PlaceCount{Href: "/stock/" + url.PathEscape(a.Place), Place: a.Place,
			Name: a.Name, Qty: a.Qty})
	}
	if err := s.addOwed(v, p); err != nil {
		return err
	}
	return s.renderForm(v, f, p, failed)
}

// deskRegisters adds the registers that do not balance, and how many signatures are owed.
func (s *server) deskRegisters(v *visit, p *deskPage, only []string) error {
	all, err := s.registersAt(v, only)
	for _, st := range all {
		p.Owed += len(st.Owed)
		p.Troubles = append(p.Troubles, st.troubles()...)
	}
	return err
}

// addOwed lists the notices that something is left to do for, and the deliveries that are being scanned.
func (s *server) addOwed(v *visit, p *deskPage) error {
	notices, err := s.svc.Notice.Notices(v.ctx(), v.actor, inventory.NoticeFilter{Status: inventory.NoticeOpen},
		inventory.Page{})
	if err != nil {
		return err
	}
	for _, n := range notices {
		if n.Outstanding > 0 {
			p.Notices = append(p.Notices, n)
		}
	}
	if p.Scanning, err = s.openDeliveries(v); err != nil {
		return err
	}
	only, _ := v.stationsAsked()
	open, err := s.svc.Transfer.Transfers(v.ctx(), v.actor, inventory.DocumentFilter{Stations: only, Open: true},
		inventory.Page{})
	if err != nil {
		return err
	}
	due, err := s.svc.Count.Due(v.ctx(), v.actor, only)
	p.Transfers, p.ToCount = len(open), len(due)
	return err
}

func closeField(id int64) string { return "reason-" + formatID(id) }

func (s *server) closeObservation(v *visit, f *form) error {
	id := paramID(v, "id")
	f.names = func(string) string { return closeField(id) }
	return v.once(func(ctx context.Context, _ string) (string, error) {
		_, err := s.svc.Storeroom.CloseObservation(ctx, v.actor, v.Param("code"), id, f.text(closeField(id)))
		return "/store", err
	})
}

type reviewPage struct {
	Base
	Stations     []NavLink
	Checks, Uses []ReviewRow
	Cases        []CaseView // open ones
}

func (s *server) showReview(v *visit) error {
	only, chosen := v.stationsAsked()
	f := inventory.RecordFilter{Status: inventory.StatusToReview, AtStations: only}
	p := &reviewPage{Base: Base{Title: message.M("To review")}, Stations: v.allStationLinks("/review", chosen)}
	var err error
	if p.Checks, p.Uses, err = s.records(v, f, inventory.Page{}); err != nil {
		return err
	}
	open, err := s.svc.Register.Discrepancies(v.ctx(), v.actor, only, true)
	if err != nil {
		return err
	}
	for _, c := range open {
		p.Cases = append(p.Cases, v.caseView(c))
	}
	return s.render(v, http.StatusOK, p)
}

// records reads checks and uses, each line with the way to review it.
func (s *server) records(v *visit, f inventory.RecordFilter, page inventory.Page) (checks, uses []ReviewRow,
	err error) {
	var d storeroom.Desk
	if d.Checks, err = s.svc.Shift.Checks(v.ctx(), v.actor, f, page); err != nil {
		return nil, nil, err
	}
	d.Uses, err = s.svc.Shift.Uses(v.ctx(), v.actor, f, page)
	checks, uses = reviewRows(d, v.stationOfBag)
	return checks, uses, err
}

func reviewRows(d storeroom.Desk, at func(bag string) inventory.Station) (checks, uses []ReviewRow) {
	for _, c := range d.Checks {
		station := at(c.Bag)
		checks = append(checks, ReviewRow{Href: "/review/checks/" + formatID(c.ID), Bag: c.Bag, What: checkText(c),
			By: c.Whose(), Done: whenAt(c.HappenedAt, station), Recorded: whenAt(c.RecordedAt, station),
			Because: c.ReviewBecause})
	}
	for _, u := range d.Uses {
		station := at(u.Bag)
		uses = append(uses, ReviewRow{Href: "/review/uses/" + formatID(u.ID), Bag: u.Bag,
			What: message.M("Use for {1}", u.Incident),
			By:   u.Whose(), Done: whenAt(u.HappenedAt, station), Recorded: whenAt(u.RecordedAt, station),
			Because: u.ReviewBecause})
	}
	return checks, uses
}
