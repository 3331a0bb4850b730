package demo

import (
	"cmp"
	"context"
	"slices"

	"stowkeeper/inventory"
	"stowkeeper/inventory/notice"
)

// spread lists the batch numbers of an item that lie in bags of some stations,
// most bags first.
func (s *scenario) spread(ctx context.Context, item string, stations ...string) ([]string, error) {
	lots, err := s.svc.Stock.Lots(ctx, founder, inventory.LotFilter{Item: item, Stations: stations, Held: true}, 0,
		inventory.Page{})
	if err != nil {
		return nil, err
	}
	bags := map[string]int{}
	for _, l := range lots {
		for _, w := range l.Where {
			if b := s.bag(w.Place); slices.Contains(stations, b.Station) {
				bags[l.BatchNo]++
			}
		}
	}
	var numbers []string
	for n := range bags {
		numbers = append(numbers, n)
	}
	slices.SortFunc(numbers, func(a, b string) int { return cmp.Or(-cmp.Compare(bags[a], bags[b]), cmp.Compare(a, b)) })
	return numbers, nil
}

// pull moves what a notice leaves outstanding in some places into quarantine,
// and returns these places.
func (s *scenario) pull(ctx context.Context, notice int64, in func(notice.HeldUnits) bool) ([]string, error) {
	story, err := s.svc.Notice.Notice(ctx, founder, notice)
	var places []string
	for _, u := range story.PullFrom {
		if in(u) && !slices.Contains(places, u.Place) {
			places = append(places, u.Place)
		}
	}
	for _, place := range places {
		if err == nil {
			_, err = s.svc.Notice.Pull(ctx, s.staff["quartermaster"], notice, place)
		}
	}
	return places, err
}

// recallSeals is a recall that ends well: the batch of chest seals is pulled
// from every bag at once, and the bags are filled again.
func (s *scenario) recallSeals(ctx context.Context) error {
	qm, item := s.staff["quartermaster"], "DR-CHEST"
	numbers, err := s.spread(ctx, item, "FM")
	if err != nil {
		return err
	}
	n, err := s.svc.Notice.CreateNotice(ctx, qm, inventory.Notice{Reference: "BS-R-0218", Action: inventory.NoticeWithdraw,
		Item: item, BatchNos: numbers[:1],
		Text: "Adhesive may let go at low temperature. Withdraw at once and return or dispose of."})
	if err != nil {
		return err
	}
	s.recall = n.ID
	places, err := s.pull(ctx, n.ID, func(notice.HeldUnits) bool { return true })
	if err != nil {
		return err
	}
	if err := s.receive(ctx, s.station("FM"), item, 20, 30, false); err != nil {
		return err
	}
	for _, place := range places {
		if b := s.bag(place); b.Code != "" {
			if err := s.restock(ctx, b); err != nil {
				return err
			}
		}
	}
	return nil
}

// endRecall disposes of what was pulled and closes the notice.
func (s *scenario) endRecall(ctx context.Context) error {
	qm := s.staff["quartermaster"]
	story, err := s.svc.Notice.Notice(ctx, qm, s.recall)
	if err != nil {
		return err
	}
	var ms []inventory.Movement
	for _, u := range story.Held {
		ms = append(ms, inventory.Movement{LotID: u.LotID, Qty: u.Qty, From: u.Place, To: "disposed",
			Reason: inventory.ReasonDisposed, Cause: inventory.CauseRecalled, Reference: story.Reference})
	}
	if _, err := s.svc.Ledger.Move(ctx, qm, ms); err != nil {
		return err
	}
	_, err = s.svc.Notice.CloseNotice(ctx, qm, s.recall, "all pulled and disposed of; the maker was told")
	return err
}

// looseMask finds a mask without its wrapper in the store room: nobody can tell
// which batch it is of.
func (s *scenario) looseMask(ctx context.Context) error {
	_, err := s.svc.Ledger.Receive(ctx, s.staff["quartermaster"], inventory.Receipt{Place: "HT-QUARANTINE",
		Item: "AW-MASK-A", Qty: 1, Unidentified: true, Note: "found behind the shelf, wrapper without a label"})
	return err
}

// withdrawMasks is a recall that is not finished: only one bag and the store
// beside it have been pulled so far.
func (s *scenario) withdrawMasks(ctx context.Context) error {
	qm, item := s.staff["quartermaster"], "AW-MASK-A"
	numbers, err := s.spread(ctx, item, "HT", "SQ")
	if err != nil {
		return err
	}
	n, err := s.svc.Notice.CreateNotice(ctx, qm, inventory.Notice{Reference: "WR-FSN-31", Action: inventory.NoticeWithdraw,
		Item: item, BatchNos: numbers,
		Text: "The reservoir bag may come off its connector. Withdraw the batches named and wait for replacements."})
	if err != nil {
		return err
	}
	_, err = s.pull(ctx, n.ID, func(u notice.HeldUnits) bool { return u.Place == "HT-AW1" || u.Place == "HT-STORE" })
	return err
}

// inspectNotice has the tourniquets of one bag inspected.
func (s *scenario) inspectNotice(ctx context.Context) error {
	lots, err := s.heldIn(ctx, "OV-TR1", "TQ-WIND")
	if err != nil {
		return err
	}
	var serials []string
	for _, l := range lots {
		serials = append(serials, l.Serial)
	}
	if len(serials) == 0 {
		return nil
	}
	_, err = s.svc.Notice.CreateNotice(ctx, s.staff["quartermaster"], inventory.Notice{Reference: "AM-FSN-7",
		Action: inventory.NoticeInspect, Item: "TQ-WIND",
		Serials: serials, Text: "Some buckles were moulded short. Inspect the buckle of each device named."})
	return err
}
