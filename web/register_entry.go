package web

import (
	"context"
	"slices"

	"stowkeeper/inventory"
	"stowkeeper/inventory/account"
	"stowkeeper/inventory/register"
)

type postingPage struct {
	Base
	inventory.RegisterPage
	Path      string
	Kind      register.RequestKind
	Form      Form
	Lots      []PostingFields
	To        Field
	Reference Field
	Cause     Field
	Note      Field
	Signing   *SigningFields
}

// PostingFields are a lot that lies in the place, with how much of it moves.
type PostingFields struct {
	LotView
	There         int
	Qty           Field
	Given, Wasted Field
}

// postingKinds are the kinds of posting by the last part of the address.
var postingKinds = map[string]register.RequestKind{
	"sign-out": register.RequestSignOut, "sign-back": register.RequestBack, "use": register.RequestUse,
	"destroy": register.RequestDestroy,
}

var destroyCauses = []Option{
	{Value: string(inventory.CauseExpired), Text: "expired"},
	{Value: string(inventory.CauseDamaged), Text: "broken or damaged"},
	{Value: string(inventory.CauseWasted), Text: "drawn up and not given"},
	{Value: string(inventory.CauseRecalled), Text: "recalled"},
	{Value: string(inventory.CauseOther), Text: "other"},
}

func (s *server) showPosting(v *visit) error { return s.postingForm(v, openForm(nil), nil) }

func (s *server) postingForm(v *visit, f *form, failed error) error {
	kind, known := postingKinds[v.Param("kind")]
	if !known {
		return inventory.Errorf(inventory.NotFound, "no such page")
	}
	r, _, err := s.registerHere(v)
	if err != nil {
		return err
	}
	p := &postingPage{Base: Base{Title: "Register: " + r.Name, Caution: true}, RegisterPage: r, Path: registerPath(r.Place,
		r.Item), Kind: kind}
	if p.Lots, err = s.postingLots(v, f, r, kind); err != nil {
		return err
	}
	p.Reference = f.field("reference", "Reference")
	switch kind {
	case register.RequestUse:
		p.Reference = f.field("reference", "Incident reference").Need().
			WithHint("The number only. Never anything about a patient.")
	case register.RequestDestroy:
		p.Cause = f.choice("cause", "Why", destroyCauses).Need()
	case register.RequestBack:
		if err := s.backChoices(v, f, p); err != nil {
			return err
		}
	}
	p.Note = f.field("note", "Note")
	if p.Signing = f.signing(true); kind == register.RequestUse {
		p.Signing.alone()
	} else {
		p.Signing.needed()
	}
	p.Form = f.state(failed, f.keyOr(newKey), 0)
	return s.render(v, statusOf(failed), p)
}

// backChoices lists where units may be signed back to: the stores and bags for
// issue at the station, its own store first.
func (s *server) backChoices(v *visit, f *form, p *postingPage) error {
	places, err := s.svc.Lists.Places(v.ctx(), v.actor, inventory.PlaceFilter{Stations: []string{p.Station}},
		inventory.Page{})
	if err != nil {
		return err
	}
	var options []Option
	for _, kind := range []inventory.PlaceKind{inventory.KindStore, inventory.KindBag} {
		for _, pl := range places {
			if pl.Kind == kind && pl.Purpose == inventory.ForIssue {
				options = append(options, Option{Value: pl.Code, Text: pl.Name + ", " + pl.Code})
			}
		}
	}
	p.To = f.choice("to", "Back to", options)
	p.To.Empty = "the station's store"
	return nil
}

func (s *server) postingLots(v *visit, f *form, r inventory.RegisterPage, kind register.RequestKind) ([]PostingFields,
	error) {
	lots, err := s.svc.Register.StockOf(v.ctx(), v.actor, r.Item, r.Place)
	var out []PostingFields
	for _, l := range lots {
		row := "lot." + formatID(l.ID)
		x := PostingFields{LotView: LotView{Name: r.Name, Label: lotLabel(l.BatchNo, l.Serial)}}
		x.LotID, x.UsableThrough = l.ID, l.UsableThrough
		for _, w := range l.Where {
			x.There += w.Qty
		}
		x.Qty = f.numberField(row+".qty", "How many of "+x.Label)
		if kind == register.RequestUse {
			x.Given = f.field(row+".given", "Given, with its unit")
			x.Wasted = f.field(row+".wasted", "Wasted, with its unit")
		}
		out = append(out, x)
	}
	return out, err
}

func (s *server) recordPosting(v *visit) error {
	f := openForm(v.Request.PostForm)
	r, _, err := s.registerHere(v)
	if err != nil {
		return err
	}
	kind := postingKinds[v.Param("kind")]
	in := register.EntryRequest{Kind: kind, Place: r.Place, To: f.text("to"), Reference: f.text("reference"),
		Note: f.text("note"), Cause: inventory.Cause(f.text("cause"))}
	fields, err := s.postingLots(v, f, r, kind)
	if err != nil {
		return err
	}
	var rows []string
	for _, x := range fields {
		row := "lot." + formatID(x.LotID)
		if n := f.number(row + ".qty"); n != 0 {
			rows = append(rows, row)
			in.Lines = append(in.Lines, register.EntryRequestLine{LotID: x.LotID, Qty: n, Given: f.text(row + ".given"),
				Wasted: f.text(row + ".wasted")})
		}
	}
	if len(in.Lines) == 0 && f.ok() {
		f.wrong("lines", "say how many of at least one batch")
	}
	err = s.record(v, f, func(ctx context.Context, by inventory.Actor, _ string) (string, error) {
		_, err := s.svc.Register.RecordEntry(ctx, by, in)
		return registerPath(r.Place, r.Item) + "?done=entered", err
	})
	return f.fix(v, err, lineNames(rows, ""), s.postingForm)
}

type entryPage struct {
	Base
	inventory.RegisterPage
	Path    string
	Entry   EntryRow
	Correct bool // else sign
	Form    Form
	Signer  Field
	PIN     Field
	Note    Field
	Signing *SigningFields
}

// entryHere returns the page of the register and the entry that the address
// names.
func (s *server) entryHere(v *visit) (*entryPage, error) {
	r, station, err := s.registerHere(v)
	if err != nil {
		return nil, err
	}
	i := slices.IndexFunc(r.Entries, func(e inventory.RegisterEntry) bool {
		return e.Kind == inventory.EntryMovement && e.ID == paramID(v, "entry")
	})
	if i < 0 {
		return nil, inventory.Errorf(inventory.NotFound, "no such entry on this page of the register")
	}
	places, err := s.svc.Lists.Places(v.ctx(), v.actor, inventory.PlaceFilter{Retired: true}, inventory.Page{})
	if err != nil {
		return nil, err
	}
	return &entryPage{Base: Base{Title: "Register: " + r.Name, Caution: true}, RegisterPage: r, Path: registerPath(r.Place,
		r.Item),
		Entry: entryRow(r.Entries[i], station, places)}, nil
}

func (s *server) showSign(v *visit) error { return s.signForm(v, openForm(nil), nil) }

func (s *server) signForm(v *visit, f *form, failed error) error {
	p, err := s.entryHere(v)
	if err != nil {
		return err
	}
	if !f.values.Has("person") && p.Entry.By != v.actor.Name {
		f.values.Set("person", v.actor.Name)
	}
	p.Signer = f.field("person", "Name of who signs").Need()
	p.PIN = f.field(ownPIN, "Their own PIN").Need()
	p.PIN.Kind, p.PIN.Value = "password", ""
	p.Form = f.state(failed, f.keyOr(newKey), 0)
	return s.render(v, statusOf(failed), p)
}

// signEntry gives a signature that is owed. On a shared device the person may
// be another one than who is signed in.
func (s *server) signEntry(v *visit) error {
	f := openForm(v.Request.PostForm)
	p, err := s.entryHere(v)
	if err != nil {
		return err
	}
	by, err := s.svc.Account.SignAlone(v.ctx(), v.actor, account.Signature{Person: f.text("person"), PIN: v.pins[0]},
		s.opt.Secrets)
	if err == nil {
		err = v.once(func(ctx context.Context, _ string) (string, error) {
			_, err := s.svc.Register.SignEntry(ctx, by, p.Entry.ID)
			return p.Path + "?done=signed", err
		})
	}
	return f.fix(v, err, func(path string) string {
		if path == "pin" {
			return ownPIN
		}
		return path
	}, s.signForm)
}

func (s *server) showCorrectEntry(v *visit) error { return s.correctEntryForm(v, openForm(nil), nil) }

func (s *server) correctEntryForm(v *visit, f *form, failed error) error {
	p, err := s.entryHere(v)
	if err != nil {
		return err
	}
	p.Correct = true
	p.Note = f.area("note", "What is wrong, and what is right").Need()
	p.Signing = f.signing(true).needed()
	p.Form = f.state(failed, f.keyOr(newKey), 0)
	return s.render(v, statusOf(failed), p)
}

// correctEntry books the further entry that undoes one.
func (s *server) correctEntry(v *visit) error {
	f := openForm(v.Request.PostForm)
	p, err := s.entryHere(v)
	if err != nil {
		return err
	}
	err = s.record(v, f, func(ctx context.Context, by inventory.Actor, _ string) (string, error) {
		_, err := s.svc.Register.CorrectEntry(ctx, by, p.Entry.ID, f.text("note"))
		return p.Path + "?done=corrected", err
	})
	return f.fix(v, err, nil, s.correctEntryForm)
}
