package inventory

// Retire takes a bag out of service, or brings it back.
func (b Bag) Retire(out bool, by Actor, now Instant) Bag {
	switch {
	case !out:
		b.RetiredAt, b.RetiredBy, b.Successor = 0, "", ""
	case !b.Retired():
		b.RetiredAt, b.RetiredBy = now, by.Name
	}
	return b
}

func Set[T any](field *T, v *T) {
	if v != nil {
		*field = *v
	}
}
