package ical

import (
	"bytes"
	"encoding/json"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

var made = time.Date(2026, 12, 1, 15, 0, 0, 0, time.UTC)

// hostile are names that somebody may type to have a calendar say what was never recorded.
var hostile = []string{"plain", "a;b,c\\d:e", "line one\nline two", "x\r\nEND:VEVENT\r\nBEGIN:VEVENT\r\nUID:evil", "\x00\x07tab\there",
	"cr\ronly", "\u2028separator", `\n is no new line`, strings.Repeat("gauze – 10 × 10 cm, ", 12), "🩹" + strings.Repeat("é", 200),
	" begins with a space", "bad \xff utf-8", `"quoted"`, "BEGIN:VCALENDAR", ""}

func calendar() Calendar {
	c := Calendar{Product: "-//Stowkeeper//Stowkeeper//EN", Name: "Far Meadow; use by", Refresh: 6 * time.Hour}
	for i, name := range hostile {
		c.Events = append(c.Events, Event{UID: "lot-" + string(rune('a'+i)) + "@stock.example.org",
			Day: time.Date(2027, 2, 28-i, 0, 0, 0, 0, time.UTC), Summary: "Use by: " + name, Details: name, Place: name,
			Address: "https://stock.example.org/lots/1?a=1;b=2", Changed: made.Add(-time.Hour), Sequence: i,
			AlarmDays: i % 3})
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

// read is an event as a program of others reads it.
type read struct {
	UID, Summary, Details, Place, Start, End, Alarm string
	Sequence                                        int
}

// want is what any reader is to find: text without controls, its ends of lines as one.
func want(c Calendar) (out []read) {
	clean := func(text string) string {
		text = strings.NewReplacer("\r\n", "\n", "\r", "\n", "\u2028", "\n").Replace(text)
		return strings.NewReplacer("\x00", "", "\x07", "", "\t", "").Replace(strings.ToValidUTF8(text, "\uFFFD"))
	}
	for _, e := range c.Events {
		r := read{UID: e.UID, Summary: clean(e.Summary), Details: clean(e.Details), Place: clean(e.Place),
			Start: e.Day.Format(time.DateOnly), End: e.Day.AddDate(0, 0, 1).Format(time.DateOnly), Sequence: e.Sequence}
		if e.AlarmDays > 0 {
			r.Alarm = "-" + string(rune('0'+e.AlarmDays))
		}
		out = append(out, r)
	}
	return out
}

func without(t *testing.T, reason string) {
	t.Helper()
	if os.Getenv("STOWKEEPER_NO_SKIP") == "1" {
		t.Fatal(reason)
	}
	t.Skip(reason)
}

func readBy(t *testing.T, name string, args ...string) (out []read) {
	t.Helper()
	cmd := exec.Command(name, args...)
	cmd.Stdin = bytes.NewReader(calendar().Bytes(made))
	var failures bytes.Buffer
	cmd.Stderr = &failures
	text, err := cmd.Output()
	require.NoError(t, err, "%s", &failures)
	require.NoError(t, json.Unmarshal(text, &out))
	return out
}

func TestReadByIcalJS(t *testing.T) {
	module := filepath.Join(os.Getenv("STOWKEEPER_NODE_MODULES"), "ical.js", "dist", "ical.es5.cjs")
	if _, err := os.Stat(module); err != nil {
		without(t, "STOWKEEPER_NODE_MODULES names no node_modules folder with ical.js in it")
	}
	assert.Equal(t, want(calendar()), readBy(t, "node", "-e", `
		const ICAL = require(process.argv[1]);
		const c = new ICAL.Component(ICAL.parse(require("fs").readFileSync(0, "utf8")));
		console.log(JSON.stringify(c.getAllSubcomponents("vevent").map(v => {
			const e = new ICAL.Event(v), a = v.getFirstSubcomponent("valarm");
			const d = a && a.getFirstPropertyValue("trigger");
			return { UID: e.uid, Summary: e.summary, Details: e.description || "", Place: e.location || "",
				Start: e.startDate.toString(), End: e.endDate.toString(), Sequence: e.sequence,
				Alarm: d ? (d.isNegative ? "-" : "") + d.days : "" };
		})));`, module))
}

func TestReadByPython(t *testing.T) {
	const python = "/usr/bin/python3" // Debian's, which finds Debian's modules
	if exec.Command(python, "-c", "import icalendar").Run() != nil {
		without(t, "no python3-icalendar")
	}
	var found []read
	for _, r := range want(calendar()) { // icalendar 4 takes a backslash and an n for a new line, also where escaped
		for _, text := range []*string{&r.Summary, &r.Details, &r.Place} {
			*text = strings.ReplaceAll(*text, `\n`, "\n")
		}
		found = append(found, r)
	}
	assert.Equal(t, found, readBy(t, python, "-c", `
import icalendar, json, sys
out = []
for e in icalendar.Calendar.from_ical(sys.stdin.buffer.read()).walk("VEVENT"):
    alarm = [str(a["TRIGGER"].dt.days) for a in e.walk("VALARM")]
    out.append({"UID": e["UID"], "Summary": e["SUMMARY"], "Details": e.get("DESCRIPTION", ""),
        "Place": e.get("LOCATION", ""), "Start": str(e["DTSTART"].dt), "End": str(e["DTEND"].dt),
        "Sequence": int(e["SEQUENCE"]), "Alarm": alarm[0] if alarm else ""})
print(json.dumps(out))`))
}
