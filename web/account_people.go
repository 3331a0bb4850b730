package web

import (
	"net/http"
	"slices"
	"strconv"
	"strings"

	"stowkeeper/inventory"
	"stowkeeper/inventory/account"
)

// PersonRow is one person in the list.
type PersonRow struct {
	Href, Name, Role, Stations string
	Disabled                   bool
}

type peoplePage struct {
	Base
	Rows []PersonRow
}

func (s *server) showPeople(v *visit) error {
	people, err := s.svc.Account.People(v.ctx(), v.actor)
	if err != nil {
		return err
	}
	p := &peoplePage{Base: Base{Title: "People"}}
	slices.SortFunc(people, func(a, b inventory.Person) int { return strings.Compare(a.Name, b.Name) })
	for _, x := range people {
		p.Rows = append(p.Rows, PersonRow{personPath(x.ID), x.Name, string(x.Role), strings.Join(x.Stations, " "),
			x.Disabled})
	}
	return s.render(v, http.StatusOK, p)
}

func personPath(id int64) string { return "/people/" + strconv.FormatInt(id, 10) }

// Tick is one choice of several.
type Tick struct {
	Value, Text string
	Checked     bool
}

type personPage struct {
	Base
	Form           Form
	ID             int64 // 0 for a person who is being added
	Who            string
	Disabled       bool
	Name, RoleOf   Field
	Stations       []Tick
	StationsFix    string
	Secret, Own    Field
	Sessions       []SessionRow
	Changed, IsOwn bool
}

func (s *server) showNewPerson(v *visit) error {
	return s.personForm(v, inventory.Person{}, openForm(nil), nil)
}

// personForm shows a person, or the form for a new one, with what was sent.
func (s *server) personForm(v *visit, of inventory.Person, f *form, failed error) error {
	p := &personPage{Base: Base{Title: "New person"}, ID: of.ID, Who: of.Name, Disabled: of.Disabled,
		IsOwn: of.Name == v.actor.Name, Changed: v.Query("done") != ""}
	roles := make([]Option, len(inventory.Roles))
	for i, r := range inventory.Roles {
		roles[i] = Option{Value: string(r), Text: string(r)}
	}
	if of.ID == 0 {
		p.Name = f.field("name", "Full name").Need()
	}
	p.RoleOf = f.choice("role", "Role", roles).Need()
	p.Secret = secretField(f, "secret", "PIN (crew) or password")
	p.Own = v.confirmField(f, "")
	if of.ID != 0 {
		p.Title, p.Secret.Label, p.Secret.Required = of.Name, "New PIN (crew) or password", false
		sessions, err := s.svc.Account.Sessions(v.ctx(), v.actor, of.Name)
		if err != nil {
			return err
		}
		p.Sessions = sessionRows(sessions)
	}
	stations := v.stations()
	for _, x := range stations {
		p.Stations = append(p.Stations, Tick{x.Code, x.Name, slices.Contains(f.values["stations"], x.Code)})
	}
	p.StationsFix = f.fixes["stations"]
	p.Form = f.state(failed, "", 0)
	return s.render(v, statusOf(failed), p)
}

// createPerson takes from the form what a person is, field by field: nothing
// else that it may hold.
func (s *server) createPerson(v *visit) error {
	f := openForm(v.Request.PostForm)
	in := inventory.Person{Name: f.text("name"), Role: inventory.Role(f.text("role")), Stations: f.values["stations"]}
	var made inventory.Person
	err := s.confirm(v, f, "")
	if err == nil {
		made, err = s.svc.Account.CreatePerson(v.ctx(), v.actor, in, f.values.Get("secret"), s.opt.Secrets)
	}
	if onForm(err) {
		f.take(err, nil)
		return s.personForm(v, inventory.Person{}, f, err)
	}
	if err == nil {
		v.Redirect(http.StatusSeeOther, personPath(made.ID)+"?done=added")
	}
	return err
}

// person is who the path names.
func (s *server) person(v *visit) (inventory.Person, error) {
	id, err := strconv.ParseInt(v.Param("person"), 10, 64)
	if err != nil {
		return inventory.Person{}, inventory.Errorf(inventory.NotFound, "no such person")
	}
	return s.svc.Account.Person(v.ctx(), v.actor, id)
}

func (s *server) showPerson(v *visit) error {
	of, err := s.person(v)
	if err != nil {
		return err
	}
	f := openForm(map[string][]string{"role": {string(of.Role)}, "stations": of.Stations})
	return s.personForm(v, of, f, nil)
}

func (s *server) changePerson(v *visit) error {
	of, err := s.person(v)
	if err != nil {
		return err
	}
	f := openForm(v.Request.PostForm)
	ch := account.PersonChange{Role: inventory.Role(f.text("role")), Stations: f.values["stations"], Disabled: of.Disabled,
		Secret: f.values.Get("secret")}
	switch f.text("access") {
	case "disable": // at once, with nothing to type
		ch = account.PersonChange{Role: of.Role, Stations: of.Stations, Disabled: true}
	case "enable":
		ch.Disabled = false
		fallthrough
	default:
		err = s.confirm(v, f, "")
	}
	if err == nil {
		_, err = s.svc.Account.ChangePerson(v.ctx(), v.actor, of.ID, ch, s.opt.Secrets)
	}
	if onForm(err) {
		f.take(err, nil)
		return s.personForm(v, of, f, err)
	}
	if err == nil {
		v.Redirect(http.StatusSeeOther, personPath(of.ID)+"?done=changed")
	}
	return err
}

// signPersonOut ends one session of a person, or all of them.
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
