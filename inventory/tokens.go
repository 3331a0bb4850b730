package inventory

// Live tells whether the token lets its program in at an instant.
func (t Token) Live(now Instant) bool { return t.RevokedAt == 0 && (t.EndsAt == 0 || now < t.EndsAt) }
