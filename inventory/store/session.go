package store

import "stowkeeper/inventory"

type sessionRow struct {
	Hash      string `gorm:"primaryKey"`
	Person    int64
	Device    string
	Terminal  ref
	CreatedAt instant `gorm:"not null;autoCreateTime:false"`
	SeenAt    instant `gorm:"not null"`
	EndsAt    instant `gorm:"not null"`
}

// Session returns the session with that hash, also one past its end.
func (r reader) Session(hash string) (inventory.Session, error) {
	return take[inventory.Session, sessionRow](r, "session", "hash = ?", hash)
}

// Sessions lists the sessions of a person, or everybody's for 0, the one last seen first.
func (r reader) Sessions(person int64) ([]inventory.Session, error) {
	var w where
	given(&w, "person = ?", person)
	return list[inventory.Session, sessionRow](r, "list sessions", w, inventory.Page{},
		listKey{column: "seen_at DESC, hash"})
}

// AddSession keeps a session, and forgets those that ended before it began.
func (w writer) AddSession(s inventory.Session) error {
	return w.step("add session", "that session exists already", func() error {
		if _, err := w.exec("DELETE FROM session WHERE ends_at < ?", instant(s.CreatedAt)); err != nil {
			return err
		}
		row := convert[sessionRow](s)
		return w.insert(&row)
	})
}

// TouchSession stores when the session was last seen.
func (w writer) TouchSession(hash string, seen inventory.Instant) error {
	return w.set("touch session", "session", "UPDATE session SET seen_at = ? WHERE hash = ?", instant(seen), hash)
}

// EndSession forgets a session; one that is gone already gives no error.
func (w writer) EndSession(hash string) error {
	return w.do("end session", "", "DELETE FROM session WHERE hash = ?", hash)
}

// EndSessions forgets every session of a person, or every one that was opened on a terminal.
func (w writer) EndSessions(person, terminal int64) error {
	return w.do("end sessions", "", "DELETE FROM session WHERE person = ? OR terminal = ?", person, terminal)
}
