package storeroom

import (
	"context"
	"strconv"

	"stowkeeper/inventory"
	"stowkeeper/inventory/ledger"
	"stowkeeper/inventory/scope"
	"stowkeeper/inventory/shift"
)

// RecordRestock books what was put into a bag and taken out, and its new seal. It is made at a desk: what no longer
// fits is refused and does not wait. seenPosition, where it is above zero, is the position of the pick list.
// Refuses: Forbidden without keep_stock where the bag is and at each place; NotFound for the bag; Stale where the
// bag changed after seenPosition; Invalid by field, and where a controlled item lacks signatures; Conflict for a bag
// that is retired, and for what a rule or the stock forbids. Locks the bag.
func (s *Service) RecordRestock(ctx context.Context, by inventory.Actor, in inventory.Restock,
	seenPosition int64) (inventory.Restock, error) {
	return inventory.Write(ctx, s.store, func(w inventory.Writer) (inventory.Restock, error) {
		b, err := scope.LockedBag(w, by, in.Bag, inventory.ActKeepStock)
		if err != nil {
			return in, err
		}
		if b.Retired() {
			return in, ledger.ErrRetired("it takes no restock")
		}
		if seenPosition > 0 && seenPosition != b.Position {
			return in, inventory.Errorf(inventory.Stale, "the bag changed after the pick list was made; make it again")
		}
		in.Bag, in.By, in.RecordedAt = b.Code, by.Name, s.now()
		if err := restockShape(in); err != nil {
			return in, err
		}
		p := ledger.NewUnit(w, by, in.RecordedAt, ledger.TwoSign)
		p.Hold(b)
		station, err := p.Station(b.AtStation)
		if err != nil {
			return in, err
		}
		if err := postRestock(p, &in, station); err != nil {
			return in, err
		}
		if in, err = w.AddRestock(in); err != nil {
			return in, err
		}
		return in, noteRestock(w, b, in)
	})
}

func restockShape(in inventory.Restock) error {
	var ps inventory.Problems
	inventory.CheckText(&ps, "seal_set", in.SealSet, false, 40)
	inventory.CheckText(&ps, "note", in.Note, false, inventory.MaxNote)
	ps.When(len(in.Lines)+len(in.TakeOut) == 0 && in.SealSet == "", "lines",
		"give what went in or came out, or the new seal")
	ps.When(len(in.Lines)+len(in.TakeOut) > 2000, "lines", "give at most 2000 lines")
	return ps.Err()
}

// postRestock takes out first, so that the place that units leave is free
// again for what comes in.
func postRestock(p *ledger.Unit, in *inventory.Restock, station inventory.Station) error {
	out := make([]inventory.Movement, 0, len(in.TakeOut))
	for i, l := range in.TakeOut {
		l.To = ledger.PlaceCode(l.To)
		in.TakeOut[i] = l
		out = append(out, inventory.Movement{LotID: l.LotID, Qty: l.Qty, From: in.Bag, To: l.To, Reason: l.Reason,
			Cause: l.Cause})
		if err := atOwnStation(p, l.To); err != nil {
			return ledger.PrefixPaths(inventory.AsField(err, "to", "place"), "take_out["+strconv.Itoa(i)+"]")
		}
	}
	if _, err := p.Post(out, "take_out"); err != nil {
		return err
	}
	into := make([]inventory.Movement, 0, len(in.Lines))
	for i, l := range in.Lines {
		if l.From == "" {
			l.From = station.StoreCode()
		}
		l.From = ledger.PlaceCode(l.From)
		in.Lines[i] = l
		path := "lines[" + strconv.Itoa(i) + "]"
		if err := atOwnStation(p, l.From); err != nil {
			return ledger.PrefixPaths(inventory.AsField(err, "from", "place"), path)
		}
		from, err := p.Place(l.From)
		if err != nil {
			return ledger.PrefixPaths(inventory.AsField(err, "from", "place"), path)
		}
		if from.Outside() {
			return inventory.Invalidf(path+".from", "name a store, bag or carrier")
		}
		into = append(into, inventory.Movement{LotID: l.LotID, Qty: l.Qty, From: l.From, To: in.Bag,
			Reason: ledger.StowReason(from.Kind)})
	}
	_, err := p.Post(into, "lines")
	return err
}

// atOwnStation refuses places at stations that are not the actor's.
func atOwnStation(p *ledger.Unit, code string) error {
	pl, err := p.Place(code)
	if err != nil {
		return err
	}
	return p.May(inventory.ActKeepStock, pl)
}

// noteRestock records the seal and the time of a restock on its bag.
func noteRestock(w inventory.Writer, b inventory.Bag, in inventory.Restock) error {
	report := shift.ReportedSeal{At: in.RecordedAt, Opens: true, Set: in.SealSet}
	if err := shift.RecordSeal(w, &b, report, in.By, "restock "+strconv.FormatInt(in.ID, 10)); err != nil {
		return err
	}
	b.LastRestock = in.RecordedAt
	return w.SetBagRecord(b.Code, b.BagRecord)
}

// Restocks lists the restocks of a bag, newest first. Refuses: Forbidden without see where the bag is; NotFound.
func (s *Service) Restocks(ctx context.Context, by inventory.Actor, code string, p inventory.Page) ([]inventory.Restock,
	error) {
	return inventory.Read(ctx, s.store, func(r inventory.Reader) ([]inventory.Restock, error) {
		b, err := scope.BagFor(r, by, code, inventory.ActSee)
		if err != nil {
			return nil, err
		}
		return r.Restocks(inventory.RecordFilter{Bag: b.Code}, p)
	})
}

// Seals lists the log of a bag's seals, newest first. Refuses: Forbidden without see where the bag is; NotFound.
func (s *Service) Seals(ctx context.Context, by inventory.Actor, code string, p inventory.Page) ([]inventory.SealEntry,
	error) {
	return inventory.Read(ctx, s.store, func(r inventory.Reader) ([]inventory.SealEntry, error) {
		b, err := scope.BagFor(r, by, code, inventory.ActSee)
		if err != nil {
			return nil, err
		}
		return r.Seals(inventory.RecordFilter{Bag: b.Code}, p)
	})
}

// Observations lists observations at the actor's stations by id, of a bag where one is named. Refuses: Forbidden
// without see, and for a bag or station that is not the actor's; NotFound for either.
func (s *Service) Observations(ctx context.Context, by inventory.Actor, bag string,
	f inventory.ObservationFilter) ([]inventory.Observation, error) {
	return inventory.Read(ctx, s.store, func(r inventory.Reader) ([]inventory.Observation, error) {
		seen, err := scope.RecordsSeen(by, r, inventory.RecordFilter{Bag: bag, AtStations: f.AtStations})
		if err != nil {
			return nil, err
		}
		if f.AtStations = seen.AtStations; bag != "" {
			f.Bags = []string{seen.Bag}
		}
		return r.Observations(f)
	})
}

// CloseObservation ends an observation with a reason. Refuses: Forbidden without keep_stock where the bag is;
// NotFound for the bag or an open observation of it; Invalid for the reason. Locks the bag.
func (s *Service) CloseObservation(ctx context.Context, by inventory.Actor, bag string, id int64,
	reason string) (inventory.Observation, error) {
	return inventory.Write(ctx, s.store, func(w inventory.Writer) (inventory.Observation, error) {
		b, err := scope.LockedBag(w, by, bag, inventory.ActKeepStock)
		if err != nil {
			return inventory.Observation{}, err
		}
		var ps inventory.Problems
		inventory.CheckText(&ps, "reason", reason, true, inventory.MaxNote)
		if err := ps.Err(); err != nil {
			return inventory.Observation{}, err
		}
		open, err := w.Observations(inventory.ObservationFilter{Bags: []string{b.Code}, Open: true})
		if err != nil {
			return inventory.Observation{}, err
		}
		for _, o := range open {
			if o.ID == id {
				o.ClosedAt, o.ClosedBy, o.CloseReason = s.now(), by.Name, reason
				return o, w.CloseObservation(o)
			}
		}
		return inventory.Observation{}, inventory.Errorf(inventory.NotFound, "no such open observation of this bag")
	})
}
