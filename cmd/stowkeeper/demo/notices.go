package demo

import (
	"cmp"
	"slices"

	"stowkeeper/inventory"
	"stowkeeper/inventory/notice"
)

// spread lists the batch numbers of an item that lie in bags of some stations, most bags first.
func (s *scenario) spread(item string, stations ...string) []string {
	lots := must(s.svc.Stock.Lots(s.ctx, founder, inventory.LotFilter{Item: item, Stations: stations, Held: true}, 0,
		inventory.Page{}))
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
	return numbers
}

// pull moves what a notice leaves outstanding in some places into quarantine, and returns these places.
func (s *scenario) pull(notice int64, in func(notice.HeldUnits) bool) (places []string) {
	for _, u := range must(s.svc.Notice.Notice(s.ctx, founder, notice)).PullFrom {
		if in(u) && !slices.Contains(places, u.Place) {
			places = append(places, u.Place)
		}
	}
	for _, place := range places {
		must(s.svc.Notice.Pull(s.ctx, s.staff["quartermaster"], notice, place))
	}
	return places
}

// recallSeals is a recall that ends well: the batch of chest seals is pulled
// from every bag at once, and the bags are filled again.
func (s *scenario) recallSeals() {
	qm, item := s.staff["quartermaster"], "DR-CHEST"
	numbers := s.spread(item, "FM")
	n := must(s.svc.Notice.CreateNotice(s.ctx, qm, inventory.Notice{Reference: "R-0218", Action: inventory.NoticeWithdraw,
		Item: item, NoticeScope: inventory.NoticeScope{BatchNos: numbers[:1]},
		Text: "Adhesive may let go at low temperature. Withdraw at once and return or dispose of."}))
	s.recall = n.ID
	places := s.pull(n.ID, func(notice.HeldUnits) bool { return true })
	s.receive(s.station("FM"), item, 20, 30, false)
	for _, place := range places {
		if b := s.bag(place); b.Code != "" {
			s.restock(b)
		}
	}
}

// endRecall disposes of what was pulled and closes the notice.
func (s *scenario) endRecall() {
	qm := s.staff["quartermaster"]
	story := must(s.svc.Notice.Notice(s.ctx, qm, s.recall))
	var ms []inventory.Movement
	for _, u := range story.Held {
		ms = append(ms, inventory.Movement{LotID: u.LotID, Qty: u.Qty, From: u.Place, To: "disposed",
			Reason: inventory.ReasonDisposed, Cause: inventory.CauseRecalled, Reference: story.Reference})
	}
	must(s.svc.Ledger.Move(s.ctx, qm, ms))
	must(s.svc.Notice.CloseNotice(s.ctx, qm, s.recall, "all pulled and disposed of; the maker was told"))
}

// looseMask finds a mask without its wrapper in the store room: nobody can tell which batch it is of.
func (s *scenario) looseMask() {
	must(s.svc.Ledger.Receive(s.ctx, s.staff["quartermaster"], inventory.Receipt{Place: "HT-QUARANTINE",
		Item: "AW-MASK-A", Qty: 1, Unidentified: true, Note: "found behind the shelf, wrapper without a label"}))
}

// withdrawMasks is a recall that is not finished: only one bag and the store beside it have been pulled so far.
func (s *scenario) withdrawMasks() {
	qm, item := s.staff["quartermaster"], "AW-MASK-A"
	numbers := s.spread(item, "HT", "SQ")
	n := must(s.svc.Notice.CreateNotice(s.ctx, qm, inventory.Notice{Reference: "FSN-31", Action: inventory.NoticeWithdraw,
		Item: item, NoticeScope: inventory.NoticeScope{BatchNos: numbers},
		Text: "The reservoir bag may come off its connector. Withdraw the batches named and wait for replacements."}))
	s.pull(n.ID, func(u notice.HeldUnits) bool { return u.Place == "HT-AW1" || u.Place == "HT-STORE" })
}

// inspectNotice has the tourniquets of one bag inspected.
func (s *scenario) inspectNotice() {
	lots := s.heldIn("OV-TR1", "TQ-WIND")
	var serials []string
	for _, l := range lots {
		serials = append(serials, l.Serial)
	}
	if len(serials) == 0 {
		return
	}
	must(s.svc.Notice.CreateNotice(s.ctx, s.staff["quartermaster"], inventory.Notice{Reference: "FSN-7",
		Action: inventory.NoticeInspect, Item: "TQ-WIND",
		NoticeScope: inventory.NoticeScope{Serials: serials},
		Text:        "Some buckles were moulded short. Inspect the buckle of each device named."}))
}
