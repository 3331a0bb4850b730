package web

import (
	"maps"
	"slices"

	"stowkeeper/inventory"
)

// readInspections reads the points that a full check answers, device by device. A device of which nothing was
// answered was not inspected. What is half answered is noted as wrong, since a check with it would wait.
func (s *server) readInspections(v *visit, f *form) ([]inventory.InspectedLine, error) {
	var out []inventory.InspectedLine
	for _, lot := range slices.Sorted(maps.Keys(lotsAnswered(f))) {
		l, err := s.svc.Stock.Lot(v.ctx(), v.actor, lot)
		if err != nil {
			if inventory.KindOf(err) == inventory.NotFound {
				continue
			}
			return out, err
		}
		it := v.itemsByCode()[l.Item]
		points, rows := readPoints(f, it, lot)
		if len(points) == 0 {
			continue
		}
		out = append(out, inventory.InspectedLine{LotID: lot, Points: points})
		if _, err := inventory.JudgeInspection(it, points); err != nil {
			f.take(err, func(path string) string { return inspectedName(path, rows) })
		}
	}
	return out, nil
}

// inspectedName is pointName in a check: what is wrong with the points of a
// device as a whole stands at the first one that was answered.
func inspectedName(path string, rows []string) string {
	if path == "points" {
		return rows[0]
	}
	return pointName(path, rows)
}

// inspectFields makes the points of each device in the bag whose inspection is
// due or falls due soon, and of those that were answered already.
func (s *server) inspectFields(v *visit, c inventory.Checklist, f *form) ([]InspectFields, error) {
	offered := inventory.InspectionsToOffer(c.Readiness)
	answered := lotsAnswered(f)
	for _, lot := range slices.Sorted(maps.Keys(answered)) {
		if !slices.ContainsFunc(offered, func(o inventory.OfferedInspection) bool { return o.LotID == lot }) {
			offered = append(offered, inventory.OfferedInspection{LotID: lot})
		}
	}
	var out []InspectFields
	for _, o := range offered {
		lot := o.LotID
		l, err := s.lotView(v, lot)
		if err != nil {
			return nil, err
		}
		if l.Serial == "" { // only devices are inspected
			continue
		}
		out = append(out, InspectFields{Lot: lot, Name: l.Name, Label: l.Label, Due: o.Due, Overdue: o.Overdue,
			Points: pointFields(f, v.itemsByCode()[l.Item], lot), Open: answered[lot]})
	}
	return out, nil
}
