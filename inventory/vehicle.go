package inventory

import (
	"cmp"
	"slices"
	"strings"
)

// VehicleOutOfService is a vehicle that a person took out of service.
type VehicleOutOfService struct {
	ID      int64  `json:"id"`
	Station string `json:"station"`
	Vehicle string `json:"vehicle"`
	ServicePause
	BackAt Instant `json:"back_at,omitempty" format:"date-time" doc:"When it was returned to service"`
	BackBy string  `json:"back_by,omitempty"`
}

// VehicleState answers whether a vehicle may go, from all bags and carriers on
// it.
type VehicleState struct {
	Station      string        `json:"station" doc:"The station where it is"`
	Vehicle      string        `json:"vehicle"`
	State        State         `json:"state" enum:"ready,ready_with_gaps,not_ready,out_of_service"`
	Headline     string        `json:"headline" doc:"What is true in a few words"`
	OutOfService *ServicePause `json:"out_of_service,omitempty" doc:"The vehicle as a whole, by a person"`
	Bags         []BagSummary  `json:"bags" doc:"The bags on it, worst first; a module is judged in its bag"`
	Carriers     []Carrier     `json:"carriers" doc:"The carriers on it, worst first"`
}

// Carrier is a carrier with what is wrong with the units on it.
type Carrier struct {
	Place
	State    State     `json:"state" enum:"ready,ready_with_gaps,not_ready"`
	Findings []Finding `json:"findings"`
}

// JudgeCarrier judges the units on a carrier on a day: what is under notice or
// past its end stops, an inspection that is due warns.
func JudgeCarrier(p Place, stock []Stock, items map[string]Item, day Day) Carrier {
	c := Carrier{Place: p, State: Ready, Findings: []Finding{}}
	for _, st := range stock {
		l, it := st.Lot, items[st.Lot.Item]
		add := func(kind FindingKind, sev Severity, on Day, text string) {
			c.Findings = append(c.Findings, Finding{Kind: kind, Severity: sev, Item: l.Item, LotID: l.ID, Qty: st.Qty, Date: on,
				Text: Plural(st.Qty, "unit") + " of " + cmp.Or(it.Name, l.Item) + LotText(l) + " " + text})
		}
		if len(l.Withdrawn) > 0 {
			add(FindUnderNotice, SeverityStop, 0, "under notice "+l.Withdrawn[0])
		}
		if through := UsableThrough(it, l, day); through != 0 && day > through {
			add(FindPastEnd, SeverityStop, through, "no longer usable since "+through.AddDays(1).String())
		}
		if InspectionOverdue(it, l, day) {
			due, _ := InspectionDue(it, l)
			add(FindInspectionDue, SeverityWarn, due, "inspection due since "+due.String())
		}
	}
	slices.SortStableFunc(c.Findings, func(a, b Finding) int {
		return severityRank(b.Severity) - severityRank(
			a.Severity)
	})
	c.State = StateOf(Bag{}, c.Findings)
	return c
}

// JudgeVehicle sums up the bags and carriers on a vehicle: it is as good as the
// worst of them. A bag that was taken off may not go, so neither may it.
func JudgeVehicle(station, vehicle string, off *ServicePause, bags []BagSummary, carriers []Carrier) VehicleState {
	v := VehicleState{Station: station, Vehicle: vehicle, State: Ready, OutOfService: off, Bags: bags, Carriers: carriers}
	slices.SortStableFunc(v.Bags, func(a, b BagSummary) int {
		return cmp.Or(-cmp.Compare(badness(a.State), badness(b.State)), cmp.Compare(a.Priority, b.Priority),
			cmp.Compare(a.Code, b.Code))
	})
	slices.SortStableFunc(v.Carriers, func(a, b Carrier) int { return -cmp.Compare(badness(a.State), badness(b.State)) })
	var stops []string
	for _, b := range v.Bags {
		v.State = worse(v.State, b.State)
		if badness(b.State) == badness(NotReady) {
			stops = append(stops, b.Code+": "+strings.TrimPrefix(b.Headline, mustNotGo))
		}
	}
	for _, c := range v.Carriers {
		v.State = worse(v.State, c.State)
		if c.State == NotReady {
			stops = append(stops, c.Code+": "+c.Findings[0].Text)
		}
	}
	switch {
	case off != nil:
		v.State, v.Headline = OutOfService, "Taken off: "+off.Reason
	case len(stops) > 0:
		v.Headline = mustNotGo + strings.Join(stops, "; ")
	case v.State == ReadyWithGaps:
		v.Headline = "May go out, with gaps"
	default:
		v.Headline = "May go out"
	}
	return v
}

// StoppedBy names the bags and carriers because of which a vehicle must not go
// out, worst first.
func (v VehicleState) StoppedBy() []string {
	var out []string
	for _, b := range v.Bags {
		if badness(b.State) == badness(NotReady) {
			out = append(out, b.Code)
		}
	}
	for _, c := range v.Carriers {
		if c.State == NotReady {
			out = append(out, c.Code)
		}
	}
	return out
}

// badness orders the states of what is on a vehicle; what was taken off weighs
// as much as what must not go out.
func badness(s State) int {
	switch s {
	case Ready:
		return 0
	case ReadyWithGaps:
		return 1
	}
	return 2
}

func worse(a, b State) State {
	switch max(badness(a), badness(b)) {
	case 0:
		return Ready
	case 1:
		return ReadyWithGaps
	}
	return NotReady
}

// MayReturnToService tells whether every bag on a vehicle had a full check since it was taken off; then whoever may
// take it off may put it back. Refuses: Conflict.
func MayReturnToService(off ServicePause, bags []Bag) error {
	for _, b := range bags {
		if b.LastFullCheck < off.RecordedAt {
			return Errorf(Conflict, "make a full check of bag %s first, or have a quartermaster put the vehicle back", b.Code)
		}
	}
	if len(bags) == 0 {
		return Errorf(Conflict, "no bag on it can be checked, so a quartermaster puts the vehicle back")
	}
	return nil
}
