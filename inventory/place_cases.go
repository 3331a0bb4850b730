package inventory

// Narrow keeps a filter on sites within the actor's own.
func (a Actor) Narrow(sites []string) ([]string, error) {
	if len(sites) == 0 {
		return a.SitesSeen(), nil
	}
	for _, site := range sites {
		if !a.At(site) {
			return nil, ErrNotYours()
		}
	}
	return sites, nil
}
