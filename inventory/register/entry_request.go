package register

import (
	"context"
	"slices"
	"strconv"

	"stowkeeper/inventory"
	"stowkeeper/inventory/account"
	"stowkeeper/inventory/amount"
	"stowkeeper/inventory/ledger"
)

// RequestKind is what a register's entry books.
type RequestKind string

// The kinds of posting.
const (
	RequestSignOut RequestKind = "sign_out" // to a person's own carrier, for a shift
	RequestBack    RequestKind = "sign_back"
	RequestUse     RequestKind = "use"
	RequestDestroy RequestKind = "destroy"
)

// EntryRequest is an entry as people write it in the register of a place: signing out to one's own carrier for a
// shift and back, a use from there, or what was destroyed.
type EntryRequest struct {
	Kind       RequestKind        `json:"kind" enum:"sign_out,sign_back,use,destroy"`
	Place      string             `json:"place" doc:"Place code: where the units are"`
	To         string             `json:"to,omitempty" doc:"Carrier, store or bag; default: your own, or the store"`
	Lines      []EntryRequestLine `json:"lines" doc:"What moves"`
	HappenedAt inventory.Instant  `json:"happened_at,omitempty" format:"date-time" doc:"Default: now"`
	Cause      inventory.Cause    `json:"cause,omitempty" enum:"expired,damaged,wasted,recalled,other" doc:"For destroy"`
	Authorised string             `json:"authorised_by,omitempty" maxLength:"120" doc:"For destroy: who authorised it"`
	Reference  string             `json:"reference,omitempty" maxLength:"120" doc:"Incident or document"`
	Note       string             `json:"note,omitempty" maxLength:"2000"`
}

// EntryRequestLine is a quantity of a lot. What was given and wasted, with the date
// and the two who sign, is most of what 21 CFR 1304.27(a) asks for each dose.
type EntryRequestLine struct {
	LotID  int64         `json:"lot_id"`
	Qty    int           `json:"qty" minimum:"1" maximum:"10000"`
	Given  amount.Amount `json:"given,omitempty" minimum:"0" doc:"For a use, in the unit of the content"`
	Wasted amount.Amount `json:"wasted,omitempty" minimum:"0" doc:"With given it is all that the units held"`
}

// RecordEntry books an entry in the register of a place, and returns its movements in the order of the lines. Crew
// sign out to their own carrier and act from there; a quartermaster does it for any place. Refuses: Forbidden
// without check where the place is, and for another's carrier; Invalid by field, and where signatures are missing;
// Conflict for what a rule or the stock forbids. A use whose parts do not add up is booked, and opens a discrepancy.
func (s *Service) RecordEntry(ctx context.Context, by inventory.Actor, in EntryRequest) ([]inventory.Movement, error) {
	return inventory.Write(ctx, s.store, func(w inventory.Writer) ([]inventory.Movement, error) {
		policy := ledger.TwoSign
		if in.Kind == RequestUse {
			policy = ledger.AloneUses
		}
		p := ledger.NewUnit(w, by, s.now(), policy)
		in.Place, in.To = ledger.PlaceCode(in.Place), ledger.PlaceCode(in.To)
		if err := by.Must(inventory.ActCheck, ""); err != nil {
			return nil, err
		}
		if err := in.check(); err != nil {
			return nil, err
		}
		from, err := p.Place(in.Place)
		if err != nil {
			return nil, inventory.AsField(err, "place", "not found")
		}
		if from.Outside() {
			return nil, inventory.InvalidField("place", "choose one of {1}", inventory.KindList(inventory.InsideKinds...))
		}
		if err := p.May(inventory.ActCheck, from); err != nil {
			return nil, err
		}
		contents, err := onlyControlled(p, in.Lines)
		if err != nil {
			return nil, err
		}
		ms, err := entryMovements(p, in, from, contents)
		if err != nil {
			return nil, err
		}
		return p.Post(ms, "lines")
	})
}

func (in EntryRequest) check() error {
	var ps inventory.Problems
	ps.When(!slices.Contains([]RequestKind{RequestSignOut, RequestBack, RequestUse, RequestDestroy}, in.Kind), "kind",
		"choose one of {1}", "sign_out, sign_back, use, destroy")
	ps.When(len(in.Lines) == 0 || len(in.Lines) > 100, "lines", "enter {1} to {2}", 1, 100)
	ps.When(in.Kind == RequestUse && inventory.OneLine(in.Reference) == "", "reference",
		"enter the incident number")
	ps.When(in.Kind != RequestDestroy && in.Authorised != "", "authorised_by", "leave this empty")
	ps.When(in.Kind == RequestDestroy && inventory.OneLine(in.Authorised) == "", "authorised_by",
		"enter who authorised the destruction")
	inventory.CheckText(&ps, "authorised_by", in.Authorised, false, inventory.MaxName)
	for i, l := range in.Lines {
		path := "lines[" + strconv.Itoa(i) + "]"
		inventory.CheckText(&ps, path+".given", string(l.Given), false, 40)
		inventory.CheckText(&ps, path+".wasted", string(l.Wasted), false, 40)
		ps.When(in.Kind != RequestUse && l.Given+l.Wasted != "", path+".given", "leave this empty")
	}
	return ps.Err()
}

// onlyControlled refuses lots that no register is kept of: crew move nothing else this way. It returns what units of
// each line hold.
func onlyControlled(p *ledger.Unit, lines []EntryRequestLine) (contents []amount.Content, err error) {
	for i, l := range lines {
		path := "lines[" + strconv.Itoa(i) + "].lot_id"
		lot, err := p.Lot(l.LotID)
		if err != nil {
			return nil, inventory.AsField(err, path, "not found")
		}
		it, err := p.Item(lot.Item)
		if err != nil {
			return nil, err
		}
		if !it.Controlled {
			return nil, inventory.InvalidField(path, "choose a controlled item")
		}
		contents = append(contents, it.Content)
	}
	return contents, nil
}

// entryMovements turns an entry into movements.
func entryMovements(p *ledger.Unit, in EntryRequest, from inventory.Place,
	contents []amount.Content) ([]inventory.Movement, error) {
	m := inventory.Movement{From: from.Code, HappenedAt: in.HappenedAt, Reference: in.Reference}
	switch in.Kind {
	case RequestUse:
		m.To, m.Reason = string(inventory.KindUsed), inventory.ReasonUsed
	case RequestDestroy:
		m.To, m.Reason, m.Cause = string(inventory.KindDisposed), inventory.ReasonDisposed, in.Cause
		m.AuthorisedBy = in.Authorised
	case RequestSignOut:
		to, err := carrierFor(p, in, from)
		if err != nil {
			return nil, err
		}
		m.To, m.Reason = to.Code, ledger.StowReason(from.Kind)
		if from.Kind == inventory.KindCarrier {
			m.Reason = inventory.ReasonTransfer
		}
	case RequestBack:
		to, err := backTo(p, in, from)
		if err != nil {
			return nil, err
		}
		m.To, m.Reason = to.Code, inventory.ReasonReturn
		if to.Kind == inventory.KindBag {
			m.Reason = inventory.ReasonStow
		}
	}
	if err := mayEnter(p, in.Kind, from); err != nil {
		return nil, err
	}
	out := make([]inventory.Movement, 0, len(in.Lines))
	for i, l := range in.Lines {
		parts := amount.Parts{Given: l.Given, Wasted: l.Wasted}
		m.LotID, m.Qty, m.Note = l.LotID, l.Qty, inventory.WithNote(parts.Note(contents[i].Unit), in.Note)
		out = append(out, m)
	}
	return out, nil
}

// mayEnter keeps crew to their own carrier, signing out apart: that is how things come onto it.
func mayEnter(p *ledger.Unit, kind RequestKind, from inventory.Place) error {
	if inventory.May(p.By.Role, inventory.ActKeepStock) || kind == RequestSignOut && from.Kind != inventory.KindCarrier {
		return nil
	}
	if from.Kind != inventory.KindCarrier || !account.SameName(from.Holder, signer(p)) {
		return inventory.Refuse(inventory.Forbidden, "not your own carrier")
	}
	return nil
}

// signer is who signs first, or who would.
func signer(p *ledger.Unit) string {
	if first := p.By.Proven(p.Now).First; first != "" || p.By.Program {
		return first
	}
	return p.By.Name
}

// carrierFor returns the carrier that is signed out to: the one that is named, which must be the signer's own for
// crew, or the signer's own, which is made where there is none yet.
func carrierFor(p *ledger.Unit, in EntryRequest, from inventory.Place) (inventory.Place, error) {
	if in.To != "" {
		to, err := p.Place(in.To)
		if err != nil {
			return to, inventory.AsField(err, "to", "not found")
		}
		if to.Kind != inventory.KindCarrier || to.Holder == "" {
			return to, inventory.InvalidField("to", "choose a carrier with a holder")
		}
		if !account.SameName(to.Holder, signer(p)) && !inventory.May(p.By.Role, inventory.ActKeepStock) {
			return to, inventory.Refuse(inventory.Forbidden, "not your own carrier")
		}
		return to, p.May(inventory.ActCheck, to)
	}
	who := signer(p)
	if who == "" {
		return inventory.Place{}, account.ErrUnsigned
	}
	station, err := p.CurrentStation(from)
	if err != nil {
		return inventory.Place{}, err
	}
	carriers, err := p.W.Places(inventory.PlaceFilter{Stations: []string{station.Code}, Kind: inventory.KindCarrier},
		inventory.Page{})
	if err != nil {
		return inventory.Place{}, err
	}
	for _, c := range carriers {
		if account.SameName(c.Holder, who) && c.Purpose == from.Purpose && c.Vehicle == "" {
			return c, nil
		}
	}
	person, err := p.W.PersonByName(who)
	if err != nil {
		return inventory.Place{}, inventory.AsField(err, "to", "choose your own carrier")
	}
	own := inventory.Place{Code: station.Code + "-HELD-" + strconv.FormatInt(person.ID, 10), Station: station.Code,
		Kind: inventory.KindCarrier, Purpose: from.Purpose,
		Name: person.Name + ", own carrier", Holder: person.Name, Version: 1}
	return own, p.W.AddPlace(own)
}

// backTo returns where units are signed back to.
func backTo(p *ledger.Unit, in EntryRequest, from inventory.Place) (inventory.Place, error) {
	if from.Kind != inventory.KindCarrier {
		return from, inventory.InvalidField("place", "choose a carrier")
	}
	if in.To == "" {
		station, err := p.Station(from.Station)
		if err != nil {
			return from, err
		}
		in.To = station.StoreCode()
	}
	to, err := p.Place(in.To)
	if err != nil {
		return to, inventory.AsField(err, "to", "not found")
	}
	if to.Kind != inventory.KindStore && to.Kind != inventory.KindBag {
		return to, inventory.InvalidField("to", "choose one of {1}",
			inventory.KindList(inventory.KindStore, inventory.KindBag))
	}
	return to, p.May(inventory.ActCheck, to)
}

// CorrectEntry corrects an entry of the register: it books the movement that exactly undoes it, with a note that
// says why, as a further dated entry that points at the one it corrects. Nothing is cancelled or altered (UK Misuse
// of Drugs Regulations 2001, reg. 20(c)). Refuses: Forbidden without keep_stock at either end; NotFound; Invalid for
// the note, and where signatures are missing; Conflict where it was corrected before, or the stock forbids it.
func (s *Service) CorrectEntry(ctx context.Context, by inventory.Actor, movement int64,
	note string) (inventory.Movement, error) {
	return inventory.WriteAs(ctx, s.store, by, inventory.ActKeepStock, func(w inventory.Writer) (inventory.Movement,
		error) {
		orig, err := w.Movement(movement)
		if err != nil {
			return inventory.Movement{}, err
		}
		p := ledger.NewUnit(w, by, s.now(), ledger.TwoSign)
		undo := inventory.Movement{LotID: orig.IntoLotID, Qty: orig.Qty, From: orig.To, To: orig.From,
			Reason: inventory.ReasonCorrection, Corrects: orig.ID, Note: note}
		for _, code := range []string{undo.From, undo.To} {
			pl, err := p.Place(code)
			if err != nil {
				return inventory.Movement{}, err
			}
			if err := p.May(inventory.ActKeepStock, pl); err != nil {
				return inventory.Movement{}, err
			}
		}
		var ps inventory.Problems
		inventory.CheckText(&ps, "note", note, true, inventory.MaxNote)
		if err := ps.Err(); err != nil {
			return inventory.Movement{}, err
		}
		done, err := p.Post([]inventory.Movement{undo}, "movements")
		if err != nil {
			return inventory.Movement{}, err
		}
		return done[0], nil
	})
}
