package shift

import (
	"cmp"
	"context"
	"slices"
	"time"

	"stowkeeper/inventory"
	"stowkeeper/inventory/lists"
	"stowkeeper/inventory/scope"
)

// CheckRecord says which checks the kit lists asked for in a time, and which
// of them were made. It goes by the list that each bag has now.
type CheckRecord struct {
	Since inventory.Instant
	Days  int
	Bags  []BagChecks // the most missed first
}

// BagChecks is the record of one bag.
type BagChecks struct {
	Bag, Station, Name   string
	SealEvery            int // hours, 0 where the list asks for none
	FullEvery            int // days, 0 where the list asks for none
	SealDone, SealMissed int
	FullDone, FullMissed int
	LastSeal, LastFull   inventory.Instant

	Seals, Fulls Looks // what is behind the numbers
}

// Looks is when one kind of look was made, and when one was due that was not.
type Looks struct {
	Made, Missed []inventory.Instant
}

// Missed returns how many checks of either kind were missed.
func (b BagChecks) Missed() int { return b.SealMissed + b.FullMissed }

// checkLookback is how long before the time asked about the look is sought
// that the first due time in it follows from.
const checkLookback = 92 * 24 * time.Hour

// LooksBetween lists the looks from since on, and the due times until an instant that passed without one. looks are
// in order; due returns when the next look is due after one. A look that comes too late leaves those misses behind
// that passed before it. Before the first look nothing was due: the thing may not have been there.
func LooksBetween(looks []inventory.Instant, due func(inventory.Instant) inventory.Instant, since,
	until inventory.Instant) Looks {
	var out Looks
	for i, look := range looks {
		if look >= since && look <= until {
			out.Made = append(out.Made, look)
		}
		next := until
		if i+1 < len(looks) {
			next = looks[i+1]
		}
		for at := due(look); at < next && at <= until; at = due(at) {
			if at >= since {
				out.Missed = append(out.Missed, at)
			}
		}
	}
	return out
}

// sealDue returns when the next seal check is due after a look.
func sealDue(hours int) func(inventory.Instant) inventory.Instant {
	return func(look inventory.Instant) inventory.Instant { return look.Add(time.Duration(hours) * time.Hour) }
}

// fullDue returns the end of the last day for the next full check. The due
// time after one that passed is so many days later.
func fullDue(days int, zone *time.Location) func(inventory.Instant) inventory.Instant {
	return func(look inventory.Instant) inventory.Instant {
		day := look.In(zone)
		if look == day.Start(zone) { // the end of the day before: a due time that passed
			day = day.AddDays(-1)
		}
		return day.AddDays(days + 1).Start(zone)
	}
}

// bagChecks judges the looks at one bag. seals are the instants at which its
// seal was seen in order or set, fulls those of its full checks, in order.
func bagChecks(v inventory.BagView, seals, fulls []inventory.Instant, since, now inventory.Instant) BagChecks {
	b := BagChecks{Bag: v.Bag.Code, Station: v.Bag.AtStation, Name: v.Bag.Name, LastSeal: v.Bag.LastSealCheck,
		LastFull: v.Bag.LastFullCheck}
	if v.List.Sealed && v.List.SealCheckHours > 0 {
		b.SealEvery = v.List.SealCheckHours
		b.Seals = LooksBetween(seals, sealDue(b.SealEvery), since, now)
		b.SealDone, b.SealMissed = len(b.Seals.Made), len(b.Seals.Missed)
	}
	if zone, err := inventory.Zone(v.Station.Timezone); err == nil && v.List.FullCheckDays > 0 {
		b.FullEvery = v.List.FullCheckDays
		b.Fulls = LooksBetween(fulls, fullDue(b.FullEvery, zone), since, now)
		b.FullDone, b.FullMissed = len(b.Fulls.Made), len(b.Fulls.Missed)
	}
	return b
}

// CheckRecord tells which checks were made and missed in the last days at the actor's stations, or at some of them,
// the bags with most missed first, then by code. What waits for a decision was made; what was rejected was not.
// Refuses: Forbidden without report, and for a station that is not the actor's; NotFound for a station.
func (s *Service) CheckRecord(ctx context.Context, by inventory.Actor, stations []string, days int) (CheckRecord,
	error) {
	return inventory.Read(ctx, s.store, func(r inventory.Reader) (CheckRecord, error) {
		out := CheckRecord{Days: days, Since: s.now().Add(-time.Duration(days) * 24 * time.Hour)}
		if err := by.Must(inventory.ActReport, ""); err != nil {
			return out, err
		}
		seen, err := scope.Narrowed(by, r, stations)
		if err != nil {
			return out, err
		}
		views, err := lists.LoadBags(r, inventory.BagFilter{AtStations: seen}, inventory.Page{})
		if err != nil {
			return out, err
		}
		fulls, err := fullChecks(r, seen, out.Since)
		if err != nil {
			return out, err
		}
		seals, err := sealLooks(r, seen, out.Since)
		if err != nil {
			return out, err
		}
		for _, v := range views {
			if v.Bag.OutOfService == nil && (v.List.SealCheckHours > 0 || v.List.FullCheckDays > 0) {
				out.Bags = append(out.Bags, bagChecks(v, seals[v.Bag.Code], fulls[v.Bag.Code], out.Since, s.now()))
			}
		}
		slices.SortStableFunc(out.Bags, func(a, b BagChecks) int {
			return cmp.Or(-cmp.Compare(a.Missed(), b.Missed()), cmp.Compare(a.Bag, b.Bag))
		})
		return out, nil
	})
}

func fullChecks(r inventory.Reader, stations []string, since inventory.Instant) (map[string][]inventory.Instant,
	error) {
	all, err := r.Checks(inventory.RecordFilter{AtStations: stations, Since: since.Add(-checkLookback)}, inventory.Page{})
	out := map[string][]inventory.Instant{}
	for _, c := range all {
		if c.Whole() && c.Status != inventory.StatusRejected &&
			c.Status != inventory.StatusWithdrawn {
			out[c.Bag] = append(out[c.Bag], c.HappenedAt)
		}
	}
	for _, looks := range out {
		slices.Sort(looks)
	}
	return out, err
}

// sealLooks returns when the seal of each bag was seen in order or set, in order.
func sealLooks(r inventory.Reader, stations []string, since inventory.Instant) (map[string][]inventory.Instant,
	error) {
	log, err := r.Seals(inventory.RecordFilter{AtStations: stations, Since: since.Add(-checkLookback)}, inventory.Page{})
	out := map[string][]inventory.Instant{}
	for _, e := range log {
		if e.Event == inventory.SealSeen || e.Event == inventory.SealWasSet {
			out[e.Bag] = append(out[e.Bag], e.HappenedAt)
		}
	}
	for bag, looks := range out {
		slices.Sort(looks)
		out[bag] = slices.Compact(looks)
	}
	return out, err
}
