package web

import (
	"html/template"
	"regexp"
	"strconv"

	"stowkeeper/inventory"
)

// Days are written with the month's name, as in 14 Jun 2027: it reads the same
// to everybody, whichever way round they write dates in figures. The ISO form
// stands beside it for programs, and shows where a pointer rests on it.

// dayText writes a day for people.
func dayText(d inventory.Day) string {
	if d == 0 {
		return "no date"
	}
	y, m, day := d.Date()
	return strconv.Itoa(day) + " " + m.String()[:3] + " " + strconv.Itoa(y)
}

// dayHTML writes a day for people and for programs.
func dayHTML(d inventory.Day) template.HTML {
	if d == 0 {
		return "no date"
	}
	iso := d.String() // digits and hyphens only
	return template.HTML(`<time datetime="` + iso + `" title="` + iso + `">` + dayText(d) + `</time>`)
}

// dayInText is a day as the rules write it in a sentence. A batch number may
// look like a day; it never follows one of these words.
var dayInText = regexp.MustCompile(`\b(since|through|on|by|until) (\d{4}-\d\d-\d\d)($|[ .,;:)])`)

// The days in a sentence stand between these while it is translated.
const dayBegins, dayEnds = "\x02", "\x03"

var keptDay = regexp.MustCompile(dayBegins + `([^` + dayEnds + `]*)` + dayEnds)

// saidHTML writes a sentence of the rules in the catalogue's words, with its
// days in the reader's form.
func (c *catalogue) saidHTML(text string) template.HTML {
	text = dayInText.ReplaceAllString(text, "$1 "+dayBegins+"$2"+dayEnds+"$3")
	text = template.HTMLEscapeString(c.said(text))
	return template.HTML(keptDay.ReplaceAllStringFunc(text, func(s string) string {
		iso := s[len(dayBegins) : len(s)-len(dayEnds)]
		d, err := inventory.ParseDay(iso)
		if err != nil {
			return iso
		}
		return c.months(string(dayHTML(d)))
	}))
}

// When is an instant with its text in a station's own time. ISO is that time with
// its distance from UTC.
type When struct{ UTC, Text, Clock, ISO string }

// whenAt writes an instant in a station's zone; the zero instant gives the zero
// When.
func whenAt(at inventory.Instant, station inventory.Station) When {
	if at == 0 {
		return When{}
	}
	t := at.Time()
	if zone, err := inventory.Zone(station.Timezone); err == nil {
		t = t.In(zone)
	}
	return When{at.String(), t.Format("2 Jan 2006 15:04"), t.Format("15:04"), t.Format("2006-01-02 15:04-07:00")}
}
