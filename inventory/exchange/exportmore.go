package exchange

import (
	"cmp"
	"slices"

	"stowkeeper/inventory"
	"stowkeeper/inventory/account"
)

// historyDocs says what the columns of histories mean; one name means one thing
// in all of them, save where a table is named before it.
var historyDocs = map[string]string{
	"id": "number of the row, by which other tables name it", "bag": "code of the bag", "item": "item code",
	"product":  "GTIN, HIBC or maker's reference of the trade pack, or #2 for the second of the item",
	"batch_no": "batch number as printed", "serial": "serial number as printed", "made_on": "day of manufacture",
	"end_printed": "the date as printed", "end_wording": "the words beside it",
	"received_on": "day on which its first units came in", "stowed_on": "first stowed in a bag", "opened_on": "opened",
	"exposed_since": "on a carrier since", "exposed_days": "days on carriers before that, summed",
	"exposed_last": "last left a carrier", "training": "training stock, for good",
	"unidentified": "no batch or date could be read",
	"station":      "station", "seq": "number in the chain of the station", "lot_id": "id in lots",
	"into_lot_id": "lot that the units are of from then on", "qty": "units", "from": "place that they left",
	"to":     "place that they went to",
	"reason": "why", "cause": "of what was disposed of or lost, why", "happened_at": "when it happened",
	"recorded_at": "when it was recorded", "by": "by whom", "witness": "the second person who signed",
	"reference": "order, delivery note or incident", "note": "what was written with it",
	"corrects": "id of the movement that it undoes",
	"hash":     "SHA-256 over the hash before it in the chain and the row, in hexadecimal",
	"kind":     "what sort it is", "status": "accepted, to_review, rejected …",
	"seal_seen": "number of the seal that was there", "seal_broken": "the seal was broken or gone",
	"seal_set": "number of the new seal", "lines": "each lot with what was counted or used, as JSON",
	"found": "what was found besides, as JSON", "inspections": "devices looked at with it, as JSON",
	"decision": "what a quartermaster decided where it waited, as JSON", "incident": "reference of the incident",
	"restock": "what went in and out, as JSON",
	"event":   "what was done with the seal", "number": "number set or seen",
	"expected": "number that should have been there", "source": "record that it came with",
	"entry": "what was changed, by whom and when, as JSON",
	"place": "code of the place or bag", "passed": "whether it passed",
	"points": "what was looked at, with pass or fail, as JSON", "cycles": "applications", "class": "name of the class",
	"counted": "units counted", "balance-checks.expected": "units that the ledger held", "movement": "id in movements",
	"person": "who signed", "batch_id": "number of the batch in corrections",
	"lots.batch_id": "number of the batch, by which corrections name it",
	"old":           "what was recorded before, as JSON", "new": "what was printed in truth, as JSON",
	"text":      "what was seen",
	"opened_at": "when it was seen", "opened_by": "by whom", "closed_at": "when it was closed", "closed_by": "by whom",
	"close_reason": "why", "vehicle": "name of the vehicle", "back_at": "when it was put back, nothing while it is off",
	"back_by": "by whom", "terminal": "terminal or browser", "other_place": "of a movement, where it went",
	"entries.person": "whom it was done to", "detail": "what else there is to say",
}

// explained gives the columns of a history their meaning.
func (h history) explained() []column {
	out := slices.Clone(h.columns)
	for i, c := range out {
		out[i].doc = cmp.Or(historyDocs[h.name+"."+c.name], historyDocs[c.name])
	}
	return out
}

// placesSeen lists the places of the actor's stations; nil for all.
func (x *exporting) placesSeen() ([]string, error) {
	if x.stations == nil {
		return nil, nil
	}
	all, err := x.r.Places(inventory.PlaceFilter{Stations: x.stations}, inventory.Page{})
	codes := []string{""} // where there are none, none is meant
	for _, p := range all {
		codes = append(codes, p.Code)
	}
	return codes, err
}

func (x *exporting) balanceChecks(add addCells) error {
	places, err := x.placesSeen()
	if err != nil {
		return err
	}
	all, err := x.r.BalanceChecks(inventory.BalanceFilter{Places: places})
	for _, c := range all {
		if err == nil {
			err = add(c.ID, c.Item, c.Place, c.Counted, c.Expected, c.HappenedAt, c.RecordedAt, c.By, c.Witness, c.Note)
		}
	}
	return err
}

// signatures are those that were given after an entry of a register.
func (x *exporting) signatures(add addCells) error {
	places, err := x.placesSeen()
	if err != nil {
		return err
	}
	all, err := x.r.OwedEntries(inventory.OwedFilter{Places: places})
	for _, o := range all {
		for _, s := range o.Signatures {
			if err == nil {
				err = add(o.ID, s.Person, s.RecordedAt)
			}
		}
	}
	return err
}

func (x *exporting) corrections(add addCells) error {
	all, err := x.r.BatchCorrections(inventory.BatchFilter{Stations: x.stations})
	if err != nil || len(all) == 0 {
		return err
	}
	ids := make([]int64, 0, len(all))
	for _, c := range all {
		ids = append(ids, c.BatchID)
	}
	batches, err := x.r.Batches(inventory.BatchFilter{IDs: ids})
	items := map[int64]string{}
	for _, b := range batches {
		items[b.ID] = b.Item
	}
	for _, c := range all {
		if err == nil {
			err = add(c.ID, c.BatchID, items[c.BatchID], c.RecordedAt, c.By, c.Reason, c.Old, c.New)
		}
	}
	return err
}

func (x *exporting) closedObservations(add addCells) error {
	all, err := x.r.Observations(inventory.ObservationFilter{AtStations: x.stations})
	for _, o := range all {
		if err == nil && o.ClosedAt != 0 {
			err = add(o.ID, o.Bag, string(o.Kind), o.Item, o.LotID, o.Text, o.OpenedAt, o.OpenedBy, o.ClosedAt, o.ClosedBy,
				o.CloseReason)
		}
	}
	return err
}

func (x *exporting) vehiclesOff(add addCells) error {
	all, err := x.r.VehiclesOutOfService(inventory.VehicleFilter{Stations: x.stations})
	for _, v := range all {
		if err == nil {
			err = add(v.ID, v.Station, v.Vehicle, v.Reason, v.By, v.RecordedAt, v.BackAt, v.BackBy)
		}
	}
	return err
}

// entries is who did what, ways in apart for who does not keep people.
func (x *exporting) entries(add addCells) error {
	f := inventory.HistoryFilter{Stations: x.stations}
	if !x.by.May(inventory.ActKeepPeople) {
		f.Not = account.AboutAccess
	}
	return pages(func(p inventory.Page) ([]inventory.HistoryEntry, error) { return x.r.HistoryEntries(f, p) },
		func(d inventory.HistoryEntry) int64 { return d.ID }, func(d inventory.HistoryEntry) error {
			return add(d.ID, d.RecordedAt, d.By, d.From, string(d.Kind), d.Station, d.Place, d.OtherPlace, d.LotID, d.BatchID,
				d.Person, d.Detail)
		})
}
