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
	Body       string
	Status     string
	IssuedAt   instant `gorm:"not null"`
	IssuedBy   string
	EndedAt    instant
	EndedBy    string
	EndReason  string
}

func (noticeRow) TableName() string { return "notice" }

func (n noticeRow) value() inventory.Notice {
	return inventory.Notice{
		ID: n.ID, Reference: n.Reference, Action: inventory.NoticeAction(n.Action), Item: n.Item, Product: int64(n.Product),
		BatchNos: n.BatchNos, Serials: n.Serials, SerialFrom: n.SerialFrom, SerialTo: n.SerialTo,
		MadeFrom: inventory.Day(n.MadeFrom), MadeTo: inventory.Day(n.MadeTo), Text: n.Body,
		Status:   inventory.NoticeStatus(n.Status),
		IssuedAt: inventory.Instant(n.IssuedAt), IssuedBy: n.IssuedBy, EndedAt: inventory.Instant(n.EndedAt),
		EndedBy: n.EndedBy, EndReason: n.EndReason,
	}
}

// Notice returns one notice.
func (r reader) Notice(id int64) (inventory.Notice, error) {
	var row noticeRow
	err := r.gorm().Where("id = ?", id).Take(&row).Error
	return row.value(), missing("read notice", "notice", err)
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
	return list(q, "list notices", p, newestID, noticeRow.value)
}

// AddNotice keeps a notice and gives it its id.
func (w writer) AddNotice(n inventory.Notice) (inventory.Notice, error) {
	row := noticeRow{
		Reference: n.Reference, Action: string(n.Action), Item: n.Item, Product: ref(n.Product), BatchNos: n.BatchNos,
		Serials:    n.Serials,
		SerialFrom: n.SerialFrom, SerialTo: n.SerialTo, MadeFrom: day(n.MadeFrom), MadeTo: day(n.MadeTo), Body: n.Text,
		Status: string(n.Status), IssuedAt: instant(n.IssuedAt), IssuedBy: n.IssuedBy, EndedAt: instant(n.EndedAt),
		EndedBy: n.EndedBy, EndReason: n.EndReason,
	}
	err := w.add("add notice", "a notice with this reference on the item exists already", &row)
	return row.value(), err
}

// SetNoticeOutcome stores how a notice ended.
func (w writer) SetNoticeOutcome(n inventory.Notice) error {
	return w.set("end notice", "notice",
		"UPDATE notice SET status = ?, ended_at = ?, ended_by = ?, end_reason = ? WHERE id = ?", string(n.Status),
		instant(n.EndedAt), n.EndedBy, n.EndReason, n.ID)
}
