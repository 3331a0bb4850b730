package store

import (
	"slices"

	"stowkeeper/inventory"
)

const attemptRead = "SELECT subject, attempts, last_at, locked_till FROM sign_in_attempt WHERE subject = ?"

func attemptPlaces(t *inventory.AttemptCounter) []any {
	return []any{&t.Subject, &t.Attempts, (*instant)(&t.LastAt), (*instant)(&t.LockedTill)}
}

// LockAttempts returns what is counted of these subjects, in their order, and
// makes other units of work that lock one of them wait until this one ends.
func (w writer) LockAttempts(subjects []string) ([]inventory.AttemptCounter, error) {
	sorted := slices.Compact(slices.Sorted(slices.Values(subjects)))
	found := map[string]inventory.AttemptCounter{}
	err := w.step("lock attempts", "", func() error {
		for _, s := range sorted { // one order for everybody, so that two never wait for each other
			if _, err := w.exec("INSERT INTO sign_in_attempt (subject, attempts) VALUES (?, 0) ON CONFLICT (subject) DO NOTHING",
				s); err != nil {
				return err
			}
			text := attemptRead
			if w.s.engine != SQLite {
				text += " FOR UPDATE"
			}
			of, err := collect(w.reader, "lock attempts", text, []any{s}, attemptPlaces)
			if err != nil {
				return err
			}
			found[s] = of[0]
		}
		return nil
	})
	return mapped(subjects, func(s string) inventory.AttemptCounter { return found[s] }), err
}

// AttemptsOf returns what is counted of a subject, nothing where there is nothing.
func (r reader) AttemptsOf(subject string) (inventory.AttemptCounter, error) {
	of, err := collect(r, "read attempts", attemptRead, []any{subject}, attemptPlaces)
	return append(of, inventory.AttemptCounter{Subject: subject})[0], err
}

// SetAttempts stores what is counted of a subject that was locked.
func (w writer) SetAttempts(t inventory.AttemptCounter) error {
	return w.set("set try", "try",
		"UPDATE sign_in_attempt SET attempts = ?, last_at = ?, locked_till = ? WHERE subject = ?", t.Attempts,
		instant(t.LastAt), instant(t.LockedTill), t.Subject)
}

// ForgetAttempts forgets what was last counted before an instant.
func (w writer) ForgetAttempts(before inventory.Instant) error {
	return w.do("forget attempts", "", "DELETE FROM sign_in_attempt WHERE last_at < ? OR last_at IS NULL", instant(before))
}
