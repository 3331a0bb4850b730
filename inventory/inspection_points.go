package inventory

// WholePoint is what an inspection looks at where the owner named no points.
const WholePoint = "in order as a whole"

// Points returns what an inspection of the item decides by: the owner's points, or one about the device as a whole.
func (it Item) Points() []string {
	if len(it.InspectionPoints) == 0 {
		return []string{WholePoint}
	}
	return it.InspectionPoints
}
