package inventory

// ConfirmField is the field in which somebody who is signed in types their own
// secret once more.
const ConfirmField = "own_password"

// ErrUnconfirmed asks for the actor's own secret.
func ErrUnconfirmed() error {
	return Invalidf(ConfirmField, "type your own PIN or password once more")
}

// MustConfirm refuses a change of who gets in to a session whose person has not
// just proven themselves. Programs with a token and the command line have no
// session that somebody could find open.
func (a Actor) MustConfirm(now Instant) error {
	if a.Session == "" || a.Confirmed != 0 && now <= a.Confirmed.Add(signingHolds) {
		return nil
	}
	return ErrUnconfirmed()
}
