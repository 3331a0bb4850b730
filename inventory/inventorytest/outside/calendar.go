package outside

import (
	"bytes"
	"encoding/json"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
)

// Event is one of a calendar, as a program of others reads it.
type Event struct {
	UID, Summary, Details, Place, Start, End, Alarm string
	Sequence                                        int
}

// Calendar is what a program of others reads in a file of RFC 5545.
type Calendar struct {
	Name, Product, Refresh string
	Events                 []Event
}

// Calendars reads a file with ical.js, and with icalendar of Python.
func Calendars(t testing.TB, file []byte) map[string]Calendar {
	t.Helper()
	module := filepath.Join(os.Getenv("STOWKEEPER_NODE_MODULES"), "ical.js", "dist", "ical.es5.cjs")
	if _, err := os.Stat(module); err != nil { // #nosec G703 -- of a test
		missing(t, "ical.js")
	}
	const python = "/usr/bin/python3" // Debian's, which finds Debian's modules
	if exec.Command(python, "-c", "import icalendar").Run() != nil {
		missing(t, "python3-icalendar")
	}
	return map[string]Calendar{
		"ical.js":   readBy(t, file, Tool(t, "node"), "-e", byICalJS, module),
		"icalendar": readBy(t, file, python, "-c", byICalendar),
	}
}

// AsOldIcalendar is a text as icalendar 4 reads it: it takes a backslash and an n for a new line, also where escaped.
func AsOldIcalendar(text string) string { return strings.ReplaceAll(text, `\n`, "\n") }

func readBy(t testing.TB, file []byte, name string, args ...string) (out Calendar) {
	t.Helper()
	cmd := exec.Command(name, args...) // #nosec G204 G702 -- of a test
	cmd.Stdin = bytes.NewReader(file)
	var failures bytes.Buffer
	cmd.Stderr = &failures
	text, err := cmd.Output()
	if err == nil {
		err = json.Unmarshal(text, &out)
	}
	if err != nil {
		t.Fatalf("%s: %v: %s", name, err, &failures)
	}
	return out
}

const byICalJS = `
const ICAL = require(process.argv[1]);
const c = new ICAL.Component(ICAL.parse(require("fs").readFileSync(0, "utf8")));
const of = name => String(c.getFirstPropertyValue(name));
console.log(JSON.stringify({ Name: of("x-wr-calname"), Product: of("prodid"), Refresh: of("refresh-interval"),
	Events: c.getAllSubcomponents("vevent").map(v => {
		const e = new ICAL.Event(v), a = v.getFirstSubcomponent("valarm");
		const d = a && a.getFirstPropertyValue("trigger");
		return { UID: e.uid, Summary: e.summary, Details: e.description || "", Place: e.location || "",
			Start: e.startDate.toString(), End: e.endDate.toString(), Sequence: e.sequence,
			Alarm: d ? (d.isNegative ? "-" : "") + (d.weeks * 7 + d.days) : "" };
	}) }));`

const byICalendar = `
import icalendar, json, sys
c = icalendar.Calendar.from_ical(sys.stdin.buffer.read())
out = []
for e in c.walk("VEVENT"):
    alarm = [str(a["TRIGGER"].dt.days) for a in e.walk("VALARM")]
    out.append({"UID": e["UID"], "Summary": e["SUMMARY"], "Details": e.get("DESCRIPTION", ""),
        "Place": e.get("LOCATION", ""), "Start": str(e["DTSTART"].dt), "End": str(e["DTEND"].dt),
        "Sequence": int(e["SEQUENCE"]), "Alarm": alarm[0] if alarm else ""})
print(json.dumps({"Name": c["X-WR-CALNAME"], "Product": c["PRODID"], "Refresh": c["REFRESH-INTERVAL"], "Events": out}))`
