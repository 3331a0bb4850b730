package web

import (
	"maps"
	"slices"
	"strings"

	"stowkeeper/inventory"
)

// inspected is the inspections of a full check, and the rows of the form that
// show the points of each.
type inspected struct {
	lines []inventory.InspectedLine
	rows  [][]string
}

// readInspections reads the points that a full check answers, device by
// device. A device of which nothing was answered was not inspected.
func (s *server) readInspections(v *visit, f *form) (*inspected, error) {
	out := &inspected{}
	for _, lot := range slices.Sorted(maps.Keys(lotsAnswered(f))) {
		l, err := s.svc.Lot(v.ctx(), v.actor, lot)
		if err != nil {
			if inventory.KindOf(err) == inventory.NotFound {
				continue
			}
			return out, err
		}
		it, err := s.svc.Item(v.ctx(), v.actor, l.Item)
		if err != nil {
			return out, err
		}
		points, rows := readPoints(f, it, lot)
		if len(points) > 0 {
			out.lines, out.rows = append(out.lines, inventory.InspectedLine{LotID: lot, Points: points}), append(out.rows, rows)
		}
	}
	return out, nil
}

// name turns the path of a wrong field of the check into the field's name on
// the form. What is wrong with the points as a whole stands at the first one.
func (x *inspected) name(path string) string {
	i, field, ok := indexed(path, "inspections")
	if !ok || i >= len(x.rows) {
		return path
	}
	if strings.HasPrefix(field, "points[") {
		return pointName(field, x.rows[i])
	}
	return x.rows[i][0]
}

// inspectFields makes the points of each device in the bag whose inspection is
// due, and of those that were answered already.
func (s *server) inspectFields(v *visit, c inventory.Checklist, f *form) ([]InspectFields, error) {
	why := map[int64]string{}
	for _, x := range c.Readiness.Findings {
		if x.Kind == inventory.FindInspectionDue {
			why[x.LotID] = x.Text
		}
	}
	answered := lotsAnswered(f)
	for lot := range answered {
		if _, ok := why[lot]; !ok {
			why[lot] = ""
		}
	}
	var out []InspectFields
	for _, lot := range slices.Sorted(maps.Keys(why)) {
		l, err := s.lotView(v, lot)
		if err != nil {
			return nil, err
		}
		if l.Serial == "" { // only devices are inspected
			continue
		}
		it, err := s.svc.Item(v.ctx(), v.actor, l.Item)
		if err != nil {
			return nil, err
		}
		out = append(out, InspectFields{Lot: lot, Name: l.Name, Label: l.Label, Why: sentence(why[lot]), Points: pointFields(f, it, lot), Open: answered[lot]})
	}
	return out, nil
}
