package inventory

import (
	"context"
	"slices"
	"strconv"
)

// PostingKind is what a register's entry books.
type PostingKind string

// The kinds of posting.
const (
	PostSignOut PostingKind = "sign_out" // to a person's own carrier, for a shift
	PostBack    PostingKind = "sign_back"
	PostUse     PostingKind = "use"
	PostDestroy PostingKind = "destroy"
)

// Posting is an entry as people write it in the register of a place: signing
// out to one's own carrier for a shift and back, a use from there, or what was
// destroyed.
type Posting struct {
	Kind      PostingKind   `json:"kind" enum:"sign_out,sign_back,use,destroy"`
	Place     string        `json:"place" doc:"Place code: where the units are"`
	To        string        `json:"to,omitempty" doc:"For sign_out: the carrier's code, your own if left out; for sign_back: a store or bag, the site's store if left out"`
	Lines     []PostingLine `json:"lines" doc:"What moves"`
	At        Instant       `json:"at,omitempty" format:"date-time" doc:"Now if left out"`
	Cause     Cause         `json:"cause,omitempty" enum:"expired,damaged,wasted,recalled,other" doc:"For destroy"`
	Reference string        `json:"reference,omitempty" maxLength:"120" doc:"Incident or document; never patient data"`
	Note      string        `json:"note,omitempty" maxLength:"2000"`
}

// PostingLine is a quantity of a lot. What was given and wasted, with the date
// and the two who sign, is most of what 21 CFR 1304.27(a) asks for each dose.
type PostingLine struct {
	LotID  int64  `json:"lot_id"`
	Qty    int    `json:"qty" minimum:"1" maximum:"10000"`
	Given  string `json:"given,omitempty" maxLength:"40" doc:"For a use: the part given, with its unit"`
	Wasted string `json:"wasted,omitempty" maxLength:"40" doc:"For a use: the part wasted, with its unit"`
}

// PostEntry books an entry in the register of a place. Crew sign out to their
// own carrier and act from there; a quartermaster does it for any place.
func (s *Service) PostEntry(ctx context.Context, by Actor, in Posting) ([]Movement, error) {
	return write(ctx, s, func(w Writer) ([]Movement, error) {
		p := newPoster(w, by, s.Now())
		in.Place, in.To = placeCode(in.Place), placeCode(in.To)
		if err := by.must(ActCheck, ""); err != nil {
			return nil, err
		}
		if err := in.check(); err != nil {
			return nil, err
		}
		from, err := p.place(in.Place)
		if err != nil {
			return nil, known(err, "place", "place")
		}
		if from.Outside() {
			return nil, Invalidf("place", "name a store, bag or carrier")
		}
		if err := p.may(ActCheck, from); err != nil {
			return nil, err
		}
		if err := p.onlyControlled(in.Lines); err != nil {
			return nil, err
		}
		p.alone = in.Kind == PostUse
		ms, err := p.entryMovements(in, from)
		if err != nil {
			return nil, err
		}
		return p.post(ms, "lines")
	})
}

func (in Posting) check() error {
	var ps problems
	ps.when(!slices.Contains([]PostingKind{PostSignOut, PostBack, PostUse, PostDestroy}, in.Kind), "kind", "choose sign_out, sign_back, use or destroy")
	ps.when(len(in.Lines) == 0 || len(in.Lines) > 100, "lines", "give 1 to 100 lines")
	ps.when(in.Kind == PostUse && oneLine(in.Reference) == "", "reference", "give the incident reference, never anything about a patient")
	for i, l := range in.Lines {
		path := "lines[" + strconv.Itoa(i) + "]"
		checkText(&ps, path+".given", l.Given, false, 40)
		checkText(&ps, path+".wasted", l.Wasted, false, 40)
		ps.when(in.Kind != PostUse && l.Given+l.Wasted != "", path+".given", "leave this out: only a use gives and wastes")
	}
	return ps.err()
}

// onlyControlled refuses lots that no register is kept of: crew move nothing
// else this way.
func (p *poster) onlyControlled(lines []PostingLine) error {
	for i, l := range lines {
		path := "lines[" + strconv.Itoa(i) + "].lot_id"
		facts, err := cached(p.lots, l.LotID, p.factsOf)
		if err != nil {
			return known(err, path, "lot")
		}
		it, err := p.item(facts.item)
		if err != nil {
			return err
		}
		if !it.Witnessed {
			return Invalidf(path, "name a lot of a controlled item")
		}
	}
	return nil
}

// entryMovements turns an entry into movements.
func (p *poster) entryMovements(in Posting, from Place) ([]Movement, error) {
	m := Movement{From: from.Code, HappenedAt: in.At, Reference: in.Reference}
	switch in.Kind {
	case PostUse:
		m.To, m.Reason = string(KindUsed), ReasonUsed
	case PostDestroy:
		m.To, m.Reason, m.Cause = string(KindDisposed), ReasonDisposed, in.Cause
	case PostSignOut:
		to, err := p.carrierFor(in, from)
		if err != nil {
			return nil, err
		}
		m.To, m.Reason = to.Code, stowReason(from.Kind)
		if from.Kind == KindCarrier {
			m.Reason = ReasonTransfer
		}
	case PostBack:
		to, err := p.backTo(in, from)
		if err != nil {
			return nil, err
		}
		m.To, m.Reason = to.Code, ReasonReturn
		if to.Kind == KindBag {
			m.Reason = ReasonStow
		}
	}
	if err := p.mayEnter(in.Kind, from); err != nil {
		return nil, err
	}
	out := make([]Movement, 0, len(in.Lines))
	for _, l := range in.Lines {
		m.LotID, m.Qty, m.Note = l.LotID, l.Qty, withNote(partsNote(l.Given, l.Wasted), in.Note)
		out = append(out, m)
	}
	return out, nil
}

// mayEnter keeps crew to their own carrier, signing out apart: that is how
// things come onto it.
func (p *poster) mayEnter(kind PostingKind, from Place) error {
	if May(p.by.Role, ActKeepStock) || kind == PostSignOut && from.Kind != KindCarrier {
		return nil
	}
	if from.Kind != KindCarrier || !sameName(from.Holder, p.signer()) {
		return Errorf(Forbidden, "this is not your own carrier: only its holder or a quartermaster may do this")
	}
	return nil
}

// signer is who signs first, or who would.
func (p *poster) signer() string {
	if first := p.by.proven(p.now).first; first != "" || p.by.Program {
		return first
	}
	return p.by.Name
}

// carrierFor returns the carrier that is signed out to: the one that is named,
// which must be the signer's own for crew, or the signer's own, which is made
// where there is none yet.
func (p *poster) carrierFor(in Posting, from Place) (Place, error) {
	if in.To != "" {
		to, err := p.place(in.To)
		if err != nil {
			return to, known(err, "to", "place")
		}
		if to.Kind != KindCarrier || to.Holder == "" {
			return to, Invalidf("to", "name a carrier that somebody holds, or leave this out for your own")
		}
		if !sameName(to.Holder, p.signer()) && !May(p.by.Role, ActKeepStock) {
			return to, Errorf(Forbidden, "this is not your own carrier: everybody signs out to their own")
		}
		return to, p.may(ActCheck, to)
	}
	who := p.signer()
	if who == "" {
		return Place{}, errUnsigned
	}
	site, err := p.siteHere(from)
	if err != nil {
		return Place{}, err
	}
	carriers, err := p.w.Places(PlaceFilter{Sites: []string{site.Code}, Kind: KindCarrier}, Page{})
	if err != nil {
		return Place{}, err
	}
	for _, c := range carriers {
		if sameName(c.Holder, who) && c.Purpose == from.Purpose && c.Vehicle == "" {
			return c, nil
		}
	}
	person, err := p.w.PersonByName(who)
	if err != nil {
		return Place{}, known(err, "to", "carrier of your own")
	}
	own := Place{Code: site.Code + "-HELD-" + strconv.FormatInt(person.ID, 10), Site: site.Code, Kind: KindCarrier, Purpose: from.Purpose,
		Name: person.Name + ", own carrier", Holder: person.Name, Version: 1}
	return own, p.w.AddPlace(own)
}

// backTo returns where units are signed back to.
func (p *poster) backTo(in Posting, from Place) (Place, error) {
	if from.Kind != KindCarrier {
		return from, Invalidf("place", "name the carrier that they are signed back from")
	}
	if in.To == "" {
		site, err := p.site(from.Site)
		if err != nil {
			return from, err
		}
		in.To = site.StoreCode()
	}
	to, err := p.place(in.To)
	if err != nil {
		return to, known(err, "to", "place")
	}
	if to.Kind != KindStore && to.Kind != KindBag {
		return to, Invalidf("to", "name a store or a bag")
	}
	return to, p.may(ActCheck, to)
}

// holdsControlled refuses to give a place with controlled items in it another
// holder: they change hands only by two signatures.
func holdsControlled(r Reader, pl Place) error {
	stock, err := r.Stock(StockFilter{Places: []string{pl.Code}})
	if err != nil {
		return err
	}
	var codes []string
	for _, st := range stock {
		codes = append(codes, st.Lot.Item)
	}
	if len(codes) == 0 {
		return nil
	}
	items, err := itemsByCode(r, ItemFilter{Codes: codes})
	for _, it := range items {
		if it.Witnessed {
			return Errorf(Conflict, "controlled items lie there: sign them back before somebody else holds it")
		}
	}
	return err
}

// CorrectEntry corrects an entry of the register: it books the movement that
// exactly undoes it, with a note that says why, as a further dated entry that
// points at the one it corrects. Nothing is cancelled or altered (UK Misuse of
// Drugs Regulations 2001, reg. 20(c)).
func (s *Service) CorrectEntry(ctx context.Context, by Actor, movement int64, note string) (Movement, error) {
	return write(ctx, s, func(w Writer) (Movement, error) {
		if err := by.must(ActKeepStock, ""); err != nil {
			return Movement{}, err
		}
		orig, err := w.Movement(movement)
		if err != nil {
			return Movement{}, err
		}
		p := newPoster(w, by, s.Now())
		undo := Movement{LotID: orig.IntoLotID, Qty: orig.Qty, From: orig.To, To: orig.From, Reason: ReasonCorrection, Corrects: orig.ID, Note: note}
		for _, code := range []string{undo.From, undo.To} {
			pl, err := p.place(code)
			if err != nil {
				return Movement{}, err
			}
			if err := p.may(ActKeepStock, pl); err != nil {
				return Movement{}, err
			}
		}
		var ps problems
		checkText(&ps, "note", note, true, MaxNote)
		if err := ps.err(); err != nil {
			return Movement{}, err
		}
		done, err := p.post([]Movement{undo}, "movements")
		if err != nil {
			return Movement{}, err
		}
		return done[0], nil
	})
}
