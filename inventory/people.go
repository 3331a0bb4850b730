package inventory

// Keeps tells whether a person can sign in as administrator.
func (p Person) Keeps() bool { return p.Role == Administrator && !p.Disabled && p.SecretHash != "" }
