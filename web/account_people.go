package web

import (
	"net/http"
	"net/url"
	"slices"
	"strings"

	"stowkeeper/inventory"
	"stowkeeper/inventory/account"
	"stowkeeper/inventory/message"
)

type peoplePage struct {
	Base
	Rows []inventory.Person
}

func (s *server) showPeople(v *visit) error {
	people, err := s.svc.Account.People(v.ctx(), v.actor)
	if err != nil {
		return err
	}
	slices.SortFunc(people, func(a, b inventory.Person) int { return strings.Compare(a.Name, b.Name) })
	return s.render(v, http.StatusOK, &peoplePage{Base{Title: message.M("People")}, people})
}

func personPath(id int64) string { return "/people/" + formatID(id) }

// Tick is one choice of several.
type Tick struct {
	Value, Text string
	Checked     bool
}

type personPage struct {
	Base
	ID             int64 // 0 for a person who is being added
	Who            string
	Disabled       bool
	Name, RoleOf   Field
	Stations       []Tick
	StationsFix    message.Message
	Secret, Own    Field
	Sessions       []account.SessionView
	Changed, IsOwn bool
}

func (s *server) personForm(v *visit, f *form, failed error) error {
	of, err := s.person(v)
	if err != nil {
		return err
	}
	if of.ID != 0 && len(f.values) == 0 {
		f.values = url.Values{"role": {string(of.Role)}, "stations": of.Stations}
	}
	p := &personPage{Base: Base{Title: message.M("New person")}, ID: of.ID, Who: of.Name, Disabled: of.Disabled,
		IsOwn: of.Name == v.actor.Name, Changed: v.Query("done") != ""}
	if of.ID == 0 {
		p.Name = f.field("name", message.M("Full name")).Need()
	}
	p.RoleOf = roleField(f)
	p.Secret = secretField(f, "secret", message.M("PIN (crew) or password"))
	p.Own = v.confirmField(f, "")
	if of.ID != 0 {
		p.Title, p.Secret.Label, p.Secret.Required = message.Plain(of.Name), message.M("New PIN (crew) or password"), false
		if p.Sessions, err = s.svc.Account.Sessions(v.ctx(), v.actor, of.Name); err != nil {
			return err
		}
	}
	p.Stations = v.stationTicks(f)
	p.StationsFix = f.fixes["stations"]
	return s.renderForm(v, f, p, failed)
}

func roleField(f *form) Field {
	var roles []Option
	for _, r := range inventory.Roles {
		roles = append(roles, Option{Value: string(r), Text: message.Plain(string(r))})
	}
	return f.choice("role", message.M("Role"), roles).Need()
}

func (v *visit) stationTicks(f *form) (out []Tick) {
	for _, x := range v.everyStation() {
		if has := slices.Contains(f.values["stations"], x.Code); has || !x.Closed() {
			out = append(out, Tick{x.Code, x.Name, has})
		}
	}
	return out
}

// createPerson takes from the form what a person is, field by field: nothing else that it may hold.
func (s *server) createPerson(v *visit, f *form) error {
	in := inventory.Person{Name: f.text("name"), Role: inventory.Role(f.text("role")), Stations: f.values["stations"]}
	if err := s.confirm(v, f, ""); err != nil {
		return err
	}
	made, err := s.svc.Account.CreatePerson(v.ctx(), v.actor, in, f.values.Get("secret"), s.opt.Secrets)
	if err != nil {
		return err
	}
	return v.to(personPath(made.ID) + "?done=added")
}

// person is who the path names, nobody where it is about a new one.
func (s *server) person(v *visit) (inventory.Person, error) {
	if v.Param("person") == "" {
		return inventory.Person{}, nil
	}
	return s.svc.Account.Person(v.ctx(), v.actor, paramID(v, "person"))
}

func (s *server) changePerson(v *visit, f *form) error {
	of, err := s.person(v)
	if err != nil {
		return err
	}
	ch := account.PersonChange{Role: inventory.Role(f.text("role")), Stations: f.values["stations"], Disabled: of.Disabled,
		Secret: f.values.Get("secret")}
	switch f.text("access") {
	case "disable": // at once, with nothing to type
		ch = account.PersonChange{Role: of.Role, Stations: of.Stations, Disabled: true}
	case "enable":
		ch.Disabled = false
		fallthrough
	default:
		if err := s.confirm(v, f, ""); err != nil {
			return err
		}
	}
	if _, err = s.svc.Account.ChangePerson(v.ctx(), v.actor, of.ID, ch, s.opt.Secrets); err != nil {
		return err
	}
	return v.to(personPath(of.ID) + "?done=changed")
}

func (s *server) signPersonOut(v *visit) error {
	of, err := s.person(v)
	if err != nil {
		return err
	}
	if err := s.svc.Account.EndSessions(v.ctx(), v.actor, of.Name, v.PostForm("ref")); err != nil {
		return err
	}
	return v.to(personPath(of.ID) + "?done=out")
}
