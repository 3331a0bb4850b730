package exchange

import (
	"cmp"
	"slices"

	"stowkeeper/inventory"
	"stowkeeper/inventory/ledger"
)

// bagRow is a bag with why it is out of service, if it is.
type bagRow struct {
	inventory.Bag
	PauseReason string            `json:"out_of_service"`
	PausedBy    string            `json:"out_of_service_by"`
	PausedAt    inventory.Instant `json:"out_of_service_at"`
}

func newBagRow(b inventory.Bag) bagRow {
	row := bagRow{Bag: b}
	if p := b.OutOfService; p != nil {
		row.PauseReason, row.PausedBy, row.PausedAt = p.Reason, p.By, p.RecordedAt
	}
	return row
}

var bagColumns = columnsOf[bagRow]([]column{
	{"code", cellCode, "Bag code", needed},
	{"station", cellCode, "Station", needed},
	{"at_station", cellCode, "Location; default: the station", kept},
	{"name", cellText, "Name", needed},
	{"kit_list", cellCode, "Kit list", needed},
	{"kit_list_version", cellNumber, "Kit list version; default: newest in force", kept},
	{"priority", cellNumber, "1 (first) to 9; default: 5", kept},
	{"purpose", cellWord, "Issue, training; default: issue", kept},
	{"vehicle", cellLine, "Vehicle", optional},
	{"inside", cellCode, "Inside bag", optional},
	{"out_of_service", cellText, "Reason out of service", optional},
	{"out_of_service_by", cellLine, "By", optional},
	{"out_of_service_at", cellInstant, "When", optional},
	{"retired_at", cellInstant, "Retired on", optional},
	{"retired_by", cellText, "By", optional},
	{"successor", cellCode, "Successor", optional},
	{"seal", cellLine, "Seal number; from here on only for a new bag", optional},
	{"seal_state", cellWord, "Intact, broken, different; default: intact", optional},
	{"seal_seen_at", cellInstant, "Seal last in order", optional},
	{"last_seal_check", cellInstant, "Last seal check", optional},
	{"last_full_check", cellInstant, "Last full check", optional},
	{"last_use", cellInstant, "Last use", optional},
	{"last_restock", cellInstant, "Last restock", optional},
})

func (x *exporting) bags(add func(bagRow) error) error {
	all, err := x.r.Bags(inventory.BagFilter{AtStations: x.stations, Retired: true}, inventory.Page{})
	return each(all, err, func(b inventory.Bag) error { return add(newBagRow(b)) })
}

// bagReader makes bags first and then those inside others, and names successors when all are there.
type bagReader struct {
	im      *importing
	modules []pendingBag
	heirs   []pendingBag // bags whose place others took
}

type pendingBag struct {
	r   *record
	row bagRow
}

func newBagReader(im *importing) (rowReader, error) { return &bagReader{im: im}, nil }

func (b *bagReader) row(r *record) error {
	var in bagRow
	bagColumns.read(r, &in)
	if in.Inside != "" {
		b.modules = append(b.modules, pendingBag{r, in})
		return nil
	}
	return b.later(pendingBag{r, in})
}

func (b *bagReader) later(p pendingBag) error {
	return b.im.later(task{of: p.r, do: func(r *record) error { return b.bag(r, p.row) }})
}

func (b *bagReader) end() error {
	for _, m := range b.modules {
		if err := b.later(m); err != nil {
			return err
		}
	}
	if err := b.im.flush(0); err != nil {
		return err
	}
	for _, h := range b.heirs {
		if err := b.im.later(task{of: h.r, do: func(*record) error { return b.succeed(h) }}); err != nil {
			return err
		}
	}
	return nil
}

func (b *bagReader) bag(r *record, in bagRow) error {
	r.what = in.Code
	old, known, err := there(b.im.w.Bag(in.Code))
	if err != nil {
		return err
	}
	if known {
		return b.change(r, in, newBagRow(old))
	}
	in.tidyRecord(r)
	bare := in.Bag // what is not the making of a bag is carried over after it
	bare.BagRecord, bare.OutOfService = inventory.BagRecord{}, nil
	bare.RetiredAt, bare.RetiredBy, bare.Successor = 0, "", ""
	made, err := b.im.s.lists.CreateBag(b.im.ctx, b.im.by, bare)
	if err == nil && len(r.problems) == 0 {
		err = b.carryOver(r, made, in)
	}
	return r.settled(Created, err)
}

// tidyRecord fills in what a file may leave out of what was last seen of a bag, and notes what is wrong with it.
func (in *bagRow) tidyRecord(r *record) {
	if in.Seal != "" && in.SealState == inventory.SealNone && in.SealSeenAt == 0 {
		in.SealState, in.SealSeenAt = inventory.SealIntact, r.im.now
	}
	inventory.CheckText(&r.problems, "seal", in.Seal, false, 40)
	inventory.CheckText(&r.problems, "retired_by", in.RetiredBy, false, inventory.MaxName)
	r.problems.When(!slices.Contains([]inventory.SealState{inventory.SealNone, inventory.SealIntact, inventory.SealBroken,
		inventory.SealDifferent}, in.SealState), "seal_state", "choose one of {1}", "intact, broken, different")
	if in.PauseReason != "" {
		in.OutOfService = &inventory.ServicePause{Reason: in.PauseReason, By: cmp.Or(in.PausedBy, r.im.by.Name),
			RecordedAt: cmp.Or(in.PausedAt, r.im.now)}
		inventory.CheckText(&r.problems, "out_of_service_by", in.OutOfService.By, false, inventory.MaxName)
	}
}

// carryOver keeps what was known of a bag before.
func (b *bagReader) carryOver(r *record, made inventory.Bag, in bagRow) error {
	if in.BagRecord != (inventory.BagRecord{}) {
		if err := b.im.w.SetBagRecord(made.Code, in.BagRecord); err != nil {
			return err
		}
	}
	if in.Seal != "" {
		err := b.im.w.AddSeal(inventory.SealEntry{Bag: made.Code, HappenedAt: cmp.Or(in.SealSeenAt, b.im.now),
			By: b.im.by.Name, Event: inventory.SealWasSet, Number: in.Seal, Source: "import"})
		if err != nil {
			return err
		}
	}
	if in.Successor != "" {
		b.heirs = append(b.heirs, pendingBag{r, in})
	}
	if in.OutOfService == nil && in.RetiredAt == 0 {
		return nil
	}
	made.OutOfService = in.OutOfService
	if made.RetiredAt = in.RetiredAt; made.RetiredAt != 0 {
		made.RetiredBy = cmp.Or(in.RetiredBy, b.im.by.Name)
	}
	if err := made.Check(); err != nil {
		return err
	}
	_, err := b.im.w.UpdateBag(made)
	return err
}

// change brings a known bag to what the file says. What was last seen of it is left alone: checks say that.
func (b *bagReader) change(r *record, in, old bagRow) error {
	if old.Station != in.Station || in.Purpose != "" && old.Purpose != in.Purpose {
		return r.settled(Refused, inventory.Refuse(inventory.Conflict, "station and purpose of a bag cannot change"))
	}
	says := old
	bagColumns.read(r, &says)
	ch := ledger.BagChange{}
	differs(&ch.Name, old.Name, says.Name, true)
	differs(&ch.KitList, old.KitList, says.KitList, true)
	differs(&ch.AtStation, old.AtStation, says.AtStation, true)
	differs(&ch.Inside, old.Inside, says.Inside, true)
	differs(&ch.Vehicle, old.Vehicle, says.Vehicle, in.Inside == "")
	differs(&ch.KitListVersion, old.KitListVersion, says.KitListVersion, says.KitListVersion != 0)
	differs(&ch.Priority, old.Priority, says.Priority, says.Priority != 0)
	if ch == (ledger.BagChange{}) {
		return r.settled(Unchanged, nil)
	}
	now, err := b.im.s.lists.UpdateBag(b.im.ctx, b.im.by, old.Code, 0, ch)
	return bagColumns.changed(r, old, newBagRow(now), err)
}

// differs asks for a change where a value is given and is another.
func differs[T comparable](ask **T, old, now T, given bool) {
	if given && old != now {
		*ask = &now
	}
}

// succeed names the bag that took another's place. The row counts already.
func (b *bagReader) succeed(h pendingBag) error {
	bag, err := b.im.w.Bag(h.row.Code)
	if err != nil {
		return err
	}
	bag.Successor = h.row.Successor
	if err = bag.Check(); err == nil {
		_, err = b.im.w.Bag(bag.Successor)
		err = inventory.AsField(err, "successor", "not found")
	}
	if err != nil {
		return h.r.refuse(err)
	}
	_, err = b.im.w.UpdateBag(bag)
	return err
}
