package shift

import (
	"cmp"
	"slices"

	"stowkeeper/inventory"
	"stowkeeper/inventory/message"
)

// VehicleState answers whether a vehicle may go, from all bags and carriers on it.
type VehicleState struct {
	Station      string                  `json:"station" doc:"The station where it is"`
	Vehicle      string                  `json:"vehicle"`
	State        inventory.State         `json:"state" enum:"ready,ready_with_gaps,not_ready,out_of_service"`
	Headline     message.Message         `json:"headline" doc:"What is true in a few words"`
	OutOfService *inventory.ServicePause `json:"out_of_service,omitempty" doc:"The vehicle as a whole, by a person"`
	Bags         []inventory.BagSummary  `json:"bags" doc:"The bags on it, worst first; a module is judged in its bag"`
	Carriers     []Carrier               `json:"carriers" doc:"The carriers on it, worst first"`
}

// Carrier is a carrier with what is wrong with the units on it.
type Carrier struct {
	inventory.Place
	State    inventory.State     `json:"state" enum:"ready,ready_with_gaps,not_ready"`
	Findings []inventory.Finding `json:"findings"`
}

// JudgeCarrier judges the units on a carrier on a day: what is under notice or
// past its end stops, an inspection that is due warns.
func JudgeCarrier(p inventory.Place, stock []inventory.Stock, items map[string]inventory.Item,
	day inventory.Day) Carrier {
	c := Carrier{Place: p, State: inventory.Ready, Findings: []inventory.Finding{}}
	for _, st := range stock {
		l, it := st.Lot, items[st.Lot.Item]
		units := inventory.UnitsOf(st.Qty, cmp.Or(it.Name, l.Item), l)
		add := func(kind inventory.FindingKind, sev inventory.Severity, on inventory.Day, text message.Message) {
			c.Findings = append(c.Findings, inventory.Finding{Kind: kind, Severity: sev, Item: l.Item, LotID: l.ID,
				Qty: st.Qty, Date: on, Text: text})
		}
		if len(l.Withdrawn) > 0 {
			add(inventory.FindUnderNotice, inventory.SeverityStop, 0, message.M("{1}: under notice {2}", units,
				l.Withdrawn[0]))
		}
		if inventory.PastEnd(it, l, day) {
			through := inventory.UsableThrough(it, l, day)
			add(inventory.FindPastEnd, inventory.SeverityStop, through, message.M("{1}: expired (use by {2})", units,
				through))
		}
		if inventory.InspectionOverdue(it, l, day) {
			due, _ := inventory.InspectionDue(it, l)
			add(inventory.FindInspectionDue, inventory.SeverityWarn, due, message.M("{1}: inspection due since {2}", units,
				due))
		}
	}
	slices.SortStableFunc(c.Findings, func(a, b inventory.Finding) int {
		return -inventory.CompareBool(a.Severity == inventory.SeverityStop, b.Severity == inventory.SeverityStop)
	})
	c.State = inventory.StateOf(inventory.Bag{}, c.Findings)
	return c
}

// JudgeVehicle sums up the bags and carriers on a vehicle: it is as good as the
// worst of them. A bag that was taken off may not go, so neither may it.
func JudgeVehicle(station, vehicle string, off *inventory.ServicePause, bags []inventory.BagSummary,
	carriers []Carrier) VehicleState {
	v := VehicleState{Station: station, Vehicle: vehicle, State: inventory.Ready, OutOfService: off, Bags: bags,
		Carriers: carriers}
	slices.SortStableFunc(v.Bags, func(a, b inventory.BagSummary) int {
		return cmp.Or(-cmp.Compare(badness(a.State), badness(b.State)), cmp.Compare(a.Priority, b.Priority),
			cmp.Compare(a.Code, b.Code))
	})
	slices.SortStableFunc(v.Carriers, func(a, b Carrier) int {
		return -cmp.Compare(badness(a.State), badness(b.State))
	})
	var stops []message.Message
	for _, b := range v.Bags {
		v.State = worse(v.State, b.State)
		if badness(b.State) == badness(inventory.NotReady) {
			stops = append(stops, message.M("{1}: {2}", b.Code, inventory.ReasonIn(b.Headline)))
		}
	}
	for _, c := range v.Carriers {
		v.State = worse(v.State, c.State)
		if c.State == inventory.NotReady {
			stops = append(stops, message.M("{1}: {2}", c.Code, c.Findings[0].Text))
		}
	}
	switch {
	case off != nil:
		v.State, v.Headline = inventory.OutOfService, message.M("Out of service: {1}", off.Reason)
	case len(stops) > 0:
		v.Headline = inventory.Stopped(message.Join("; ", stops...))
	case v.State == inventory.ReadyWithGaps:
		v.Headline = message.M("OK to go out, with gaps")
	default:
		v.Headline = message.M("OK to go out")
	}
	return v
}

// StoppedBy names the bags and carriers because of which a vehicle must not go out, worst first.
func (v VehicleState) StoppedBy() []string {
	var out []string
	for _, b := range v.Bags {
		if badness(b.State) == badness(inventory.NotReady) {
			out = append(out, b.Code)
		}
	}
	for _, c := range v.Carriers {
		if c.State == inventory.NotReady {
			out = append(out, c.Code)
		}
	}
	return out
}

// NextToCheck returns the bag of a vehicle that is due next after one, by priority, then code, and round to the first;
// empty where none is due.
func NextToCheck(bags []inventory.BagSummary, after string, at inventory.Station, now inventory.Instant) string {
	order := slices.SortedFunc(slices.Values(bags), func(a, b inventory.BagSummary) int {
		return cmp.Or(cmp.Compare(a.Priority, b.Priority), cmp.Compare(a.Code, b.Code))
	})
	i := slices.IndexFunc(order, func(b inventory.BagSummary) bool { return b.Code == after }) + 1
	for _, b := range slices.Concat(order[i:], order[:i]) {
		if b.Code != after && !b.CheckedToday(at, now) {
			return b.Code
		}
	}
	return ""
}

// badness orders the states of what is on a vehicle; what was taken off weighs as much as what must not go out.
func badness(s inventory.State) int {
	switch s {
	case inventory.Ready:
		return 0
	case inventory.ReadyWithGaps:
		return 1
	}
	return 2
}

func worse(a, b inventory.State) inventory.State {
	switch max(badness(a), badness(b)) {
	case 0:
		return inventory.Ready
	case 1:
		return inventory.ReadyWithGaps
	}
	return inventory.NotReady
}

// mayReturn tells whether every bag on a vehicle had a full check since it was taken off; then whoever may
// take it off may put it back. Refuses: Conflict.
func mayReturn(off inventory.ServicePause, bags []inventory.Bag) error {
	for _, b := range bags {
		if b.LastFullCheck < off.RecordedAt {
			return inventory.Refuse(inventory.Conflict, "record a full check of bag {1} first, or ask a quartermaster",
				b.Code)
		}
	}
	if len(bags) == 0 {
		return inventory.Refuse(inventory.Conflict, "only a quartermaster can return this vehicle")
	}
	return nil
}
