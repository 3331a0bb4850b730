package store

import "stowkeeper/inventory"

type noticeRow struct {
	ID         int64 `gorm:"primaryKey;autoIncrement"`
	Reference  string
	Action     string
	Item       string
	Product    ref
	BatchNos   lines[string]
	Serials    lines[string]
	SerialFrom string
	SerialTo   string
	MadeFrom   day
	MadeTo     day
	Text       string `gorm:"column:body"`
	Status     string
	IssuedAt   instant `gorm:"not null"`
	IssuedBy   string
	EndedAt    instant
	EndedBy    string
	EndReason  string
}

func (noticeRow) TableName() string { return "notice" }

// Notice returns one notice.
func (r reader) Notice(id int64) (inventory.Notice, error) {
	return take(r.gorm().Where("id = ?", id), "notice", convert[inventory.Notice, noticeRow])
}

// Notices lists notices, newest first.
func (r reader) Notices(f inventory.NoticeFilter, p inventory.Page) ([]inventory.Notice, error) {
	q := r.gorm()
	if f.Item != "" {
		q = q.Where("item = ?", f.Item)
	}
	if f.Status != "" {
		q = q.Where("status = ?", string(f.Status))
	}
	return list(q, "list notices", p, newestID, convert[inventory.Notice, noticeRow])
}

// AddNotice keeps a notice and gives it its id.
func (w writer) AddNotice(n inventory.Notice) (inventory.Notice, error) {
	return keep[noticeRow](w, "add notice", "a notice with this reference on the item exists already", n)
}

// SetNoticeOutcome stores how a notice ended.
func (w writer) SetNoticeOutcome(n inventory.Notice) error {
	return w.set("end notice", "notice",
		"UPDATE notice SET status = ?, ended_at = ?, ended_by = ?, end_reason = ? WHERE id = ?", string(n.Status),
		instant(n.EndedAt), n.EndedBy, n.EndReason, n.ID)
}
