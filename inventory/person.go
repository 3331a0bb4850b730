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

// Roles lists every role.
var Roles = []Role{Crew, Quartermaster, Manager, Administrator}

// Person is somebody who signs in. Name is unique and is what the ledger keeps
// as "by".
type Person struct {
	ID         int64    `json:"id"`
	Name       string   `json:"name"`
	Role       Role     `json:"role" enum:"crew,quartermaster,manager,administrator"`
	Sites      []string `json:"sites" doc:"Sites that the person belongs to; none means all, save for crew, who see none then"`
	SecretHash string   `json:"-"` // argon2id of the PIN (crew) or the password (the others)
	Disabled   bool     `json:"disabled,omitempty"`
	Tries      int      `json:"-"` // failed sign-ins in a row
	LockedTill Instant  `json:"-"` // no sign-in before
}

// Token lets a program in.
type Token struct {
	ID        int64
	Name      string
	Role      Role
	Sites     []string // none means every site
	Hash      string   // SHA-256 of the token, in hexadecimal
	CreatedAt Instant
	RevokedAt Instant
	LastUsed  Day
}

// Session is a person signed in on a device.
type Session struct {
	Hash      string // SHA-256 of the secret in the cookie, in hexadecimal
	Person    int64
	Device    string
	CreatedAt Instant
	SeenAt    Instant
	EndsAt    Instant
}

// Actor is who asks: a person signed in, or a program with a token.
type Actor struct {
	Name    string
	Role    Role
	Sites   []string // none means every site
	Program bool     // a program with a token

	proof proof // who signed for the write that is being made; see Service.Sign
}

// Principal names the actor among all people and programs: requests of two of
// them never share a key.
func (a Actor) Principal() string {
	if a.Program {
		return "program:" + a.Name
	}
	return "person:" + a.Name
}

// At tells whether the actor belongs to a site.
func (a Actor) At(site string) bool {
	if len(a.Sites) == 0 {
		return a.Role == Administrator || a.Role == Manager || a.Role == Quartermaster
	}
	for _, s := range a.Sites {
		if s == site {
			return true
		}
	}
	return false
}
