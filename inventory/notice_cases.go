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

// applyNotices brings what the batches of an item bear in line with the
// notices on it.
func applyNotices(w Writer, item string) error {
	notices, err := w.Notices(NoticeFilter{Item: item}, Page{})
	if err != nil {
		return err
	}
	batches, err := w.Batches(item)
	if err != nil {
		return err
	}
	for _, b := range batches {
		if err := applyTo(w, b, notices); err != nil {
			return err
		}
	}
	return nil
}

func applyTo(w Writer, b Batch, notices []Notice) error {
	withdrawn, inspectBy := recordUnder(b, notices, func(i Instant) Day { return i.In(utc) })
	if slices.Equal(withdrawn, b.Withdrawn) && inspectBy == b.InspectBy {
		return nil
	}
	record := b.BatchRecord
	record.Withdrawn, record.InspectBy = withdrawn, inspectBy
	return w.SetBatchRecord(b.ID, record)
}

// NoticeStory is a notice with everything that it means: where the units are,
// which bags to pull from in order of priority, what has been pulled, which
// incidents used the batch, and what might be meant but bears too little.
type NoticeStory struct {
	Notice
	Batches     []Batch     `json:"batches" doc:"The batches that it means"`
	Held        []HeldUnits `json:"held" doc:"Every place and quantity"`
	Pulled      int         `json:"pulled" doc:"Units in quarantine"`
	Outstanding int         `json:"outstanding" doc:"Units anywhere else in the service"`
	PullFrom    []HeldUnits `json:"pull_from" doc:"The outstanding ones: bags by priority first, then the other places"`
	Incidents   []UsedUnits `json:"incidents" doc:"Past uses of the batches"`
	MightBe     []HeldUnits `json:"might_be" doc:"Units that bear too little to tell: look at them"`
}

// HeldUnits is a quantity of a lot in a place.
type HeldUnits struct {
	Place    string    `json:"place"`
	Kind     PlaceKind `json:"kind"`
	Site     string    `json:"site"`
	Priority int       `json:"priority,omitempty" doc:"Of a bag"`
	LotID    int64     `json:"lot_id"`
	LotNo    string    `json:"lot_no,omitempty"`
	Serial   string    `json:"serial,omitempty"`
	Qty      int       `json:"qty"`
}

// UsedUnits is a past use.
type UsedUnits struct {
	Incident string  `json:"incident"`
	Bag      string  `json:"bag" doc:"Where the units were taken from"`
	At       Instant `json:"at" format:"date-time"`
	By       string  `json:"by"`
	LotID    int64   `json:"lot_id"`
	Qty      int     `json:"qty"`
}

// Notice tells a notice's whole story.
func (s *Service) Notice(ctx context.Context, by Actor, id int64) (NoticeStory, error) {
	return read(ctx, s, func(r Reader) (NoticeStory, error) {
		if err := by.must(ActHistory, ""); err != nil {
			return NoticeStory{}, err
		}
		return noticeStory(r, id)
	})
}

func noticeStory(r Reader, id int64) (NoticeStory, error) {
	n, err := r.Notice(id)
	story := NoticeStory{Notice: n, Batches: []Batch{}, Held: []HeldUnits{}, PullFrom: []HeldUnits{}, Incidents: []UsedUnits{}, MightBe: []HeldUnits{}}
	if err != nil {
		return story, err
	}
	all, err := r.Batches(n.Item)
	if err != nil {
		return story, err
	}
	meant := map[int64]bool{}
	for _, b := range all {
		if n.Means(b) {
			meant[b.ID] = true
			story.Batches = append(story.Batches, b)
		}
	}
	if err := story.findUnits(r, meant); err != nil {
		return story, err
	}
	story.Incidents, err = usesOf(r, n.Item, meant)
	return story, err
}

// findUnits sorts the item's stock into what is pulled, what is outstanding
// and what might be meant.
func (n *NoticeStory) findUnits(r Reader, meant map[int64]bool) error {
	stock, err := r.Stock(StockFilter{Item: n.Item})
	if err != nil {
		return err
	}
	places, err := r.Places(PlaceFilter{}, Page{})
	if err != nil {
		return err
	}
	bags, err := r.Bags(BagFilter{}, Page{})
	if err != nil {
		return err
	}
	where, priority := map[string]Place{}, map[string]int{}
	for _, p := range places {
		where[p.Code] = p
	}
	for _, b := range bags {
		priority[b.Code] = b.Priority
	}
	for _, st := range stock {
		p := where[st.Place]
		u := HeldUnits{st.Place, p.Kind, p.Site, priority[st.Place], st.Lot.ID, st.Lot.LotNo, st.Lot.Serial, st.Qty}
		switch {
		case meant[st.Lot.Batch.ID] && p.Kind == KindQuarantine:
			n.Held, n.Pulled = append(n.Held, u), n.Pulled+st.Qty
		case meant[st.Lot.Batch.ID]:
			n.Held, n.PullFrom, n.Outstanding = append(n.Held, u), append(n.PullFrom, u), n.Outstanding+st.Qty
		case n.MightMean(st.Lot):
			n.MightBe = append(n.MightBe, u)
		}
	}
	slices.SortStableFunc(n.PullFrom, func(a, b HeldUnits) int {
		return cmp.Or(-compareBool(a.Kind == KindBag, b.Kind == KindBag), cmp.Compare(a.Priority, b.Priority), cmp.Compare(a.Place, b.Place))
	})
	return nil
}

// usesOf lists the past uses of batches of an item that no correction undid.
func usesOf(r Reader, item string, batches map[int64]bool) ([]UsedUnits, error) {
	out := []UsedUnits{}
	if len(batches) == 0 {
		return out, nil
	}
	ids := make([]int64, 0, len(batches))
	for id := range batches {
		ids = append(ids, id)
	}
	var ms []Movement
	for part := range slices.Chunk(ids, 1000) {
		some, err := r.Movements(MovementFilter{Item: item, Batches: part}, Page{})
		if err != nil {
			return out, err
		}
		ms = append(ms, some...)
	}
	slices.SortFunc(ms, func(a, b Movement) int { return cmp.Compare(a.ID, b.ID) })
	return usedUnits(ms), nil
}

// usedUnits picks the uses out of movements: what went to used, and reusable
// devices that came back from an incident. What was corrected is left out.
func usedUnits(ms []Movement) []UsedUnits {
	undone := map[int64]bool{}
	for _, m := range ms {
		undone[m.Corrects] = true
	}
	out := []UsedUnits{}
	for _, m := range ms {
		if !undone[m.ID] && (m.Reason == ReasonUsed || m.Reason == ReasonQuarantine && m.Reference != "") {
			out = append(out, UsedUnits{m.Reference, m.From, m.HappenedAt, m.By, m.LotID, m.Qty})
		}
	}
	return out
}

// Notices lists notices, newest first.
func (s *Service) Notices(ctx context.Context, by Actor, f NoticeFilter, p Page) ([]Notice, error) {
	return read(ctx, s, func(r Reader) ([]Notice, error) {
		if err := by.must(ActHistory, ""); err != nil {
			return nil, err
		}
		return r.Notices(f, p)
	})
}

// CloseNotice ends a notice of which nothing is outstanding. What it withdrew
// stays unusable.
func (s *Service) CloseNotice(ctx context.Context, by Actor, id int64, reason string) (Notice, error) {
	return s.endNotice(ctx, by, id, reason, NoticeClosed)
}

// CancelNotice takes back a notice that was wrong: what it withdrew counts
// again, unless another notice means it too.
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
		story, err := noticeStory(w, id)
		if err != nil {
			return story.Notice, err
		}
		n := story.Notice
		if n.Status != NoticeOpen {
			return n, Errorf(Conflict, "the notice has ended already")
		}
		if to == NoticeClosed && n.Action == NoticeWithdraw && story.Outstanding > 0 {
			return n, Errorf(Conflict, "%s outstanding: pull them into quarantine or dispose of them first", isAre(story.Outstanding))
		}
		n.Status, n.EndedAt, n.EndedBy, n.EndReason = to, s.Now(), by.Name, reason
		if err := w.SetNoticeOutcome(n); err != nil {
			return n, err
		}
		return n, applyNotices(w, n.Item)
	})
}

func isAre(n int) string {
	if n == 1 {
		return "1 unit is"
	}
	return plural(n, "unit") + " are"
}

// underNotice refuses units of a withdrawn batch anywhere but in quarantine,
// and marks a batch that is new with the notices that mean it.
func (p *poster) underNotice(b Batch) (Batch, error) {
	notices, err := p.w.Notices(NoticeFilter{Item: b.Item}, Page{})
	if err != nil || len(notices) == 0 {
		return b, err
	}
	if err := applyTo(p.w, b, notices); err != nil {
		return b, err
	}
	return p.w.Batch(b.ID)
}
