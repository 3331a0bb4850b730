package inventory

import (
	"context"
	"errors"
	"slices"
	"strconv"
)

// RecordUse keeps what an incident consumed from a bag. One that makes sense
// is always kept; it waits for a quartermaster, whole and posting nothing,
// when the bag changed after the position that the crew saw (but see follows),
// or when the ledger lacks the stock. key, where given, is unique for ever.
func (s *Service) RecordUse(ctx context.Context, by Actor, in Use, key string) (Use, error) {
	return write(ctx, s, func(w Writer) (Use, error) {
		b, err := lockedBag(w, by, in.Bag, ActCheck)
		if err != nil {
			return in, err
		}
		now := s.Now()
		in.Bag, in.RecordedAt, in.By, in.Decision = b.Code, now, by.Name, nil
		if in.UsedAt, err = happened(in.UsedAt, now, "used_at"); err != nil {
			return in, err
		}
		in.Lines = normalUse(in.Lines)
		if err := useShape(in); err != nil {
			return in, err
		}
		t := useTaking{w: w, poster: newPoster(w, by, now), bag: b}
		t.poster.alone = true
		return t.take(in, by.recordKey(key))
	})
}

// normalUse brings the codes of bags that were typed to their stored form.
func normalUse(typed []UseLine) []UseLine {
	lines := slices.Clone(typed)
	for i := range lines {
		lines[i].CameFrom = NormalCode(lines[i].CameFrom)
	}
	return lines
}

// useTaking is one use being taken into the books.
type useTaking struct {
	w      Writer
	poster *poster
	bag    Bag
}

func (t *useTaking) take(u Use, key string) (Use, error) {
	if u.SeenPosition > t.bag.Position || u.SeenPosition < 0 {
		return u, Invalidf("seen_position", "give the position that the checklist showed")
	}
	if err := t.linesExist(u); err != nil {
		return u, err
	}
	if t.bag.Retired() {
		return t.wait(u, key, waitsRetired)
	}
	if u.SeenPosition != t.bag.Position {
		since, err := t.w.BagEvents(t.bag.Code, u.SeenPosition)
		if err != nil {
			return u, err
		}
		if !u.follows(t.poster.by, since) {
			return t.wait(u, key, waitsChanged)
		}
	}
	ms, waits, err := t.plan(u)
	if errors.Is(err, errUnsigned) { // a program's, that names no person
		return t.wait(u, key, waitsUnsigned)
	}
	if err != nil {
		return u, err
	}
	if waits != "" {
		return t.wait(u, key, waits)
	}
	u.Status = StatusPosted
	if u, err = t.w.AddUse(u, key); err != nil {
		return u, err
	}
	return u, t.carryOut(u, ms)
}

// linesExist refuses lots that do not exist and bags that the crew cannot have
// taken from.
func (t *useTaking) linesExist(u Use) error {
	for i, l := range u.Lines {
		path := "lines[" + strconv.Itoa(i) + "]"
		if _, err := t.w.Lot(l.LotID); err != nil {
			return known(err, path+".lot_id", "lot")
		}
		if l.CameFrom == "" {
			continue
		}
		if _, err := bagFor(t.w, t.poster.by, l.CameFrom, ActCheck); err != nil {
			return known(err, path+".came_from", "bag")
		}
	}
	return nil
}

func (t *useTaking) wait(u Use, key, because string) (Use, error) {
	u.Status, u.WaitsBecause = StatusWaiting, because
	return t.w.AddUse(u, key)
}

// plan works out the movements of a use, or why it cannot be posted as it is.
func (t *useTaking) plan(u Use) (ms []Movement, waits string, err error) {
	ms = useMovements(u)
	if u.By != t.poster.by.Name { // a quartermaster posts what somebody else reported
		for i := range ms {
			ms[i].Note = withNote("reported by "+u.By, ms[i].Note)
		}
	}
	if ms, err = t.poster.toInspect(ms); err != nil {
		return nil, "", err
	}
	places := []string{t.bag.Code}
	for _, l := range u.Lines {
		if l.CameFrom != "" {
			places = append(places, l.CameFrom)
		}
	}
	if err := t.w.LockBags(places); err != nil {
		return nil, "", err
	}
	stock, err := t.w.Stock(StockFilter{Places: places})
	if err != nil {
		return nil, "", err
	}
	held := map[placeLot]int{}
	for _, st := range stock {
		held[placeLot{st.Place, st.Lot.ID}] = st.Qty
	}
	if _, _, short := lacking(ms, held); short {
		return nil, waitsStock, nil
	}
	ms, err = t.poster.judge(ms, "lines")
	if KindOf(err) == Conflict {
		return nil, messageOf(err), nil
	}
	return ms, "", err
}

// toInspect sends reusable devices that were used to quarantine instead of
// writing them off: they return through an inspection.
func (p *poster) toInspect(ms []Movement) ([]Movement, error) {
	for i, m := range ms {
		if m.Reason != ReasonUsed {
			continue
		}
		lot, err := p.w.Lot(m.LotID)
		if err != nil {
			return nil, err
		}
		it, err := p.item(lot.Item)
		if err != nil {
			return nil, err
		}
		if !Reusable(it, lot) {
			continue
		}
		from, err := p.place(m.From)
		if err != nil {
			return nil, err
		}
		site, err := p.siteHere(from)
		if err != nil {
			return nil, err
		}
		ms[i].To = site.QuarantineCode(from.Purpose)
	}
	return ms, nil
}

// carryOut moves the stock and notes the use on the bag.
func (t *useTaking) carryOut(u Use, ms []Movement) error {
	if _, err := t.poster.append(ms); err != nil {
		return err
	}
	b, err := t.w.Bag(t.bag.Code)
	if err != nil {
		return err
	}
	if !t.bag.knowsLater(u.SeenPosition, u.UsedAt) {
		report := sealReport{at: u.UsedAt, seen: u.SealSeen, opens: true, clears: true, set: u.SealSet}
		if err := recordSeal(t.w, &b, report, u.By, "use "+strconv.FormatInt(u.ID, 10)); err != nil {
			return err
		}
	}
	b.LastUse = max(b.LastUse, u.UsedAt)
	return t.w.SetBagRecord(b.Code, b.BagRecord)
}
