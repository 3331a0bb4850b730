package exchange

import (
	"cmp"
	"encoding/json"
	"slices"

	"stowkeeper/inventory"
	"stowkeeper/inventory/ledger"
	"stowkeeper/inventory/notice"
)

// noticeRow is a notice with the name of the product that it is on.
type noticeRow struct {
	inventory.Notice
	Product string `json:"product"`
	Done    string `json:"steps"`
}

var noticeColumns = columnsOf[noticeRow]([]column{
	{"reference", cellText, "Maker's or authority's reference", needed},
	{"action", cellWord, "Withdraw, inspect, inform", needed},
	{"item", cellCode, "Item code", needed},
	{"product", cellText, "GTIN, HIBC or maker's reference of the product, or #2 for the second", optional},
	{"batch_nos", cellLines, "Batch numbers, one per line", optional},
	{"serials", cellLines, "Serial numbers, one per line", optional},
	{"serial_from", cellText, "Serial number from", optional},
	{"serial_to", cellText, "Serial number to", optional},
	{"made_from", cellDay, "Made from", optional},
	{"made_to", cellDay, "Made to", optional},
	{"text", cellText, "Text", optional},
	{"issued_at", cellInstant, "When; default: now", optional},
	{"issued_by", cellLine, "By", optional},
	{"status", cellWord, "Open, closed, cancelled; default: open", kept},
	{"ended_at", cellInstant, "Closed or cancelled on", optional},
	{"ended_by", cellLine, "By", optional},
	{"end_reason", cellText, "Why", optional},
	{"steps", cellText, "Later steps, as JSON; releases are not imported", optional},
})

func (x *exporting) notices(add func(noticeRow) error) error {
	all, err := x.r.Notices(inventory.NoticeFilter{}, inventory.Page{})
	slices.Reverse(all) // they were issued in that order
	return each(all, err, func(n inventory.Notice) error {
		product, err := x.product(n.Item, n.Product)
		if err != nil {
			return err
		}
		row := noticeRow{Notice: n, Product: product}
		if len(n.Steps) > 0 {
			b, err := json.Marshal(n.Steps)
			if row.Done = string(b); err != nil {
				return err
			}
		}
		return add(row)
	})
}

func importNotice(r *record) error {
	row := noticeRow{Notice: inventory.Notice{Status: inventory.NoticeOpen}}
	noticeColumns.read(r, &row)
	r.what = row.Reference
	end := r.noticeEnd(row.Notice)
	in := row.Notice
	in.Status, in.EndedAt, in.EndedBy, in.EndReason = inventory.NoticeOpen, 0, "", ""
	in.Steps = r.noticeSteps(row.Done)
	in.IssuedAt, in.IssuedBy = cmp.Or(in.IssuedAt, r.im.now), cmp.Or(in.IssuedBy, r.im.by.Name)
	inventory.CheckText(&r.problems, "issued_by", in.IssuedBy, true, inventory.MaxName)
	in, err := r.aboutItem(in, row.Product)
	if err := inventory.MergeErrors(r.problems.Err(), in.Check(), err); err != nil {
		return r.settled(Refused, err)
	}
	out, err := r.addNotice(in, end)
	return r.settled(out, err)
}

// noticeSteps are the steps of a notice but its releases: these name batches of
// the service that they come from, so that here the notice holds them again.
func (r *record) noticeSteps(text string) []inventory.NoticeStep {
	if text == "" {
		return nil
	}
	var steps []inventory.NoticeStep
	if err := json.Unmarshal([]byte(text), &steps); err != nil {
		r.problems.Add("steps", "leave this as it was exported")
		return nil
	}
	steps = slices.DeleteFunc(steps, func(s inventory.NoticeStep) bool { return s.Kind == inventory.StepReleased })
	for _, s := range steps {
		r.problems.Take("steps", s.CheckStep())
	}
	return steps
}

// noticeEnd is how a notice ended, where it did.
func (r *record) noticeEnd(n inventory.Notice) inventory.Notice {
	end := inventory.Notice{Status: n.Status}
	r.problems.When(!slices.Contains([]inventory.NoticeStatus{inventory.NoticeOpen, inventory.NoticeClosed,
		inventory.NoticeCancelled}, n.Status), "status", "choose one of {1}", "open, closed, cancelled")
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
		return in, inventory.AsField(err, "item", "not found")
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
		return n.Reference == in.Reference && n.Action == in.Action
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

// endImported ends a notice as it ended before, where it may end by what is here now.
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
