package demo

import (
	"cmp"
	"fmt"
	"slices"
	"time"

	"stowkeeper/inventory"
	"stowkeeper/inventory/lists"
)

// Days is how long the scenario runs.
const Days = 365

func days(n int) time.Duration { return time.Duration(n) * 24 * time.Hour }

// event is something that happens at a station at a local time.
type event struct {
	station      inventory.Station
	hour, minute int
	do           func()
}

// day plays one day of the year at every station, in the order of time.
func (s *scenario) day(d int) {
	var events []event
	for _, station := range s.stations {
		events = append(events, s.routine(station, d)...)
	}
	events = append(events, s.script(d)...)
	events = append(events, s.deviceScript(d)...)
	instant := func(e event) inventory.Instant {
		zone, _ := inventory.Zone(e.station.Timezone)
		return s.calendar(d).Start(zone).Add(time.Duration(e.hour)*time.Hour + time.Duration(e.minute)*time.Minute)
	}
	slices.SortStableFunc(events, func(a, b event) int { return cmp.Compare(instant(a), instant(b)) })
	for _, e := range events {
		if s.at(e.station, s.calendar(d), e.hour, e.minute) {
			s.doing = fmt.Sprintf("day %d at %s, %02d:%02d", d, e.station.Code, e.hour, e.minute)
			e.do()
		}
	}
}

// calendar returns the calendar day of the d-th day of the year: the same at
// every station, also while the date has changed at some of them only.
func (s *scenario) calendar(d int) inventory.Day {
	return s.stations[0].Today(s.end).AddDays(d - Days)
}

// routine lists what happens anyway: shift checks, incidents, the weekly round of the store. The last days are left
// to the script, so that there is something to do when the scenario ends.
func (s *scenario) routine(station inventory.Station, d int) []event {
	var events []event
	for i, b := range s.bags {
		if b.Station != station.Code {
			continue
		}
		switch {
		case (d+3*i)%30 == 29 && d < Days-1 && !s.quiet(b, d):
			events = append(events, event{station, 7, 10 + i, func() { s.fullCheck(b) }})
		case (d+i)%sealPeriod(d) == 0 && !s.quiet(b, d):
			events = append(events, event{station, 7, i, func() { s.sealCheck(b) }})
		}
	}
	if d < Days-2 && s.dice.chance(9) {
		b := s.anyBag(station)
		hour := s.dice.between(9, 19)
		events = append(events, event{station, hour, 20, func() { s.incident(b, d) }})
		if d < Days-6 && s.dice.chance(85) {
			events = append(events, event{station, hour + 3, 5, func() { s.restock(b) }})
		}
	}
	if d%7 == 2 && d < Days-4 {
		events = append(events, event{station, 10, 0, func() { s.weekly(station, d) }})
	}
	return events
}

// sealPeriod is how many days lie between two seal checks of a bag: once a week
// until the service tightened it this season.
func sealPeriod(d int) int {
	if d < Days-60 {
		return 7
	}
	return 3
}

// quiet tells whether nobody checks a bag on a day: one station lets its checks slip at the end.
func (s *scenario) quiet(b inventory.Bag, d int) bool {
	return b.Code == "HT-RS2" && d > Days-9 || b.Code == spareBag && d > Days-3 || b.Purpose == inventory.ForTraining
}

func (s *scenario) anyBag(station inventory.Station) inventory.Bag {
	var bags []inventory.Bag
	for _, b := range s.bags {
		if b.Station == station.Code && b.Purpose == inventory.ForIssue && b.Code != tourBag {
			bags = append(bags, b)
		}
	}
	return bags[s.dice.between(0, len(bags)-1)]
}

func (s *scenario) sealCheck(b inventory.Bag) {
	if now := must(s.svc.Lists.Bag(s.ctx, founder, b.Code)); now.SealState == inventory.SealIntact {
		must(s.svc.Shift.RecordCheck(s.ctx, s.staff[b.Station], inventory.Check{Bag: b.Code, Kind: inventory.SealCheck,
			SealSeen: now.Seal, SeenPosition: now.Position}, ""))
	}
}

// fullCheck counts a bag; what has run out is taken out, now and then a dressing is missing, and each device whose
// inspection is due before the next full check is inspected.
func (s *scenario) fullCheck(b inventory.Bag) { s.fullCheckWith(b, "") }

// fullCheckWith is a full check in which one device, if it names a point, fails it.
func (s *scenario) fullCheckWith(b inventory.Bag, fails string) {
	c := must(s.svc.Shift.Checklist(s.ctx, founder, b.Code, lists.Outlook{}))
	check := inventory.Check{Bag: b.Code, Kind: inventory.FullCheck, SeenPosition: c.Bag.Position, SealSeen: c.Bag.Seal}
	if c.Bag.SealState != inventory.SealNone {
		check.SealSet = s.sealNumber()
	}
	for _, lot := range lotsOf(c.Readiness) {
		line := inventory.CheckLine{LotID: lot.LotID, Counted: lot.Qty}
		switch {
		case !lot.Usable && lot.UsableThrough != 0:
			line.Counted, line.Reason = 0, inventory.CountExpired
		case lot.Qty > 3 && s.dice.chance(1):
			line.Counted, line.Reason = lot.Qty-1, inventory.CountMissing
		}
		check.Lines = append(check.Lines, line)
	}
	check.Lines = inventory.MergeCounts(check.Lines)
	check.Inspections = s.inspections(b, c.Readiness, fails)
	must(s.svc.Shift.RecordCheck(s.ctx, s.staff[b.Station], check, ""))
}

func lotsOf(r inventory.Readiness) []inventory.LotOnLine {
	var out []inventory.LotOnLine
	for _, l := range r.Lines {
		out = append(out, l.Lots...)
	}
	out = append(out, r.Surplus...)
	return append(out, r.NotOnList...)
}

// incident uses a few things from a bag.
func (s *scenario) incident(b inventory.Bag, d int) {
	c := must(s.svc.Shift.Checklist(s.ctx, founder, b.Code, lists.Outlook{}))
	use := inventory.Use{Bag: b.Code, Incident: fmt.Sprintf("I-%s-%04d", b.Station, d), SeenPosition: c.Bag.Position,
		SealSeen: c.Bag.Seal, SealSet: s.sealNumber()}
	for _, lot := range lotsOf(c.Readiness) {
		if lot.Usable && s.dice.chance(18) {
			use.Lines = append(use.Lines, inventory.UseLine{LotID: lot.LotID, Qty: s.dice.between(1, max(1, lot.Qty/2))})
			if lot.Serial != "" && !s.items[lot.Item].SingleUse {
				s.reused[b.Station]++
			}
		}
	}
	if len(use.Lines) > 0 {
		must(s.svc.Shift.RecordUse(s.ctx, s.staff[b.Station], use, ""))
	}
}

// restock does what the pick list says and reseals the bag.
func (s *scenario) restock(b inventory.Bag) {
	qm := s.staff["quartermaster"]
	pl := must(s.svc.Storeroom.RestockPlan(s.ctx, qm, b.Code, lists.Outlook{}))
	in := inventory.Restock{Bag: b.Code}
	for _, l := range pl.Lines {
		if !l.InspectFirst {
			in.Lines = append(in.Lines, inventory.RestockLine{LotID: l.LotID, Qty: l.Qty, From: l.From})
		}
	}
	for _, t := range pl.TakeOut {
		in.TakeOut = append(in.TakeOut, inventory.TakeOutLine{LotID: t.LotID, Qty: t.Qty, To: t.To, Reason: t.Reason,
			Cause: t.Cause})
	}
	if len(in.Lines)+len(in.TakeOut) == 0 {
		s.idle[b.Code] = s.restockKey(b.Station, pl.Position)
		return
	}
	if s.lists[b.KitList].Sealed {
		in.SealSet = s.sealNumber()
	}
	must(s.svc.Storeroom.RecordRestock(s.ctx, qm, in, pl.Position))
}

// restockKey changes when a bag changes or its station's store receives
// anything: then a restock that found nothing to do may find something.
func (s *scenario) restockKey(station string, position int64) string {
	return fmt.Sprint(position, " ", s.received[station])
}

// sealNumber hands out the next seal.
func (s *scenario) sealNumber() string {
	s.lots++
	return fmt.Sprintf("%06d", 410000+s.lots)
}
