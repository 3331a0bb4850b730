package history

import (
	"context"
	"slices"
	"time"

	"stowkeeper/inventory"
	"stowkeeper/inventory/account"
)

// History lists what was done at the actor's stations and to what all stations share, newest first. What was done to
// people and their ways in is for who keeps them. zone is the IANA name of the zone that f.Day was taken in: that of
// the first of the actor's stations. Refuses: Forbidden without history.
func (s *Service) History(ctx context.Context, by inventory.Actor, f inventory.HistoryFilter,
	p inventory.Page) (entries []inventory.HistoryEntry, zone string, err error) {
	err = s.store.Read(ctx, func(_ context.Context, r inventory.Reader) error {
		if err := by.Must(inventory.ActHistory, ""); err != nil {
			return err
		}
		f.Stations, f.Not, f.Since, f.Before = by.StationsSeen(), nil, 0, 0
		if !by.May(inventory.ActKeepPeople) {
			f.Not = account.AboutAccess
		}
		f.Place, f.Person, f.BatchNo = inventory.NormalCode(f.Place), inventory.OneLine(f.Person),
			inventory.OneLine(f.BatchNo)
		where, err := dayZone(r, by)
		if err != nil {
			return err
		}
		if zone = where; f.Day != 0 {
			z, err := inventory.Zone(zone)
			if err != nil {
				return err
			}
			f.Since, f.Before = f.Day.Start(z), f.Day.AddDays(1).Start(z)
		}
		entries, err = r.HistoryEntries(f, p)
		return err
	})
	return entries, zone, err
}

// Locked lists whose sign-in was delayed after wrong tries in the last week, newest first, and at most ten. Refuses:
// Forbidden without keep_people.
func (s *Service) Locked(ctx context.Context, by inventory.Actor) ([]inventory.HistoryEntry, error) {
	return inventory.ReadAs(ctx, s.store, by, inventory.ActKeepPeople,
		func(r inventory.Reader) ([]inventory.HistoryEntry, error) {
			return r.HistoryEntries(inventory.HistoryFilter{Only: inventory.HistoryLocked,
				Since: s.now().Add(-7 * 24 * time.Hour)}, inventory.Page{Limit: 10})
		})
}

// dayZone is the zone of the first of the actor's stations.
func dayZone(r inventory.Reader, by inventory.Actor) (string, error) {
	stations, err := r.Stations()
	for _, x := range stations {
		if by.At(x.Code) {
			return x.Timezone, nil
		}
	}
	return "UTC", err
}

// HistoryNames lists the people and programs who may be asked about, by name. Refuses: Forbidden without history.
func (s *Service) HistoryNames(ctx context.Context, by inventory.Actor) ([]string, error) {
	return inventory.ReadAs(ctx, s.store, by, inventory.ActHistory, func(r inventory.Reader) ([]string, error) {
		people, err := r.People()
		if err != nil {
			return nil, err
		}
		tokens, err := r.Tokens()
		var names []string
		for _, p := range people {
			if by.May(inventory.ActKeepPeople) || slices.ContainsFunc(p.Stations, by.At) || len(p.Stations) == 0 {
				names = append(names, p.Name)
			}
		}
		for _, t := range tokens {
			if by.May(inventory.ActKeepPeople) || slices.ContainsFunc(t.Stations, by.At) || len(t.Stations) == 0 {
				names = append(names, t.Name)
			}
		}
		slices.Sort(names)
		return names, err
	})
}
