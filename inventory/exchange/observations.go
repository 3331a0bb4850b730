package exchange

import (
	"cmp"
	"slices"

	"stowkeeper/inventory"
)

// observationRow is an observation with the serial number of the device that it is about.
type observationRow struct {
	inventory.Observation
	Serial string `json:"serial"`
}

var observationColumns = columnsOf[observationRow]([]column{
	{"bag", cellCode, "Bag", needed},
	{"kind", cellWord, "Training_mark, other_seal, failed_point, unidentified", needed},
	{"item", cellCode, "Item (optional)", optional},
	{"serial", cellText, "Serial number (optional)", optional},
	{"text", cellText, "Observation", needed},
	{"opened_at", cellInstant, "When; default: now", optional},
	{"opened_by", cellLine, "By", optional},
})

func (x *exporting) observations(add func(observationRow) error) error {
	all, err := x.r.Observations(inventory.ObservationFilter{AtStations: x.stations, Open: true})
	if err != nil {
		return err
	}
	var ids []int64
	for _, o := range all {
		ids = append(ids, o.LotID) // 0 is no lot
	}
	lots := map[int64]inventory.Lot{}
	for part := range slices.Chunk(ids, 1000) {
		some, err := x.r.Lots(inventory.LotFilter{IDs: part}, inventory.Page{})
		if err != nil {
			return err
		}
		for _, l := range some {
			lots[l.ID] = l
		}
	}
	return each(all, nil, func(o inventory.Observation) error {
		row := observationRow{Observation: o}
		if l, ok := lots[o.LotID]; ok {
			row.Item, row.Serial = l.Item, l.Serial
		}
		return add(row)
	})
}

func importObservation(r *record) error {
	in := observationRow{Observation: inventory.Observation{Source: "import"}}
	observationColumns.read(r, &in)
	r.what = string(in.Kind) + " at " + in.Bag
	seen := in.OpenedAt // 0 where the file does not say
	in.OpenedAt, in.OpenedBy = cmp.Or(in.OpenedAt, r.im.now), cmp.Or(in.OpenedBy, r.im.by.Name)
	r.problems.When(!slices.Contains([]inventory.ObservationKind{inventory.SawTrainingMark, inventory.SawOtherSeal,
		inventory.SawFailedPoint, inventory.SawUnidentified}, in.Kind), "kind",
		"choose one of {1}", "training_mark, other_seal, failed_point, unidentified")
	inventory.CheckText(&r.problems, "text", in.Text.String(), true, inventory.MaxNote)
	inventory.CheckText(&r.problems, "opened_by", in.OpenedBy, true, inventory.MaxName)
	if err := inventory.MergeErrors(r.problems.Err(), r.lookUp(&in)); err != nil {
		return r.settled(Refused, err)
	}
	known, err := r.im.w.Observations(inventory.ObservationFilter{Bags: []string{in.Bag}, Open: true})
	if err != nil {
		return err
	}
	if slices.ContainsFunc(known, func(o inventory.Observation) bool {
		return o.Kind == in.Kind && o.Item == in.Item && o.Text.String() == in.Text.String() && o.LotID == in.LotID &&
			(seen == 0 || o.OpenedAt == seen)
	}) {
		return r.settled(Unchanged, nil)
	}
	_, err = r.im.w.AddObservation(in.Observation)
	return r.settled(Created, err)
}

// lookUp finds the bag, item and device that an observation is about.
func (r *record) lookUp(in *observationRow) error {
	bag, err := r.im.w.Bag(in.Bag)
	if err = inventory.AsField(err, "bag", "not found"); err == nil {
		err = r.im.by.Must(inventory.ActKeepStock, bag.AtStation)
	}
	if in.Item != "" {
		_, noItem := r.im.w.Item(in.Item)
		err = inventory.MergeErrors(err, inventory.AsField(noItem, "item", "not found"))
	}
	if in.Serial == "" || err != nil {
		return err
	}
	batch, err := r.im.w.FindBatch(in.Item, 0, "", in.Serial)
	if err != nil {
		return inventory.AsField(err, "serial", "not found")
	}
	lots, err := r.im.w.Lots(inventory.LotFilter{Batch: batch.ID}, inventory.Page{})
	if len(lots) > 0 {
		in.LotID = lots[len(lots)-1].ID
	}
	return err
}
