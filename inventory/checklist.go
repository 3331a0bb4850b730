package inventory

import (
	"slices"
	"time"
)

// SealToConfirm is the number of the seal that a crew may confirm with one
// tap, or empty where there is none: no seal asked for, none recorded, or one
// that was reported broken or different.
func (c Checklist) SealToConfirm() string {
	if !c.KitList.Sealed || c.Bag.SealState != SealIntact {
		return ""
	}
	return c.Bag.Seal
}

// CountGroup is a part of the form of a full check: a pouch, or what lies in
// the bag without being on its list.
type CountGroup struct {
	Pouch     string
	NotOnList bool
	Rows      []CountRow
}

// CountRow is a line of the list with the lots to count for it, surplus
// included. Line is its index in the list, -1 for what is not on it.
type CountRow struct {
	LineState
	Line int
}

// ToCount arranges all that should be in the bag by pouches, in the order of
// the list, so that a full check counts every unit once. Units beyond par lie
// with the line that has the rest of their lot, else with the first line that
// takes their item.
func (c Checklist) ToCount() []CountGroup {
	rows := make([]CountRow, len(c.Readiness.Lines))
	for i, l := range c.Readiness.Lines {
		rows[i] = CountRow{l, i}
		rows[i].Lots = append([]LotOnLine(nil), l.Lots...)
	}
	for _, s := range c.Readiness.Surplus {
		addSurplus(rows, c.KitList, s)
	}
	var groups []CountGroup
	at := map[string]int{}
	for _, row := range rows {
		i, ok := at[row.Pouch]
		if !ok {
			i = len(groups)
			at[row.Pouch] = i
			groups = append(groups, CountGroup{Pouch: row.Pouch})
		}
		groups[i].Rows = append(groups[i].Rows, row)
	}
	if off := c.Readiness.NotOnList; len(off) > 0 {
		g := CountGroup{NotOnList: true}
		for _, l := range off {
			g.Rows = append(g.Rows, CountRow{LineState{Item: l.Item, Lots: []LotOnLine{l}}, -1})
		}
		groups = append(groups, g)
	}
	return groups
}

func addSurplus(rows []CountRow, k KitList, s LotOnLine) {
	for i := range rows {
		for j := range rows[i].Lots {
			if rows[i].Lots[j].LotID == s.LotID {
				rows[i].Lots[j].Qty += s.Qty
				return
			}
		}
	}
	if i := takingLine(k.Lines, s.Item); i >= 0 {
		rows[i].Lots = append(rows[i].Lots, s)
	}
}

// Checklist is what the page behind a bag's label shows.
type Checklist struct {
	Bag        Bag             `json:"bag"`
	Station    Station         `json:"station"`
	KitList    KitList         `json:"kit_list"`
	Readiness  Readiness       `json:"readiness"`
	Items      map[string]Item `json:"items"`
	Pouches    []Pouch         `json:"pouches"`
	EndsBefore []LotOnLine     `json:"ends_before_next_check,omitempty" doc:"What ends before the next check is due"`
	NextCheck  Instant         `json:"next_check,omitempty" format:"date-time" doc:"When the next check is due"`
	Open       []Observation   `json:"observations,omitempty"`
	Modules    []ModuleState   `json:"modules,omitempty" doc:"Each module as one line"`
}

// Pouch groups lines of a checklist in the order of the list.
type Pouch struct {
	Name  string      `json:"name"`
	Lines []LineState `json:"lines"`
}

// ChecklistOf arranges a judged bag by pouches and lists what ends before the
// next check is due: a seal check never hides a date.
func ChecklistOf(v BagView, now Instant, asOf Day, horizon int) Checklist {
	r := ReadinessOf(v, now, asOf, horizon)
	c := Checklist{Bag: v.Bag, Station: v.Station, KitList: v.List, Readiness: r, Items: v.Items, Open: v.Observations,
		Pouches: []Pouch{}, Modules: r.Modules}
	for _, l := range r.Lines {
		i := slices.IndexFunc(c.Pouches, func(p Pouch) bool { return p.Name == l.Pouch })
		if i < 0 {
			c.Pouches = append(c.Pouches, Pouch{Name: l.Pouch})
			i = len(c.Pouches) - 1
		}
		c.Pouches[i].Lines = append(c.Pouches[i].Lines, l)
	}
	if !v.Bag.Retired() {
		c.NextCheck = nextCheck(v, now.Add(time.Duration(r.AsOf-v.Station.Today(now))*24*time.Hour))
	}
	if c.NextCheck != 0 {
		c.EndsBefore = endsBefore(r, v.Station.Today(c.NextCheck))
	}
	return c
}

// nextCheck returns when the next check will be due if one is made now.
func nextCheck(v BagView, now Instant) Instant {
	v.Bag.LastFullCheck, v.Bag.SealSeenAt = now, now
	full, fullDue := FullCheckDue(v)
	seal, sealDue := SealCheckDue(v)
	zone, err := Zone(v.Station.Timezone)
	if fullDue && err == nil {
		if end := full.AddDays(1).Start(zone); !sealDue || end < seal {
			return end
		}
	}
	return seal
}

// endsBefore lists the usable lots on lines whose last usable day lies before
// a day.
func endsBefore(r Readiness, day Day) []LotOnLine {
	var out []LotOnLine
	for _, l := range r.Lines {
		for _, lot := range l.Lots {
			if lot.Usable && lot.UsableThrough != 0 && lot.UsableThrough < day {
				out = append(out, lot)
			}
		}
	}
	return out
}

// BagSummary is one bag on the board of a station.
type BagSummary struct {
	Bag
	State    State  `json:"state" enum:"ready,ready_with_gaps,not_ready,out_of_service"`
	Headline string `json:"headline" doc:"What is true in a few words"`
	Stops    int    `json:"stops"`
	Warnings int    `json:"warnings"`

	Kinds []FindingKind `json:"kinds,omitempty" doc:"The kinds of finding, each once, the heaviest first"`
	Strip Strip         `json:"-"`
}

const mustNotGo = "Must not go out: "

// Headline says in a few words whether a bag may go out, and the first reason.
// A training bag never goes out to a patient, so it is never said to.
func Headline(b Bag, r Readiness) string {
	switch {
	case b.Retired() && b.Successor != "":
		return "Retired: use " + b.Successor + " instead"
	case b.Retired():
		return "Retired: out of service"
	case r.State == OutOfService:
		return "Taken off: " + b.OutOfService.Reason
	case b.Purpose == ForTraining:
		return trainingHeadline(r)
	case r.State == NotReady:
		return mustNotGo + r.Findings[0].Text
	case r.State == ReadyWithGaps:
		return "May go out, " + Plural(len(r.Findings), "gap")
	}
	return "May go out"
}

func trainingHeadline(r Readiness) string {
	switch r.State {
	case NotReady:
		return "Not ready for training: " + r.Findings[0].Text
	case ReadyWithGaps:
		return "Ready for training, " + Plural(len(r.Findings), "gap")
	}
	return "Ready for training"
}

// Only narrows a report to some stations; none means all.
func (rep Shortages) Only(g ReportInput, stations []string, now Instant) Shortages {
	if len(stations) == 0 {
		return rep
	}
	stationOf := map[string]string{}
	hidden := func(station string) bool { return !slices.Contains(stations, station) }
	rep.ClockLeft = false
	for _, v := range g.Bags {
		stationOf[v.Bag.Code] = v.Bag.AtStation
		rep.ClockLeft = rep.ClockLeft || !hidden(v.Bag.AtStation) && rep.AsOf != 0 && rep.AsOf != v.Station.Today(now)
	}
	rep.Rows = slices.DeleteFunc(rep.Rows, func(x ShortageRow) bool { return hidden(x.Station) })
	rep.Fill = slices.DeleteFunc(rep.Fill, func(x Fill) bool { return hidden(stationOf[x.Bag]) })
	rep.Buy = slices.DeleteFunc(rep.Buy, func(x Buy) bool { return hidden(x.Station) })
	rep.FirstStops = slices.DeleteFunc(rep.FirstStops, func(x FirstStop) bool { return hidden(stationOf[x.Bag]) })
	rep.States = slices.DeleteFunc(rep.States, func(x BagState) bool { return hidden(x.Station) })
	rep.Bags = BagCounts{}
	for _, st := range rep.States {
		rep.Bags.count(st.State)
	}
	return rep
}
