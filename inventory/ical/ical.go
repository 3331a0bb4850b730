// Package ical writes calendars as RFC 5545 has them: of events that last a day.
package ical

import (
	"fmt"
	"strings"
	"time"
	"unicode/utf8"
)

// Calendar is what a feed holds, the whole of it each time that it is fetched.
type Calendar struct {
	Product string // who makes it, a formal public identifier: -//Owner//Product//EN
	Name    string
	Refresh time.Duration // how often to fetch it again; whole minutes
	Events  []Event
}

// Event is one that lasts a day.
type Event struct {
	UID                     string // the same for as long as it is about the same thing, whichever day it moves to
	Day                     time.Time
	Summary, Details, Place string
	Address                 string // a page about it
	Sequence                int    // greater each time that it was moved
	AlarmDays               int    // how many days before it somebody is to be told, none for 0
}

// Bytes writes the calendar, as made at a moment. What people typed stays text, whatever it holds.
func (c Calendar) Bytes(made time.Time) []byte {
	var w writer
	w.line("BEGIN", "VCALENDAR")
	w.line("VERSION", "2.0")
	w.text("PRODID", c.Product)
	w.line("CALSCALE", "GREGORIAN")
	w.line("METHOD", "PUBLISH")
	w.text("NAME", c.Name)         // RFC 7986
	w.text("X-WR-CALNAME", c.Name) // as older programs read it
	if c.Refresh > 0 {
		every := fmt.Sprintf("PT%dM", int(c.Refresh.Minutes()))
		w.line("REFRESH-INTERVAL;VALUE=DURATION", every)
		w.line("X-PUBLISHED-TTL", every)
	}
	for _, e := range c.Events {
		w.event(e, made)
	}
	w.line("END", "VCALENDAR")
	return []byte(w.String())
}

type writer struct{ strings.Builder }

const day, moment = "20060102", "20060102T150405Z"

func (w *writer) event(e Event, made time.Time) {
	w.line("BEGIN", "VEVENT")
	w.text("UID", e.UID)
	w.line("DTSTAMP", made.UTC().Format(moment))
	w.line("SEQUENCE", fmt.Sprint(e.Sequence))
	w.line("DTSTART;VALUE=DATE", e.Day.Format(day))
	w.line("DTEND;VALUE=DATE", e.Day.AddDate(0, 0, 1).Format(day)) // the first day that is not in it
	w.line("TRANSP", "TRANSPARENT")                                // nobody is busy by it
	w.text("SUMMARY", e.Summary)
	w.some("DESCRIPTION", e.Details)
	w.some("LOCATION", e.Place)
	if e.Address != "" {
		w.line("URL", withoutControls(e.Address))
	}
	if e.AlarmDays > 0 {
		w.line("BEGIN", "VALARM")
		w.line("ACTION", "DISPLAY")
		w.text("DESCRIPTION", e.Summary)
		w.line("TRIGGER", fmt.Sprintf("-P%dD", e.AlarmDays))
		w.line("END", "VALARM")
	}
	w.line("END", "VEVENT")
}

func (w *writer) some(name, value string) {
	if value != "" {
		w.text(name, value)
	}
}

// text writes a property that holds text: what has a meaning in it is written with a backslash before it.
func (w *writer) text(name, value string) {
	value = strings.NewReplacer("\r\n", "\n", "\r", "\n", "\u2028", "\n", "\u2029", "\n").Replace(value)
	lines := strings.Split(value, "\n")
	for i, l := range lines {
		lines[i] = strings.NewReplacer(`\`, `\\`, ";", `\;`, ",", `\,`).Replace(withoutControls(l))
	}
	w.line(name, strings.Join(lines, `\n`))
}

func withoutControls(text string) string {
	return strings.Map(func(r rune) rune {
		if r < ' ' || r == 0x7f {
			return -1
		}
		return r
	}, strings.ToValidUTF8(text, "\uFFFD"))
}

// atMost is how many octets a line may have, its end apart.
const atMost = 75

// line writes a property, folded: a line that goes on begins with a space. No character is cut in two.
func (w *writer) line(name, value string) {
	rest, room := name+":"+value, atMost
	for len(rest) > room {
		n := room
		for !utf8.RuneStart(rest[n]) {
			n--
		}
		_, _ = w.WriteString(rest[:n] + "\r\n ")
		rest, room = rest[n:], atMost-1
	}
	_, _ = w.WriteString(rest + "\r\n")
}
