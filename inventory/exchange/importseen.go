package exchange

import (
	"cmp"
	"slices"
	"strings"

	"stowkeeper/inventory"
	"stowkeeper/inventory/ledger"
	"stowkeeper/inventory/notice"
	"stowkeeper/inventory/shift"
)

var observationColumns = []column{
	{"bag", cellCode, "bag that it was seen at", true},
	{"kind", cellText, "training_mark, other_seal, failed_point or unidentified", true},
	{"item", cellCode, "item that it is about, if any", false},
	{"serial", cellText, "serial number of the device that it is about, if any", false},
	{"text", cellText, "what was seen", true},
	{"opened_at", cellInstant, "when; now if left out", false},
	{"opened_by", cellText, "by whom", false},
}

func importObservation(r *record) error {
	in := inventory.Observation{Bag: r.code("bag"), Kind: inventory.ObservationKind(strings.ToLower(r.text("kind"))),
		Item: r.code("item"), Text: r.text("text"), Source: "import",
		OpenedAt: cmp.Or(r.instant("opened_at"), r.im.now), OpenedBy: cmp.Or(inventory.OneLine(r.text("opened_by")),
			r.im.by.Name)}
	kinds := []inventory.ObservationKind{inventory.SawTrainingMark, inventory.SawOtherSeal, inventory.SawFailedPoint,
		inventory.SawUnidentified}
	r.problems.When(!slices.Contains(kinds, in.Kind), "kind",
		"write training_mark, other_seal, failed_point or unidentified")
	inventory.CheckText(&r.problems, "text", in.Text, true, inventory.MaxNote)
	inventory.CheckText(&r.problems, "opened_by", in.OpenedBy, true, inventory.MaxName)
	what := string(in.Kind) + " at " + in.Bag
	if err := inventory.MergeErrors(r.problems.Err(), r.aboutBag(&in)); err != nil {
		return r.im.settled(r, Refused, what, err)
	}
	known, err := r.im.w.Observations(inventory.ObservationFilter{Bags: []string{in.Bag}, Open: true})
	if err != nil {
		return err
	}
	if slices.ContainsFunc(known, func(o inventory.Observation) bool {
		return o.Kind == in.Kind && o.Item == in.Item && o.Text == in.Text && o.LotID == in.LotID && (!r.has("opened_at") ||
			o.OpenedAt == in.OpenedAt)
	}) {
		return r.im.settled(r, Unchanged, what, nil)
	}
	_, err = r.im.w.AddObservation(in)
	return r.im.settled(r, Created, what, err)
}

// aboutBag looks up what an observation is about.
func (r *record) aboutBag(in *inventory.Observation) error {
	bag, err := r.im.w.Bag(in.Bag)
	if err = inventory.AsField(err, "bag", "bag"); err == nil {
		err = r.im.by.Must(inventory.ActKeepStock, bag.AtStation)
	}
	if in.Item != "" {
		_, noItem := r.im.w.Item(in.Item)
		err = inventory.MergeErrors(err, inventory.AsField(noItem, "item", "item"))
	}
	serial := r.text("serial")
	if serial == "" || err != nil {
		return err
	}
	batch, err := r.im.w.FindBatch(in.Item, 0, "", serial)
	if err != nil {
		return inventory.AsField(err, "serial", "device of this item")
	}
	lots, err := r.im.w.Lots(inventory.LotFilter{Batch: batch.ID}, inventory.Page{})
	if len(lots) > 0 {
		in.LotID = lots[len(lots)-1].ID
	}
	return err
}

var vehicleOffColumns = []column{
	{"station", cellCode, "station", true},
	{"vehicle", cellText, "name of the vehicle, as on its bags and carriers", true},
	{"reason", cellText, "why it is off the run", true},
	{"by", cellText, "by whom", false},
	{"recorded_at", cellInstant, "since when; now if left out", false},
}

func importVehicleOff(r *record) error {
	in := inventory.VehicleOutOfService{Station: r.code("station"), Vehicle: inventory.Spaced(r.text("vehicle")),
		ServicePause: inventory.ServicePause{Reason: r.text("reason"), By: cmp.Or(inventory.OneLine(r.text("by")),
			r.im.by.Name), RecordedAt: cmp.Or(r.instant("recorded_at"), r.im.now)}}
	inventory.CheckText(&r.problems, "reason", in.Reason, true, inventory.MaxNote)
	inventory.CheckText(&r.problems, "by", in.By, true, inventory.MaxName)
	_, err := shift.VehicleFor(r.im.w, r.im.by, &shift.VehicleChange{Station: in.Station, Vehicle: in.Vehicle})
	if err := inventory.MergeErrors(r.problems.Err(), err); err != nil {
		return r.im.settled(r, Refused, in.Vehicle, err)
	}
	off, err := r.im.w.VehiclesOutOfService(inventory.VehicleFilter{Stations: []string{in.Station}, Vehicle: in.Vehicle,
		Now: true})
	if err != nil {
		return err
	}
	if len(off) > 0 {
		return r.im.settled(r, Unchanged, in.Vehicle, nil)
	}
	_, err = r.im.w.AddVehicleOutOfService(in)
	return r.im.settled(r, Created, in.Vehicle, err)
}

var noticeColumns = []column{
	{"reference", cellText, "the maker's or authority's reference", true},
	{"action", cellText, "withdraw, inspect or inform", true},
	{"item", cellCode, "item code", true},
	{"product", cellText, "GTIN, HIBC or maker's reference of one product of the item, or #2 for its second", false},
	{"batch_nos", cellLines, "batch numbers, one a line", false},
	{"serials", cellLines, "serial numbers, one a line", false},
	{"serial_from", cellText, "first serial number of a range", false},
	{"serial_to", cellText, "last one", false},
	{"made_from", cellDay, "first day of a window of manufacture", false},
	{"made_to", cellDay, "last day of it", false},
	{"text", cellText, "what it says", false},
	{"issued_at", cellInstant, "when; now if left out", false},
	{"issued_by", cellText, "by whom", false},
	{"status", cellText, "open, closed or cancelled; open if left out", false},
	{"ended_at", cellInstant, "when it was closed or cancelled", false},
	{"ended_by", cellText, "by whom", false},
	{"end_reason", cellText, "why", false},
}

func importNotice(r *record) error {
	in := inventory.Notice{Reference: r.text("reference"),
		Action: inventory.NoticeAction(strings.ToLower(r.text("action"))), Item: r.code("item"),
		BatchNos: r.lines("batch_nos"), Serials: r.lines("serials"),
		SerialFrom: r.text("serial_from"), SerialTo: r.text("serial_to"), MadeFrom: r.day("made_from"),
		MadeTo: r.day("made_to"), Text: r.text("text"),
		Status: inventory.NoticeOpen, IssuedAt: cmp.Or(r.instant("issued_at"), r.im.now),
		IssuedBy: cmp.Or(inventory.OneLine(r.text("issued_by")), r.im.by.Name)}
	end := r.noticeEnd()
	inventory.CheckText(&r.problems, "issued_by", in.IssuedBy, true, inventory.MaxName)
	in, err := r.aboutItem(in)
	if err := inventory.MergeErrors(r.problems.Err(), in.Check(), err); err != nil {
		return r.im.settled(r, Refused, in.Reference, err)
	}
	out, err := r.addNotice(in, end)
	return r.im.settled(r, out, in.Reference, err)
}

// noticeEnd is how a notice ended, where it did.
func (r *record) noticeEnd() inventory.Notice {
	n := inventory.Notice{Status: inventory.NoticeStatus(cmp.Or(strings.ToLower(r.text("status")),
		string(inventory.NoticeOpen)))}
	r.problems.When(!slices.Contains([]inventory.NoticeStatus{inventory.NoticeOpen, inventory.NoticeClosed,
		inventory.NoticeCancelled}, n.Status), "status", "write open, closed or cancelled")
	if n.Status != inventory.NoticeOpen {
		n.EndedAt, n.EndedBy, n.EndReason = cmp.Or(r.instant("ended_at"), r.im.now),
			cmp.Or(inventory.OneLine(r.text("ended_by")), r.im.by.Name), r.text("end_reason")
		inventory.CheckText(&r.problems, "ended_by", n.EndedBy, true, inventory.MaxName)
		inventory.CheckText(&r.problems, "end_reason", n.EndReason, true, inventory.MaxNote)
	}
	return n
}

// aboutItem looks up the item and the product that a notice is on.
func (r *record) aboutItem(in inventory.Notice) (inventory.Notice, error) {
	if _, err := r.im.w.Item(in.Item); err != nil {
		return in, inventory.AsField(err, "item", "item")
	}
	ref := r.text("product")
	if ref == "" {
		return in, nil
	}
	all, err := r.im.w.Products(inventory.ProductFilter{Item: in.Item}, inventory.Page{})
	id, ok := productNamed(all, ref)
	if err == nil && !ok {
		err = errProductRef()
	}
	in.Product = id
	return in, err
}

func (r *record) addNotice(in, end inventory.Notice) (Outcome, error) {
	w := r.im.w
	if err := w.LockItem(in.Item); err != nil {
		return Refused, err
	}
	known, err := w.Notices(inventory.NoticeFilter{Item: in.Item}, inventory.Page{})
	if err != nil {
		return Refused, err
	}
	if slices.ContainsFunc(known, func(n inventory.Notice) bool {
		return n.Reference == in.Reference &&
			n.Action == in.Action
	}) {
		return Unchanged, nil
	}
	if in, err = w.AddNotice(in); err != nil {
		return Refused, err
	}
	if err := ledger.ApplyNotices(w, in.Item); err != nil || end.Status == inventory.NoticeOpen {
		return Created, err
	}
	return Created, r.endImported(in, end)
}

// endImported ends a notice as it ended before, where it may end by what is
// here now.
func (r *record) endImported(n, end inventory.Notice) error {
	story, err := notice.LoadStory(r.im.w, n.ID)
	if err != nil {
		return err
	}
	if err := story.MayEnd(end.Status); err != nil {
		return err
	}
	n.Status, n.EndedAt, n.EndedBy, n.EndReason = end.Status, end.EndedAt, end.EndedBy, end.EndReason
	if err := r.im.w.SetNoticeOutcome(n); err != nil {
		return err
	}
	return ledger.ApplyNotices(r.im.w, n.Item)
}
