package inventory

import (
	"context"
	"strconv"
)

// BagLogKind is what people change of a bag and the log of it keeps.
type BagLogKind string

// The kinds of entry in a bag's log.
const (
	LoggedVehicle  BagLogKind = "vehicle"
	LoggedSite     BagLogKind = "site"     // where it is: lent, or come home
	LoggedInside   BagLogKind = "inside"   // the bag that it is a module of
	LoggedModule   BagLogKind = "module"   // a module of it was swapped
	LoggedKitList  BagLogKind = "kit_list" // its list, or the version of it
	LoggedTakenOff BagLogKind = "taken_off"
	LoggedPutBack  BagLogKind = "put_back"
)

// BagLogEntry is one line of a bag's log: what people changed of it.
type BagLogEntry struct {
	ID     int64      `json:"id"`
	Bag    string     `json:"bag"`
	At     Instant    `json:"at" format:"date-time"`
	By     string     `json:"by"`
	Kind   BagLogKind `json:"kind" enum:"vehicle,site,inside,module,kit_list,taken_off,put_back"`
	Old    string     `json:"old,omitempty" doc:"What it was before: a vehicle, a site, a bag, a kit list with its version"`
	New    string     `json:"new,omitempty" doc:"What it is from then on"`
	Reason string     `json:"reason,omitempty" doc:"Why it was taken off, or what put it back"`
}

// changesOf lists what the log of a bag keeps of a change from one state of it
// to another. The entries lack person and time.
func changesOf(old, now Bag) []BagLogEntry {
	var out []BagLogEntry
	differ := func(kind BagLogKind, a, b string) {
		if a != b {
			out = append(out, BagLogEntry{Bag: now.Code, Kind: kind, Old: a, New: b})
		}
	}
	list := func(b Bag) string { return b.KitList + " " + strconv.Itoa(b.KitListVersion) }
	differ(LoggedVehicle, old.Vehicle, now.Vehicle)
	differ(LoggedSite, old.AtSite, now.AtSite)
	differ(LoggedInside, old.Inside, now.Inside)
	differ(LoggedKitList, list(old), list(now))
	switch {
	case old.TakenOff != nil && now.TakenOff == nil:
		out = append(out, BagLogEntry{Bag: now.Code, Kind: LoggedPutBack})
	case now.TakenOff != nil && (old.TakenOff == nil || *old.TakenOff != *now.TakenOff):
		out = append(out, BagLogEntry{Bag: now.Code, Kind: LoggedTakenOff, Reason: now.TakenOff.Reason})
	}
	return out
}

// changeBag stores a changed bag and logs what is different. why goes with the
// entries that give no reason of their own.
func changeBag(w Writer, by Actor, now Instant, old, changed Bag, why string) (Bag, error) {
	b, err := w.UpdateBag(changed)
	if err != nil {
		return b, err
	}
	for _, e := range changesOf(old, b) {
		e.At, e.By = now, by.Name
		if e.Reason == "" {
			e.Reason = why
		}
		if err := w.AddBagLog(e); err != nil {
			return b, err
		}
	}
	return b, nil
}

// BagLog lists what people changed of a bag, newest first.
func (s *Service) BagLog(ctx context.Context, by Actor, code string, p Page) ([]BagLogEntry, error) {
	return read(ctx, s, func(r Reader) ([]BagLogEntry, error) {
		b, err := bagFor(r, by, code, ActSee)
		if err != nil {
			return nil, err
		}
		return r.BagLog(b.Code, p)
	})
}
