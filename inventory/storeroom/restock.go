package storeroom

import (
	"context"
	"strconv"

	"stowkeeper/inventory"
	"stowkeeper/inventory/ledger"
	"stowkeeper/inventory/lists"
	"stowkeeper/inventory/message"
	"stowkeeper/inventory/scope"
	"stowkeeper/inventory/shift"
)

// RecordRestock books what was put into a bag and taken out, and its new seal, and moves the bag to the newest version
// in force of its kit list. It is made at a desk: what no longer fits is refused and does not wait. seenPosition,
// where it is above zero, is the position of the pick list.
// Refuses: Forbidden without keep_stock where the bag is and at each place; NotFound for the bag; Stale where the
// bag changed after seenPosition; Invalid by field, for a time before the newest record of the bag, and where a
// controlled item lacks signatures; Conflict for a bag that is retired, and for what a rule or the stock forbids. Locks
// the bag.
func (s *Service) RecordRestock(ctx context.Context, by inventory.Actor, in inventory.Restock,
	seenPosition int64) (inventory.Restock, error) {
	return inventory.Write(ctx, s.store, func(w inventory.Writer) (inventory.Restock, error) {
		b, err := scope.LockedBag(w, by, in.Bag, inventory.ActKeepStock)
		if err != nil {
			return in, err
		}
		if b.Retired() {
			return in, ledger.ErrRetired(message.M("the bag is retired"))
		}
		if seenPosition > 0 && seenPosition != b.Position {
			return in, inventory.Refuse(inventory.Stale, "changed meanwhile: reload and repeat")
		}
		in.Bag, in.By, in.RecordedAt = b.Code, by.Name, s.now()
		if err := restockShape(in); err != nil {
			return in, err
		}
		if in.HappenedAt, err = ledger.Happened(in.HappenedAt, in.RecordedAt, "happened_at"); err != nil {
			return in, err
		}
		if b.KnownAfter(in.HappenedAt) {
			return in, inventory.InvalidField("happened_at", "enter a time after the bag's last record")
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
		if in.SealSet != "" {
			if err := p.Settle(b.Code, inventory.Resealed); err != nil {
				return in, err
			}
		}
		if in, err = w.AddRestock(in); err != nil {
			return in, err
		}
		if err := noteRestock(w, b, in); err != nil {
			return in, err
		}
		in.ListMove, err = lists.ToNewest(w, by, station, in.RecordedAt, b, restockName(in))
		if err == nil && in.ListMove == nil && len(in.Lines)+len(in.TakeOut) == 0 && in.SealSet == "" {
			err = inventory.InvalidField("lines", "enter at least one quantity")
		}
		return in, err
	})
}

func restockShape(in inventory.Restock) error {
	var ps inventory.Problems
	inventory.CheckText(&ps, "seal_set", in.SealSet, false, 40)
	inventory.CheckText(&ps, "note", in.Note, false, inventory.MaxNote)
	ps.When(len(in.Lines)+len(in.TakeOut) > 2000, "lines", "enter at most {1}", 2000)
	return ps.Err()
}

// postRestock takes out first, so that the place that units leave is free again for what comes in.
func postRestock(p *ledger.Unit, in *inventory.Restock, station inventory.Station) error {
	out := make([]inventory.Movement, 0, len(in.TakeOut))
	for i, l := range in.TakeOut {
		l.To = ledger.PlaceCode(l.To)
		in.TakeOut[i] = l
		out = append(out, inventory.Movement{LotID: l.LotID, Qty: l.Qty, From: in.Bag, To: l.To, Reason: l.Reason,
			Cause: l.Cause, AuthorisedBy: l.AuthorisedBy, HappenedAt: in.HappenedAt})
		if err := atOwnStation(p, l.To); err != nil {
			return ledger.PrefixPaths(inventory.AsField(err, "to", "not found"), "take_out["+strconv.Itoa(i)+"]")
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
			return ledger.PrefixPaths(inventory.AsField(err, "from", "not found"), path)
		}
		from, err := p.Place(l.From)
		if err != nil {
			return ledger.PrefixPaths(inventory.AsField(err, "from", "not found"), path)
		}
		if from.Outside() {
			return inventory.InvalidField(path+".from", "choose one of {1}", inventory.KindList(inventory.InsideKinds...))
		}
		into = append(into, inventory.Movement{LotID: l.LotID, Qty: l.Qty, From: l.From, To: in.Bag,
			Reason: ledger.StowReason(from.Kind), HappenedAt: in.HappenedAt})
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

func restockName(in inventory.Restock) string { return "restock " + strconv.FormatInt(in.ID, 10) }

// noteRestock records the seal and the time of a restock on its bag.
func noteRestock(w inventory.Writer, b inventory.Bag, in inventory.Restock) error {
	report := shift.ReportedSeal{At: in.HappenedAt, Opens: true, Set: in.SealSet}
	if err := shift.RecordSeal(w, &b, report, in.By, restockName(in)); err != nil {
		return err
	}
	b.LastRestock = in.HappenedAt
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
