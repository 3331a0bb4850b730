package web

import (
	"net/url"
	"slices"
	"strings"

	"stowkeeper/inventory"
	"stowkeeper/inventory/account"
	"stowkeeper/inventory/lists"
	"stowkeeper/inventory/message"
)

type stationsPage struct {
	Base
	Rows, Closed         []inventory.Station
	Code, Name, Timezone Field
	MayAdd               bool
}

func (s *server) stationsForm(v *visit, f *form, failed error) error {
	p := &stationsPage{Base: Base{Title: message.M("Stations")}, Rows: v.stations(),
		Closed: slices.DeleteFunc(slices.Clone(v.everyStation()),
			func(x inventory.Station) bool { return !x.Closed() }), MayAdd: v.may(inventory.ActKeepStations)}
	p.Code = f.field("code", message.M("Code")).Need().
		WithHint(message.M("Two to four letters. Cannot be changed later."))
	p.Name = f.field("name", message.M("Name")).Need()
	p.Timezone = f.field("timezone", message.M("Time zone")).Need().
		WithHint(message.M("e.g. Europe/London. Sets the station's local date."))
	return s.renderForm(v, f, p, failed)
}

func (s *server) createStation(v *visit, f *form) error {
	in := inventory.Station{Code: inventory.NormalCode(f.text("code")), Name: f.text("name"), Timezone: f.text("timezone")}
	if _, err := s.svc.Lists.CreateStation(v.ctx(), v.actor, in); err != nil {
		return err
	}
	return v.to("/stations")
}

func stationPath(code string) string { return "/stations/" + url.PathEscape(code) }

type stationPage struct {
	Base
	Of        inventory.Station
	ClosedAt  When
	Minutes   Field
	Position  Field
	Travel    Field
	Vehicles  []Option
	MayClose  bool
	Into, Own Field
	Signing   *SigningFields
	Done      *Done
	Calendars []TokenRow
	Calendar  string // an address just made, shown this once
	OwnNew    Field  // the visitor's own password, for an address
}

func (s *server) stationOf(v *visit) (inventory.Station, error) {
	code := inventory.NormalCode(v.Param("station"))
	all := v.everyStation()
	i := slices.IndexFunc(all, func(x inventory.Station) bool { return x.Code == code })
	if i < 0 {
		return inventory.Station{}, inventory.Refuse(inventory.NotFound, "not found")
	}
	return all[i], nil
}

// stationForm shows a station with its settings, and with the way to close it or to open it again.
func (s *server) stationForm(v *visit, f *form, failed error) error {
	return s.stationPage(v, f, "", failed)
}

func (s *server) stationPage(v *visit, f *form, calendar string, failed error) error {
	of, err := s.stationOf(v)
	if err != nil {
		return err
	}
	keys, err := s.svc.Account.CalendarKeys(v.ctx(), v.actor, of.Code)
	if err != nil {
		return err
	}
	p := &stationPage{Base: Base{Title: message.Plain(of.Name)}, Of: of, ClosedAt: whenAt(of.ClosedAt, of),
		Calendars: tokenRows(keys, v.now), Calendar: calendar, OwnNew: v.confirmField(f, forNew)}
	p.MayClose = v.may(inventory.ActKeepStations)
	if err := s.settingsOf(v, f, p); err != nil {
		return err
	}
	p.Into = v.stationField(f, "into", message.M("Move everything to"))
	p.Into.Empty = message.M("none")
	p.Into.Options = slices.DeleteFunc(p.Into.Options, func(o Option) bool { return o.Value == of.Code })
	p.Own = v.confirmField(f, "")
	p.Signing = f.signing(false)
	if kind, _ := doneParam(v); kind == "closed" && of.Closed() || kind == "changed" {
		p.Done = &Done{Title: message.M("Recorded")}
	}
	return s.renderForm(v, f, p, failed)
}

// settingsOf puts the settings of a station on its page, as they are or were sent.
func (s *server) settingsOf(v *visit, f *form, p *stationPage) error {
	chosen := p.Of.NightVehicles
	if f.values.Has("lock_minutes") {
		chosen = f.values["night"]
	} else {
		f.values = url.Values{"position": {p.Of.Position}, "travel_minutes": {strings.Join(p.Of.TravelMinutes, "\n")},
			"into": f.values["into"]}
	}
	p.Minutes = f.numberFrom("lock_minutes", message.M("Minutes until shared phones lock"), p.Of.LockMinutes).
		WithHint(message.M("0: after {1} hours", int(account.SessionIdle.Hours())))
	p.Position = f.field("position", message.M("Latitude, longitude"))
	p.Travel = f.area("travel_minutes", message.M("Minutes to other stations")).
		WithHint(message.M("One per line: station code and minutes, e.g. HT 25"))
	vehicles, err := s.svc.Shift.Vehicles(v.ctx(), v.actor, []string{p.Of.Code})
	all := slices.Clone(chosen) // also one that carries no bag now
	for _, x := range vehicles {
		all = append(all, x.Vehicle)
	}
	slices.Sort(all)
	for _, name := range slices.Compact(all) {
		p.Vehicles = append(p.Vehicles, Option{Value: name, Chosen: slices.Contains(chosen, name)})
	}
	return err
}

// changeStation keeps the settings of a station.
func (s *server) changeStation(v *visit, f *form) error {
	minutes, code := f.number("lock_minutes"), inventory.NormalCode(v.Param("station"))
	position := f.text("position")
	if err := f.err(); err != nil {
		return err
	}
	_, err := s.svc.Lists.ChangeStation(v.ctx(), v.actor, code, lists.StationSettings{LockMinutes: &minutes,
		NightVehicles: append([]string{}, f.values["night"]...), Position: &position,
		TravelMinutes: append([]string{}, f.lines("travel_minutes")...)})
	if err != nil {
		return err
	}
	return v.to(stationPath(code) + "?done=changed-1")
}

// closeStation closes a station, alone or with all of it moved to another, or opens it again.
func (s *server) closeStation(v *visit, f *form) error {
	of, err := s.stationOf(v)
	if err != nil {
		return err
	}
	if err := s.confirm(v, f, ""); err != nil {
		return err
	}
	if f.text("how") == "reopen" {
		if _, err := s.svc.Lists.ReopenStation(v.ctx(), v.actor, of.Code); err != nil {
			return err
		}
		return v.to(stationPath(of.Code))
	}
	by, err := s.signed(v, f)
	if err != nil {
		return err
	}
	if _, err := s.svc.Lists.CloseStation(v.ctx(), by, of.Code, f.text("into")); err != nil {
		return err
	}
	return v.to(stationPath(of.Code) + "?done=closed-1")
}
