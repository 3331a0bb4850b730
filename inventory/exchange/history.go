package exchange

import (
	"cmp"
	"reflect"
	"slices"
	"strings"

	"stowkeeper/inventory"
	"stowkeeper/inventory/account"
)

// history is one table of what happened, written for reading: an import does
// not read it, since the ledger takes nothing that it did not judge itself.
type history struct {
	name string
	list
}

// historyOf makes a table of rows of one type. What a column means is said where its field is, or in historyDocs.
func historyOf[T any](name, about, names string, rows func(*exporting, func(T) error) error) history {
	var all []column
	for _, name := range strings.Fields(names) {
		f := fieldNamed(reflect.TypeFor[T](), name)
		c := column{name: name, about: cmp.Or(f.Tag.Get("doc"), historyDocs[name])}
		if k := f.Type.Kind(); k == reflect.Int || f.Type == reflect.TypeFor[int64]() {
			c.kind = cellNumber
		}
		all = append(all, c)
	}
	return history{name, listOf(about, inventory.ActHistory, columnsOf[T](all), rows, nil)}
}

// The rows of histories that hold more than one record of ours.
type (
	lotRow struct {
		inventory.Lot
		Product string `json:"product" doc:"GTIN, HIBC or maker's reference of the pack, or #2 for the item's second"`
	}
	restockRow struct {
		inventory.Restock
		All inventory.Restock `json:"restock" doc:"What went in and out, as JSON"`
	}
	bagLogRow struct {
		Bag   string                `json:"bag"`
		Entry inventory.BagLogEntry `json:"entry" doc:"What was changed, by whom and when, as JSON"`
	}
	signatureRow struct {
		Movement int64 `json:"movement" doc:"Id in movements"`
		inventory.EntrySignature
	}
	correctionRow struct {
		inventory.BatchCorrection
		Item string `json:"item"`
	}
)

var histories = []history{
	historyOf("lots", "units of one batch by lot_id, at the stations of who exports",
		"id batch_id item product batch_no serial made_on end_printed end_wording received_on stowed_on opened_on "+
			"exposed_since exposed_days exposed_last training unidentified formerly merged_into", (*exporting).lots),
	historyOf("movements", "every movement of stock, with its station's chain of hashes",
		"id station seq lot_id into_lot_id qty from to reason cause happened_at recorded_at by witness reference note "+
			"corrects hash", (*exporting).movements),
	historyOf("checks", "what crews checked; lines and what was found as JSON",
		"id bag kind happened_at recorded_at by status seal_seen seal_broken seal_set note lines found inspections decision",
		(*exporting).checks),
	historyOf("uses", "what incidents used; lines as JSON",
		"id bag incident happened_at recorded_at by status lines decision", (*exporting).uses),
	historyOf("restocks", "what brought bags back to their lists; lines as JSON",
		"id bag recorded_at by restock", (*exporting).restocks),
	historyOf("seals", "the log of seals", "id bag happened_at by event number expected source note", (*exporting).seals),
	historyOf("bag-log", "what people changed of bags", "bag entry", (*exporting).bagLog),
	historyOf("inspections", "inspections of devices; points as JSON",
		"id lot_id item place happened_at by passed points source note", (*exporting).inspections),
	historyOf("training-uses", "applications of devices in classes",
		"id lot_id happened_at by cycles class", (*exporting).trainingUses),
	historyOf("balance-checks", "counts of controlled items in their registers",
		"id item place counted expected happened_at recorded_at by witness note", (*exporting).balanceChecks),
	historyOf("discrepancies", "controlled items that did not agree, and what was found",
		"id item place balance_check movement text opened_at opened_by closed_at closed_by witness outcome",
		(*exporting).discrepancies),
	historyOf("documents", "transfers between stations, what was received of them, counts of places, and orders",
		"id kind of station other_station place status opened_at opened_by ended_at ended_by body", (*exporting).documents),
	historyOf("signatures", "signatures added after an entry of a register",
		"movement person recorded_at", (*exporting).signatures),
	historyOf("corrections", "dates and numbers of batches that were typed wrongly, and corrected",
		"id batch_id item recorded_at by reason old new merged", (*exporting).corrections),
	historyOf("closed-observations", "what was seen of bags and has been closed",
		"id bag kind item lot_id text opened_at opened_by closed_at closed_by close_reason", (*exporting).closedObservations),
	historyOf("vehicle-log", "vehicles out of service, and when they returned",
		"id station vehicle reason by recorded_at back_at back_by", (*exporting).vehiclesOff),
	historyOf("heads", "the ends of the chains of what was recorded: keep them, and verify --since finds what was "+
		"altered behind them", "chain seq hash", (*exporting).heads),
	historyOf("history", "who did what, in the order that the history page has",
		"id recorded_at by from kind station place other_place lot_id batch_id person detail", (*exporting).entries),
}

// historyDocs says what columns mean whose fields do not say it themselves.
var historyDocs = map[string]string{
	"id": "number of the row, by which other tables name it", "bag": "code of the bag", "item": "item code",
	"batch_id": "number of the batch, by which other tables name it",
	"station":  "station", "lot_id": "id in the table lots", "qty": "units", "from": "place that they left",
	"to": "place that they went to", "reason": "why", "cause": "of what was disposed of or lost, why",
	"happened_at": "when it happened", "recorded_at": "when it was recorded", "by": "by",
	"witness": "the second person who signed", "note": "what was written with it", "kind": "its kind",
	"status":    "accepted, to_review, rejected or withdrawn",
	"seal_seen": "number of the seal that was there", "seal_broken": "the seal was broken or gone",
	"seal_set": "number of the new seal", "lines": "each lot_id with what was counted or used, as JSON",
	"found": "what else was found, as JSON", "inspections": "devices looked at with it, as JSON",
	"decision": "what a quartermaster decided of a report to review, as JSON", "event": "what was done with the seal",
	"place": "code of the place or bag", "passed": "whether it passed",
	"points": "what was looked at, with pass or fail, as JSON", "counted": "units counted", "person": "who signed",
	"old": "what was recorded before, as JSON", "new": "what is printed, as JSON", "text": "observation",
	"opened_at": "when it was seen", "opened_by": "by", "closed_at": "when it was closed", "closed_by": "by",
	"close_reason": "why", "vehicle": "name of the vehicle", "back_by": "by", "detail": "more about it",
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

func (x *exporting) lots(add func(lotRow) error) error {
	return pages(x.r.Lots, inventory.LotFilter{Stations: x.stations}, func(l inventory.Lot) error {
		product, err := x.product(l.Item, l.Product)
		if err != nil {
			return err
		}
		return add(lotRow{l, product})
	})
}

func (x *exporting) movements(add func(inventory.Movement) error) error {
	return pages(x.r.Movements, inventory.MovementFilter{Stations: x.stations}, add)
}

// recorded is what was recorded of the bags that the actor sees.
func (x *exporting) recorded() inventory.RecordFilter {
	return inventory.RecordFilter{AtStations: x.stations}
}

func (x *exporting) checks(add func(inventory.Check) error) error {
	return pages(x.r.Checks, x.recorded(), add)
}

func (x *exporting) uses(add func(inventory.Use) error) error {
	return pages(x.r.Uses, x.recorded(), add)
}

func (x *exporting) restocks(add func(restockRow) error) error {
	return pages(x.r.Restocks, x.recorded(), func(r inventory.Restock) error { return add(restockRow{r, r}) })
}

func (x *exporting) seals(add func(inventory.SealEntry) error) error {
	return pages(x.r.Seals, x.recorded(), add)
}

func (x *exporting) bagLog(add func(bagLogRow) error) error {
	return pages(x.r.BagLog, x.recorded(), func(e inventory.BagLogEntry) error { return add(bagLogRow{e.Bag, e}) })
}

func (x *exporting) inspections(add func(inventory.Inspection) error) error {
	return pages(x.r.Inspections, inventory.BatchFilter{Stations: x.stations}, add)
}

func (x *exporting) trainingUses(add func(inventory.TrainingUse) error) error {
	return pages(x.r.TrainingUses, inventory.BatchFilter{Stations: x.stations}, add)
}

func (x *exporting) balanceChecks(add func(inventory.BalanceCheck) error) error {
	places, err := x.placesSeen()
	if err != nil {
		return err
	}
	all, err := x.r.BalanceChecks(inventory.BalanceFilter{Places: places})
	return each(all, err, add)
}

func (x *exporting) discrepancies(add func(inventory.Discrepancy) error) error {
	places, err := x.placesSeen()
	if err != nil {
		return err
	}
	all, err := x.r.Discrepancies(inventory.DiscrepancyFilter{Places: places})
	return each(all, err, add)
}

func (x *exporting) documents(add func(inventory.Document) error) error {
	all, err := x.r.Documents(inventory.DocumentFilter{Stations: x.stations}, inventory.Page{})
	return each(all, err, add)
}

// signatures are those that were given after an entry of a register.
func (x *exporting) signatures(add func(signatureRow) error) error {
	places, err := x.placesSeen()
	if err != nil {
		return err
	}
	all, err := x.r.OwedEntries(inventory.OwedFilter{Places: places})
	return each(all, err, func(o inventory.OwedEntry) error {
		return each(o.Signatures, nil, func(s inventory.EntrySignature) error { return add(signatureRow{o.ID, s}) })
	})
}

func (x *exporting) corrections(add func(correctionRow) error) error {
	all, err := x.r.BatchCorrections(inventory.BatchFilter{Stations: x.stations})
	if err != nil || len(all) == 0 {
		return err
	}
	ids := make([]int64, len(all))
	for i, c := range all {
		ids[i] = c.BatchID
	}
	batches, err := x.r.Batches(inventory.BatchFilter{IDs: ids})
	items := map[int64]string{}
	for _, b := range batches {
		items[b.ID] = b.Item
	}
	return each(all, err, func(c inventory.BatchCorrection) error { return add(correctionRow{c, items[c.BatchID]}) })
}

func (x *exporting) closedObservations(add func(inventory.Observation) error) error {
	all, err := x.r.Observations(inventory.ObservationFilter{AtStations: x.stations})
	all = slices.DeleteFunc(all, func(o inventory.Observation) bool { return o.ClosedAt == 0 })
	return each(all, err, add)
}

func (x *exporting) vehiclesOff(add func(inventory.VehicleOutOfService) error) error {
	all, err := x.r.VehiclesOutOfService(inventory.VehicleFilter{Stations: x.stations})
	return each(all, err, add)
}

// heads are the ends of the chains.
func (x *exporting) heads(add func(inventory.Head) error) error {
	all, err := x.r.Heads()
	all = slices.DeleteFunc(all, func(h inventory.Head) bool { return h.Station != "" && !x.by.At(h.Station) })
	return each(all, err, func(h inventory.Head) error {
		h.Station = h.ChainName()
		return add(h)
	})
}

// entries is who did what, ways in apart for who does not keep people.
func (x *exporting) entries(add func(inventory.HistoryEntry) error) error {
	f := inventory.HistoryFilter{Stations: x.stations}
	if !x.by.May(inventory.ActKeepPeople) {
		f.Not = account.AboutAccess
	}
	return pages(x.r.HistoryEntries, f, add)
}
