package web

import (
	"context"
	"net/http"
	"net/url"
	"slices"

	"stowkeeper/inventory"
	"stowkeeper/inventory/message"
	"stowkeeper/inventory/register"
)

type registersPage struct {
	Base
	Only     []NavLink
	Stations []RegisterStation
	Any      bool
}

// RegisterStation is the registers at one station, and the entries there that lack a signature.
type RegisterStation struct {
	inventory.Station
	Pages []RegisterLink
	Owed  []OwedView
	Cases []CaseView // open ones
}

// RegisterLink is a page of the register in a list.
type RegisterLink struct {
	register.RegisterPage
	Href    string
	Checked When
}

// OwedView is an entry that lacks a signature.
type OwedView struct {
	register.OwedRow
	Href    string // where it is signed; for those who may not, the page that it stands on
	When    When
	MaySign bool
}

func registerPath(place, item string) string {
	return "/register/" + url.PathEscape(place) + "/" + url.PathEscape(item)
}

func (s *server) showRegisters(v *visit) error {
	only, chosen := v.stationsAsked()
	p := &registersPage{Base: Base{Title: message.M("Controlled drugs"), Caution: true},
		Only: v.allStationLinks("/register", chosen)}
	var err error
	if p.Stations, err = s.registersAt(v, only); err != nil {
		return err
	}
	p.Any = slices.ContainsFunc(p.Stations, func(st RegisterStation) bool { return len(st.Pages) > 0 })
	return s.render(v, http.StatusOK, p)
}

// registersAt reads the registers of the person's stations, or of some of them.
func (s *server) registersAt(v *visit, only []string) ([]RegisterStation, error) {
	all, err := s.svc.Register.AtStations(v.ctx(), v.actor, only)
	out := make([]RegisterStation, 0, len(all))
	for _, at := range all {
		station := v.station(at.Station)
		st := RegisterStation{Station: station}
		for _, r := range at.Pages {
			st.Pages = append(st.Pages, registerLink(r, station))
		}
		for _, o := range at.Owed {
			row := OwedView{OwedRow: o, Href: registerPath(o.Place, o.Item), When: whenAt(o.HappenedAt, station),
				MaySign: v.may(inventory.ActCheck)}
			if row.MaySign {
				row.Href += "/entries/" + formatID(o.Entry) + "/sign"
			}
			st.Owed = append(st.Owed, row)
		}
		for _, c := range at.Open {
			st.Cases = append(st.Cases, v.caseView(c))
		}
		out = append(out, st)
	}
	return out, err
}

func registerLink(r register.RegisterPage, station inventory.Station) RegisterLink {
	l := RegisterLink{RegisterPage: r, Href: registerPath(r.Place, r.Item)}
	if r.LastCheck != nil {
		l.Checked = whenAt(r.LastCheck.RecordedAt, station)
	}
	return l
}

func (st RegisterStation) troubles() []RegisterLink {
	return slices.DeleteFunc(slices.Clone(st.Pages), func(r RegisterLink) bool { return !r.Differs && len(r.Open) == 0 })
}

type registerPage struct {
	Base
	register.RegisterPage
	Station         inventory.Station
	Now             When
	Rows            []EntryRow
	Path            string
	Years           int
	Done            string // what was just recorded
	Own             bool   // a carrier that the visitor may act from, or a quartermaster
	MayKeep, MayAct bool
	Carried         bool // the place is a carrier
	From, To        Field
	Since           inventory.Day // the first day of its entries
}

// EntryRow is a line of the page.
type EntryRow struct {
	register.RegisterEntry
	When        When
	OtherName   string
	Rest        string // of the note, what it says in a fixed form apart
	Given       string // with their unit
	Wasted      string
	MayCorrect  bool
	CorrectHref string
}

func (s *server) showRegister(v *visit) error {
	f := openForm(v.Request.URL.Query())
	period := register.Period{From: f.day("since"), To: f.day("until")}
	if !v.Request.URL.Query().Has("since") {
		period.From = register.PeriodKept(v.ownStation().Today(v.now), s.svc.Register.RegisterKept()).From
	}
	failed := f.err()
	r, station, err := s.registerHere(v, period)
	if err != nil {
		return err
	}
	places, err := s.svc.Lists.Places(v.ctx(), v.actor, inventory.PlaceFilter{Retired: true}, inventory.Page{})
	if err != nil {
		return err
	}
	p := &registerPage{Base: Base{Title: message.M("Controlled drugs: {1}", r.Name), Caution: true},
		RegisterPage: r, Station: station, Now: whenAt(v.now, station), Path: registerPath(r.Place, r.Item),
		Years: s.svc.Register.RegisterKept(), Done: v.Query("done"), MayKeep: v.may(inventory.ActKeepStock),
		MayAct: v.may(inventory.ActCheck), Carried: r.Kind == inventory.KindCarrier}
	p.Own = p.MayKeep || p.Carried && r.Holder == v.actor.Name
	for _, e := range r.Entries {
		row := entryRow(e, station, places)
		row.CorrectHref = p.Path + "/entries/" + formatID(e.ID) + "/correct"
		row.MayCorrect = p.MayKeep && e.Kind == register.EntryMovement && e.Reason != inventory.ReasonCorrection &&
			e.CorrectedBy == 0
		p.Rows = append(p.Rows, row)
	}
	p.Since = period.From
	p.From, p.To = f.field("since", message.M("From")), f.field("until", message.M("To"))
	p.From.Kind, p.To.Kind, p.From.Empty, p.To.Empty = "date", "date", message.M("start"), message.M("now")
	if p.From.Value == "" && period.From != 0 {
		p.From.Value = period.From.String()
	}
	return s.renderForm(v, f, p, failed)
}

func entryRow(e register.RegisterEntry, station inventory.Station, places []inventory.Place) EntryRow {
	parts, rest := e.Remarks()
	return EntryRow{RegisterEntry: e, When: whenAt(e.HappenedAt, station), OtherName: placeName(places, e.Other),
		Rest: rest, Given: string(parts.Given), Wasted: string(parts.Wasted)}
}

// registerHere returns the page that the address names, with the entries of a period, and the station where its place
// is.
func (s *server) registerHere(v *visit, period register.Period) (register.RegisterPage, inventory.Station, error) {
	r, err := s.svc.Register.Register(v.ctx(), v.actor, v.Param("item"), v.Param("place"), period)
	if err != nil {
		return r, inventory.Station{}, err
	}
	return r, v.station(r.Station), nil
}

type balancePage struct {
	Base
	register.RegisterPage
	Path          string
	Counted, Note Field
	Signing       *SigningFields
}

func (s *server) balanceForm(v *visit, f *form, failed error) error {
	r, _, err := s.registerHere(v, register.Period{})
	if err != nil {
		return err
	}
	p := &balancePage{Base: Base{Title: message.M("Balance check: {1}", r.Name), Caution: true}, RegisterPage: r,
		Path: registerPath(r.Place, r.Item)}
	p.Counted = f.numberField("counted", message.M("Counted ({1})", plurals(r.Unit))).Need().
		WithHint(message.M("Count together. The recorded balance is shown afterwards."))
	p.Note = f.area("note", message.M("Note"))
	p.Signing = f.signing(true).needed()
	return s.renderForm(v, f, p, failed)
}

func (s *server) recordBalance(v *visit, f *form) error {
	in := inventory.BalanceCheck{Item: v.Param("item"), Place: v.Param("place"), Counted: f.number("counted"),
		Note: f.text("note")}
	if f.text("counted") == "" {
		f.wrong("counted", message.M("enter a whole number"))
	}
	return s.record(v, f, func(ctx context.Context, by inventory.Actor, _ string) (string, error) {
		c, err := s.svc.Register.RecordBalanceCheck(ctx, by, in)
		done := "balanced"
		if c.Differs() {
			done = "differs"
		}
		return registerPath(c.Place, c.Item) + "?done=" + done, err
	})
}
