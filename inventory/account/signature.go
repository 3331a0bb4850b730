package account

import (
	"cmp"
	"context"
	"log/slog"
	"strings"

	"stowkeeper/inventory"
	"stowkeeper/inventory/message"
)

// PIN is what a person types to sign: their own PIN, or the password of who signs in with one. It is written nowhere:
// as JSON, in a log or in a printed value it is empty, so that no hash of a request and no message holds it.
type PIN string

// MarshalJSON writes an empty text.
func (PIN) MarshalJSON() ([]byte, error) { return []byte(`""`), nil }

// String tells nothing.
func (PIN) String() string { return "" }

// GoString tells nothing.
func (PIN) GoString() string { return `""` }

// LogValue tells nothing.
func (PIN) LogValue() slog.Value { return slog.StringValue("") }

// Signature is a person with their own PIN.
type Signature struct {
	Person string `json:"person,omitempty" maxLength:"60" doc:"Name; default: who is signed in"`
	PIN    PIN    `json:"pin" format:"password" maxLength:"200" doc:"Their PIN or password; never kept"`
}

// Signing is what any write may carry that moves a controlled item: two different people, each proven at that moment.
type Signing struct {
	Signature *Signature `json:"signature,omitempty" doc:"Who does it; a program names a person"`
	Witness   *Signature `json:"witness,omitempty" doc:"The second person"`
}

// Signed returns the signing itself, for whoever holds it as a part.
func (s Signing) Signed() Signing { return s }

// None tells whether nobody signs.
func (s Signing) None() bool { return s.Signature == nil && s.Witness == nil }

// Sign proves the people who sign for a write, each by their own PIN, and returns the actor as the use cases take it
// for that one write. Call it outside any unit of work: comparing is slow on purpose, and a wrong try must be
// counted though the write fails. Refuses: Invalid for a name left out, one person twice, or a wrong PIN; TooMany
// after wrong ones. Locks each person while a try is counted.
func (s *Service) Sign(ctx context.Context, by inventory.Actor, in Signing, h Secrets) (inventory.Actor, error) {
	by.Proof = inventory.Proof{}
	if in.None() {
		return by, nil
	}
	first, err := firstSigner(by, in)
	if err != nil {
		return by, err
	}
	done := inventory.Proof{At: s.now()}
	one, err := s.prove(ctx, by, first, in.Signature.PIN, "signature", h)
	if err != nil {
		return by, err
	}
	done.First = one.Name
	if in.Witness == nil {
		by.Proof = done
		return by, nil
	}
	if SameName(in.Witness.Person, one.Name) {
		return by, errSamePerson("witness.person")
	}
	two, err := s.prove(ctx, by, in.Witness.Person, in.Witness.PIN, "witness", h)
	if err != nil {
		return by, err
	}
	if two.ID == one.ID {
		return by, errSamePerson("witness.person")
	}
	done.Second = two.Name
	by.Proof = done
	return by, nil
}

// Continued is an actor for the next part of the one write that people signed for: a long import has many. It never
// refuses.
func Continued(by inventory.Actor, now inventory.Instant) inventory.Actor {
	if by.Proof.At != 0 {
		by.Proof.At = now
	}
	return by
}

// SignAlone proves one person by their own PIN, for a signature that is owed: on a shared device that may be another
// one than who is signed in. Refuses as Sign does: Invalid, TooMany.
func (s *Service) SignAlone(ctx context.Context, by inventory.Actor, in Signature, h Secrets) (inventory.Actor, error) {
	by.Proof = inventory.Proof{}
	name := inventory.OneLine(in.Person)
	var ps inventory.Problems
	ps.When(by.Program && name == "", "person", "enter who signs")
	ps.When(in.PIN == "", "pin", "enter your PIN")
	if err := ps.Err(); err != nil {
		return by, err
	}
	person, err := s.prove(ctx, by, cmp.Or(name, by.Name), in.PIN, "", h)
	if err == nil {
		by.Proof = inventory.Proof{First: person.Name, At: s.now()}
	}
	return by, err
}

// firstSigner names who signs first: oneself, or, for a program, a person.
func firstSigner(by inventory.Actor, in Signing) (string, error) {
	var ps inventory.Problems
	ps.When(in.Signature == nil || in.Signature.PIN == "", "signature.pin", "enter your PIN")
	ps.When(in.Witness != nil && inventory.OneLine(in.Witness.Person) == "", "witness.person", "enter the second person")
	ps.When(in.Witness != nil && in.Witness.PIN == "", "witness.pin", "enter the second person's PIN")
	if err := ps.Err(); err != nil {
		return "", err
	}
	name := inventory.OneLine(in.Signature.Person)
	switch {
	case by.Program && name == "":
		return "", inventory.InvalidField("signature.person", "enter who signs")
	case by.Program:
		return name, nil
	case name != "" && !SameName(name, by.Name):
		return "", inventory.InvalidField("signature.person", "leave this empty")
	}
	return by.Name, nil
}

func SameName(a, b string) bool { return strings.EqualFold(inventory.OneLine(a), inventory.OneLine(b)) }

func errSamePerson(path string) error {
	return inventory.InvalidField(path, "choose another person")
}

// prove compares a person's PIN and counts the try, as signing in does; a wrong one is in the history (OWASP ASVS
// 5.0.0, 16.3.1). It does not say whether name or PIN was wrong.
func (s *Service) prove(ctx context.Context, by inventory.Actor, name string, pin PIN, path string,
	h Secrets) (inventory.Person, error) {
	wrong := inventory.InvalidField(inventory.JoinPath(path, "pin"), "wrong name or PIN")
	now := s.now()
	seen, err := inventory.Read(ctx, s.store, func(r inventory.Reader) (inventory.Person,
		error) {
		return r.PersonByName(inventory.OneLine(name))
	})
	switch {
	case err != nil && inventory.KindOf(err) == inventory.NotFound:
		h.Match("", string(pin)) // take as long as for a name that exists
		return inventory.Person{}, wrong
	case err != nil:
		return inventory.Person{}, err
	case now < seen.LockedTill && !inventory.ClockJumped(seen.LockedTill, now):
		return inventory.Person{}, errLocked(seen.LockedTill)
	}
	right := h.Match(seen.SecretHash, string(pin))
	var refused error // kept apart, since the count of tries must be written
	err = s.store.Write(ctx, func(_ context.Context, w inventory.Writer) (err error) {
		refused, err = countTry(w, seen, right, now, wrong)
		if err == nil && refused != nil {
			err = w.AddHistory([]inventory.HistoryEntry{{RecordedAt: now, By: by.Name, From: by.From,
				Kind: inventory.HistorySignRefused, Person: seen.Name}})
		}
		return err
	})
	if err == nil {
		err = refused
	}
	return seen, err
}

// countTry counts a try to sign, and says why it was refused. seen is the person when the secret was compared.
func countTry(w inventory.Writer, seen inventory.Person, right bool, now inventory.Instant, wrong error) (refused,
	err error) {
	p, err := w.LockPerson(seen.ID)
	switch {
	case err != nil:
		return nil, err
	case now < p.LockedTill && !inventory.ClockJumped(p.LockedTill, now): // others tried in the meantime
		return errLocked(p.LockedTill), nil
	case !right || p.Disabled || p.SecretHash != seen.SecretHash:
		return wrong, w.SetPersonAttempts(p.ID, p.Attempts+1, lockAfter(p.Attempts+1, now))
	case p.Attempts > 0:
		return nil, w.SetPersonAttempts(p.ID, 0, 0)
	}
	return nil, nil
}

// ErrUnsigned refuses a movement of a controlled item that two people have not
// signed. It is about the request as a whole, whichever line the item is on.
var ErrUnsigned = &inventory.Error{Kind: inventory.Invalid,
	Message: message.M("two signatures required"),
	Fields: []inventory.Field{{Path: "witness",
		Fix: message.M("two signatures required: yours and a second person's")}}}
