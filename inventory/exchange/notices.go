package exchange

import (
	"cmp"
	"slices"

	"stowkeeper/inventory"
	"stowkeeper/inventory/ledger"
	"stowkeeper/inventory/notice"
)

// noticeRow is a notice with the name of the product that it is on.
type noticeRow struct {
	inventory.Notice
	product string
}

var noticeColumns = columns[noticeRow]{
	text("reference", "the maker's or authority's reference", func(n *noticeRow) *string { return &n.Reference }).needed(),
	word("action", "withdraw, inspect or inform",
		func(n *noticeRow) *inventory.NoticeAction { return &n.Action }).needed(),
	code("item", "item code", func(n *noticeRow) *string { return &n.Item }).needed(),
	text("product", "GTIN, HIBC or maker's reference of one product of the item, or #2 for its second",
		func(n *noticeRow) *string { return &n.product }),
	lines("batch_nos", "batch numbers, one a line", func(n *noticeRow) *[]string { return &n.BatchNos }),
	lines("serials", "serial numbers, one a line", func(n *noticeRow) *[]string { return &n.Serials }),
	text("serial_from", "first serial number of a range", func(n *noticeRow) *string { return &n.SerialFrom }),
	text("serial_to", "last one", func(n *noticeRow) *string { return &n.SerialTo }),
	day("made_from", "first day of a window of manufacture",
		func(n *noticeRow) *inventory.Day { return &n.MadeFrom }),
	day("made_to", "last day of it", func(n *noticeRow) *inventory.Day { return &n.MadeTo }),
	text("text", "what it says", func(n *noticeRow) *string { return &n.Text }),
	instant("issued_at", "when; now if left out", func(n *noticeRow) *inventory.Instant { return &n.IssuedAt }),
	line("issued_by", "by whom", func(n *noticeRow) *string { return &n.IssuedBy }),
	word("status", "open, closed or cancelled; open if left out",
		func(n *noticeRow) *inventory.NoticeStatus { return &n.Status }).kept(),
	instant("ended_at", "when it was closed or cancelled", func(n *noticeRow) *inventory.Instant { return &n.EndedAt }),
	line("ended_by", "by whom", func(n *noticeRow) *string { return &n.EndedBy }),
	text("end_reason", "why", func(n *noticeRow) *string { return &n.EndReason }),
}

func (x *exporting) notices(add func(noticeRow) error) error {
	all, err := x.r.Notices(inventory.NoticeFilter{}, inventory.Page{})
	slices.Reverse(all) // they were issued in that order
	return each(all, err, func(n inventory.Notice) error {
		product, err := x.product(n.Item, n.Product)
		if err != nil {
			return err
		}
		return add(noticeRow{n, product})
	})
}

func importNotice(r *record) error {
	row := noticeRow{Notice: inventory.Notice{Status: inventory.NoticeOpen}}
	noticeColumns.read(r, &row)
	r.what = row.Reference
	end := r.noticeEnd(row.Notice)
	in := row.Notice
	in.Status, in.EndedAt, in.EndedBy, in.EndReason = inventory.NoticeOpen, 0, "", ""
	in.IssuedAt, in.IssuedBy = cmp.Or(in.IssuedAt, r.im.now), cmp.Or(in.IssuedBy, r.im.by.Name)
	inventory.CheckText(&r.problems, "issued_by", in.IssuedBy, true, inventory.MaxName)
	in, err := r.aboutItem(in, row.product)
	if err := inventory.MergeErrors(r.problems.Err(), in.Check(), err); err != nil {
		return r.settled(Refused, err)
	}
	out, err := r.addNotice(in, end)
	return r.settled(out, err)
}

// noticeEnd is how a notice ended, where it did.
func (r *record) noticeEnd(n inventory.Notice) inventory.Notice {
	end := inventory.Notice{Status: n.Status}
	r.problems.When(!slices.Contains([]inventory.NoticeStatus{inventory.NoticeOpen, inventory.NoticeClosed,
		inventory.NoticeCancelled}, n.Status), "status", "write open, closed or cancelled")
	if n.Status != inventory.NoticeOpen {
		end.EndedAt, end.EndedBy, end.EndReason = cmp.Or(n.EndedAt, r.im.now), cmp.Or(n.EndedBy, r.im.by.Name), n.EndReason
		inventory.CheckText(&r.problems, "ended_by", end.EndedBy, true, inventory.MaxName)
		inventory.CheckText(&r.problems, "end_reason", end.EndReason, true, inventory.MaxNote)
	}
	return end
}

// aboutItem looks up the item and the product that a notice is on.
func (r *record) aboutItem(in inventory.Notice, product string) (inventory.Notice, error) {
	if _, err := r.im.w.Item(in.Item); err != nil {
		return in, inventory.AsField(err, "item", "item")
	}
	all, err := r.im.w.Products(inventory.ProductFilter{Item: in.Item}, inventory.Page{})
	if err == nil {
		in.Product, err = productFor(all, product)
	}
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
