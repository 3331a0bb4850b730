package notice

import (
	"cmp"
	"context"
	"slices"

	"stowkeeper/inventory"
	"stowkeeper/inventory/ledger"
	"stowkeeper/inventory/stock"
)

// CreateNotice issues a notice. A withdrawing one takes effect in one unit of work: from then on every unit that it
// means counts nowhere. Refuses: Forbidden without keep_stock; Invalid by field; Conflict where one on the item has
// that reference. Locks the item.
func (s *Service) CreateNotice(ctx context.Context, by inventory.Actor, in inventory.Notice) (inventory.Notice, error) {
	return inventory.WriteAs(ctx, s.store, by, inventory.ActKeepStock, func(w inventory.Writer) (inventory.Notice, error) {
		in.Status, in.IssuedAt, in.IssuedBy = inventory.NoticeOpen, s.now(), by.Name
		in.EndedAt, in.EndedBy, in.EndReason = 0, "", ""
		in.Item = inventory.NormalCode(in.Item)
		if err := in.Check(); err != nil {
			return in, err
		}
		var err error
		if in, err = namedItem(w, in); err != nil {
			return in, err
		}
		if err := w.LockItem(in.Item); err != nil {
			return in, err
		}
		if in, err = w.AddNotice(in); err != nil {
			return in, err
		}
		return in, ledger.ApplyNotices(w, in.Item)
	})
}

// namedItem looks up what a notice names; a product names its item.
func namedItem(r inventory.Reader, in inventory.Notice) (inventory.Notice, error) {
	if in.Product != 0 {
		pr, err := r.Product(in.Product)
		if err != nil {
			return in, inventory.AsField(err, "product", "not found")
		}
		if in.Item != "" && in.Item != pr.Item {
			return in, inventory.InvalidField("product", "choose a product of this item")
		}
		in.Item = pr.Item
	}
	_, err := r.Item(in.Item)
	return in, inventory.AsField(err, "item", "not found")
}

// CloseNotice ends a notice of which nothing is outstanding. What it withdrew stays unusable. Refuses: Forbidden
// without keep_stock; NotFound; Invalid for the reason; Conflict where it has ended or something is outstanding.
// Locks the item.
func (s *Service) CloseNotice(ctx context.Context, by inventory.Actor, id int64, reason string) (inventory.Notice,
	error) {
	return s.endNotice(ctx, by, id, reason, inventory.NoticeClosed)
}

// CancelNotice takes back a notice that was wrong, also one that is closed: what it withdrew counts again, unless
// another notice means it too. Refuses: Forbidden without keep_stock; NotFound; Invalid for the reason; Conflict
// where it was cancelled. Locks the item.
func (s *Service) CancelNotice(ctx context.Context, by inventory.Actor, id int64, reason string) (inventory.Notice,
	error) {
	return s.endNotice(ctx, by, id, reason, inventory.NoticeCancelled)
}

func (s *Service) endNotice(ctx context.Context, by inventory.Actor, id int64, reason string,
	to inventory.NoticeStatus) (inventory.Notice, error) {
	return inventory.WriteAs(ctx, s.store, by, inventory.ActKeepStock, func(w inventory.Writer) (inventory.Notice, error) {
		var ps inventory.Problems
		inventory.CheckText(&ps, "reason", reason, true, inventory.MaxNote)
		if err := ps.Err(); err != nil {
			return inventory.Notice{}, err
		}
		n, err := w.Notice(id)
		if err != nil {
			return n, err
		}
		if err := w.LockItem(n.Item); err != nil {
			return n, err
		}
		story, err := LoadStory(w, id) // now that others wait
		if err != nil {
			return n, err
		}
		n = story.Notice
		if err := story.MayEnd(to); err != nil {
			return n, err
		}
		if n.Status == inventory.NoticeClosed {
			reason += " (it had been closed on " + n.EndedAt.InUTC().String() + " by " + n.EndedBy + ": " +
				n.EndReason + ")"
		}
		n.Status, n.EndedAt, n.EndedBy, n.EndReason = to, s.now(), by.Name, reason
		if err := w.SetNoticeOutcome(n); err != nil {
			return n, err
		}
		return n, ledger.ApplyNotices(w, n.Item)
	})
}

// MayEnd refuses to end a notice twice, and to close one of which something is outstanding. Refuses: Conflict.
func (n NoticeStory) MayEnd(to inventory.NoticeStatus) error {
	switch {
	case n.Status == inventory.NoticeCancelled || n.Status == to:
		return inventory.Refuse(inventory.Conflict, "closed already")
	case to == inventory.NoticeClosed && n.Outstanding > 0 && n.Action == inventory.NoticeInspect:
		return inventory.Refuse(inventory.Conflict, "{1} outstanding: inspect first", n.Outstanding)
	case to == inventory.NoticeClosed && n.Outstanding > 0:
		return inventory.Refuse(inventory.Conflict, "{1} outstanding: pull or dispose first", n.Outstanding)
	}
	return nil
}

// Notice tells a notice's whole story, in units, at every station: a notice is about the whole service. Refuses:
// Forbidden without history; NotFound.
func (s *Service) Notice(ctx context.Context, by inventory.Actor, id int64) (NoticeStory, error) {
	return inventory.ReadAs(ctx, s.store, by, inventory.ActHistory, func(r inventory.Reader) (NoticeStory, error) {
		return LoadStory(r, id)
	})
}

// Notices lists notices, newest first, with how many units they are about. Refuses: Forbidden without history.
func (s *Service) Notices(ctx context.Context, by inventory.Actor, f inventory.NoticeFilter,
	p inventory.Page) ([]NoticeSummary, error) {
	return inventory.ReadAs(ctx, s.store, by, inventory.ActHistory, func(r inventory.Reader) ([]NoticeSummary, error) {
		notices, err := r.Notices(f, p)
		if err != nil {
			return nil, err
		}
		scene, err := sceneOf(r, notices...)
		out := make([]NoticeSummary, 0, len(notices))
		for _, n := range notices {
			story := scene.story(n)
			story.NoticeSummary.PullFrom = story.PullFrom
			out = append(out, story.NoticeSummary)
		}
		return out, err
	})
}

// LeftAt lists the open notices that a station is not done with: it has units to pull or devices to inspect, which
// PullFrom has, or has not said what it holds.
func LeftAt(r inventory.Reader, station string) ([]NoticeSummary, error) {
	open, err := r.Notices(inventory.NoticeFilter{Status: inventory.NoticeOpen}, inventory.Page{})
	if err != nil {
		return nil, err
	}
	scene, err := sceneOf(r, open...)
	var out []NoticeSummary
	for _, n := range open {
		story := scene.story(n)
		story.NoticeSummary.PullFrom = slices.DeleteFunc(story.PullFrom,
			func(u HeldUnits) bool { return u.Station != station })
		if _, answered := n.AnswerOf(station); len(story.NoticeSummary.PullFrom) > 0 ||
			!answered && n.Action != inventory.NoticeInform {
			out = append(out, story.NoticeSummary)
		}
	}
	return out, err
}

// LoadStory reads all that a notice is about. Refuses: NotFound.
func LoadStory(r inventory.Reader, id int64) (NoticeStory, error) {
	n, err := r.Notice(id)
	if err != nil {
		return NoticeStory{}, err
	}
	scene, err := sceneOf(r, n)
	if err != nil {
		return NoticeStory{}, err
	}
	story := scene.story(n)
	if err := story.addBatches(r, scene.batches); err != nil {
		return story, err
	}
	all, err := r.BatchCorrections(inventory.BatchFilter{EverItems: []string{n.Item}})
	story.Corrections = slices.DeleteFunc(all, func(c inventory.BatchCorrection) bool {
		return !slices.ContainsFunc(story.Batches, func(b MeantBatch) bool { return b.ID == c.BatchID })
	})
	return story, err
}

// addBatches adds the batches that a notice means, and what was used of them.
func (n *NoticeStory) addBatches(r inventory.Reader, all []inventory.Batch) (err error) {
	var meant []inventory.Batch
	for _, b := range all {
		if !n.Means(b) {
			continue
		}
		m := MeantBatch{Batch: b}
		if release, ok := n.Released(b); ok {
			m.Released = &release
		}
		n.Batches, meant = append(n.Batches, m), append(meant, b)
	}
	n.Incidents, err = usesOf(r, meant)
	return err
}

// usesOf lists the past uses of batches that no correction undid.
func usesOf(r inventory.Reader, batches []inventory.Batch) ([]stock.UsedUnits, error) {
	var ms []inventory.Movement
	for part := range slices.Chunk(batches, 1000) {
		ids := make([]int64, 0, len(part))
		for _, b := range part {
			ids = append(ids, b.ID)
		}
		some, err := r.Movements(inventory.MovementFilter{Batches: ids}, inventory.Page{})
		if err != nil {
			return nil, err
		}
		ms = append(ms, some...)
	}
	slices.SortFunc(ms, func(a, b inventory.Movement) int { return cmp.Compare(a.ID, b.ID) })
	if len(ms) == 0 {
		return []stock.UsedUnits{}, nil
	}
	items := make([]string, 0, len(batches))
	for _, b := range batches {
		items = append(items, b.Item)
	}
	var lots []inventory.Lot
	for _, item := range distinct(items) { // one, unless a batch was corrected to another
		some, err := r.Lots(inventory.LotFilter{Item: item}, inventory.Page{})
		if err != nil {
			return nil, err
		}
		lots = append(lots, some...)
	}
	return stock.UnitsUsed(ms, stock.LotsByID(lots)), nil
}
