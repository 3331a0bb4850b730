package store

import (
	"gorm.io/gorm"

	"stowkeeper/inventory"
)

type terminalRow struct {
	ID         int64 `gorm:"primaryKey;autoIncrement"`
	Name       string
	Station    code
	Hash       code
	CreatedAt  instant `gorm:"not null;autoCreateTime:false"`
	CreatedBy  string
	EnrolledAt instant
	RevokedAt  instant
	LastUsed   day
}

func (terminalRow) TableName() string { return "terminal" }

func (r reader) terminal(q *gorm.DB) (inventory.Terminal, error) {
	return take(q, "terminal", convert[inventory.Terminal, terminalRow])
}

// Terminal returns one terminal.
func (r reader) Terminal(id int64) (inventory.Terminal, error) {
	return r.terminal(r.gorm().Where("id = ?", id))
}

// TerminalByHash returns the terminal with that hash, also a revoked one.
func (r reader) TerminalByHash(hash string) (inventory.Terminal, error) {
	return r.terminal(r.gorm().Where("hash = ?", hash))
}

// Terminals returns all terminals by id.
func (r reader) Terminals() ([]inventory.Terminal, error) {
	return gather(r.gorm().Order("id"), "list terminals", convert[inventory.Terminal, terminalRow])
}

// AddTerminal adds a terminal and gives it its id.
func (w writer) AddTerminal(t inventory.Terminal) (inventory.Terminal, error) {
	return keep[terminalRow](w, "add terminal", "that terminal exists already", t)
}

// UpdateTerminal changes what enrolling, using and revoking change.
func (w writer) UpdateTerminal(t inventory.Terminal) error {
	return w.single("update terminal", "that terminal exists already", func() error {
		n, err := w.exec("UPDATE terminal SET hash = ?, enrolled_at = ?, revoked_at = ?, last_used = ? WHERE id = ?",
			code(t.Hash), instant(t.EnrolledAt), instant(t.RevokedAt), day(t.LastUsed), t.ID)
		if err == nil && n == 0 {
			return notFound("terminal")
		}
		return err
	})
}

type linkRow struct {
	Hash     string `gorm:"primaryKey"`
	For      string `gorm:"column:kind"`
	Terminal ref
	EndsAt   instant `gorm:"not null"`
}

func (linkRow) TableName() string { return "one_time_link" }

// Link returns the one-time link with that hash, also one past its end.
func (r reader) Link(hash string) (inventory.Link, error) {
	return take(r.gorm().Where("hash = ?", hash), "link", convert[inventory.Link, linkRow])
}

// AddLink keeps a one-time link in the place of all others of its kind for the
// same thing.
func (w writer) AddLink(l inventory.Link) error {
	return w.step("add link", "that link exists already", func() error {
		_, err := w.exec("DELETE FROM one_time_link WHERE kind = ? AND coalesce(terminal, 0) = ?", string(l.For), l.Terminal)
		if err != nil {
			return err
		}
		row := convert[linkRow](l)
		return w.gorm().Create(&row).Error
	})
}

// UseLink uses a link up: the second who tries gets NotFound.
func (w writer) UseLink(hash string) error {
	return w.set("use link", "link", "DELETE FROM one_time_link WHERE hash = ?", hash)
}
