package inventory

// Role says what a person or program may do.
type Role string

// The roles.
const (
	Crew          Role = "crew"
	Quartermaster Role = "quartermaster"
	Manager       Role = "manager"
	Administrator Role = "administrator"
)

// Roles lists every role, in the order of the table of access.
var Roles = []Role{Crew, Quartermaster, Manager, Administrator}

// UsesPIN tells whether people of a role sign in by PIN, on an enrolled terminal only. The others have a password.
func (r Role) UsesPIN() bool { return r == Crew }

// Person is somebody who signs in. Name is unique and is what the ledger keeps as "by".
type Person struct {
	ID         int64    `json:"id"`
	Name       string   `json:"name"`
	Role       Role     `json:"role" enum:"crew,quartermaster,manager,administrator"`
	Stations   []string `json:"stations" doc:"Their stations; none means all, for crew no station"`
	SecretHash string   `json:"-"` // argon2id of the PIN (crew) or the password (the others)
	Disabled   bool     `json:"disabled,omitempty"`
	Attempts   int      `json:"-"` // wrong PINs in a row as a witness; signing in has counters of its own
	LockedTill Instant  `json:"-"`
}

// CanAdminister tells whether a person can sign in as administrator.
func (p Person) CanAdminister() bool {
	return p.Role == Administrator && !p.Disabled && p.SecretHash != ""
}
