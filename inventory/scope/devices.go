package scope

import (
	"slices"

	"stowkeeper/inventory"
)

// Unnamed leaves out where a device was inspected that was at a station not the
// actor's: that it was inspected, and how, matters wherever it is now.
func Unnamed(a inventory.Actor, r inventory.Reader, done []inventory.Inspection) ([]inventory.Inspection, error) {
	out, known := slices.Clone(done), map[string]bool{}
	for i, x := range out {
		if _, asked := known[x.Place]; !asked {
			pl, err := r.Place(x.Place)
			if err != nil {
				return nil, err
			}
			err = MaySee(a, r, pl)
			if known[x.Place] = err == nil; err != nil && inventory.KindOf(err) != inventory.Forbidden {
				return nil, err
			}
		}
		if !known[x.Place] {
			out[i].Place, out[i].Source, out[i].Note = "", "", ""
		}
	}
	return out, nil
}
