package notice

import (
	"cmp"
	"context"
	"slices"

	"stowkeeper/inventory"
	"stowkeeper/inventory/ledger"
	"stowkeeper/inventory/lists"
)

// PreviewNotice tells what a notice would mean, and which bags it would stop, if it were issued now. It changes
// nothing. What an inspecting one leaves outstanding is known only once it is issued. Refuses: Forbidden without
// keep_stock; Invalid by field.
func (s *Service) PreviewNotice(ctx context.Context, by inventory.Actor, in inventory.Notice) (NoticeStory, error) {
	return inventory.ReadAs(ctx, s.store, by, inventory.ActKeepStock, func(r inventory.Reader) (NoticeStory, error) {
		in.Status, in.IssuedAt, in.IssuedBy, in.Item = inventory.NoticeOpen, s.now(), by.Name, inventory.NormalCode(in.Item)
		if err := in.Check(); err != nil {
			return NoticeStory{}, err
		}
		in, err := namedItem(r, in)
		if err != nil {
			return NoticeStory{}, err
		}
		scene, err := sceneOf(r, in)
		if err != nil {
			return NoticeStory{}, err
		}
		story := scene.story(in)
		var hit []inventory.Bag
		for _, u := range story.PullFrom {
			for code := u.Place; scene.bags[code].Code != ""; code = scene.bags[code].Inside {
				hit = append(hit, scene.bags[code])
			}
		}
		slices.SortStableFunc(hit, func(a, b inventory.Bag) int {
			return cmp.Or(cmp.Compare(a.Priority, b.Priority), cmp.Compare(a.Code, b.Code))
		})
		views, err := lists.LoadNamed(r, slices.CompactFunc(hit, func(a, b inventory.Bag) bool { return a.Code == b.Code }))
		story.Stops = in.WouldStop(views, s.now())
		return story, cmp.Or(err, story.addBatches(r, scene.batches))
	})
}

// Pull moves all that a withdrawing notice leaves outstanding in a place into the quarantine of that place's purpose,
// and returns the movements. Refuses: Forbidden without keep_stock where the place is; NotFound for the notice;
// Invalid where a controlled item lacks signatures; Conflict where it does not withdraw, or nothing is left there.
func (s *Service) Pull(ctx context.Context, by inventory.Actor, notice int64, place string) ([]inventory.Movement,
	error) {
	return inventory.WriteAs(ctx, s.store, by, inventory.ActKeepStock, func(w inventory.Writer) ([]inventory.Movement,
		error) {
		story, err := LoadStory(w, notice)
		if err != nil {
			return nil, err
		}
		if story.Action != inventory.NoticeWithdraw {
			return nil, inventory.Refuse(inventory.Conflict, "only a withdrawing notice pulls units out")
		}
		place = inventory.NormalCode(place)
		var ms []inventory.Movement
		for _, u := range story.PullFrom {
			if u.Place != place {
				continue
			}
			if err := by.Must(inventory.ActKeepStock, u.Station); err != nil {
				return nil, err
			}
			ms = append(ms, inventory.Movement{LotID: u.LotID, Qty: u.Qty, From: u.Place, To: u.To,
				Reason: inventory.ReasonQuarantine, Reference: story.Reference})
		}
		if len(ms) == 0 {
			return nil, inventory.Refuse(inventory.Conflict, "nothing left there under this notice")
		}
		return ledger.NewUnit(w, by, s.now(), ledger.TwoSign).Post(ms, "movements")
	})
}
