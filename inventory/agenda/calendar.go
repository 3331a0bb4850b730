package agenda

import (
	"net/url"
	"strings"
	"time"

	"stowkeeper/inventory/ical"
	"stowkeeper/inventory/message"
)

// refresh is how often calendars are asked to come again.
const refresh = 6 * time.Hour

// Calendar is the agenda as a file of RFC 5545, its texts worded by say. base is the address of the service, whose host
// ends the ids, so that those of two services are never the same.
func (a Agenda) Calendar(base string, say func(message.Message) string) []byte {
	host := base
	if u, err := url.Parse(base); err == nil && u.Hostname() != "" {
		host = u.Hostname()
	}
	c := ical.Calendar{Product: "-//Stowkeeper//Stowkeeper//EN", Name: a.Station.Name, Refresh: refresh}
	for _, e := range a.Events {
		var details []string
		for _, m := range e.Details {
			details = append(details, say(m))
		}
		year, month, day := e.Day.Date()
		c.Events = append(c.Events, ical.Event{UID: e.ID + "@" + host, Day: time.Date(year, month, day, 0, 0, 0, 0, time.UTC),
			Summary: say(e.Text), Details: strings.Join(details, "\n"), Place: e.Place,
			Address: strings.TrimRight(base, "/") + "/" + e.Path, Sequence: a.Sequence, AlarmDays: e.Warn})
	}
	return c.Bytes(a.At.Time())
}
