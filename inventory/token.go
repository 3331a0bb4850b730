package inventory

// Token lets a program in.
type Token struct {
	ID        int64    `json:"id"`
	Name      string   `json:"name"`
	Role      Role     `json:"role" enum:"crew,quartermaster,manager,administrator"`
	Stations  []string `json:"stations,omitempty" doc:"Stations that it is kept to; none means every station"`
	Scope     []Action `json:"scope,omitempty" doc:"Actions that it is kept to; none means all that the role may do"`
	Hash      string   `json:"-"` // SHA-256 of the token, in hexadecimal
	CreatedAt Instant  `json:"created_at" format:"date-time"`
	CreatedBy string   `json:"created_by,omitempty"`
	EndsAt    Instant  `json:"ends_at,omitempty" format:"date-time" doc:"Not valid after it"`
	RevokedAt Instant  `json:"revoked_at,omitempty" format:"date-time"`
	LastUsed  Day      `json:"last_used,omitempty" format:"date" doc:"The last day on which it was used, in UTC"`
}

// Live tells whether the token lets its program in at an instant.
func (t Token) Live(now Instant) bool { return t.RevokedAt == 0 && (t.EndsAt == 0 || now < t.EndsAt) }
