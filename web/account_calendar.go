package web

import (
	"net/http"
)

// calendarPath is where a calendar program reads what there is to do at a station. The key in it is all that it shows:
// nothing that is logged or counted holds more of a request's address than this pattern.
const calendarPath = "/calendar/:link"

func (s *server) sendCalendar(v *visit) error {
	if err := s.svc.History.Clock().Err(); err != nil { // who knows what day it is
		return err
	}
	a, err := s.svc.Agenda.At(v.ctx(), v.actor, v.actor.Stations[0])
	if err != nil {
		return err
	}
	v.Data(http.StatusOK, "text/calendar; charset=utf-8", a.Calendar(s.opt.BaseURL, s.texts.Text))
	return nil
}

// changeCalendar makes an address of a station's calendar, or revokes one.
func (s *server) changeCalendar(v *visit, f *form) error {
	of, err := s.stationOf(v)
	if err != nil {
		return err
	}
	if id := f.text("revoke"); id != "" {
		if _, err := s.svc.Account.RevokeCalendarKey(v.ctx(), v.actor, of.Code, idOf(id)); err != nil {
			return err
		}
		return v.to(stationPath(of.Code) + "?done=changed-1")
	}
	v.Header("Cache-Control", "no-store")
	f.names = ownIn(forNew)
	if err := s.confirm(v, f, forNew); err != nil {
		return err
	}
	key, err := s.svc.Account.CreateCalendarKey(v.ctx(), v.actor, of.Code)
	if err != nil {
		return err
	}
	return s.stationPage(v, openForm(nil), s.opt.BaseURL+"/calendar/"+key+".ics", nil)
}
