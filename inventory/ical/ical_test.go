package ical

import (
	"bytes"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stowkeeper/inventory/inventorytest/outside"
)

var made = time.Date(2026, 12, 1, 15, 0, 0, 0, time.UTC)

// hostile are names that somebody may type to have a calendar say what was never recorded.
var hostile = []string{"plain", "a;b,c\\d:e", "line one\nline two", "x\r\nEND:VEVENT\r\nBEGIN:VEVENT\r\nUID:evil",
	"\x00\x07tab\there", "cr\ronly", "\u2028separator", `\n is no new line`, strings.Repeat("gauze – 10 × 10 cm, ", 12),
	"🩹" + strings.Repeat("é", 200),
	" begins with a space", "bad \xff utf-8", `"quoted"`, "BEGIN:VCALENDAR", ""}

func calendar() Calendar {
	c := Calendar{Product: "-//Stowkeeper//Stowkeeper//EN", Name: "Far Meadow", Refresh: 6 * time.Hour}
	for i, name := range hostile {
		c.Events = append(c.Events, Event{UID: "lot-" + string(rune('a'+i)) + "@stock.example.org",
			Day: time.Date(2027, 2, 28-i, 0, 0, 0, 0, time.UTC), Summary: "Use by: " + name, Details: name, Place: name,
			Address: "https://stock.example.org/lots/1?a=1;b=2", Sequence: i, AlarmDays: i % 3})
	}
	return c
}

// A line is of at most 75 octets, ends with CRLF, and no character is cut in two; nobody who types a name makes a
// line of their own.
func TestLines(t *testing.T) {
	out := calendar().Bytes(made)
	require.True(t, bytes.HasSuffix(out, []byte("END:VCALENDAR\r\n")))
	assert.Equal(t, bytes.Count(out, []byte("\n")), bytes.Count(out, []byte("\r\n")))
	assert.Equal(t, bytes.Count(out, []byte("\r")), bytes.Count(out, []byte("\r\n")))
	for _, l := range strings.Split(string(out), "\r\n") {
		assert.LessOrEqual(t, len(l), 75, l)
		assert.Equal(t, strings.ToValidUTF8(l, "?"), l)
	}
	assert.Equal(t, len(hostile), strings.Count(string(out), "\r\nBEGIN:VEVENT\r\n"))
	assert.NotContains(t, string(out), "\r\nUID:evil")
}

// want is what any reader is to find: text without controls, its ends of lines as one.
func want(c Calendar) (out []outside.Event) {
	clean := func(text string) string {
		text = strings.NewReplacer("\r\n", "\n", "\r", "\n", "\u2028", "\n").Replace(text)
		return strings.NewReplacer("\x00", "", "\x07", "", "\t", "").Replace(strings.ToValidUTF8(text, "\uFFFD"))
	}
	for _, e := range c.Events {
		r := outside.Event{UID: e.UID, Summary: clean(e.Summary), Details: clean(e.Details), Place: clean(e.Place),
			Start: e.Day.Format(time.DateOnly), End: e.Day.AddDate(0, 0, 1).Format(time.DateOnly), Sequence: e.Sequence}
		if e.AlarmDays > 0 {
			r.Alarm = "-" + string(rune('0'+e.AlarmDays))
		}
		out = append(out, r)
	}
	return out
}

// Two programs of others read what was written, and no more.
func TestReadAlike(t *testing.T) {
	for by, found := range outside.Calendars(t, calendar().Bytes(made)) {
		expected := want(calendar())
		for i, r := range expected {
			for _, text := range []*string{&r.Summary, &r.Details, &r.Place} {
				if by == "icalendar" {
					*text = outside.AsOldIcalendar(*text)
				}
			}
			expected[i] = r
		}
		assert.Equal(t, outside.Calendar{Name: "Far Meadow", Product: "-//Stowkeeper//Stowkeeper//EN",
			Refresh: "PT360M", Events: expected}, found, by)
	}
}
