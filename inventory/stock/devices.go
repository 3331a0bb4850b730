package stock

import (
	"context"
	"slices"

	"stowkeeper/inventory"
	"stowkeeper/inventory/lists"
	"stowkeeper/inventory/message"
	"stowkeeper/inventory/scope"
)

// DeviceFilter narrows a list of devices.
type DeviceFilter struct {
	Item      string
	Serial    string // also those that are no longer in the service
	Place     string
	Stations  []string
	DueBefore inventory.Day // only those whose next inspection is due before that day
}

// Devices lists the devices in the service by lot id, with where they are and what is due. One that is asked for by
// its serial number is listed also when it is no longer in the service. Refuses: Forbidden without see, and for a
// station that is not the actor's.
func (s *Service) Devices(ctx context.Context, by inventory.Actor, f DeviceFilter, p inventory.Page) ([]DeviceSummary,
	error) {
	return inventory.ReadAs(ctx, s.store, by, inventory.ActSee, func(r inventory.Reader) ([]DeviceSummary, error) {
		stations, err := by.Narrow(f.Stations)
		if err != nil {
			return nil, err
		}
		of := inventory.LotFilter{Item: f.Item, Serial: f.Serial, Place: f.Place, Stations: stations, Devices: true,
			Held: true}
		bySerial := f.Serial != "" && len(f.Stations) == 0 && f.Place == ""
		if bySerial {
			of.Stations, of.Held = nil, false
		}
		most := p.Limit
		if f.DueBefore != 0 || bySerial { // what is due, and which lot is the present one, is worked out here
			p.Limit = 0
		}
		lots, err := r.Lots(of, p)
		if err != nil {
			return nil, err
		}
		if bySerial {
			if lots, err = presentLots(r, lots); err != nil {
				return nil, err
			}
		}
		all, err := s.deviceSummaries(r, lots, stations)
		out := make([]DeviceSummary, 0, len(all))
		for _, d := range all {
			if f.DueBefore == 0 || d.InspectionDue != 0 && d.InspectionDue < f.DueBefore {
				out = append(out, d)
			}
		}
		if most > 0 && len(out) > most {
			out = out[:most]
		}
		return out, err
	})
}

// presentLots keeps, of each device's lots, the one that it was last moved into.
func presentLots(r inventory.Reader, lots []inventory.Lot) ([]inventory.Lot, error) {
	var out []inventory.Lot
	seen := map[int64]bool{}
	for _, l := range lots {
		if seen[l.Batch.ID] {
			continue
		}
		seen[l.Batch.ID] = true
		now, _, err := PresentLot(r, l)
		if err != nil {
			return nil, err
		}
		out = append(out, now)
	}
	return out, nil
}

// PresentLot returns the lot that a device was last moved into, and that movement.
func PresentLot(r inventory.Reader, l inventory.Lot) (inventory.Lot, inventory.Movement, error) {
	last, err := r.Movements(inventory.MovementFilter{Batch: l.Batch.ID, Newest: true}, inventory.Page{Limit: 1})
	if err != nil || len(last) == 0 {
		return l, inventory.Movement{}, err
	}
	now, err := r.Lot(last[0].IntoLotID)
	return now, last[0], err
}

// deviceSummaries works out what ends devices, what is due and how they stand.
func (s *Service) deviceSummaries(r inventory.Reader, lots []inventory.Lot, stations []string) ([]DeviceSummary,
	error) {
	sums, err := s.Summaries(r, lots, stations, 0)
	if err != nil || len(sums) == 0 {
		return nil, err
	}
	items, err := lists.ItemsByCode(r, inventory.ItemFilter{})
	if err != nil {
		return nil, err
	}
	places, err := r.Places(inventory.PlaceFilter{}, inventory.Page{})
	if err != nil {
		return nil, err
	}
	kinds := map[string]inventory.Place{}
	for _, p := range places {
		kinds[p.Code] = p
	}
	today, err := s.ledger.TodayAtFirst(r, stations)
	out := make([]DeviceSummary, 0, len(sums))
	for _, l := range sums {
		it := items[l.Item]
		d := DeviceSummary{LotSummary: l, Name: it.Name, Life: it.Life, WornOut: inventory.WornOut(it, l.Lot)}
		d.InspectionDue, _ = inventory.InspectionDue(it, l.Lot)
		d.InspectionOverdue = inventory.InspectionOverdue(it, l.Lot, today)
		d.Standing, d.Fit = standingOf(it, l, kinds, today)
		if len(l.Where) == 0 {
			if d.Standing, err = goneText(r, l.Lot); err != nil {
				return nil, err
			}
		}
		out = append(out, d)
	}
	return out, err
}

// standingOf says in words how a device stands, and whether it counts where it is.
func standingOf(it inventory.Item, l LotSummary, places map[string]inventory.Place,
	day inventory.Day) (standing message.Message,
	fit bool) {
	if len(l.Where) == 0 {
		return nil, false
	}
	here := places[l.Where[0].Place]
	switch due, _ := inventory.InspectionDue(it, l.Lot); {
	case here.Kind == inventory.KindQuarantine:
		return message.M("in quarantine"), false
	case here.Kind == inventory.KindAway:
		return message.M("away"), false
	case len(l.Withdrawn) > 0:
		return message.M("under notice {1}", l.Withdrawn[0]), false
	case inventory.WornOut(it, l.Lot):
		return message.M("worn out"), false
	case inventory.PastEnd(it, l.Lot, day):
		return message.M("expired"), false
	case inventory.InspectionOverdue(it, l.Lot, day):
		return message.M("inspection due since {1}", due), inventory.Usable(it, l.Lot, day, here.Purpose)
	case l.Training:
		return message.M("fit for training only"), inventory.Usable(it, l.Lot, day, here.Purpose)
	}
	return message.M("fit for issue"), inventory.Usable(it, l.Lot, day, here.Purpose)
}

// Device tells everything that ever happened to a device, by any of its lots, each part in the order that its field
// names. Crew see it without the movements and classes. Refuses: Forbidden without see, and where it was never at a
// station of the actor's; NotFound.
func (s *Service) Device(ctx context.Context, by inventory.Actor, lot int64) (DeviceStory, error) {
	return inventory.ReadAs(ctx, s.store, by, inventory.ActSee, func(r inventory.Reader) (DeviceStory, error) {
		l, err := r.Lot(lot)
		if err != nil {
			return DeviceStory{}, err
		}
		if !l.Device() {
			return DeviceStory{}, inventory.Refuse(inventory.NotFound, "only for devices")
		}
		if err := scope.KnowsBatch(by, r, l.Batch.ID); inventory.KindOf(err) == inventory.NotFound {
			return DeviceStory{}, inventory.ErrNotYours() // who found it reads its label and is told so much
		} else if err != nil {
			return DeviceStory{}, err
		}
		return s.deviceStory(r, by, l)
	})
}

func (s *Service) deviceStory(r inventory.Reader, by inventory.Actor, l inventory.Lot) (DeviceStory, error) {
	d := DeviceStory{}
	now, _, err := PresentLot(r, l)
	if err != nil {
		return d, err
	}
	sums, err := s.deviceSummaries(r, []inventory.Lot{now}, by.StationsSeen())
	if err != nil {
		return d, err
	}
	d.DeviceSummary = sums[0]
	if d.Item, err = r.Item(l.Item); err != nil {
		return d, err
	}
	of := inventory.BatchFilter{IDs: []int64{l.Batch.ID}}
	done, err := r.Inspections(of, inventory.Page{})
	if err != nil {
		return d, err
	}
	if d.Inspections, err = scope.Unnamed(by, r, done); err != nil {
		return d, err
	}
	notices, err := r.Notices(inventory.NoticesOn(l.Batch), inventory.Page{})
	if err != nil {
		return d, err
	}
	d.Notices = slices.DeleteFunc(notices, func(n inventory.Notice) bool { return !n.Means(l.Batch) })
	if by.May(inventory.ActHistory) {
		if d.TrainingUses, err = r.TrainingUses(of, inventory.Page{}); err != nil {
			return d, err
		}
		if d.History, err = r.Movements(inventory.MovementFilter{Batch: l.Batch.ID, Stations: by.StationsSeen()},
			inventory.Page{}); err != nil {
			return d, err
		}
	}
	if d.Corrections, err = r.BatchCorrections(of); err != nil {
		return d, err
	}
	d.Inspections, d.TrainingUses, d.Notices, d.History = whole(d.Inspections), whole(d.TrainingUses), whole(d.Notices),
		whole(d.History)
	d.Points, d.NotePoints = d.Item.Points(), d.Item.InspectionNotes
	d.Story = storyOf(d, done)
	return d, nil
}

// whole is a list that is empty and never missing.
func whole[T any](list []T) []T { return append([]T{}, list...) }

// goneText says where a device is that is at none of the caller's stations.
func goneText(r inventory.Reader, l inventory.Lot) (message.Message, error) {
	_, last, err := PresentLot(r, l)
	if last.To != "" && !inventory.OutsideCode(last.To) {
		return message.M("at another station"), err
	}
	if last.Reason == inventory.ReasonToSupplier {
		return message.M("Returned to supplier"), err
	}
	return goneTo[inventory.PlaceKind(last.To)], err
}

// goneTo says how a device stands that left the service.
var goneTo = map[inventory.PlaceKind]message.Message{
	inventory.KindUsed: message.M("used"), inventory.KindDisposed: message.M("disposed of"),
	inventory.KindLost:     message.M("lost"),
	inventory.KindSupplier: message.M("receipt corrected"),
}

// FindBag returns the bag whose code somebody typed or scanned: case and blanks apart, and also with its hyphens and
// full stops left out where that names one bag only. Refuses: Forbidden without see where it is; NotFound, with
// codes that are near.
func (s *Service) FindBag(ctx context.Context, by inventory.Actor, typed string) (inventory.Bag, error) {
	return inventory.Read(ctx, s.store, func(r inventory.Reader) (inventory.Bag, error) {
		b, err := scope.BagFor(r, by, typed, inventory.ActSee)
		if inventory.KindOf(err) != inventory.NotFound {
			return b, err
		}
		all, listErr := r.Bags(inventory.BagFilter{AtStations: by.StationsSeen(), Retired: true}, inventory.Page{})
		if listErr != nil {
			return inventory.Bag{}, listErr
		}
		var found []inventory.Bag
		for _, x := range all {
			if scope.BareCode(x.Code) == scope.BareCode(typed) {
				found = append(found, x)
			}
		}
		if len(found) != 1 {
			return inventory.Bag{}, err
		}
		return found[0], nil
	})
}

// DeviceLot returns the lot that a device is in now. The label of a device holds the lot that it was in when it was
// printed, and a device whose clocks have changed since is in another lot of its batch. Refuses: Forbidden without
// see; NotFound for what is no device, or was never at a station of the actor's.
func (s *Service) DeviceLot(ctx context.Context, by inventory.Actor, printed int64) (int64, error) {
	l, err := s.Lot(ctx, by, printed)
	if inventory.KindOf(err) == inventory.NotFound || err == nil && !l.Device() {
		return 0, inventory.Refuse(inventory.NotFound, "not found")
	}
	for _, other := range append(l.SameBatch, l.LotSummary) {
		if len(other.Where) > 0 {
			return other.ID, nil
		}
	}
	return l.ID, err
}
