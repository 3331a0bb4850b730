package exchange

import (
	"cmp"
	"slices"
	"strings"

	"stowkeeper/inventory"
	"stowkeeper/inventory/ledger"
)

var bagColumns = []column{
	{"code", cellCode, "code of the bag, also on its label", true},
	{"station", cellCode, "station that owns it", true},
	{"at_station", cellCode, "station where it is; its own if left out", false},
	{"name", cellText, "its name", true},
	{"kit_list", cellCode, "kit list that it holds to", true},
	{"kit_list_version", cellNumber, "version of the list; the newest if left out", false},
	{"priority", cellNumber, "1 (filled first) to 9; 5 if left out", false},
	{"purpose", cellText, "issue or training; issue if left out", false},
	{"vehicle", cellText, "vehicle that it rides on", false},
	{"inside", cellCode, "bag that it is a module of", false},
	{"out_of_service", cellText, "why it is taken off the run, if it is", false},
	{"taken_off_by", cellText, "by whom", false},
	{"taken_off_at", cellInstant, "when", false},
	{"retired_at", cellInstant, "when it was taken out of service, if it was", false},
	{"retired_by", cellText, "by whom", false},
	{"successor", cellCode, "bag that took its place", false},
	{"seal", cellText, "number of the seal that should be on it; this and what follows is taken over for a new bag only",
		false},
	{"seal_state", cellText, "intact, broken or different; intact if left out", false},
	{"seal_seen_at", cellInstant, "when the seal was last set or seen in order", false},
	{"last_seal_check", cellInstant, "when its seal was last checked", false},
	{"last_full_check", cellInstant, "when its contents were last counted", false},
	{"last_use", cellInstant, "when it was last used", false},
	{"last_restock", cellInstant, "when it was last restocked", false},
}

// bagReader makes bags first and then those inside others, and names
// successors when all are there.
type bagReader struct {
	im      *importing
	modules []*record
	heirs   []*record
}

func newBagReader(im *importing) rowReader { return &bagReader{im: im} }

func (b *bagReader) row(r *record) error {
	if r.text("inside") != "" {
		b.modules = append(b.modules, r)
		return nil
	}
	return b.bag(r)
}

func (b *bagReader) end() error {
	for _, r := range b.modules {
		if err := b.bag(r); err != nil {
			return err
		}
	}
	for _, r := range b.heirs {
		if err := b.succeed(r); err != nil {
			return err
		}
	}
	return nil
}

func (b *bagReader) bag(r *record) error {
	code := r.code("code")
	old, err := b.im.w.Bag(code)
	if err == nil {
		return b.change(r, old)
	}
	if inventory.KindOf(err) != inventory.NotFound {
		return err
	}
	in := inventory.Bag{Code: code, Station: r.code("station"), AtStation: r.code("at_station"), Name: r.text("name"),
		KitList: r.code("kit_list"), KitListVersion: r.number("kit_list_version"),
		Priority: r.number("priority"), Purpose: inventory.Purpose(strings.ToLower(r.text("purpose"))),
		Vehicle: r.text("vehicle"), Inside: r.code("inside")}
	record, off, retired := r.bagRecord(), r.takenOff(), r.instant("retired_at")
	made, err := b.im.s.lists.CreateBag(b.im.ctx, b.im.by, in)
	if err == nil && len(r.problems) == 0 {
		err = b.carryOver(r, made, record, off, retired)
	}
	return b.im.settled(r, Created, code, err)
}

// carryOver keeps what was known of a bag before.
func (b *bagReader) carryOver(r *record, made inventory.Bag, record inventory.BagRecord, off *inventory.ServicePause,
	retired inventory.Instant) error {
	if record != (inventory.BagRecord{}) {
		if err := b.im.w.SetBagRecord(made.Code, record); err != nil {
			return err
		}
	}
	if record.Seal != "" {
		err := b.im.w.AddSeal(inventory.SealEntry{Bag: made.Code, HappenedAt: cmp.Or(record.SealSeenAt, b.im.now),
			By: b.im.by.Name, Event: inventory.SealWasSet, Number: record.Seal, Source: "import"})
		if err != nil {
			return err
		}
	}
	if r.text("successor") != "" {
		b.heirs = append(b.heirs, r)
	}
	if off == nil && retired == 0 {
		return nil
	}
	made.OutOfService, made.RetiredAt = off, retired
	if retired != 0 {
		made.RetiredBy = cmp.Or(r.text("retired_by"), b.im.by.Name)
	}
	if err := made.Check(); err != nil {
		return err
	}
	_, err := b.im.w.UpdateBag(made)
	return err
}

func (r *record) takenOff() *inventory.ServicePause {
	off := inventory.ServicePause{Reason: r.text("out_of_service"), By: cmp.Or(inventory.OneLine(r.text("taken_off_by")),
		r.im.by.Name), RecordedAt: cmp.Or(r.instant("taken_off_at"), r.im.now)}
	if off.Reason == "" {
		return nil
	}
	inventory.CheckText(&r.problems, "taken_off_by", off.By, false, inventory.MaxName)
	return &off
}

func (r *record) bagRecord() inventory.BagRecord {
	rec := inventory.BagRecord{Seal: inventory.OneLine(r.text("seal")),
		SealState: inventory.SealState(strings.ToLower(r.text("seal_state"))), SealSeenAt: r.instant("seal_seen_at"),
		LastSealCheck: r.instant("last_seal_check"), LastFullCheck: r.instant("last_full_check"),
		LastUse: r.instant("last_use"), LastRestock: r.instant("last_restock")}
	if rec.Seal != "" && rec.SealState == inventory.SealNone && rec.SealSeenAt == 0 {
		rec.SealState, rec.SealSeenAt = inventory.SealIntact, r.im.now
	}
	inventory.CheckText(&r.problems, "seal", rec.Seal, false, 40)
	inventory.CheckText(&r.problems, "retired_by", r.text("retired_by"), false, inventory.MaxName)
	r.problems.When(!slices.Contains([]inventory.SealState{inventory.SealNone, inventory.SealIntact, inventory.SealBroken,
		inventory.SealDifferent}, rec.SealState), "seal_state", "write intact, broken or different")
	return rec
}

// change brings a known bag to what the file says. What was last seen of it is
// left alone: checks say that.
func (b *bagReader) change(r *record, old inventory.Bag) error {
	if old.Station != r.code("station") || r.text("purpose") != "" &&
		old.Purpose != inventory.Purpose(strings.ToLower(r.text("purpose"))) {
		return b.im.settled(r, Refused, old.Code, inventory.Errorf(inventory.Conflict,
			"the bag is known, and its owner and purpose are for good"))
	}
	ch := ledger.BagChange{}
	name, list, at, inside := r.text("name"), r.code("kit_list"), r.code("at_station"), r.code("inside")
	version, priority, vehicle := r.number("kit_list_version"), r.number("priority"), inventory.Spaced(r.text("vehicle"))
	differs(&ch.Name, old.Name, name, true)
	differs(&ch.KitList, old.KitList, list, true)
	differs(&ch.AtStation, old.AtStation, at, at != "")
	differs(&ch.Inside, old.Inside, inside, r.has("inside"))
	differs(&ch.Vehicle, old.Vehicle, vehicle, r.has("vehicle") && inside == "")
	differs(&ch.KitListVersion, old.KitListVersion, version, version != 0)
	differs(&ch.Priority, old.Priority, priority, priority != 0)
	if ch == (ledger.BagChange{}) {
		return b.im.settled(r, Unchanged, old.Code, nil)
	}
	now, err := b.im.s.lists.UpdateBag(b.im.ctx, b.im.by, old.Code, 0, ch)
	return b.im.changed(r, old.Code, bagRow(old), bagRow(now), err)
}

// differs asks for a change where a value is given and is another.
func differs[T comparable](ask **T, old, now T, given bool) {
	if given && old != now {
		*ask = &now
	}
}

// succeed names the bag that took another's place. The row counts already.
func (b *bagReader) succeed(r *record) error {
	code := r.code("code")
	bag, err := b.im.w.Bag(code)
	if err != nil {
		return err
	}
	bag.Successor = r.code("successor")
	if err := bag.Check(); err != nil {
		return b.im.refuse(r, code, err)
	}
	if _, err := b.im.w.Bag(bag.Successor); err != nil {
		return b.im.refuse(r, code, inventory.AsField(err, "successor", "bag"))
	}
	_, err = b.im.w.UpdateBag(bag)
	return err
}
