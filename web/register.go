package web

import (
	"context"
	"net/http"
	"net/url"
	"slices"

	"stowkeeper/inventory"
	"stowkeeper/inventory/register"
)

type registersPage struct {
	Base
	Only     []StationLink
	Stations []RegisterStation
	Any      bool
}

// RegisterStation is the registers at one station, and the entries there that
// lack a signature.
type RegisterStation struct {
	inventory.Station
	Pages []RegisterLink
	Owed  []OwedView
}

// RegisterLink is a page of the register in a list.
type RegisterLink struct {
	inventory.RegisterPage
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
	p := &registersPage{Base: Base{Title: "Register", Caution: true}, Only: v.allStationLinks("/register", chosen)}
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
		out = append(out, st)
	}
	return out, err
}

func registerLink(r inventory.RegisterPage, station inventory.Station) RegisterLink {
	l := RegisterLink{RegisterPage: r, Href: registerPath(r.Place, r.Item)}
	if r.LastCheck != nil {
		l.Checked = whenAt(r.LastCheck.RecordedAt, station)
	}
	return l
}

// troubles lists the registers at a station that do not balance.
func (st RegisterStation) troubles() []RegisterLink {
	return slices.DeleteFunc(slices.Clone(st.Pages), func(r RegisterLink) bool { return !r.Differs })
}

type registerPage struct {
	Base
	inventory.RegisterPage
	Station inventory.Station
	Now     When
	Rows    []EntryRow
	Path    string
	Years   int
	Done    string // what was just recorded
	Own     bool   // a carrier that the visitor may act from, or a quartermaster
	MayKeep bool
	MayAct  bool
	Carried bool // the place is a carrier
}

// EntryRow is a line of the page.
type EntryRow struct {
	inventory.RegisterEntry
	When, Recorded When
	Later          []LaterSignature
	OtherName      string
	Rest           string // of the note, what was given and wasted apart
	MayCorrect     bool
	CorrectHref    string
}

// LaterSignature is a signature that was given later.
type LaterSignature struct {
	Person string
	When   When
}

func (s *server) showRegister(v *visit) error {
	r, station, err := s.registerHere(v)
	if err != nil {
		return err
	}
	places, err := s.svc.Lists.Places(v.ctx(), v.actor, inventory.PlaceFilter{Retired: true}, inventory.Page{})
	if err != nil {
		return err
	}
	p := &registerPage{Base: Base{Title: "Register: " + r.Name + ", " + r.PlaceName, Caution: true}, RegisterPage: r,
		Station: station, Now: whenAt(v.now, station), Path: registerPath(r.Place, r.Item),
		Years: s.svc.Register.RegisterKept(), Done: v.Query("done"), MayKeep: v.may(inventory.ActKeepStock),
		MayAct: v.may(inventory.ActCheck), Carried: r.Kind == inventory.KindCarrier}
	p.Own = p.MayKeep || p.Carried && r.Holder == v.actor.Name
	for _, e := range r.Entries {
		row := entryRow(e, station, places)
		row.CorrectHref = p.Path + "/entries/" + formatID(e.ID) + "/correct"
		row.MayCorrect = p.MayKeep && e.Kind == inventory.EntryMovement && e.Reason != inventory.ReasonCorrection &&
			e.CorrectedBy == 0
		for _, x := range e.Signatures {
			row.Later = append(row.Later, LaterSignature{x.Person, whenAt(x.RecordedAt, station)})
		}
		p.Rows = append(p.Rows, row)
	}
	return s.render(v, http.StatusOK, p)
}

func entryRow(e inventory.RegisterEntry, station inventory.Station, places []inventory.Place) EntryRow {
	return EntryRow{RegisterEntry: e, When: whenAt(e.HappenedAt, station), Recorded: whenAt(e.RecordedAt, station),
		OtherName: placeName(places, e.Other), Rest: e.Rest()}
}

// registerHere returns the page that the address names, and the station where
// its place is.
func (s *server) registerHere(v *visit) (inventory.RegisterPage, inventory.Station, error) {
	r, err := s.svc.Register.Register(v.ctx(), v.actor, v.Param("item"), v.Param("place"))
	if err != nil {
		return r, inventory.Station{}, err
	}
	return r, v.station(r.Station), nil
}

type balancePage struct {
	Base
	inventory.RegisterPage
	Path    string
	Form    Form
	Counted Field
	Note    Field
	Signing *SigningFields
}

func (s *server) showBalance(v *visit) error { return s.balanceForm(v, openForm(nil), nil) }

func (s *server) balanceForm(v *visit, f *form, failed error) error {
	r, _, err := s.registerHere(v)
	if err != nil {
		return err
	}
	p := &balancePage{Base: Base{Title: "Balance check: " + r.Name, Caution: true}, RegisterPage: r,
		Path: registerPath(r.Place, r.Item)}
	p.Counted = f.numberField("counted", "Counted, whole "+plurals(r.Unit)).Need().
		WithHint("Count together, then type. What the register says is shown afterwards.")
	p.Note = f.area("note", "Note")
	p.Signing = f.signing(true).needed()
	p.Form = f.state(failed, f.keyOr(newKey), 0)
	return s.render(v, statusOf(failed), p)
}

func (s *server) recordBalance(v *visit) error {
	f := openForm(v.Request.PostForm)
	in := inventory.BalanceCheck{Item: v.Param("item"), Place: v.Param("place"), Counted: f.number("counted"),
		Note: f.text("note")}
	if f.text("counted") == "" {
		f.wrong("counted", "give the number that you both counted; 0 where there is none")
	}
	err := s.record(v, f, func(ctx context.Context, by inventory.Actor, _ string) (string, error) {
		c, err := s.svc.Register.RecordBalanceCheck(ctx, by, in)
		done := "balanced"
		if c.Differs() {
			done = "differs"
		}
		return registerPath(c.Place, c.Item) + "?done=" + done, err
	})
	return f.fix(v, err, nil, s.balanceForm)
}
