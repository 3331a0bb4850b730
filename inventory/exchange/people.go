package exchange

import (
	"cmp"
	"slices"

	"stowkeeper/inventory"
	"stowkeeper/inventory/account"
)

var personColumns = columnsOf[inventory.Person]([]column{
	{"name", cellLine, "Full name", needed},
	{"role", cellWord, "Role", needed},
	{"stations", cellCodes, "Stations; none for all", optional},
	{"disabled", cellYes, "Disabled", optional},
})

func (x *exporting) people(add func(inventory.Person) error) error {
	all, err := x.r.People()
	return each(all, err, add)
}

// importPerson makes a person without a secret: nobody can sign in as them until an administrator sets one.
func importPerson(r *record) error {
	return personColumns.keep(r, inventory.Person{},
		func(p inventory.Person) (inventory.Person, error) { return r.im.w.PersonByName(p.Name) },
		func(in inventory.Person) error { return r.im.s.createPersonWithout(r.im.w, r.im.by, in, r.im.closed) },
		func(old, now inventory.Person) (Outcome, error) {
			if now.Role == old.Role && now.Disabled == old.Disabled && slices.Equal(
				slices.Sorted(slices.Values(now.Stations)), slices.Sorted(slices.Values(old.Stations))) {
				return Unchanged, nil
			}
			return Changed, inventory.Refuse(inventory.Conflict, "name already used: change people on their page")
		})
}

// createPersonWithout makes a person who has no secret yet.
func (s *Service) createPersonWithout(w inventory.Writer, by inventory.Actor, in inventory.Person,
	closed []string) error {
	grant := in.Grants()
	grant.EndsAt = by.EndsAt // nobody signs in before an administrator gives them a secret
	err := cmp.Or(by.Must(inventory.ActKeepPeople, ""), by.MustGrant(grant), account.CheckWho(w, in, closed),
		account.NameFree(w, in.Name))
	if err == nil {
		in, err = w.AddPerson(in)
	}
	if err != nil {
		return err
	}
	return w.AddHistory([]inventory.HistoryEntry{s.account.AboutPerson(by, inventory.HistoryPersonAdded, in,
		account.Standing(in))})
}
