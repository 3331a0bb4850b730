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

// saidHTML writes a sentence of the rules with its days in the reader's form.
func saidHTML(text string) template.HTML {
	return template.HTML(dayInText.ReplaceAllStringFunc(template.HTMLEscapeString(text), func(s string) string {
		m := dayInText.FindStringSubmatch(s)
		d, err := inventory.ParseDay(m[2])
		if err != nil {
			return s
		}
		return m[1] + " " + string(dayHTML(d)) + m[3]
	}))
}

// When is an instant with its text in a site's own time. ISO is that time with
// its distance from UTC.
type When struct{ UTC, Text, Clock, ISO string }

// whenAt writes an instant in a site's zone; the zero instant gives the zero
// When.
func whenAt(at inventory.Instant, site inventory.Site) When {
	if at == 0 {
		return When{}
	}
	t := at.Time()
	if zone, err := inventory.Zone(site.Timezone); err == nil {
		t = t.In(zone)
	}
	return When{at.String(), t.Format("2 Jan 2006 15:04"), t.Format("15:04"), t.Format("2006-01-02 15:04-07:00")}
}
