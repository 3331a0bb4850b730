package store

import "stowkeeper/inventory"

type answerRow struct {
	RequestKey  string `gorm:"primaryKey"`
	Principal   string `gorm:"primaryKey"`
	Method      string `gorm:"primaryKey"`
	Path        string `gorm:"primaryKey"`
	BodyHash    string
	Status      int
	ContentType string
	Body        []byte
	CreatedAt   instant `gorm:"not null;autoCreateTime:false"`
}

func (answerRow) TableName() string { return "answer" }

// Answer returns the kept answer to a request.
func (r reader) Answer(k inventory.RequestKey) (inventory.Answer, error) {
	var row answerRow
	err := r.gorm().Where("request_key = ? AND principal = ? AND method = ? AND path = ?", k.Key, k.Principal, k.Method,
		k.Path).
		Take(&row).Error
	return inventory.Answer{
		BodyHash: row.BodyHash, Status: row.Status, ContentType: row.ContentType, Body: row.Body,
		CreatedAt: inventory.Instant(row.CreatedAt),
	}, missing("read answer", "answer", err)
}

// KeepAnswer keeps the answer to a request.
func (w writer) KeepAnswer(k inventory.RequestKey, a inventory.Answer) error {
	row := answerRow{
		RequestKey: k.Key, Principal: k.Principal, Method: k.Method, Path: k.Path, BodyHash: a.BodyHash, Status: a.Status,
		ContentType: a.ContentType, Body: append([]byte{}, a.Body...), CreatedAt: instant(a.CreatedAt),
	}
	return w.add("keep answer", "that request has an answer already", &row)
}
