package inventory

import "strings"

// Actor is who asks: a person signed in, or a program with a token.
type Actor struct {
	Name     string
	Role     Role
	Stations []string // none means every station
	Scope    []Action // what a token is kept to; none means all that the role may do
	Program  bool     // a program with a token
	EndsAt   Instant  // when a token's rights end, 0 for never
	From     string   // the terminal, or the browser in short; for the history
	Session  string   // names the session, for the list of one's own

	LockMinutes int // without use, after which a session on a terminal ends; 0 anywhere else

	Confirmed Instant // when they proved themselves once more; see Service.Confirm

	Proof Proof // who signed for the write that is being made; see Service.Sign
}

// Principal names the actor among all people and programs: requests of two of them never share a key.
func (a Actor) Principal() string {
	if a.Program {
		return "program:" + a.Name
	}
	return "person:" + a.Name
}

// inKey writes a name so that the first slash after it is where a key begins, and NameInKey reads it.
var inKey = strings.NewReplacer("%", "%25", "/", "%2F")

// NameInKey is the name that stands in a record's key.
func NameInKey(written string) string {
	return strings.NewReplacer("%2F", "/", "%25", "%").Replace(written)
}

// RecordKey is the key under which a person's check or use is kept for ever,
// whichever face of the program it came through. No key stays none. It is a pair: no two share one.
func (a Actor) RecordKey(key string) string {
	if key == "" {
		return ""
	}
	own := a
	own.Name = inKey.Replace(a.Name)
	return own.Principal() + "/" + key
}

// ConfirmField is the field in which somebody who is signed in types their own secret once more.
const ConfirmField = "own_password"

// ErrUnconfirmed asks for the actor's own secret.
func ErrUnconfirmed() error {
	return InvalidField(ConfirmField, "enter your PIN or password")
}

// MustConfirm refuses a change of who gets in to a session whose person has not just proven themselves. Programs
// with a token and the command line have no session that somebody could find open. Refuses: Invalid.
func (a Actor) MustConfirm(now Instant) error {
	if a.Session == "" || a.Confirmed != 0 && now <= a.Confirmed.Add(signingHolds) {
		return nil
	}
	return ErrUnconfirmed()
}
