package web

import (
	"html/template"

	"stowkeeper/inventory"
	"stowkeeper/inventory/message"
	"stowkeeper/web/text"
)

// Days are written with the month's name, as in 14 Jun 2027: it reads the same to everybody, whichever way round they
// write dates in figures. The ISO form stands beside it for programs, and shows where a pointer rests on it.

// dayOrNone is a day as the argument of a message.
func dayOrNone(d inventory.Day) any {
	if d == 0 {
		return message.M("no date")
	}
	return d
}

// When is an instant in a station's own time. ISO is that time with its distance from UTC.
type When struct {
	UTC, Clock, ISO string
	Day             inventory.Day
}

// Text is the instant's day and clock.
func (w When) Text() message.Message {
	if w.UTC == "" {
		return message.M("never")
	}
	return message.M("{1}, {2}##day, clock", w.Day, w.Clock)
}

func (w When) html(c *text.Catalogue, m message.Message) template.HTML {
	said := template.HTMLEscapeString(c.Text(m))
	if w.UTC != "" {
		said = `<time datetime="` + template.HTMLEscapeString(w.UTC) + `" title="` + template.HTMLEscapeString(w.ISO) + `">` +
			said + `</time>`
	}
	return template.HTML(said) // #nosec G203 -- escaped above
}

var utc = inventory.Station{Timezone: "UTC"}

// whenAt writes an instant in a station's zone; the zero instant gives the zero When.
func whenAt(at inventory.Instant, station inventory.Station) When {
	if at == 0 {
		return When{}
	}
	t := at.Time()
	if zone, err := inventory.Zone(station.Timezone); err == nil {
		t = t.In(zone)
	}
	return When{at.String(), t.Format("15:04"), t.Format("2006-01-02 15:04-07:00"), at.In(t.Location())}
}
