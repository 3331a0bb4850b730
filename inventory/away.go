package inventory

import (
	"cmp"
	"context"
	"slices"
	"strconv"
)

// AwayTrip is units being left somewhere: at a hospital, in cleaning, in
// repair, on loan.
type AwayTrip struct {
	From      string     `json:"from" doc:"Place code: the bag, store, carrier or quarantine that they leave"`
	Lines     []AwayLine `json:"lines" doc:"What is left"`
	Where     string     `json:"where" maxLength:"120" doc:"Where it is left"`
	Holder    string     `json:"holder,omitempty" maxLength:"120" doc:"Who has it; never a patient"`
	DueBack   Day        `json:"due_back,omitempty" format:"date" doc:"When it is due back"`
	At        Instant    `json:"at,omitempty" format:"date-time" doc:"Now if left out"`
	Reference string     `json:"reference,omitempty" maxLength:"120" doc:"Incident or document; never patient data"`
	Note      string     `json:"note,omitempty" maxLength:"2000"`
}

// AwayLine is a quantity of a lot that goes away.
type AwayLine struct {
	LotID int64 `json:"lot_id"`
	Qty   int   `json:"qty" minimum:"1" maximum:"100000"`
}

// ReturnLine is a quantity of a lot that comes back. A device that has
// inspection points comes back through an inspection, made in the same step:
// one that fails goes to quarantine.
type ReturnLine struct {
	LotID  int64        `json:"lot_id"`
	Qty    int          `json:"qty" minimum:"1" maximum:"100000"`
	To     string       `json:"to,omitempty" doc:"Place code: a bag, store or carrier, or quarantine; the site's store if left out"`
	Points []PointCheck `json:"points,omitempty" doc:"For a device that is inspected: every point of its item, passed or failed"`
}

// AwayPlace is a place away with what lies there.
type AwayPlace struct {
	Place
	Overdue bool      `json:"overdue" doc:"It was due back before today, at its site"`
	Lots    []AwayLot `json:"lots"`
}

// AwayLot is a quantity of a lot that is away.
type AwayLot struct {
	LotID    int64  `json:"lot_id"`
	Item     string `json:"item"`
	Name     string `json:"name" doc:"The item's name"`
	LotNo    string `json:"lot_no,omitempty"`
	Serial   string `json:"serial,omitempty"`
	Qty      int    `json:"qty"`
	Inspects bool   `json:"inspects,omitempty" doc:"It comes back through an inspection"`
}

// OverdueBack tells whether what lies in a place was due back before a day.
func OverdueBack(p Place, today Day) bool {
	return p.Kind == KindAway && p.DueBack != 0 && today > p.DueBack
}

// OftenLeft tells whether units of an item are what crews leave with a patient
// and get back: devices, and what supports, cuts or measures (common practice).
func OftenLeft(it Item) bool {
	switch it.Category {
	case CategoryImmobilisation, CategoryTool, CategoryDiagnostic:
		return true
	}
	return it.TrackedBy == BySerial
}

// compareAway orders places away: overdue ones first, then by the day due back
// with none last, then by code.
func compareAway(a, b AwayPlace) int {
	return cmp.Or(-compareBool(a.Overdue, b.Overdue), compareEnd(a.DueBack, b.DueBack), cmp.Compare(a.Code, b.Code))
}

// SendAway records that units were left somewhere. The trip makes a place of
// its own at the site that they leave, so that where, with whom and due back
// stay with them.
func (s *Service) SendAway(ctx context.Context, by Actor, in AwayTrip) (AwayPlace, error) {
	return write(ctx, s, func(w Writer) (AwayPlace, error) {
		if err := by.must(ActCheck, ""); err != nil {
			return AwayPlace{}, err
		}
		p := newPoster(w, by, s.Now())
		from, err := p.place(placeCode(in.From))
		if err != nil {
			return AwayPlace{}, known(err, "from", "place")
		}
		if err := p.may(ActCheck, from); err != nil {
			return AwayPlace{}, err
		}
		if from.Outside() {
			return AwayPlace{}, Invalidf("from", "name a bag, store, carrier or quarantine")
		}
		away, err := p.awayPlace(in, from)
		if err != nil {
			return AwayPlace{}, err
		}
		ms := make([]Movement, 0, len(in.Lines))
		for _, l := range in.Lines {
			ms = append(ms, Movement{LotID: l.LotID, Qty: l.Qty, From: from.Code, To: away.Code, Reason: ReasonAway, HappenedAt: in.At,
				Reference: in.Reference, Note: in.Note})
		}
		if _, err := p.post(ms, "lines"); err != nil {
			return AwayPlace{}, err
		}
		all, err := s.awayPlaces(w, []Place{away})
		if err != nil || len(all) == 0 {
			return AwayPlace{}, err
		}
		return all[0], nil
	})
}

// awayPlace makes the place of a trip.
func (p *poster) awayPlace(in AwayTrip, from Place) (Place, error) {
	var ps problems
	ps.when(len(in.Lines) == 0 || len(in.Lines) > 500, "lines", "give 1 to 500 lines")
	checkText(&ps, "where", in.Where, true, MaxName)
	checkText(&ps, "holder", in.Holder, false, MaxName)
	if err := ps.err(); err != nil {
		return Place{}, err
	}
	site, err := p.siteHere(from)
	if err != nil {
		return Place{}, err
	}
	made, err := p.w.Places(PlaceFilter{Sites: []string{site.Code}, Kind: KindAway}, Page{})
	if err != nil {
		return Place{}, err
	}
	place := Place{Site: site.Code, Kind: KindAway, Purpose: from.Purpose, Name: in.Where, Holder: in.Holder, DueBack: in.DueBack, Version: 1}
	// Somebody may have made the next one meanwhile, or by hand.
	for n, try := len(made)+1, 0; ; n, try = n+1, try+1 {
		place.Code = site.Code + "-AWAY-" + strconv.Itoa(n)
		err := p.w.AddPlace(place)
		if KindOf(err) != Conflict || err == nil || try == 100 {
			return place, err
		}
	}
}

// Away lists the places away, at the actor's sites or at some of them, that
// hold anything: overdue ones first.
func (s *Service) Away(ctx context.Context, by Actor, sites []string) ([]AwayPlace, error) {
	return read(ctx, s, func(r Reader) ([]AwayPlace, error) {
		if err := by.must(ActSee, ""); err != nil {
			return nil, err
		}
		seen, err := by.narrow(sites)
		if err != nil {
			return nil, err
		}
		places, err := r.Places(PlaceFilter{Sites: seen, Kind: KindAway}, Page{})
		if err != nil {
			return nil, err
		}
		all, err := s.awayPlaces(r, places)
		slices.SortFunc(all, compareAway)
		return slices.DeleteFunc(all, func(a AwayPlace) bool { return len(a.Lots) == 0 }), err
	})
}

// awayPlaces reads what lies in places away.
func (s *Service) awayPlaces(r Reader, places []Place) ([]AwayPlace, error) {
	if len(places) == 0 {
		return []AwayPlace{}, nil
	}
	sites, err := sitesByCode(r)
	if err != nil {
		return nil, err
	}
	of := StockFilter{Kinds: []PlaceKind{KindAway}}
	if len(places) == 1 {
		of.Places = []string{places[0].Code}
	}
	stock, err := r.Stock(of)
	if err != nil {
		return nil, err
	}
	codes := []string{}
	for _, st := range stock {
		codes = append(codes, st.Lot.Item)
	}
	items, err := itemsByCode(r, ItemFilter{Codes: codes})
	if err != nil {
		return nil, err
	}
	lots := map[string][]AwayLot{}
	for _, st := range stock {
		it := items[st.Lot.Item]
		lots[st.Place] = append(lots[st.Place], AwayLot{LotID: st.Lot.ID, Item: it.Code, Name: it.Name, LotNo: st.Lot.LotNo, Serial: st.Lot.Serial,
			Qty: st.Qty, Inspects: st.Lot.Device() && len(it.InspectionPoints) > 0})
	}
	out := make([]AwayPlace, 0, len(places))
	for _, p := range places {
		out = append(out, AwayPlace{Place: p, Overdue: OverdueBack(p, sites[p.Site].Today(s.Now())), Lots: append([]AwayLot{}, lots[p.Code]...)})
	}
	return out, nil
}

// ComeBack records that units came back, and answers with what is still away.
func (s *Service) ComeBack(ctx context.Context, by Actor, place string, lines []ReturnLine) (AwayPlace, error) {
	return write(ctx, s, func(w Writer) (AwayPlace, error) {
		if err := by.must(ActCheck, ""); err != nil {
			return AwayPlace{}, err
		}
		p := newPoster(w, by, s.Now())
		away, err := w.Place(NormalCode(place))
		if err != nil {
			return AwayPlace{}, err
		}
		if err := p.may(ActCheck, away); err != nil {
			return AwayPlace{}, err
		}
		if away.Kind != KindAway {
			return AwayPlace{}, Errorf(Conflict, "this place is not away: nothing comes back from it")
		}
		if len(lines) == 0 || len(lines) > 500 {
			return AwayPlace{}, Invalidf("lines", "give 1 to 500 lines")
		}
		for i, l := range lines {
			if err := p.comeBack(away, l); err != nil {
				return AwayPlace{}, under(err, "lines["+strconv.Itoa(i)+"]")
			}
		}
		all, err := s.awayPlaces(w, []Place{away})
		if err != nil || len(all) == 0 {
			return AwayPlace{}, err
		}
		return all[0], nil
	})
}

// comeBack brings one line back, through an inspection where it carries one.
func (p *poster) comeBack(away Place, l ReturnLine) error {
	if l.To == "" {
		site, err := p.site(away.Site)
		if err != nil {
			return err
		}
		l.To = site.StoreCode()
		if away.Purpose == ForTraining {
			l.To = site.TrainingStoreCode()
		}
	}
	to, err := p.place(placeCode(l.To))
	if err != nil {
		return known(err, "to", "place")
	}
	if err := p.may(ActCheck, to); err != nil {
		return err
	}
	if to.Outside() {
		return Invalidf("to", "name a bag, store, carrier or quarantine")
	}
	if len(l.Points) > 0 {
		if passed, err := p.inspectBack(away, l); err != nil || !passed {
			return err
		}
	}
	reason := ReasonReturn
	switch to.Kind {
	case KindQuarantine:
		reason = ReasonQuarantine
	case KindAway:
		reason = ReasonTransfer
	}
	return p.postOne(Movement{LotID: l.LotID, Qty: l.Qty, From: away.Code, To: to.Code, Reason: reason})
}

// inspectBack inspects a device that comes back; one that fails goes to
// quarantine at once.
func (p *poster) inspectBack(away Place, l ReturnLine) (passed bool, err error) {
	if _, err := p.w.Lot(l.LotID); err != nil {
		return false, known(err, "lot_id", "lot")
	}
	st, place, err := p.device(l.LotID)
	if err != nil {
		return false, err
	}
	if place.Code != away.Code {
		return false, Errorf(Conflict, "the device is not away there")
	}
	done, err := p.inspect(p.by, st, place, InspectedLine{LotID: l.LotID, Points: l.Points}, p.now, "", "return from "+away.Code)
	return done.Passed, err
}

// postOne posts one movement whose wrong fields stand without an index.
func (p *poster) postOne(m Movement) error {
	ready, err := p.prepare(m)
	if err != nil {
		return err
	}
	_, err = p.append([]Movement{ready})
	return err
}
