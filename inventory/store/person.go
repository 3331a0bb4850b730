package store

import (
	"database/sql"

	"gorm.io/gorm"

	"stowkeeper/inventory"
)

type personRow struct {
	ID         int64 `gorm:"primaryKey;autoIncrement"`
	Name       string
	Folded     string
	Role       string
	SecretHash string
	Disabled   bool
	Attempts   int
	LockedTill instant
}

func (personRow) TableName() string { return "person" }

type personStationRow struct {
	Person  int64  `gorm:"primaryKey;autoIncrement:false"`
	Station string `gorm:"primaryKey"`
}

func (personStationRow) TableName() string { return "person_station" }

func (p personRow) value() inventory.Person {
	return inventory.Person{
		ID: p.ID, Name: p.Name, Role: inventory.Role(p.Role), SecretHash: p.SecretHash, Disabled: p.Disabled,
		Attempts:   p.Attempts,
		LockedTill: inventory.Instant(p.LockedTill),
	}
}

// people reads persons with their stations in two queries.
func (r reader) people(cond func(*gorm.DB) *gorm.DB) ([]inventory.Person, error) {
	var rows []personRow
	if err := cond(r.gorm()).Order("id").Find(&rows).Error; err != nil {
		return nil, failure("read people", "", err)
	}
	stations, err := r.stationsOf("person_station", "person", mapped(rows, func(p personRow) int64 { return p.ID }))
	return mapped(rows, func(row personRow) inventory.Person {
		p := row.value()
		p.Stations = stations[p.ID]
		return p
	}), err
}

// stationsOf reads the stations of people or tokens.
func (r reader) stationsOf(table, column string, ids []int64) (map[int64][]string, error) {
	out := map[int64][]string{}
	for _, part := range chunks(ids, 10000) {
		err := r.each("SELECT "+column+", station FROM "+table+" WHERE "+column+" IN "+marks(len(part))+" ORDER BY "+column+
			", station",
			anys(part), func(rows *sql.Rows) error {
				var id int64
				var station string
				err := rows.Scan(&id, &station)
				out[id] = append(out[id], station)
				return err
			})
		if err != nil {
			return nil, failure("read stations", "", err)
		}
	}
	return out, nil
}

func (r reader) person(cond func(*gorm.DB) *gorm.DB) (inventory.Person, error) {
	people, err := r.people(cond)
	if err == nil && len(people) == 0 {
		err = notFound("person")
	}
	if err != nil {
		return inventory.Person{}, err
	}
	return people[0], nil
}

// Person returns one person.
func (r reader) Person(id int64) (inventory.Person, error) {
	return r.person(func(q *gorm.DB) *gorm.DB { return q.Where("id = ?", id) })
}

// PersonByName returns the person of that name, ignoring case.
func (r reader) PersonByName(name string) (inventory.Person, error) {
	return r.person(func(q *gorm.DB) *gorm.DB { return q.Where("folded = ?", folded(name)) })
}

// People returns everybody by id.
func (r reader) People() ([]inventory.Person, error) {
	return r.people(func(q *gorm.DB) *gorm.DB { return q })
}

const nameTaken = "somebody has that name already; a name differs by more than upper and lower case"

// AddPerson adds a person and gives them their id.
func (w writer) AddPerson(p inventory.Person) (inventory.Person, error) {
	row := personRow{
		Name: p.Name, Folded: folded(p.Name), Role: string(p.Role), SecretHash: p.SecretHash, Disabled: p.Disabled,
		Attempts:   p.Attempts,
		LockedTill: instant(p.LockedTill),
	}
	err := w.step("add person", nameTaken, func() error {
		if err := w.gorm().Create(&row).Error; err != nil {
			return err
		}
		p.ID = row.ID
		return w.addPersonStations(p)
	})
	return p, err
}

func (w writer) addPersonStations(p inventory.Person) error {
	return createAll(w, mapped(p.Stations, func(station string) personStationRow {
		return personStationRow{p.ID,
			station}
	}))()
}

// UpdatePerson changes everything of a person but the id.
func (w writer) UpdatePerson(p inventory.Person) error {
	return w.step("update person", nameTaken, func() error {
		n,
			err := w.exec(
			`UPDATE person SET name = ?, folded = ?, role = ?, secret_hash = ?, disabled = ?, attempts = ?, locked_till = ?
WHERE id = ?`, p.Name, folded(p.Name), string(p.Role), p.SecretHash, p.Disabled, p.Attempts, instant(p.LockedTill), p.ID)
		if err == nil && n == 0 {
			return notFound("person")
		}
		if err != nil {
			return err
		}
		if _, err := w.exec("DELETE FROM person_station WHERE person = ?", p.ID); err != nil {
			return err
		}
		return w.addPersonStations(p)
	})
}

// LockPerson locks a person until the unit of work ends, and returns what is
// kept of them then.
func (w writer) LockPerson(id int64) (inventory.Person, error) {
	if w.s.engine != SQLite {
		err := w.step("lock person", "", func() error {
			_, err := w.exec("SELECT id FROM person WHERE id = ? FOR NO KEY UPDATE", id)
			return err
		})
		if err != nil {
			return inventory.Person{}, err
		}
	}
	return w.Person(id)
}

// SetPersonAttempts stores the wrong tries of a person to sign in, and nothing else.
func (w writer) SetPersonAttempts(person int64, attempts int, lockedTill inventory.Instant) error {
	return w.step("set attempts", "", func() error {
		n, err := w.exec("UPDATE person SET attempts = ?, locked_till = ? WHERE id = ?", attempts, instant(lockedTill),
			person)
		if err == nil && n == 0 {
			return notFound("person")
		}
		return err
	})
}
