package store

import "stowkeeper/inventory"

type terminalRow struct {
	ID                    int64
	Name                  string
	Station, Hash         code
	CreatedAt             instant `gorm:"not null;autoCreateTime:false"`
	CreatedBy             string
	EnrolledAt, RevokedAt instant
	LastUsed              day
}

func (r reader) Terminal(id int64) (inventory.Terminal, error) {
	return take[inventory.Terminal, terminalRow](r, "terminal", "id = ?", id)
}

// TerminalByHash returns the terminal with that hash, also a revoked one.
func (r reader) TerminalByHash(hash string) (inventory.Terminal, error) {
	return take[inventory.Terminal, terminalRow](r, "terminal", "hash = ?", hash)
}

func (r reader) Terminals() ([]inventory.Terminal, error) {
	return list[inventory.Terminal, terminalRow](r, "list terminals", where{}, inventory.Page{}, byID)
}

func (w writer) AddTerminal(t inventory.Terminal) (inventory.Terminal, error) {
	return keep[terminalRow](w, "add terminal", "that terminal exists already", t)
}

// UpdateTerminal changes what enrolling, using and revoking change.
func (w writer) UpdateTerminal(t inventory.Terminal) error {
	return w.single("update terminal", "that terminal exists already", func() error {
		return w.mustExec("terminal",
			"UPDATE terminal SET hash = ?, enrolled_at = ?, revoked_at = ?, last_used = ? WHERE id = ?", code(t.Hash),
			instant(t.EnrolledAt), instant(t.RevokedAt), day(t.LastUsed), t.ID)
	})
}

type oneTimeLinkRow struct {
	Hash     string `gorm:"primaryKey"`
	For      string `gorm:"column:kind"`
	Terminal ref
	EndsAt   instant `gorm:"not null"`
}

// Link returns the one-time link with that hash, also one past its end.
func (r reader) Link(hash string) (inventory.Link, error) {
	return take[inventory.Link, oneTimeLinkRow](r, "link", "hash = ?", hash)
}

// AddLink keeps a one-time link in the place of all others of its kind for the same thing.
func (w writer) AddLink(l inventory.Link) error {
	return w.step("add link", "that link exists already", func() error {
		_, err := w.exec("DELETE FROM one_time_link WHERE kind = ? AND coalesce(terminal, 0) = ?", string(l.For), l.Terminal)
		if err != nil {
			return err
		}
		row := convert[oneTimeLinkRow](l)
		return w.insert(&row)
	})
}

// UseLink uses a link up: the second who tries gets NotFound.
func (w writer) UseLink(hash string) error {
	return w.set("use link", "link", "DELETE FROM one_time_link WHERE hash = ?", hash)
}
