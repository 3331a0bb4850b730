package stock

import (
	"cmp"
	"context"
	"slices"

	"stowkeeper/inventory"
	"stowkeeper/inventory/ledger"
	"stowkeeper/inventory/lists"
	"stowkeeper/inventory/scope"
)

// NextDue returns the first day on which somebody must do something about a device, 0 where nothing is ever due: the
// last day for its next inspection or its governing date, whichever comes first.
func (d DeviceSummary) NextDue() inventory.Day {
	switch {
	case d.InspectionDue == 0:
		return d.UsableThrough
	case d.UsableThrough == 0:
		return d.InspectionDue
	}
	return min(d.InspectionDue, d.UsableThrough)
}

// CompareDue orders devices by what is due first; those of which nothing is
// due come last. Ties go by item and serial number.
func CompareDue(a, b DeviceSummary) int {
	return cmp.Or(inventory.CompareEnd(a.NextDue(), b.NextDue()), cmp.Compare(a.Name, b.Name),
		inventory.CompareSerial(a.Serial, b.Serial), cmp.Compare(a.ID, b.ID))
}

// MayGoToTraining tells whether units of a lot may be given to training from a
// place: issue stock only, medicines never, and nothing that stays set apart.
func MayGoToTraining(it inventory.Item, l inventory.Lot, from inventory.Place) bool {
	to := inventory.Place{Kind: inventory.KindStore, Purpose: inventory.ForTraining}
	return from.Purpose == inventory.ForIssue && inventory.Allowed(from, to, inventory.ReasonToTraining, "") == nil &&
		inventory.AllowedLot(it, l, to, inventory.ReasonToTraining) == nil
}

// EndsWithin tells whether a lot is past its governing date on a day, or will be within the days after it.
func EndsWithin(it inventory.Item, l inventory.Lot, day inventory.Day, days int) bool {
	through := inventory.UsableThrough(it, l, day)
	return through != 0 && through <= day.AddDays(days)
}

// MayOpen tells whether opening units of a lot starts a clock.
func MayOpen(it inventory.Item, l inventory.Lot) bool {
	return it.Life.OpenedDays > 0 && l.OpenedOn == 0
}

// Openable returns the lots in a bag of which units can be opened there. Refuses: Forbidden without check where the
// bag is; NotFound.
func (s *Service) Openable(ctx context.Context, by inventory.Actor, bag string) (map[int64]bool, error) {
	return inventory.Read(ctx, s.store, func(r inventory.Reader) (map[int64]bool, error) {
		b, err := scope.BagFor(r, by, bag, inventory.ActCheck)
		if err != nil {
			return nil, err
		}
		v, err := lists.LoadBag(r, b)
		out := map[int64]bool{}
		for _, st := range v.Stock {
			if MayOpen(v.Items[st.Lot.Item], st.Lot) {
				out[st.Lot.ID] = true
			}
		}
		return out, err
	})
}

// MayRelease tells whether a device that passed an inspection in one place may be put into another one with it.
func MayRelease(from, to inventory.Place) bool {
	return from.Code != to.Code && to.Kind != inventory.KindQuarantine && to.Kind != inventory.KindAway &&
		inventory.Allowed(from, to, ledger.BackReason(from.Kind, to.Kind), "") == nil
}

// TrainingDevices lists the devices of a station that a class can train with, by the item's name and serial number:
// those in training places, quarantine and away apart. Worn out ones are listed as well, since the class may have
// worn them out. Refuses: Forbidden without see at the station.
func (s *Service) TrainingDevices(ctx context.Context, by inventory.Actor, station string) ([]DeviceSummary, error) {
	all, err := s.Devices(ctx, by, DeviceFilter{Stations: []string{station}}, inventory.Page{})
	if err != nil {
		return nil, err
	}
	places, err := s.lists.Places(ctx, by, inventory.PlaceFilter{}, inventory.Page{})
	if err != nil {
		return nil, err
	}
	usedFrom := map[string]bool{}
	for _, p := range places {
		usedFrom[p.Code] = p.Purpose == inventory.ForTraining && p.Kind != inventory.KindQuarantine &&
			p.Kind != inventory.KindAway
	}
	out := slices.DeleteFunc(all, func(d DeviceSummary) bool { return len(d.Where) == 0 || !usedFrom[d.Where[0].Place] })
	slices.SortStableFunc(out, func(a, b DeviceSummary) int {
		return cmp.Or(cmp.Compare(a.Name, b.Name), inventory.CompareSerial(a.Serial, b.Serial), cmp.Compare(a.ID, b.ID))
	})
	return out, nil
}

// ReleaseDevice puts a device that has passed the inspection it needed into a place. Refuses: Forbidden without
// keep_stock at either end; NotFound for the lot; Invalid for the place; Conflict for what is no device, is gone, or
// may not go there. Locks the item.
func (s *Service) ReleaseDevice(ctx context.Context, by inventory.Actor, lot int64, to string) error {
	return s.store.Write(ctx, func(_ context.Context, w inventory.Writer) error {
		p := ledger.NewUnit(w, by, s.now(), ledger.TwoSign)
		st, place, err := p.DeviceFor(lot, inventory.ActKeepStock)
		if err != nil {
			return err
		}
		return p.Release(st, place, inventory.NormalCode(to))
	})
}
