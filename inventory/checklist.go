package inventory

import (
	"slices"
	"time"
)

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
	Reports    []UnderReview   `json:"under_review,omitempty" doc:"Reports under review that are about it"`

	View *BagView `json:"-"` // that it was made from
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
		Pouches: []Pouch{}, Modules: r.Modules, Reports: WordReports(v.Reports, v.Station), View: &v}
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

// endsBefore lists the usable lots on lines whose last usable day lies before a day.
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

// SealToConfirm is the number of the seal that a crew may confirm with one tap, or empty where there is none: no seal
// asked for, none recorded, or one that was reported broken or different.
func (c Checklist) SealToConfirm() string {
	if !c.KitList.Sealed || c.Bag.SealState != SealIntact {
		return ""
	}
	return c.Bag.Seal
}
