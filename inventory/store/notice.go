package store

import "stowkeeper/inventory"

type noticeRow struct {
	ID                      int64
	Reference, Action, Item string
	Product                 ref
	BatchNos, Serials       lines[string]
	SerialFrom, SerialTo    string
	MadeFrom, MadeTo        day
	Text                    string `gorm:"column:body"`
	Status                  string
	IssuedAt                instant `gorm:"not null"`
	IssuedBy                string
	EndedAt                 instant
	EndedBy, EndReason      string
	Steps                   lines[inventory.NoticeStep]
}

func (r reader) Notice(id int64) (inventory.Notice, error) {
	return take[inventory.Notice, noticeRow](r, "notice", "id = ?", id)
}

func (r reader) Notices(f inventory.NoticeFilter, p inventory.Page) ([]inventory.Notice, error) {
	var w where
	given(&w, "item = ?", f.Item)
	given(&w, "status = ?", f.Status)
	return list[inventory.Notice, noticeRow](r, "list notices", w, p, newestID)
}

func (w writer) AddNotice(n inventory.Notice) (inventory.Notice, error) {
	return keep[noticeRow](w, "add notice", "a notice with this reference on the item exists already", n)
}

// SetNoticeSteps stores what was done about a notice since it was issued.
func (w writer) SetNoticeSteps(n inventory.Notice) error {
	return w.set("keep a notice's steps", "notice", "UPDATE notice SET steps = ? WHERE id = ?",
		lines[inventory.NoticeStep](n.Steps), n.ID)
}

// SetNoticeOutcome stores how a notice ended.
func (w writer) SetNoticeOutcome(n inventory.Notice) error {
	return w.set("end notice", "notice",
		"UPDATE notice SET status = ?, ended_at = ?, ended_by = ?, end_reason = ? WHERE id = ?", string(n.Status),
		instant(n.EndedAt), n.EndedBy, n.EndReason, n.ID)
}
