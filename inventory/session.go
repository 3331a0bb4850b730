package inventory

import (
	"crypto/sha256"
	"encoding/hex"
)

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

// SilentAfter is for how many days nobody signed in on a terminal that may be lost: our own choice.
const SilentAfter = 30

// Silent tells whether a terminal may be lost: people may sign in there, and nobody did for more than SilentAfter days.
func (t Terminal) Silent(today Day) bool {
	return t.Live() && max(t.LastUsed, t.EnrolledAt.InUTC()).AddDays(SilentAfter) < today
}

// Link is a one-time link: whoever opens it first, before it ends, gets what it is for.
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

func HashSecret(secret string) string {
	sum := sha256.Sum256([]byte(secret))
	return hex.EncodeToString(sum[:])
}
