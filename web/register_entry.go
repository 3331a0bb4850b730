package web

import (
	"context"
	"slices"

	"stowkeeper/inventory"
	"stowkeeper/inventory/account"
	"stowkeeper/inventory/amount"
	"stowkeeper/inventory/message"
	"stowkeeper/inventory/register"
)

type postingPage struct {
	Base
	register.RegisterPage
	Path                       string
	Kind                       register.RequestKind
	Lots                       []PostingFields
	To, Reference, Cause, Note Field
	Authorised                 Field // of what is destroyed
	Signing                    *SigningFields
}

// PostingFields are a lot that lies in the place, with how much of it moves.
type PostingFields struct {
	LotView
	There              int
	Qty, Given, Wasted Field
}

var postingKinds = map[string]register.RequestKind{
	"sign-out": register.RequestSignOut, "sign-back": register.RequestBack, "use": register.RequestUse,
	"destroy": register.RequestDestroy,
}

var destroyCauses = []Option{
	{Value: string(inventory.CauseExpired), Text: message.M("expired")},
	{Value: string(inventory.CauseDamaged), Text: message.M("broken or damaged")},
	{Value: string(inventory.CauseWasted), Text: message.M("drawn up, not given")},
	{Value: string(inventory.CauseRecalled), Text: message.M("recalled")},
	{Value: string(inventory.CauseOther), Text: message.M("other")},
}

func (s *server) postingForm(v *visit, f *form, failed error) error {
	kind, known := postingKinds[v.Param("kind")]
	if !known {
		return inventory.Refuse(inventory.NotFound, "not found")
	}
	r, _, err := s.registerHere(v, register.Period{})
	if err != nil {
		return err
	}
	p := &postingPage{Base: Base{Title: message.M("Controlled drugs: {1}", r.Name), Caution: true}, RegisterPage: r,
		Path: registerPath(r.Place, r.Item), Kind: kind}
	if p.Lots, err = s.postingLots(v, f, r, kind); err != nil {
		return err
	}
	p.Reference = f.field("reference", message.M("Reference"))
	switch kind {
	case register.RequestUse:
		p.Reference = f.field("reference", message.M("Incident number")).Need().
			WithHint(message.M("Never about a patient"))
	case register.RequestDestroy:
		p.Cause = f.choice("cause", message.M("Reason"), destroyCauses).Need()
		p.Authorised = f.authorised(true).Need()
	case register.RequestBack:
		places := v.placesOf(inventory.PlaceFilter{Stations: []string{p.Station}})
		p.To = f.choice("to", message.M("Return to"), signBackOptions(places, p.Station))
		p.To.Empty = message.M("station store")
	}
	p.Note = f.field("note", message.M("Note"))
	if p.Signing = f.signing(true); kind == register.RequestUse {
		p.Signing.alone()
	} else {
		p.Signing.needed()
	}
	return s.renderForm(v, f, p, failed)
}

// authorised is the field for who authorised that a controlled item is destroyed.
func (f *form) authorised(controlled bool) Field {
	if !controlled {
		return Field{}
	}
	return f.field("authorised_by", message.M("Authorised by"))
}

// signBackOptions lists where units may be signed back to: the stores and bags
// for issue at the station, its own store first.
func signBackOptions(places []inventory.Place, station string) (out []Option) {
	for _, kind := range []inventory.PlaceKind{inventory.KindStore, inventory.KindBag} {
		for _, p := range places {
			if p.Station == station && p.Kind == kind && p.Purpose == inventory.ForIssue {
				out = append(out, Option{Value: p.Code, Text: message.M("{1}, {2}", p.Name, p.Code)})
			}
		}
	}
	return out
}

func (s *server) postingLots(v *visit, f *form, r register.RegisterPage, kind register.RequestKind) ([]PostingFields,
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
		x.Qty = f.numberField(row+".qty", message.M("Units of {1}", x.Label))
		if kind == register.RequestUse {
			x.Given, x.Wasted = f.parts(row, r.Content)
		}
		out = append(out, x)
	}
	return out, err
}

func (s *server) recordPosting(v *visit, f *form) error {
	r, _, err := s.registerHere(v, register.Period{})
	if err != nil {
		return err
	}
	kind := postingKinds[v.Param("kind")]
	in := register.EntryRequest{Kind: kind, Place: r.Place, To: f.text("to"), Reference: f.text("reference"),
		Note: f.text("note"), Cause: inventory.Cause(f.text("cause")), Authorised: f.text("authorised_by")}
	fields, err := s.postingLots(v, f, r, kind)
	if err != nil {
		return err
	}
	var rows []string
	for _, x := range fields {
		row := "lot." + formatID(x.LotID)
		if n := f.number(row + ".qty"); n != 0 {
			rows = append(rows, row)
			in.Lines = append(in.Lines, register.EntryRequestLine{LotID: x.LotID, Qty: n,
				Given: amount.Amount(f.text(row + ".given")), Wasted: amount.Amount(f.text(row + ".wasted"))})
		}
	}
	if len(in.Lines) == 0 && f.ok() {
		f.wrong("lines", message.M("enter at least one quantity"))
	}
	f.names = lineNames(rows, "")
	return s.record(v, f, func(ctx context.Context, by inventory.Actor, _ string) (string, error) {
		_, err := s.svc.Register.RecordEntry(ctx, by, in)
		return registerPath(r.Place, r.Item) + "?done=entered", err
	})
}

type entryPage struct {
	Base
	register.RegisterPage
	Path              string
	Entry             EntryRow
	Correct           bool // else sign
	Signer, PIN, Note Field
	Signing           *SigningFields
}

// entryHere returns the page of the register and the entry that the address names.
func (s *server) entryHere(v *visit) (*entryPage, error) {
	r, station, err := s.registerHere(v, register.Period{})
	if err != nil {
		return nil, err
	}
	i := slices.IndexFunc(r.Entries, func(e register.RegisterEntry) bool {
		return e.Kind == register.EntryMovement && e.ID == paramID(v, "entry")
	})
	if i < 0 {
		return nil, inventory.Refuse(inventory.NotFound, "not found")
	}
	places, err := s.svc.Lists.Places(v.ctx(), v.actor, inventory.PlaceFilter{Retired: true}, inventory.Page{})
	if err != nil {
		return nil, err
	}
	return &entryPage{Base: Base{Title: message.M("Controlled drugs: {1}", r.Name), Caution: true}, RegisterPage: r,
		Path: registerPath(r.Place, r.Item), Entry: entryRow(r.Entries[i], station, places)}, nil
}

func (s *server) signForm(v *visit, f *form, failed error) error {
	p, err := s.entryHere(v)
	if err != nil {
		return err
	}
	if !f.values.Has("person") && p.Entry.By != v.actor.Name {
		f.values.Set("person", v.actor.Name)
	}
	p.Signer = f.field("person", message.M("Signer's name")).Need()
	p.PIN = f.field(ownPIN, message.M("Signer's PIN")).Need()
	p.PIN.Kind, p.PIN.Value = "password", ""
	return s.renderForm(v, f, p, failed)
}

// signEntry gives a signature that is owed. On a shared device the person may be another one than who is signed in.
func (s *server) signEntry(v *visit, f *form) error {
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
	f.names = func(path string) string {
		if path == "pin" {
			return ownPIN
		}
		return path
	}
	return err
}

func (s *server) correctEntryForm(v *visit, f *form, failed error) error {
	p, err := s.entryHere(v)
	if err != nil {
		return err
	}
	p.Correct = true
	p.Note = f.area("note", message.M("What was wrong, what is right")).Need()
	p.Signing = f.signing(true).needed()
	return s.renderForm(v, f, p, failed)
}

// correctEntry books the further entry that undoes one.
func (s *server) correctEntry(v *visit, f *form) error {
	p, err := s.entryHere(v)
	if err != nil {
		return err
	}
	return s.record(v, f, func(ctx context.Context, by inventory.Actor, _ string) (string, error) {
		_, err := s.svc.Register.CorrectEntry(ctx, by, p.Entry.ID, f.text("note"))
		return p.Path + "?done=corrected", err
	})
}
