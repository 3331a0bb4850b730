package web

import (
	"stowkeeper/inventory"
	"stowkeeper/inventory/account"
	"stowkeeper/inventory/message"
)

// SigningFields are the signatures of two people on a form that may move a
// controlled item. The PINs never come back onto the page.
type SigningFields struct {
	Own, Witness, PIN Field
	Alone             bool // one person may send the form: the second signature is owed then
	Folded            bool // most of what the form is sent for needs no signature
	Open              bool
	Needed            bool // the form is sent for nothing else
}

const (
	ownPIN      = "own_pin"
	witnessName = "witness"
	witnessPIN  = "witness_pin"
)

// takePINs puts the PINs of a form aside before anything else looks at it, so
// that they are never shown again, carried on or hashed.
func (v *visit) takePINs() {
	v.pins = [2]account.PIN{account.PIN(v.Request.PostForm.Get(ownPIN)), account.PIN(v.Request.PostForm.Get(witnessPIN))}
	for _, name := range []string{ownPIN, witnessPIN} {
		v.Request.PostForm.Del(name)
		v.Request.Form.Del(name)
	}
}

// signed returns the visitor with what they and a witness have proven by the PINs of the form, for the one write that
// it asks for. A form without any PIN is signed by nobody: the use case says what follows.
func (s *server) signed(v *visit, f *form) (inventory.Actor, error) {
	own, second := v.pins[0], v.pins[1]
	if own == "" && second == "" {
		return v.actor, nil
	}
	in := account.Signing{Signature: &account.Signature{PIN: own}}
	if name := f.text(witnessName); name != "" || second != "" {
		in.Witness = &account.Signature{Person: name, PIN: second}
	}
	return s.svc.Account.Sign(v.ctx(), v.actor, in, s.opt.Secrets)
}

// signingNames are the fields of a form for the paths that use cases name.
var signingNames = map[string]string{"signature.pin": ownPIN, "signature.person": ownPIN, "witness.person": witnessName,
	"witness.pin": witnessPIN}

// signing makes the fields for two signatures, nil where the form has none of
// them: nothing controlled is on the page, and none was asked for.
func (f *form) signing(controlled bool) *SigningFields {
	asked := f.fixes[ownPIN] != nil || f.fixes[witnessName] != nil || f.fixes[witnessPIN] != nil
	if !controlled && !asked {
		return nil
	}
	x := &SigningFields{Own: f.field(ownPIN, message.M("Your PIN")), Witness: f.field(witnessName,
		message.M("Second person")), PIN: f.field(witnessPIN, message.M("Second person's PIN")), Open: asked}
	x.Own.Kind, x.PIN.Kind = "password", "password"
	x.Witness.Live = true
	x.Own.Value, x.PIN.Value = "", ""
	x.Own.Hint = message.M("Or your password.")
	return x
}

// folded hides the fields of a form that is mostly sent without them.
func (x *SigningFields) folded() *SigningFields {
	if x != nil {
		x.Folded = true
	}
	return x
}

// sentAgain are the same fields for another form of the page.
func (x *SigningFields) sentAgain() *SigningFields {
	if x == nil {
		return nil
	}
	y, again := *x, "-2"
	if x.Own.Again != "" {
		again = "-3"
	}
	y.Own.Again, y.Witness.Again, y.PIN.Again = again, again, again
	return &y
}

// needed says that the form cannot be sent without them.
func (x *SigningFields) needed() *SigningFields {
	x.Needed = true
	x.Own.Required, x.Witness.Required, x.PIN.Required = true, true, true
	return x
}

// alone says that one person may send the form.
func (x *SigningFields) alone() *SigningFields {
	if x != nil {
		x.Alone = true
	}
	return x
}

func anyControlled(items map[string]inventory.Item) bool {
	for _, it := range items {
		if it.Controlled {
			return true
		}
	}
	return false
}
