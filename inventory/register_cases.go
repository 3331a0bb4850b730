package inventory

// PageKey names a page of the register that has an entry.
type PageKey struct {
	Item, Place string
	LastEntry   Instant
}

// OwedFilter narrows a list of entries that one person recorded alone.
type OwedFilter struct {
	Item   string
	Places []string // from or to
	Open   bool     // only those that still lack a signature
}

// BalanceFilter narrows a list of balance checks.
type BalanceFilter struct {
	Item   string
	Places []string
	Latest bool // only the newest of each item and place
	Differ bool // only those that found another number
}
