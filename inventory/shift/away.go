package shift

import (
	"cmp"
	"context"
	"slices"
	"strconv"

	"stowkeeper/inventory"
	"stowkeeper/inventory/ledger"
	"stowkeeper/inventory/lists"
)

// AwayTrip is units being left somewhere: at a hospital, in cleaning, in repair, on loan.
type AwayTrip struct {
	From       string            `json:"from" doc:"Place code: the bag, store, carrier or quarantine that they leave"`
	Lines      []AwayLine        `json:"lines" doc:"What is left"`
	Where      string            `json:"where" maxLength:"120" doc:"Where it is left"`
	Holder     string            `json:"holder,omitempty" maxLength:"120" doc:"Who has it; never a patient"`
	DueBack    inventory.Day     `json:"due_back,omitempty" format:"date" doc:"When it is due back"`
	HappenedAt inventory.Instant `json:"happened_at,omitempty" format:"date-time" doc:"Default: now"`
	Reference  string            `json:"reference,omitempty" maxLength:"120" doc:"Incident; no patient data"`
	Note       string            `json:"note,omitempty" maxLength:"2000"`
}

// AwayLine is a quantity of a lot that goes away.
type AwayLine struct {
	LotID int64 `json:"lot_id"`
	Qty   int   `json:"qty" minimum:"1" maximum:"100000"`
}

// ReturnLine is a quantity of a lot that comes back. A device that has inspection points comes back through an
// inspection, made in the same step: one that fails goes to quarantine.
type ReturnLine struct {
	LotID  int64                  `json:"lot_id"`
	Qty    int                    `json:"qty" minimum:"1" maximum:"100000"`
	To     string                 `json:"to,omitempty" doc:"Place code; default: the station's store"`
	Points []inventory.PointCheck `json:"points,omitempty" doc:"For a device: each point, passed or failed"`
}

// AwayPlace is a place away with what lies there.
type AwayPlace struct {
	inventory.Place
	Overdue bool      `json:"overdue" doc:"It was due back before today, at its station"`
	Lots    []AwayLot `json:"lots"`
}

// AwayLot is a quantity of a lot that is away.
type AwayLot struct {
	LotID    int64  `json:"lot_id"`
	Item     string `json:"item"`
	Name     string `json:"name" doc:"The item's name"`
	BatchNo  string `json:"batch_no,omitempty"`
	Serial   string `json:"serial,omitempty"`
	Qty      int    `json:"qty"`
	Inspects bool   `json:"inspects,omitempty" doc:"Must pass an inspection when it comes back"`
}

// OverdueBack tells whether what lies in a place was due back before a day.
func OverdueBack(p inventory.Place, today inventory.Day) bool {
	return p.Kind == inventory.KindAway && p.DueBack != 0 && today > p.DueBack
}

// OftenLeft tells whether units of an item are what crews leave with a patient
// and get back: devices, and what supports, cuts or measures (common practice).
func OftenLeft(it inventory.Item) bool {
	switch it.Category {
	case inventory.CategoryImmobilisation, inventory.CategoryTool, inventory.CategoryDiagnostic:
		return true
	}
	return it.TrackedBy == inventory.BySerial
}

// compareAway orders places away: overdue ones first, then by the day due back with none last, then by code.
func compareAway(a, b AwayPlace) int {
	return cmp.Or(-inventory.CompareBool(a.Overdue, b.Overdue), inventory.CompareEnd(a.DueBack, b.DueBack),
		cmp.Compare(a.Code, b.Code))
}

// SendAway records that units were left somewhere. The trip makes a place of its own at the station that they leave,
// so that where, with whom and due back stay with them. Refuses: Forbidden without check where they leave; Invalid
// by field, and where a controlled item lacks signatures; Conflict for what a rule or the stock forbids. Locks the
// stations' chains.
func (s *Service) SendAway(ctx context.Context, by inventory.Actor, in AwayTrip) (AwayPlace, error) {
	return inventory.WriteAs(ctx, s.store, by, inventory.ActCheck, func(w inventory.Writer) (AwayPlace, error) {
		p := ledger.NewUnit(w, by, s.now(), ledger.TwoSign)
		from, err := p.Place(ledger.PlaceCode(in.From))
		if err != nil {
			return AwayPlace{}, inventory.AsField(err, "from", "not found")
		}
		if err := p.May(inventory.ActCheck, from); err != nil {
			return AwayPlace{}, err
		}
		if from.Outside() {
			return AwayPlace{}, inventory.InvalidField("from", "choose one of {1}", inventory.KindList(inventory.InsideKinds...))
		}
		away, err := awayPlace(p, in, from)
		if err != nil {
			return AwayPlace{}, err
		}
		ms := make([]inventory.Movement, 0, len(in.Lines))
		for _, l := range in.Lines {
			ms = append(ms, inventory.Movement{LotID: l.LotID, Qty: l.Qty, From: from.Code, To: away.Code,
				Reason: inventory.ReasonAway, HappenedAt: in.HappenedAt,
				Reference: in.Reference, Note: in.Note})
		}
		if _, err := p.Post(ms, "lines"); err != nil {
			return AwayPlace{}, err
		}
		all, err := s.awayPlaces(w, []inventory.Place{away})
		if err != nil || len(all) == 0 {
			return AwayPlace{}, err
		}
		return all[0], nil
	})
}

// awayPlace makes the place of a trip.
func awayPlace(p *ledger.Unit, in AwayTrip, from inventory.Place) (inventory.Place, error) {
	var ps inventory.Problems
	ps.When(len(in.Lines) == 0 || len(in.Lines) > 500, "lines", "enter {1} to {2}", 1, 500)
	inventory.CheckText(&ps, "where", in.Where, true, inventory.MaxName)
	inventory.CheckText(&ps, "holder", in.Holder, false, inventory.MaxName)
	if err := ps.Err(); err != nil {
		return inventory.Place{}, err
	}
	station, err := p.CurrentStation(from)
	if err != nil {
		return inventory.Place{}, err
	}
	made, err := p.W.Places(inventory.PlaceFilter{Stations: []string{station.Code}, Kind: inventory.KindAway},
		inventory.Page{})
	if err != nil {
		return inventory.Place{}, err
	}
	place := inventory.Place{Station: station.Code, Kind: inventory.KindAway, Purpose: from.Purpose, Name: in.Where,
		Holder: in.Holder, DueBack: in.DueBack, Version: 1}
	// Somebody may have made the next one meanwhile, or by hand.
	for n, try := len(made)+1, 0; ; n, try = n+1, try+1 {
		place.Code = station.Code + "-AWAY-" + strconv.Itoa(n)
		err := p.W.AddPlace(place)
		if inventory.KindOf(err) != inventory.Conflict || err == nil || try == 100 {
			return place, err
		}
	}
}

// Away lists the places away, at the actor's stations or at some of them, that hold anything: overdue ones first,
// then by the day due back with none last, then by code. Refuses: Forbidden without see, and for a station that is
// not the actor's.
func (s *Service) Away(ctx context.Context, by inventory.Actor, stations []string) ([]AwayPlace, error) {
	return inventory.ReadAs(ctx, s.store, by, inventory.ActSee, func(r inventory.Reader) ([]AwayPlace, error) {
		seen, err := by.Narrow(stations)
		if err != nil {
			return nil, err
		}
		places, err := r.Places(inventory.PlaceFilter{Stations: seen, Kind: inventory.KindAway}, inventory.Page{})
		if err != nil {
			return nil, err
		}
		all, err := s.awayPlaces(r, places)
		return holding(all), err
	})
}

// holding keeps the places away that hold anything, overdue ones first.
func holding(all []AwayPlace) []AwayPlace {
	slices.SortFunc(all, compareAway)
	return slices.DeleteFunc(all, func(a AwayPlace) bool { return len(a.Lots) == 0 })
}

// awayPlaces reads what lies in places away.
func (s *Service) awayPlaces(r inventory.Reader, places []inventory.Place) ([]AwayPlace, error) {
	if len(places) == 0 {
		return []AwayPlace{}, nil
	}
	stations, err := lists.StationsByCode(r)
	if err != nil {
		return nil, err
	}
	of := inventory.StockFilter{Kinds: []inventory.PlaceKind{inventory.KindAway}}
	if len(places) == 1 {
		of.Places = []string{places[0].Code}
	}
	stock, err := r.Stock(of)
	if err != nil {
		return nil, err
	}
	items, err := lists.ItemsByCode(r, inventory.ItemFilter{})
	return awayOf(places, stock, items, stations, s.now()), err
}

// OverdueAway tells which places away hold anything that is overdue to come back.
func OverdueAway(places []inventory.Place, stock []inventory.Stock, items map[string]inventory.Item,
	stations map[string]inventory.Station, now inventory.Instant) []AwayPlace {
	return slices.DeleteFunc(holding(awayOf(places, stock, items, stations, now)),
		func(a AwayPlace) bool { return !a.Overdue })
}

func awayOf(places []inventory.Place, stock []inventory.Stock, items map[string]inventory.Item,
	stations map[string]inventory.Station, now inventory.Instant) []AwayPlace {
	lots := map[string][]AwayLot{}
	for _, st := range stock {
		it := items[st.Lot.Item]
		lots[st.Place] = append(lots[st.Place], AwayLot{LotID: st.Lot.ID, Item: it.Code, Name: it.Name,
			BatchNo: st.Lot.BatchNo, Serial: st.Lot.Serial,
			Qty: st.Qty, Inspects: st.Lot.Device() && len(it.InspectionPoints) > 0})
	}
	out := make([]AwayPlace, 0, len(places))
	for _, p := range places {
		out = append(out, AwayPlace{Place: p, Overdue: OverdueBack(p, stations[p.Station].Today(now)),
			Lots: append([]AwayLot{}, lots[p.Code]...)})
	}
	return out
}

// ComeBack records that units came back, and answers with what is still away. Refuses: Forbidden without check at
// either end; NotFound for the place; Invalid by field, under lines[i]; Conflict for a place that is not away, for a
// device that owes an inspection, and for what the stock forbids. Locks the items of devices that are inspected and
// the bags that units go into.
func (s *Service) ComeBack(ctx context.Context, by inventory.Actor, place string, lines []ReturnLine) (AwayPlace,
	error) {
	return inventory.WriteAs(ctx, s.store, by, inventory.ActCheck, func(w inventory.Writer) (AwayPlace, error) {
		p := ledger.NewUnit(w, by, s.now(), ledger.TwoSign)
		away, err := w.Place(inventory.NormalCode(place))
		if err != nil {
			return AwayPlace{}, err
		}
		if err := p.May(inventory.ActCheck, away); err != nil {
			return AwayPlace{}, err
		}
		if away.Kind != inventory.KindAway {
			return AwayPlace{}, inventory.Refuse(inventory.Conflict, "choose a place")
		}
		if len(lines) == 0 || len(lines) > 500 {
			return AwayPlace{}, inventory.InvalidField("lines", "enter {1} to {2}", 1, 500)
		}
		for i, l := range lines {
			if err := comeBack(p, away, l); err != nil {
				return AwayPlace{}, ledger.PrefixPaths(err, "lines["+strconv.Itoa(i)+"]")
			}
		}
		all, err := s.awayPlaces(w, []inventory.Place{away})
		if err != nil || len(all) == 0 {
			return AwayPlace{}, err
		}
		return all[0], nil
	})
}

// comeBack brings one line back, through an inspection where it carries one.
func comeBack(p *ledger.Unit, away inventory.Place, l ReturnLine) error {
	if l.To == "" {
		station, err := p.Station(away.Station)
		if err != nil {
			return err
		}
		l.To = station.StoreCode()
		if away.Purpose == inventory.ForTraining {
			l.To = station.TrainingStoreCode()
		}
	}
	to, err := p.Place(ledger.PlaceCode(l.To))
	if err != nil {
		return inventory.AsField(err, "to", "not found")
	}
	if err := p.May(inventory.ActCheck, to); err != nil {
		return err
	}
	if to.Outside() {
		return inventory.InvalidField("to", "choose one of {1}", inventory.KindList(inventory.InsideKinds...))
	}
	if len(l.Points) > 0 {
		if passed, err := inspectBack(p, away, l); err != nil || !passed {
			return err
		}
	}
	reason := inventory.ReasonReturn
	switch to.Kind {
	case inventory.KindQuarantine:
		reason = inventory.ReasonQuarantine
	case inventory.KindAway:
		reason = inventory.ReasonTransfer
	}
	return postOne(p, inventory.Movement{LotID: l.LotID, Qty: l.Qty, From: away.Code, To: to.Code, Reason: reason})
}

// inspectBack inspects a device that comes back; one that fails goes to quarantine at once.
func inspectBack(p *ledger.Unit, away inventory.Place, l ReturnLine) (passed bool, err error) {
	if _, err := p.W.Lot(l.LotID); err != nil {
		return false, inventory.AsField(err, "lot_id", "not found")
	}
	st, place, err := p.Device(l.LotID)
	if err != nil {
		return false, err
	}
	if place.Code != away.Code {
		return false, inventory.Refuse(inventory.Conflict, "not away there")
	}
	done, err := p.Inspect(p.By, st, place, inventory.InspectedLine{LotID: l.LotID, Points: l.Points}, p.Now, "",
		"return from "+away.Code)
	return done.Passed, err
}

// postOne posts one movement whose wrong fields stand without an index.
func postOne(p *ledger.Unit, m inventory.Movement) error {
	ready, err := p.Prepare(m)
	if err != nil {
		return err
	}
	_, err = p.Append([]inventory.Movement{ready})
	return err
}
