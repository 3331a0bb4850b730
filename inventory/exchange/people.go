package exchange

import (
	"slices"

	"stowkeeper/inventory"
	"stowkeeper/inventory/account"
)

var personColumns = columns[inventory.Person]{
	line("name", "full name", func(p *inventory.Person) *string { return &p.Name }).needed(),
	word("role", "crew, quartermaster, manager or administrator",
		func(p *inventory.Person) *inventory.Role { return &p.Role }).needed(),
	codes("stations", "codes of the stations that they belong to, none for all",
		func(p *inventory.Person) *[]string { return &p.Stations }),
	yes("disabled", "whether they may no longer sign in", func(p *inventory.Person) *bool { return &p.Disabled }),
}

func (x *exporting) people(add func(inventory.Person) error) error {
	all, err := x.r.People()
	return each(all, err, add)
}

// importPerson makes a person without a secret: nobody can sign in as them
// until an administrator sets one.
func importPerson(r *record) error {
	var in inventory.Person
	personColumns.read(r, &in)
	r.what = in.Name
	old, known, err := there(r.im.w.PersonByName(in.Name))
	if err != nil {
		return err
	}
	if !known {
		_, err = r.im.s.createPersonWithout(r.im.w, r.im.by, in)
		return r.settled(Created, err)
	}
	now := old
	personColumns.read(r, &now)
	if now.Role != old.Role || now.Disabled != old.Disabled || !slices.Equal(
		slices.Sorted(slices.Values(now.Stations)), slices.Sorted(slices.Values(old.Stations))) {
		err = inventory.Errorf(inventory.Conflict,
			"a person has this name already; a file does not change what somebody may do")
	}
	return r.settled(Unchanged, err)
}

// createPersonWithout makes a person who has no secret yet.
func (s *Service) createPersonWithout(w inventory.Writer, by inventory.Actor, in inventory.Person) (inventory.Person,
	error) {
	if err := by.Must(inventory.ActKeepPeople, ""); err != nil {
		return in, err
	}
	if err := account.CheckWho(w, in); err != nil {
		return in, err
	}
	if err := account.NameFree(w, in.Name); err != nil {
		return in, err
	}
	in, err := w.AddPerson(in)
	if err != nil {
		return in, err
	}
	return in, w.AddHistory([]inventory.HistoryEntry{s.account.AboutPerson(by, inventory.HistoryPersonAdded, in,
		account.Standing(in))})
}
