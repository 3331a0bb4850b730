package web

import (
	"context"
	"net/http"

	"stowkeeper/inventory"
	"stowkeeper/inventory/message"
	"stowkeeper/inventory/register"
)

// CaseView is a discrepancy on a page.
type CaseView struct {
	register.Case
	Href, RegisterHref string
	Opened, Closed     When
}

func (v *visit) caseView(c register.Case) CaseView {
	station := v.station(c.Station)
	return CaseView{c, "/discrepancies/" + formatID(c.ID), registerPath(c.Place, c.Item),
		whenAt(c.OpenedAt, station), whenAt(c.ClosedAt, station)}
}

type discrepanciesPage struct {
	Base
	Stations []NavLink
	Cases    []CaseView
}

func (s *server) showCases(v *visit) error {
	only, chosen := v.stationsAsked()
	all, err := s.svc.Register.Discrepancies(v.ctx(), v.actor, only, false)
	if err != nil {
		return err
	}
	p := &discrepanciesPage{Base: Base{Title: message.M("Discrepancies"), Caution: true},
		Stations: v.allStationLinks("/discrepancies", chosen)}
	for i := range all { // newest first
		p.Cases = append(p.Cases, v.caseView(all[len(all)-1-i]))
	}
	return s.render(v, http.StatusOK, p)
}

type discrepancyPage struct {
	Base
	CaseView
	Entry    EntryRow // of its register, that opened it
	MayClose bool     // and the form is there
	Outcome  Field
	Signing  *SigningFields
}

func (s *server) caseForm(v *visit, f *form, failed error) error {
	c, err := s.svc.Register.Discrepancy(v.ctx(), v.actor, paramID(v, "id"))
	if err != nil {
		return err
	}
	p := &discrepancyPage{Base: Base{Title: message.M("Discrepancy"), Caution: true}, CaseView: v.caseView(c),
		MayClose: v.may(inventory.ActKeepStock) && c.ClosedAt == 0}
	r, err := s.svc.Register.Register(v.ctx(), v.actor, c.Item, c.Place, register.Period{})
	if err != nil {
		return err
	}
	for _, e := range r.Entries {
		if e.Kind == register.EntryCheck && e.ID == c.Discrepancy.Check ||
			e.Kind == register.EntryMovement && e.ID == c.Discrepancy.Entry {
			p.Entry = entryRow(e, v.station(c.Station), nil)
		}
	}
	p.Outcome = f.area("outcome", message.M("Outcome")).Need()
	p.Signing = f.signing(true).needed()
	return s.renderForm(v, f, p, failed)
}

func (s *server) closeCase(v *visit, f *form) error {
	return s.record(v, f, func(ctx context.Context, by inventory.Actor, _ string) (string, error) {
		c, err := s.svc.Register.CloseDiscrepancy(ctx, by, paramID(v, "id"), f.text("outcome"))
		return "/discrepancies/" + formatID(c.ID), err
	})
}
