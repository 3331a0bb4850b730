package inventory

import (
	"cmp"
	"context"
	"log/slog"
	"strings"
	"time"
)

// PIN is what a person types to sign: their own PIN, or the password of who
// signs in with one. It is written nowhere: as JSON, in a log or in a printed
// value it is empty, so that no hash of a request and no message holds it.
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
	Person string `json:"person,omitempty" maxLength:"60" doc:"Name of the person; may be left out where it is the one who is signed in"`
	PIN    PIN    `json:"pin" format:"password" maxLength:"200" doc:"Their own PIN, or their password where they sign in with one; never kept"`
}

// Signing is what any write may carry that moves a controlled item: two
// different people, each proven at that moment.
type Signing struct {
	Signature *Signature `json:"signature,omitempty" doc:"Who does it. For a person signed in that is themselves; a program names a person, since it is none"`
	Witness   *Signature `json:"witness,omitempty" doc:"The second person"`
}

// Signed returns the signing itself, for whoever holds it as a part.
func (s Signing) Signed() Signing { return s }

// None tells whether nobody signs.
func (s Signing) None() bool { return s.Signature == nil && s.Witness == nil }

// proof says who has proven themselves for one write, and when. Only Sign
// makes it.
type proof struct {
	first, second string // names, empty where nobody did
	at            Instant
}

// signingHolds is how long a proof stands: long enough for a write that lost a
// race to be tried again, and too short to be kept for another one.
const signingHolds = time.Minute

// Sign proves the people who sign for a write, each by their own PIN, and
// returns the actor as the use cases take it for that one write. Wrong PINs
// count as wrong tries to sign in. Call it outside any unit of work: comparing
// is slow on purpose, and a wrong try must be counted though the write fails.
func (s *Service) Sign(ctx context.Context, by Actor, in Signing, h Secrets) (Actor, error) {
	by.proof = proof{}
	if in.None() {
		return by, nil
	}
	first, err := firstSigner(by, in)
	if err != nil {
		return by, err
	}
	done := proof{at: s.Now()}
	one, err := s.prove(ctx, by, first, in.Signature.PIN, "signature", h)
	if err != nil {
		return by, err
	}
	done.first = one.Name
	if in.Witness == nil {
		by.proof = done
		return by, nil
	}
	if sameName(in.Witness.Person, one.Name) {
		return by, errSamePerson("witness.person")
	}
	two, err := s.prove(ctx, by, in.Witness.Person, in.Witness.PIN, "witness", h)
	if err != nil {
		return by, err
	}
	if two.ID == one.ID {
		return by, errSamePerson("witness.person")
	}
	done.second = two.Name
	by.proof = done
	return by, nil
}

// SignAlone proves one person by their own PIN, for a signature that is owed:
// on a shared device that may be another one than who is signed in.
func (s *Service) SignAlone(ctx context.Context, by Actor, in Signature, h Secrets) (Actor, error) {
	by.proof = proof{}
	name := oneLine(in.Person)
	var ps problems
	ps.when(by.Program && name == "", "person", "name the person who signs: a program is none")
	ps.when(in.PIN == "", "pin", "type your own PIN")
	if err := ps.err(); err != nil {
		return by, err
	}
	person, err := s.prove(ctx, by, cmp.Or(name, by.Name), in.PIN, "", h)
	if err == nil {
		by.proof = proof{first: person.Name, at: s.Now()}
	}
	return by, err
}

// firstSigner names who signs first: oneself, or, for a program, a person.
func firstSigner(by Actor, in Signing) (string, error) {
	var ps problems
	ps.when(in.Signature == nil || in.Signature.PIN == "", "signature.pin", "give your own PIN as well: one person's PIN is one signature")
	ps.when(in.Witness != nil && oneLine(in.Witness.Person) == "", "witness.person", "name the second person")
	ps.when(in.Witness != nil && in.Witness.PIN == "", "witness.pin", "the second person types their own PIN")
	if err := ps.err(); err != nil {
		return "", err
	}
	name := oneLine(in.Signature.Person)
	switch {
	case by.Program && name == "":
		return "", Invalidf("signature.person", "name the person who signs: a program is none")
	case by.Program:
		return name, nil
	case name != "" && !sameName(name, by.Name):
		return "", Invalidf("signature.person", "you sign for yourself; leave the name out")
	}
	return by.Name, nil
}

func sameName(a, b string) bool { return strings.EqualFold(oneLine(a), oneLine(b)) }

func errSamePerson(path string) error {
	return Invalidf(path, "name another person: nobody is both signatures")
}

// prove compares a person's PIN and counts the try, as signing in does; a wrong
// one is in the history (OWASP ASVS 5.0.0, 16.3.1). It does not say whether name
// or PIN was wrong.
func (s *Service) prove(ctx context.Context, by Actor, name string, pin PIN, path string, h Secrets) (Person, error) {
	wrong := Invalidf(joinPath(path, "pin"), "name and PIN do not belong together")
	now := s.Now()
	seen, err := read(ctx, s, func(r Reader) (Person, error) { return r.PersonByName(oneLine(name)) })
	switch {
	case err != nil && KindOf(err) == NotFound:
		h.Match("", string(pin)) // take as long as for a name that exists
		return Person{}, wrong
	case err != nil:
		return Person{}, err
	case now < seen.LockedTill:
		return Person{}, errLocked(seen.LockedTill)
	}
	right := h.Match(seen.SecretHash, string(pin))
	var refused error // kept apart, since the count of tries must be written
	err = s.Store.Write(ctx, func(_ context.Context, w Writer) (err error) {
		refused, err = countTry(w, seen, right, now, wrong)
		if err == nil && refused != nil {
			err = w.AddDeeds([]Deed{{At: now, By: by.Name, From: by.From, Kind: DeedSignRefused, Person: seen.Name}})
		}
		return err
	})
	if err == nil {
		err = refused
	}
	return seen, err
}

// countTry counts a try to sign, and says why it was refused. seen is the
// person when the secret was compared.
func countTry(w Writer, seen Person, right bool, now Instant, wrong error) (refused, err error) {
	p, err := w.LockPerson(seen.ID)
	switch {
	case err != nil:
		return nil, err
	case now < p.LockedTill: // others tried in the meantime
		return errLocked(p.LockedTill), nil
	case !right || p.Disabled || p.SecretHash != seen.SecretHash:
		return wrong, w.SetTries(p.ID, p.Tries+1, lockAfter(p.Tries+1, now))
	case p.Tries > 0:
		return nil, w.SetTries(p.ID, 0, 0)
	}
	return nil, nil
}

// proven returns who has signed for a write that is made now.
func (a Actor) proven(now Instant) proof {
	if a.proof.at == 0 || now > a.proof.at.Add(signingHolds) {
		return proof{}
	}
	return a.proof
}

// errUnsigned refuses a movement of a controlled item that two people have not
// signed. It is about the request as a whole, whichever line the item is on.
var errUnsigned = &Error{Kind: Invalid, Message: "a controlled item moves only with two signatures",
	Fields: []Field{{"witness", "two people sign for a controlled item, each with their own PIN: you, and a second person who is there"}}}

// sign puts the signatures on a movement: a controlled item moves only by two
// different people, each proven at that moment (common practice; of a part that
// is wasted 21 CFR 1304.27(a) asks for the witness). A responder who is alone may
// record a use; the second signature is owed then. A trial, which is undone,
// needs none. This is the one place where it is judged: whatever moves stock
// comes through here.
func (p *poster) sign(m Movement) (Movement, error) {
	m.By, m.Witness = p.by.Name, ""
	facts, err := cached(p.lots, m.LotID, p.factsOf)
	if err != nil {
		return m, known(err, "lot_id", "lot")
	}
	it, err := p.item(facts.item)
	if err != nil || !it.Witnessed {
		return m, err
	}
	signed := p.by.proven(p.now)
	alone := p.alone && m.Reason == ReasonUsed && (signed.first != "" || !p.by.Program)
	switch {
	case signed.first != "" && signed.second != "":
		m.Witness = signed.second
	case alone:
		m.owed, m.ownOwed = true, signed.first == ""
	case p.trial:
		p.wanted = true
		return m, nil
	default:
		return m, errUnsigned
	}
	if p.by.Program {
		m.By = signed.first
		m.Note = short(withNote("sent by "+p.by.Name, m.Note), MaxNote)
	}
	return m, nil
}

// withNote puts a remark before a note.
func withNote(remark, note string) string {
	if note == "" {
		return remark
	}
	if remark == "" {
		return note
	}
	return remark + "; " + note
}

// append puts judged movements into the ledger, and notes the signatures that
// are owed for them.
func (p *poster) append(ms []Movement) ([]Movement, error) {
	posted, err := p.w.AppendMovements(ms)
	if err != nil {
		return nil, err
	}
	for i, m := range posted {
		if !m.owed {
			continue
		}
		if err := p.w.AddOwed(m.ID, m.ownOwed); err != nil {
			return nil, err
		}
		posted[i].owed, posted[i].ownOwed = false, false // the store has it now
	}
	return posted, nil
}
