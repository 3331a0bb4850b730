package inventory

import (
	"cmp"
	"slices"
	"strconv"

	"stowkeeper/inventory/message"
)

// Inspection is one look at a device, point by point.
type Inspection struct {
	ID         int64        `json:"id"`
	BatchID    int64        `json:"-"` // the device
	LotID      int64        `json:"lot_id" doc:"The device's lot_id at that time"`
	Item       string       `json:"item"`
	Place      string       `json:"place,omitempty" doc:"Where it was, if at a station of the caller"`
	HappenedAt Instant      `json:"happened_at" format:"date-time"`
	RecordedAt Instant      `json:"recorded_at" format:"date-time"`
	By         string       `json:"by"`
	Role       Role         `json:"role" doc:"Role of who inspected: only a quartermaster's releases from quarantine"`
	Points     []PointCheck `json:"points"`
	Passed     bool         `json:"passed"`
	Source     string       `json:"source,omitempty" doc:"What it was recorded with: check 12"`
	Note       string       `json:"note,omitempty"`
}

// TrainingUse is a class's applications of one training device.
type TrainingUse struct {
	ID         int64   `json:"id"`
	BatchID    int64   `json:"-"` // the device
	LotID      int64   `json:"lot_id"`
	HappenedAt Instant `json:"happened_at" format:"date-time"`
	RecordedAt Instant `json:"recorded_at" format:"date-time"`
	By         string  `json:"by"`
	Cycles     int     `json:"cycles" minimum:"1" maximum:"100000" doc:"Applications in this class"`
	Class      string  `json:"class,omitempty" doc:"Name or number of the class"`
}

// JudgeInspection tells whether a device passed. One failed inspection point is enough to fail it, whatever else was
// looked at; it passes when each point was answered and none failed. Note points may be left out, and one that fails
// is kept and does not fail the device. Refuses: Invalid for points that do not fit the item.
func JudgeInspection(it Item, points []PointCheck) (passed bool, err error) {
	var ps Problems
	answered := map[string]bool{}
	passed = true
	for i, pt := range points {
		path := "points[" + strconv.Itoa(i) + "]"
		decides := slices.Contains(it.Points(), pt.Point)
		ps.When(!decides && !slices.Contains(it.InspectionNotes, pt.Point), path+".point", "choose a point of this item")
		ps.When(answered[pt.Point], path+".point", "enter each point once")
		CheckText(&ps, path+".note", pt.Note, false, MaxNote)
		answered[pt.Point] = true
		passed = passed && (pt.Pass || !decides)
	}
	missing := slices.ContainsFunc(it.Points(), func(p string) bool { return !answered[p] })
	ps.When(passed && missing, "points", "answer every point, or fail one")
	return passed, ps.Err()
}

// FailedPoints lists the inspection points that failed, in words.
func FailedPoints(it Item, points []PointCheck) []string {
	var out []string
	for _, pt := range points {
		if !pt.Pass && slices.Contains(it.Points(), pt.Point) {
			out = append(out, pt.Point)
		}
	}
	return out
}

// FailedText says which inspection points failed. They say how a device should be, so they stand in quotation marks.
func FailedText(it Item, points []PointCheck) message.Message {
	var failed []message.Message
	for _, point := range FailedPoints(it, points) {
		failed = append(failed, message.M("“{1}”", point))
	}
	return message.M("failed on {1}", message.Join(", ", failed...))
}

// InspectionDue returns the last day for the next inspection: for a device so many days after the one that it passed
// last, or after its receipt; where a notice asks for one, the day of the notice. ok is false where none is asked
// for.
func InspectionDue(it Item, l Lot) (due Day, ok bool) {
	if n := it.Life.InspectDays; n > 0 && l.Device() {
		due, ok = max(l.InspectedOn, l.ReceivedOn).AddDays(n), true
	}
	if l.InspectBy != 0 && (!ok || l.InspectBy < due) {
		return l.InspectBy, true
	}
	return due, ok
}

// overdueFrom returns the first day on which the next inspection counts as
// overdue: the day after it was due, or at once where a notice asks for it.
func overdueFrom(it Item, l Lot) (from Day, ok bool) {
	due, ok := InspectionDue(it, l)
	if ok && due != l.InspectBy {
		due = due.AddDays(1)
	}
	return due, ok
}

// InspectionOverdue tells whether an inspection should have been made already.
func InspectionOverdue(it Item, l Lot, day Day) bool {
	from, ok := overdueFrom(it, l)
	return ok && day >= from
}

// OfferedInspection is a device in a bag that a full check offers to inspect,
// since its inspection is due, or falls due within the horizon.
type OfferedInspection struct {
	LotID   int64
	Due     Day
	Overdue bool
}

// InspectionsToOffer lists the devices in a bag that are worth inspecting while
// the bag is open, what is due first first.
func InspectionsToOffer(r Readiness) []OfferedInspection {
	var out []OfferedInspection
	for _, f := range r.Findings {
		if f.Kind == FindInspectionDue {
			out = append(out, OfferedInspection{f.LotID, f.Date, true})
		}
	}
	add := func(lots []LotOnLine) {
		for _, l := range lots {
			known := slices.ContainsFunc(out, func(o OfferedInspection) bool { return o.LotID == l.LotID })
			if l.InspectionDue != 0 && l.InspectionDue <= r.AsOf.AddDays(r.HorizonDays) && !known {
				out = append(out, OfferedInspection{l.LotID, l.InspectionDue, false})
			}
		}
	}
	for _, l := range r.Lines {
		add(l.Lots)
	}
	add(r.Surplus)
	add(r.NotOnList)
	slices.SortStableFunc(out, func(a, b OfferedInspection) int {
		return cmp.Or(cmp.Compare(a.Due, b.Due), cmp.Compare(a.LotID, b.LotID))
	})
	return out
}

// WornOut tells whether a training device has reached the applications that the owner allows it.
func WornOut(it Item, l Lot) bool {
	return it.Life.TrainingCycles > 0 && l.Cycles >= it.Life.TrainingCycles
}

// Reusable tells whether a unit comes back after use on a patient: a device that is not for single use. It goes to
// quarantine and returns through an inspection.
func Reusable(it Item, l Lot) bool { return l.Device() && !it.SingleUse }

// NeedsPassing tells whether a device goes from a place back to where it is used from, and needs to have passed an
// inspection for that: always from quarantine, and from away where the owner has named what to look at.
func NeedsPassing(it Item, l Lot, from, to Place) bool {
	back := to.Kind == KindStore || to.Kind == KindBag || to.Kind == KindCarrier
	apart := from.Kind == KindQuarantine || from.Kind == KindAway && len(it.InspectionPoints) > 0
	return l.Device() && back && apart
}

// MayReturn refuses a device that comes back without the inspection that it needs. done are its inspections, newest
// first; came is the movement that brought it to where it is. Refuses: Conflict.
func MayReturn(from Place, done []Inspection, came Movement) error {
	switch {
	case len(done) == 0 || done[0].HappenedAt < came.HappenedAt || done[0].RecordedAt < came.RecordedAt:
		return Refuse(Conflict, "inspect the device first")
	case !done[0].Passed:
		return Refuse(Conflict, "last inspection failed: repair and inspect again, or dispose")
	case (from.Kind == KindQuarantine || !lifted(done)) && !releases(done[0].Role):
		return Refuse(Conflict, "needs a passed inspection by a quartermaster")
	}
	return nil
}

// releases tells whether an inspection by that role releases from quarantine.
func releases(r Role) bool { return May(r, ActKeepStock) }

// lifted tells whether every failed inspection was followed by one that passed with a quartermaster.
func lifted(newestFirst []Inspection) bool {
	for _, i := range newestFirst {
		if i.Passed && releases(i.Role) {
			return true
		}
		if !i.Passed {
			return false
		}
	}
	return true
}
