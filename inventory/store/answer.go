package store

import "stowkeeper/inventory"

type answerRow struct {
	Key         string `gorm:"column:request_key;primaryKey"`
	Principal   string `gorm:"primaryKey"`
	Method      string `gorm:"primaryKey"`
	Path        string `gorm:"primaryKey"`
	BodyHash    string
	Status      int
	ContentType string
	Body        []byte
	CreatedAt   instant `gorm:"not null;autoCreateTime:false"`
}

// Answer returns the kept answer to a request.
func (r reader) Answer(k inventory.RequestKey) (inventory.Answer, error) {
	return take[inventory.Answer, answerRow](r, "answer",
		"request_key = ? AND principal = ? AND method = ? AND path = ?", k.Key, k.Principal, k.Method, k.Path)
}

// Answer locks it too, so that a standby which is waited for has it before it is given again: after a crash it may be
// read here alone.
func (w writer) Answer(k inventory.RequestKey) (inventory.Answer, error) {
	a, err := w.reader.Answer(k)
	if err == nil {
		err = w.onPostgres("lock answer", func() error {
			_, err := w.exec("SELECT 1 FROM answer WHERE request_key = ? AND principal = ? AND method = ? AND path = ? "+
				"FOR UPDATE", k.Key, k.Principal, k.Method, k.Path)
			return err
		})
	}
	return a, err
}

// KeepAnswer keeps the answer to a request.
func (w writer) KeepAnswer(k inventory.RequestKey, a inventory.Answer) error {
	_, err := keep(w, "keep answer", "that request has an answer already", a, func(row *answerRow) {
		row.Key, row.Principal, row.Method, row.Path = k.Key, k.Principal, k.Method, k.Path
		row.Body = append([]byte{}, a.Body...) // an empty one is not NULL
	})
	return err
}
