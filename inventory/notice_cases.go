package inventory

import (
	"cmp"
	"context"
	"slices"
)

// CreateNotice issues a notice. A withdrawing one takes effect in one unit of
// work: from then on every unit that it means counts nowhere.
func (s *Service) CreateNotice(ctx context.Context, by Actor, in Notice) (Notice, error) {
	return write(ctx, s, func(w Writer) (Notice, error) {
		if err := by.must(ActKeepStock, ""); err != nil {
			return in, err
		}
		in.Status, in.IssuedAt, in.IssuedBy = NoticeOpen, s.Now(), by.Name
		in.EndedAt, in.EndedBy, in.EndReason = 0, "", ""
		in.Item = NormalCode(in.Item)
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
		return in, applyNotices(w, in.Item)
	})
}

// namedItem looks up what a notice names; a product names its item.
func namedItem(r Reader, in Notice) (Notice, error) {
	if in.Product != 0 {
		pr, err := r.Product(in.Product)
		if err != nil {
			return in, known(err, "product", "product")
		}
		if in.Item != "" && in.Item != pr.Item {
			return in, Invalidf("product", "name a product of this item")
		}
		in.Item = pr.Item
	}
	_, err := r.Item(in.Item)
	return in, known(err, "item", "item")
}

// CloseNotice ends a notice of which nothing is outstanding. What it withdrew
// stays unusable.
func (s *Service) CloseNotice(ctx context.Context, by Actor, id int64, reason string) (Notice, error) {
	return s.endNotice(ctx, by, id, reason, NoticeClosed)
}

// CancelNotice takes back a notice that was wrong, also one that is closed:
// what it withdrew counts again, unless another notice means it too.
func (s *Service) CancelNotice(ctx context.Context, by Actor, id int64, reason string) (Notice, error) {
	return s.endNotice(ctx, by, id, reason, NoticeCancelled)
}

func (s *Service) endNotice(ctx context.Context, by Actor, id int64, reason string, to NoticeStatus) (Notice, error) {
	return write(ctx, s, func(w Writer) (Notice, error) {
		if err := by.must(ActKeepStock, ""); err != nil {
			return Notice{}, err
		}
		var ps problems
		checkText(&ps, "reason", reason, true, MaxNote)
		if err := ps.err(); err != nil {
			return Notice{}, err
		}
		n, err := w.Notice(id)
		if err != nil {
			return n, err
		}
		if err := w.LockItem(n.Item); err != nil {
			return n, err
		}
		story, err := noticeStory(w, id) // now that others wait
		if err != nil {
			return n, err
		}
		n = story.Notice
		if err := story.mayEnd(to); err != nil {
			return n, err
		}
		if n.Status == NoticeClosed {
			reason += " (it had been closed on " + n.EndedAt.In(utc).String() + " by " + n.EndedBy + ": " + n.EndReason + ")"
		}
		n.Status, n.EndedAt, n.EndedBy, n.EndReason = to, s.Now(), by.Name, reason
		if err := w.SetNoticeOutcome(n); err != nil {
			return n, err
		}
		return n, applyNotices(w, n.Item)
	})
}

// mayEnd refuses to end a notice twice, and to close one of which something is
// outstanding.
func (n NoticeStory) mayEnd(to NoticeStatus) error {
	switch {
	case n.Status == NoticeCancelled || n.Status == to:
		return Errorf(Conflict, "the notice has ended already")
	case to == NoticeClosed && n.Outstanding > 0 && n.Action == NoticeInspect:
		return Errorf(Conflict, "%s outstanding: inspect them first", isAre(n.Outstanding))
	case to == NoticeClosed && n.Outstanding > 0:
		return Errorf(Conflict, "%s outstanding: pull them into quarantine or dispose of them first", isAre(n.Outstanding))
	}
	return nil
}

func isAre(n int) string {
	if n == 1 {
		return "1 unit is"
	}
	return plural(n, "unit") + " are"
}

// underNotice marks a batch that is new with the notices that mean it.
func (p *poster) underNotice(b Batch) (Batch, error) {
	notices, err := cached(p.notices, b.Item, func(item string) ([]Notice, error) {
		if err := p.w.LockItem(item); err != nil {
			return nil, err
		}
		return p.w.Notices(NoticeFilter{Item: item}, Page{})
	})
	if err != nil || len(notices) == 0 {
		return b, err
	}
	if err := applyTo(p.w, b, notices); err != nil {
		return b, err
	}
	return p.w.Batch(b.ID)
}

// Notice tells a notice's whole story, at every site: a notice is about the
// whole service.
func (s *Service) Notice(ctx context.Context, by Actor, id int64) (NoticeStory, error) {
	return read(ctx, s, func(r Reader) (NoticeStory, error) {
		if err := by.must(ActHistory, ""); err != nil {
			return NoticeStory{}, err
		}
		return noticeStory(r, id)
	})
}

// Notices lists notices, newest first, with how many units they are about.
func (s *Service) Notices(ctx context.Context, by Actor, f NoticeFilter, p Page) ([]NoticeSummary, error) {
	return read(ctx, s, func(r Reader) ([]NoticeSummary, error) {
		if err := by.must(ActHistory, ""); err != nil {
			return nil, err
		}
		notices, err := r.Notices(f, p)
		if err != nil {
			return nil, err
		}
		out := make([]NoticeSummary, 0, len(notices))
		around := map[string]noticeScene{}
		for _, n := range notices {
			scene, err := cached(around, n.Item, func(item string) (noticeScene, error) { return sceneOf(r, item) })
			if err != nil {
				return nil, err
			}
			out = append(out, scene.story(n).NoticeSummary)
		}
		return out, nil
	})
}

// noticeStory reads all that a notice is about.
func noticeStory(r Reader, id int64) (NoticeStory, error) {
	n, err := r.Notice(id)
	if err != nil {
		return NoticeStory{}, err
	}
	scene, err := sceneOf(r, n.Item)
	if err != nil {
		return NoticeStory{}, err
	}
	story := scene.story(n)
	if story.Incidents, err = usesOf(r, n.Item, story.Batches); err != nil {
		return story, err
	}
	ids := make([]int64, 0, len(story.Batches))
	for _, b := range story.Batches {
		ids = append(ids, b.ID)
	}
	story.Corrections, err = r.BatchCorrections(ids)
	return story, err
}

// usesOf lists the past uses of batches of an item that no correction undid.
func usesOf(r Reader, item string, batches []Batch) ([]UsedUnits, error) {
	var ms []Movement
	for part := range slices.Chunk(batches, 1000) {
		ids := make([]int64, 0, len(part))
		for _, b := range part {
			ids = append(ids, b.ID)
		}
		some, err := r.Movements(MovementFilter{Item: item, Batches: ids}, Page{})
		if err != nil {
			return nil, err
		}
		ms = append(ms, some...)
	}
	slices.SortFunc(ms, func(a, b Movement) int { return cmp.Compare(a.ID, b.ID) })
	if len(ms) == 0 {
		return []UsedUnits{}, nil
	}
	lots, err := r.Lots(LotFilter{Item: item}, Page{})
	return usedUnits(ms, lotsByID(lots)), err
}

func lotsByID(lots []Lot) map[int64]Lot {
	out := map[int64]Lot{}
	for _, l := range lots {
		out[l.ID] = l
	}
	return out
}
