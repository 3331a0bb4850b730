package ledger

import (
	"stowkeeper/inventory"
)

// TodayAnywhere returns today at the first of the sites. It matters only for
// lots that ride exposed, whose end moves with the day.
func (s *Service) TodayAnywhere(r inventory.Reader, sites []string) (inventory.Day, error) {
	all, err := r.Sites()
	if err != nil {
		return 0, err
	}
	for _, site := range all {
		if len(sites) == 0 || site.Code == sites[0] {
			return site.Today(s.now()), nil
		}
	}
	return s.now().In(inventory.Utc), nil
}
