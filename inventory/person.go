package inventory

import (
	"crypto/sha256"
	"encoding/hex"
)

// Role says what a person or program may do.
type Role string

// The roles.
const (
	Crew          Role = "crew"
	Quartermaster Role = "quartermaster"
	Manager       Role = "manager"
	Administrator Role = "administrator"
)

// Roles lists every role, in the order of the table of access.
var Roles = []Role{Crew, Quartermaster, Manager, Administrator}

// UsesPIN tells whether people of a role sign in by PIN, on an enrolled
// terminal only. The others have a password.
func (r Role) UsesPIN() bool { return r == Crew }

// Person is somebody who signs in. Name is unique and is what the ledger keeps
// as "by".
type Person struct {
	ID         int64    `json:"id"`
	Name       string   `json:"name"`
	Role       Role     `json:"role" enum:"crew,quartermaster,manager,administrator"`
	Stations   []string `json:"stations" doc:"Stations that the person belongs to; none means all, save for crew, who see none then"`
	SecretHash string   `json:"-"` // argon2id of the PIN (crew) or the password (the others)
	Disabled   bool     `json:"disabled,omitempty"`
	Attempts   int      `json:"-"` // wrong PINs in a row as a witness; signing in has counters of its own
	LockedTill Instant  `json:"-"`
}

// Token lets a program in.
type Token struct {
	ID        int64    `json:"id"`
	Name      string   `json:"name"`
	Role      Role     `json:"role" enum:"crew,quartermaster,manager,administrator"`
	Stations  []string `json:"stations,omitempty" doc:"Stations that it is kept to; none means every station"`
	Scope     []Action `json:"scope,omitempty" doc:"Actions that it is kept to; none means all that the role may do"`
	Hash      string   `json:"-"` // SHA-256 of the token, in hexadecimal
	CreatedAt Instant  `json:"created_at" format:"date-time"`
	CreatedBy string   `json:"created_by,omitempty"`
	EndsAt    Instant  `json:"ends_at,omitempty" format:"date-time" doc:"Not valid from then on; missing for a token from before tokens had an end"`
	RevokedAt Instant  `json:"revoked_at,omitempty" format:"date-time"`
	LastUsed  Day      `json:"last_used,omitempty" format:"date" doc:"The last day on which it was used, in UTC"`
}

// Session is a person signed in on a browser.
type Session struct {
	Hash      string // SHA-256 of the secret in the cookie, in hexadecimal
	Person    int64
	Device    string // how the browser names itself, in short
	Terminal  int64  // the enrolled terminal that it was opened on, 0 for none
	CreatedAt Instant
	SeenAt    Instant
	EndsAt    Instant
}

// Ref names a session to people without telling its hash.
func (s Session) Ref() string { return HashSecret(s.Hash)[:16] }

// Terminal is a shared phone, tablet or computer on which people sign in by
// name and PIN, because an administrator enrolled it.
type Terminal struct {
	ID         int64
	Name       string
	Station    string // the station whose people may use it; empty for all stations
	Hash       string // SHA-256 of the secret in its cookie; empty before it is enrolled
	CreatedAt  Instant
	CreatedBy  string
	EnrolledAt Instant
	RevokedAt  Instant
	LastUsed   Day // the last day on which somebody signed in there, in UTC
}

// Live tells whether people may sign in on the terminal.
func (t Terminal) Live() bool { return t.Hash != "" && t.RevokedAt == 0 }

// Link is a one-time link: whoever opens it first, before it ends, gets what
// it is for.
type Link struct {
	Hash     string // SHA-256 of the secret in its address
	For      LinkKind
	Terminal int64 // the terminal that it enrols
	EndsAt   Instant
}

// LinkKind is what a one-time link is for.
type LinkKind string

// The kinds of one-time link.
const (
	LinkWelcome LinkKind = "welcome" // makes the first administrator
	LinkEnrol   LinkKind = "enrol"   // enrols a terminal
)

// Actor is who asks: a person signed in, or a program with a token.
type Actor struct {
	Name     string
	Role     Role
	Stations []string // none means every station
	Scope    []Action // what a token is kept to; none means all that the role may do
	Program  bool     // a program with a token
	From     string   // the terminal, or the browser in short; for the history
	Session  string   // names the session, for the list of one's own

	Confirmed Instant // when they proved themselves once more; see Service.Confirm

	Proof Proof // who signed for the write that is being made; see Service.Sign
}

// Principal names the actor among all people and programs: requests of two of
// them never share a key.
func (a Actor) Principal() string {
	if a.Program {
		return "program:" + a.Name
	}
	return "person:" + a.Name
}

// ConfirmField is the field in which somebody who is signed in types their own
// secret once more.
const ConfirmField = "own_password"

// ErrUnconfirmed asks for the actor's own secret.
func ErrUnconfirmed() error {
	return Invalidf(ConfirmField, "type your own PIN or password once more")
}

// MustConfirm refuses a change of who gets in to a session whose person has not just proven themselves. Programs
// with a token and the command line have no session that somebody could find open. Refuses: Invalid.
func (a Actor) MustConfirm(now Instant) error {
	if a.Session == "" || a.Confirmed != 0 && now <= a.Confirmed.Add(signingHolds) {
		return nil
	}
	return ErrUnconfirmed()
}

// Keeps tells whether a person can sign in as administrator.
func (p Person) Keeps() bool { return p.Role == Administrator && !p.Disabled && p.SecretHash != "" }

func HashSecret(secret string) string {
	sum := sha256.Sum256([]byte(secret))
	return hex.EncodeToString(sum[:])
}

// Live tells whether the token lets its program in at an instant.
func (t Token) Live(now Instant) bool { return t.RevokedAt == 0 && (t.EndsAt == 0 || now < t.EndsAt) }
