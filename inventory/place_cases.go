package inventory

// Narrow keeps a filter on stations within the actor's own.
func (a Actor) Narrow(stations []string) ([]string, error) {
	if len(stations) == 0 {
		return a.StationsSeen(), nil
	}
	for _, station := range stations {
		if !a.At(station) {
			return nil, ErrNotYours()
		}
	}
	return stations, nil
}
