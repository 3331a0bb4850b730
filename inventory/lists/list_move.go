package lists

import (
	"context"
	"errors"
	"maps"
	"slices"

	"stowkeeper/inventory"
)

// BagMoved is a bag that came to a newer version of its kit list, and what that changes.
type BagMoved struct {
	Bag string `json:"bag"`
	inventory.ListMove
}

// MoveBags moves all bags on a kit list, at stations where the actor keeps lists, to the newest version that is in
// force there. Refuses: NotFound; Forbidden without keep_lists. Locks the bags.
func (s *Service) MoveBags(ctx context.Context, by inventory.Actor, list string) ([]BagMoved, error) {
	return inventory.WriteAs(ctx, s.store, by, inventory.ActKeepLists, func(w inventory.Writer) ([]BagMoved, error) {
		waiting, err := s.waiting(w, by, list)
		if err != nil || len(waiting) == 0 {
			return []BagMoved{}, err
		}
		if err := w.LockBags(slices.Sorted(maps.Keys(waiting))); err != nil {
			return nil, err
		}
		return s.moveAll(w, by, inventory.NormalCode(list), slices.Sorted(maps.Keys(waiting)))
	})
}

// BagsToMove tells which bags MoveBags would move, and to which version of the list. Refuses: NotFound; Forbidden
// without see.
func (s *Service) BagsToMove(ctx context.Context, by inventory.Actor, list string) (map[string]int, error) {
	return inventory.ReadAs(ctx, s.store, by, inventory.ActSee, func(r inventory.Reader) (map[string]int, error) {
		return s.waiting(r, by, list)
	})
}

func (s *Service) waiting(r inventory.Reader, by inventory.Actor, list string) (map[string]int, error) {
	k, err := r.KitList(inventory.NormalCode(list), 0)
	if err != nil {
		return nil, err
	}
	bags, errBags := r.Bags(inventory.BagFilter{KitList: k.Code}, inventory.Page{})
	versions, errVersions := r.KitListVersions([]inventory.ListVersion{{Code: k.Code, Version: 1}})
	stations, err := StationsByCode(r)
	out := map[string]int{}
	for _, b := range bags {
		have := inventory.KitList{Version: b.KitListVersion}
		newest := inventory.NewestOn(stations[b.AtStation].Today(s.now()), have, versions)
		if by.At(b.AtStation) && newest.Version > b.KitListVersion {
			out[b.Code] = newest.Version
		}
	}
	return out, errors.Join(errBags, errVersions, err)
}

// moveAll moves locked bags that are still on the list, and still at a station of the actor's.
func (s *Service) moveAll(w inventory.Writer, by inventory.Actor, list string, codes []string) ([]BagMoved, error) {
	bags, err := w.Bags(inventory.BagFilter{Codes: codes}, inventory.Page{})
	moved := []BagMoved{}
	for _, b := range bags {
		if b.KitList != list || !by.At(b.AtStation) {
			continue
		}
		station, err := w.Station(b.AtStation)
		if err != nil {
			return nil, err
		}
		m, err := ToNewest(w, by, station, s.now(), b, "")
		if err != nil {
			return nil, err
		}
		if m != nil {
			moved = append(moved, BagMoved{b.Code, *m})
		}
	}
	return moved, err
}

// ToNewest moves a locked bag to the newest version of its kit list that is in force at the station where it is, and
// says what that changes; nil where it has it. why goes into its log.
func ToNewest(w inventory.Writer, by inventory.Actor, station inventory.Station, now inventory.Instant, b inventory.Bag,
	why string) (*inventory.ListMove, error) {
	versions, err := w.KitListVersions([]inventory.ListVersion{{Code: b.KitList, Version: b.KitListVersion + 1}})
	newest := inventory.NewestOn(station.Today(now), inventory.KitList{Version: b.KitListVersion}, versions)
	if err != nil || newest.Version == b.KitListVersion {
		return nil, err
	}
	old, err := w.KitList(b.KitList, b.KitListVersion)
	if err != nil {
		return nil, err
	}
	items, err := ItemsByCode(w, inventory.ItemFilter{Codes: append(old.Items(), newest.Items()...)})
	if err != nil {
		return nil, err
	}
	changed := b
	changed.KitListVersion = newest.Version
	_, err = ChangeBag(w, by, now, b, changed, why)
	return inventory.ListMoveOf(old, newest, items), err
}

// versionFor returns the version of its kit list that a bag names or, where it names none, the newest that is in
// force, or the newest where none is.
func versionFor(r inventory.Reader, in inventory.Bag, day inventory.Day) (inventory.KitList, error) {
	k, err := r.KitList(in.KitList, in.KitListVersion)
	if err != nil || in.KitListVersion != 0 || k.InForce(day) {
		return k, err
	}
	versions, err := r.KitListVersions([]inventory.ListVersion{{Code: k.Code, Version: 1}})
	if in := inventory.NewestOn(day, inventory.KitList{}, versions); in.Version != 0 {
		k = in
	}
	return k, err
}
