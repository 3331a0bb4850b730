package inventory

import (
	"slices"
	"strconv"
)

// Inspection is one look at a device, point by point.
type Inspection struct {
	ID         int64        `json:"id"`
	BatchID    int64        `json:"-"` // the device
	LotID      int64        `json:"lot_id" doc:"The device's lot at that time"`
	Item       string       `json:"item"`
	Place      string       `json:"place" doc:"Where the device was"`
	At         Instant      `json:"at" format:"date-time"`
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
	At         Instant `json:"at" format:"date-time"`
	RecordedAt Instant `json:"recorded_at" format:"date-time"`
	By         string  `json:"by"`
	Cycles     int     `json:"cycles" minimum:"1" maximum:"100000" doc:"Applications in this class"`
	Class      string  `json:"class,omitempty" doc:"Name or number of the class"`
}

// JudgeInspection tells whether a device passed: every inspection point and
// every note point of its item is answered once, and no inspection point
// failed. A failed note point is kept and does not fail the device.
func JudgeInspection(it Item, points []PointCheck) (passed bool, err error) {
	var ps problems
	seen := map[string]bool{}
	passed = true
	for i, pt := range points {
		path := "points[" + strconv.Itoa(i) + "]"
		checkText(&ps, path+".note", pt.Note, false, MaxNote)
		decides := slices.Contains(it.InspectionPoints, pt.Point)
		ps.when(!decides && !slices.Contains(it.InspectionNotes, pt.Point), path+".point", "name a point of this item")
		ps.when(seen[pt.Point], path+".point", "answer each point once")
		seen[pt.Point] = true
		passed = passed && (pt.Pass || !decides)
	}
	for _, want := range slices.Concat(it.InspectionPoints, it.InspectionNotes) {
		ps.when(!seen[want], "points", "answer every point: one is missing")
	}
	ps.when(len(it.InspectionPoints) == 0, "points", "this item has no inspection points")
	return passed, ps.err()
}

// FailedPoints lists the inspection points that failed, in words.
func FailedPoints(it Item, points []PointCheck) []string {
	var out []string
	for _, pt := range points {
		if !pt.Pass && slices.Contains(it.InspectionPoints, pt.Point) {
			out = append(out, pt.Point)
		}
	}
	return out
}

// InspectionDue returns the last day for a device's next inspection: so many
// days after the one that it passed last, or after its receipt; sooner where a
// notice asks for one. ok is false where none is asked for.
func InspectionDue(it Item, l Lot) (due Day, ok bool) {
	if !l.Device() {
		return 0, false
	}
	if n := it.Life.InspectDays; n > 0 {
		due, ok = max(l.InspectedOn, l.ReceivedOn).AddDays(n), true
	}
	if l.InspectBy != 0 && l.InspectedOn < l.InspectBy && (!ok || l.InspectBy < due) {
		return l.InspectBy, true
	}
	return due, ok
}

// inspectionOverdue tells whether a device's next inspection should have been
// made before a day.
func inspectionOverdue(it Item, l Lot, day Day) bool {
	due, ok := InspectionDue(it, l)
	return ok && day > due
}

// WornOut tells whether a training device has reached the applications that
// the owner allows it.
func WornOut(it Item, l Lot) bool {
	return it.Life.TrainingCycles > 0 && l.Cycles >= it.Life.TrainingCycles
}

// needsPassing tells whether a device comes from a place from which it returns
// only through an inspection.
func needsPassing(it Item, l Lot, from, to Place) bool {
	back := to.Kind == KindStore || to.Kind == KindBag || to.Kind == KindCarrier
	apart := from.Kind == KindAway || from.Kind == KindQuarantine
	return l.Device() && len(it.InspectionPoints) > 0 && back && apart
}

// mayReturn refuses a device that comes back without the inspection that it
// needs. last is its newest inspection, arrived when it came to where it is.
func mayReturn(from Place, last Inspection, arrived Instant) error {
	switch {
	case last.ID == 0 || last.At < arrived:
		return Errorf(Conflict, "inspect the device first: it returns only when it has passed since it came here")
	case !last.Passed:
		return Errorf(Conflict, "the device failed its last inspection: repair and inspect it again, or dispose of it")
	case from.Kind == KindQuarantine && last.Role != Quartermaster && last.Role != Administrator:
		return Errorf(Conflict, "only an inspection by a quartermaster releases a device from quarantine")
	}
	return nil
}

// Reusable tells whether a unit comes back after use on a patient: a device
// that is not for single use. It goes to quarantine and returns through an
// inspection.
func Reusable(it Item, l Lot) bool { return l.Device() && !it.SingleUse }

// Default inspection points, common practice; the maker's instructions and the
// owner decide. They are offered when an item is made.
var (
	WindlassPoints = []string{
		"bar straight and uncracked, and it does not slip in its fixings",
		"buckle closes with a firm click and opens only by its proper action",
		"retaining loop or clip whole",
		"webbing unfrayed, not faded or stiff",
		"anti-slip strips present",
		"folding bands present, so that it deploys",
		"maker's mark and generation as expected",
	}
	WindlassNotes = []string{"time patch still stuck"}
	ShearsPoints  = []string{"blades close to the tip and cut webbing", "pivot tight", "handles whole"}
	MaskPoints    = []string{"wrapping unbroken", "bag and tubing not stuck or cracked", "valves move freely"}
	SplintPoints  = []string{"straightens and holds its shape", "padding whole and clean", "straps and buckles hold"}
	LightPoints   = []string{"lights at full strength", "battery contacts clean", "switch and strap hold"}
)

// pointsFor offers default inspection points by a name that people choose.
var pointsFor = map[string][2][]string{
	"windlass tourniquet": {WindlassPoints, WindlassNotes},
	"shears":              {ShearsPoints},
	"oxygen mask":         {MaskPoints},
	"splint":              {SplintPoints},
	"light source":        {LightPoints},
}

// DefaultPoints returns the default inspection points of a kind of device, or
// nothing for a kind that is not known.
func DefaultPoints(kind string) (points, notes []string) {
	p := pointsFor[kind]
	return slices.Clone(p[0]), slices.Clone(p[1])
}
