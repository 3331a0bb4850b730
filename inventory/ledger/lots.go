package ledger

import (
	"stowkeeper/inventory"
)

// TodayAnywhere returns today at the first of the stations. It matters only for
// lots that ride exposed, whose end moves with the day.
func (s *Service) TodayAnywhere(r inventory.Reader, stations []string) (inventory.Day, error) {
	all, err := r.Stations()
	if err != nil {
		return 0, err
	}
	for _, station := range all {
		if len(stations) == 0 || station.Code == stations[0] {
			return station.Today(s.now()), nil
		}
	}
	return s.now().In(inventory.Utc), nil
}
