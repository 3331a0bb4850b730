package lists

import (
	"maps"
	"slices"
)

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
	WindlassNotes = []string{"time patch still stuck"} // its loss does not fail the device
	ShearsPoints  = []string{"blades close to the tip and cut webbing", "pivot tight", "handles whole"}
	MaskPoints    = []string{"wrapping unbroken", "bag and tubing not stuck or cracked", "valves move freely"}
	SplintPoints  = []string{"straightens and holds its shape", "padding whole and clean", "straps and buckles hold"}
	LightPoints   = []string{"lights at full strength", "battery contacts clean", "switch and strap hold"}
)

// DefaultPoints are the points that are offered for a kind of device.
type DefaultPoints struct {
	Kind   string   `json:"kind" doc:"What sort of device: windlass tourniquet, shears …"`
	Points []string `json:"inspection_points" doc:"One that fails ends the device's fitness"`
	Notes  []string `json:"inspection_notes" doc:"One that fails is only noted"`
}

var pointsFor = map[string]DefaultPoints{
	"windlass tourniquet": {Points: WindlassPoints, Notes: WindlassNotes},
	"shears":              {Points: ShearsPoints},
	"oxygen mask":         {Points: MaskPoints},
	"splint":              {Points: SplintPoints},
	"light source":        {Points: LightPoints},
}

// OfferedPoints returns the default points of every kind, by kind.
func OfferedPoints() []DefaultPoints {
	var out []DefaultPoints
	for _, kind := range slices.Sorted(maps.Keys(pointsFor)) {
		p := pointsFor[kind]
		out = append(out, DefaultPoints{Kind: kind, Points: slices.Clone(p.Points), Notes: append([]string{}, p.Notes...)})
	}
	return out
}
