package store

import (
	"database/sql"

	"stowkeeper/inventory"
	"stowkeeper/inventory/store/fact"
)

type personRow struct {
	ID                             int64
	Name, Folded, Role, SecretHash string
	Disabled                       bool
	Attempts                       int
	LockedTill                     instant
}

type personStationRow struct {
	Person  int64  `gorm:"primaryKey;autoIncrement:false"`
	Station string `gorm:"primaryKey"`
}

// people reads persons, each once for each of their stations.
func (r reader) people(w where) ([]inventory.Person, error) {
	var out []inventory.Person
	err := r.each(`SELECT p.id, p.name, p.role, p.secret_hash, p.disabled, p.attempts, p.locked_till, s.station
FROM person p LEFT JOIN person_station s ON s.person = p.id`+w.String()+" ORDER BY p.id, s.station", w.args,
		func(rows *sql.Rows) error {
			var p inventory.Person
			var station code
			err := rows.Scan(&p.ID, &p.Name, &p.Role, &p.SecretHash, &p.Disabled, &p.Attempts, (*instant)(&p.LockedTill),
				&station)
			if n := len(out); n == 0 || out[n-1].ID != p.ID {
				out = append(out, p)
			}
			out[len(out)-1].Stations = withStation(out[len(out)-1].Stations, station)
			return err
		})
	return out, failure("read people", "", err)
}

// withStation adds the station of a row, if there is any.
func withStation(stations []string, station code) []string {
	if station == "" {
		return stations
	}
	return append(stations, string(station))
}

func (r reader) Person(id int64) (inventory.Person, error) {
	var w where
	w.and("p.id = ?", id)
	people, err := r.people(w)
	return only(people, err, "person")
}

// PersonByName returns the person of that name, ignoring case.
func (r reader) PersonByName(name string) (inventory.Person, error) {
	var w where
	w.and("p.folded = ?", fact.Folded(name))
	people, err := r.people(w)
	return only(people, err, "person")
}

// People returns everybody by id.
func (r reader) People() ([]inventory.Person, error) { return r.people(where{}) }

const nameTaken = "somebody has that name already; a name differs by more than upper and lower case"

func (w writer) AddPerson(p inventory.Person) (inventory.Person, error) {
	row := convert[personRow](p)
	row.ID, row.Folded = 0, fact.Folded(p.Name)
	err := w.step("add person", nameTaken, func() error {
		if err := w.insert(&row); err != nil {
			return err
		}
		p.ID = row.ID
		return w.addPersonStations(p)
	})
	return p, err
}

func (w writer) addPersonStations(p inventory.Person) error {
	return w.insert(mapped(p.Stations, func(station string) personStationRow {
		return personStationRow{p.ID, station}
	}))
}

// UpdatePerson changes everything of a person but the id.
func (w writer) UpdatePerson(p inventory.Person) error {
	return w.step("update person", nameTaken, func() error {
		if err := w.mustExec("person", `UPDATE person SET name = ?, folded = ?, role = ?, secret_hash = ?, disabled = ?,
    attempts = ?, locked_till = ? WHERE id = ?`, p.Name, fact.Folded(p.Name), string(p.Role), p.SecretHash, p.Disabled,
			p.Attempts, instant(p.LockedTill), p.ID); err != nil {
			return err
		}
		if _, err := w.exec("DELETE FROM person_station WHERE person = ?", p.ID); err != nil {
			return err
		}
		return w.addPersonStations(p)
	})
}

// LockPerson locks a person until the unit of work ends, and returns what is kept of them then.
func (w writer) LockPerson(id int64) (inventory.Person, error) {
	if err := w.lockRow("person", id); err != nil {
		return inventory.Person{}, err
	}
	return w.Person(id)
}

// SetPersonAttempts stores the wrong tries of a person to sign in, and nothing else.
func (w writer) SetPersonAttempts(person int64, attempts int, lockedTill inventory.Instant) error {
	return w.touch("set attempts", "person", "UPDATE person SET attempts = ?, locked_till = ? WHERE id = ?", attempts,
		instant(lockedTill), person)
}
