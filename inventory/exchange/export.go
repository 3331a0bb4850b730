package exchange

import (
	"cmp"
	"context"
	"slices"
	"stowkeeper/inventory/table"
	"strconv"
	"strings"

	"stowkeeper/inventory"
	"stowkeeper/inventory/ledger"
	"stowkeeper/inventory/shift"
)

// Export writes everything that the actor may see: first the lists that an import reads, then the history, for
// reading. It is one snapshot. Names of people are written for those who keep people; PINs and passwords never are.
// Refuses: Forbidden without keep_lists.
func (s *Service) Export(ctx context.Context, by inventory.Actor, out table.Sink) error {
	now := s.now()
	return s.store.Read(ctx, func(_ context.Context, r inventory.Reader) error {
		if err := by.Must(inventory.ActKeepLists, ""); err != nil {
			return err
		}
		if err := out.Note("README", exportReadme(now)); err != nil {
			return err
		}
		x := &exporting{r: r, by: by, stations: by.StationsSeen(), out: out, products: map[string][]inventory.Product{}}
		for _, k := range ImportKinds {
			if by.May(importers[k].act) || k == ImportCategories || k == ImportStations {
				if err := x.list(k); err != nil {
					return err
				}
			}
		}
		if !by.May(inventory.ActHistory) { // a token that is kept to lists
			return nil
		}
		for _, h := range histories {
			if err := x.history(h); err != nil {
				return err
			}
		}
		return nil
	})
}

// exporting is one export under way.
type exporting struct {
	r        inventory.Reader
	by       inventory.Actor
	stations []string // nil for all
	out      table.Sink
	products map[string][]inventory.Product
}

func (x *exporting) list(k ImportKind) error {
	columns := importers[k].columns
	err := x.out.Begin(string(k), tableColumns(columns))
	if err != nil {
		return err
	}
	return exporters[k](x, func(row inventory.ExportRow) error {
		cells := make([]string, len(columns))
		for i, c := range columns {
			cells[i] = row[c.name]
		}
		return x.out.Add(cells)
	})
}

func tableColumns(columns []column) []table.Column {
	out := make([]table.Column, len(columns))
	for i, c := range columns {
		out[i] = table.Column{Name: c.name, Number: c.kind == cellNumber}
	}
	return out
}

type emit = func(inventory.ExportRow) error

var exporters = map[ImportKind]func(*exporting, emit) error{
	ImportCategories: (*exporting).categories, ImportStations: (*exporting).stationRows, ImportPlaces: (*exporting).places,
	ImportPeople: (*exporting).people,
	ImportItems:  (*exporting).items, ImportProducts: (*exporting).productRows, ImportKitLists: (*exporting).kitLists,
	ImportBags: (*exporting).bags, ImportVehiclesOff: (*exporting).vehiclesOffNow,
	ImportStock: (*exporting).stock, ImportObservations: (*exporting).observations, ImportNotices: (*exporting).notices,
	ImportUsage: (*exporting).usage,
}

// eachOf writes a row for each of a list that was read.
func eachOf[T any](all []T, err error, add emit, row func(T) inventory.ExportRow) error {
	for _, v := range all {
		if err == nil {
			err = add(row(v))
		}
	}
	return err
}

func (x *exporting) categories(add emit) error {
	all, err := x.r.Categories()
	return eachOf(all, err, add, func(c inventory.Category) inventory.ExportRow {
		return inventory.ExportRow{
			"name": string(c)}
	})
}

func (x *exporting) stationRows(add emit) error {
	all, err := x.r.Stations()
	all = slices.DeleteFunc(all, func(s inventory.Station) bool { return !x.by.At(s.Code) })
	return eachOf(all, err, add, func(s inventory.Station) inventory.ExportRow {
		return inventory.ExportRow{"code": s.Code, "name": s.Name, "timezone": s.Timezone}
	})
}

func (x *exporting) places(add emit) error {
	all, err := x.r.Places(inventory.PlaceFilter{Stations: x.stations}, inventory.Page{})
	all = slices.DeleteFunc(all, func(p inventory.Place) bool { return p.Kind == inventory.KindBag })
	return eachOf(all, err, add, placeRow)
}

func placeRow(p inventory.Place) inventory.ExportRow {
	return inventory.ExportRow{"code": p.Code, "station": p.Station, "kind": string(p.Kind), "purpose": string(p.Purpose),
		"name": p.Name, "holder": p.Holder,
		"due_back": p.DueBack.String(), "vehicle": p.Vehicle}
}

func (x *exporting) people(add emit) error {
	all, err := x.r.People()
	return eachOf(all, err, add, func(p inventory.Person) inventory.ExportRow {
		return inventory.ExportRow{"name": p.Name, "role": string(p.Role), "stations": strings.Join(p.Stations, " "),
			"disabled": inventory.FlagText(p.Disabled)}
	})
}

func (x *exporting) items(add emit) error {
	all, err := x.r.Items(inventory.ItemFilter{}, inventory.Page{})
	return eachOf(all, err, add, itemRow)
}

func itemRow(it inventory.Item) inventory.ExportRow {
	return inventory.ExportRow{"code": it.Code, "name": it.Name, "category": string(it.Category), "unit": it.Unit,
		"tracked_by": string(it.TrackedBy),
		"dated":      inventory.FlagText(it.Dated), "single_use": inventory.FlagText(it.SingleUse),
		"controlled": inventory.FlagText(it.Controlled), "strength": it.Strength, "form": it.Form,
		"made_months": inventory.NumText(it.Life.MadeMonths), "stowed_months": inventory.NumText(it.Life.StowedMonths),
		"exposed_days": inventory.NumText(it.Life.ExposedDays),
		"opened_days":  inventory.NumText(it.Life.OpenedDays), "inspect_days": inventory.NumText(it.Life.InspectDays),
		"training_cycles":   inventory.NumText(it.Life.TrainingCycles),
		"inspection_points": strings.Join(it.InspectionPoints, "\n"), "inspection_notes": strings.Join(it.InspectionNotes,
			"\n"),
		"lead_time_days": inventory.NumText(it.LeadTimeDays)}
}

func (x *exporting) productRows(add emit) error {
	items, err := x.r.Items(inventory.ItemFilter{}, inventory.Page{})
	if err != nil {
		return err
	}
	preferred := map[int64]bool{}
	for _, it := range items {
		preferred[it.PreferredProduct] = true
	}
	all, err := x.r.Products(inventory.ProductFilter{}, inventory.Page{})
	return eachOf(all, err, add, func(p inventory.Product) inventory.ExportRow { return productRow(p, preferred[p.ID]) })
}

func productRow(p inventory.Product, preferred bool) inventory.ExportRow {
	return inventory.ExportRow{"item": p.Item, "gtin": p.GTIN, "hibc": p.HIBC, "maker_reference": p.MakerReference,
		"supplier":  p.Supplier,
		"pack_size": strconv.Itoa(p.PackSize), "preferred": inventory.FlagText(preferred)}
}

// product names a product among those of its item.
func (x *exporting) product(item string, id int64) (string, error) {
	if id == 0 {
		return "", nil
	}
	all, err := ledger.Cached(x.products, item, func(item string) ([]inventory.Product, error) {
		return x.r.Products(inventory.ProductFilter{Item: item}, inventory.Page{})
	})
	return productRef(all, id), err
}

func (x *exporting) kitLists(add emit) error {
	latest, err := x.r.KitLists(inventory.Page{})
	if err != nil {
		return err
	}
	for _, l := range latest {
		for v := 1; v <= l.Version; v++ {
			k, err := x.r.KitList(l.Code, v)
			if err != nil {
				return err
			}
			if err := addKitList(k, add); err != nil {
				return err
			}
		}
	}
	return nil
}

// addKitList writes a list as one row for each line, module and rule, the first
// of them with what is true of the whole list.
func addKitList(k inventory.KitList, add emit) error {
	rows := make([]inventory.ExportRow, 0, len(k.Lines)+len(k.Modules)+len(k.Rules))
	for _, l := range k.Lines {
		rows = append(rows, inventory.ExportRow{"row": "line", "item": l.Item, "pouch": l.Pouch,
			"par": inventory.NumText(l.Par), "minimum": inventory.NumText(l.Minimum), "critical": inventory.FlagText(l.Critical),
			"presence_only": inventory.FlagText(l.PresenceOnly), "carried_elsewhere": l.CarriedElsewhere,
			"accepts": strings.Join(l.Accepts, " ")})
	}
	for _, m := range k.Modules {
		rows = append(rows, inventory.ExportRow{"row": "module", "module": m.KitList, "count": strconv.Itoa(m.Count)})
	}
	for _, r := range k.Rules {
		rows = append(rows, inventory.ExportRow{"row": "rule", "when_category": string(r.WhenCategory),
			"need_category": string(r.NeedCategory), "item": r.NeedItem,
			"count": strconv.Itoa(r.AtLeast), "severity": string(r.Severity), "because": r.Because})
	}
	for i, row := range rows {
		row["code"], row["version"] = k.Code, strconv.Itoa(k.Version)
		if i == 0 {
			k.Head(row)
		}
		if err := add(row); err != nil {
			return err
		}
	}
	return nil
}

func (x *exporting) bags(add emit) error {
	all, err := x.r.Bags(inventory.BagFilter{AtStations: x.stations, Retired: true}, inventory.Page{})
	return eachOf(all, err, add, bagRow)
}

func bagRow(b inventory.Bag) inventory.ExportRow {
	row := inventory.ExportRow{"code": b.Code, "station": b.Station, "at_station": b.AtStation, "name": b.Name,
		"kit_list": b.KitList, "kit_list_version": strconv.Itoa(b.KitListVersion),
		"priority": strconv.Itoa(b.Priority), "purpose": string(b.Purpose), "vehicle": b.Vehicle, "inside": b.Inside,
		"retired_at": b.RetiredAt.String(), "retired_by": b.RetiredBy, "successor": b.Successor,
		"seal": b.Seal, "seal_state": string(b.SealState), "seal_seen_at": b.SealSeenAt.String(),
		"last_seal_check": b.LastSealCheck.String(),
		"last_full_check": b.LastFullCheck.String(), "last_use": b.LastUse.String(), "last_restock": b.LastRestock.String()}
	if off := b.OutOfService; off != nil {
		row["out_of_service"], row["taken_off_by"], row["taken_off_at"] = off.Reason, off.By, off.RecordedAt.String()
	}
	return row
}

// stock writes what lies where by lot id: where dates are equal the older lot
// goes out first, and an import keeps that order.
func (x *exporting) stock(add emit) error {
	all, err := x.r.Stock(inventory.StockFilter{Stations: x.stations})
	if err != nil {
		return err
	}
	slices.SortStableFunc(all, func(a, b inventory.Stock) int { return int(a.Lot.ID - b.Lot.ID) })
	for _, st := range all {
		l := st.Lot
		product, err := x.product(l.Item, l.Product)
		if err != nil {
			return err
		}
		err = add(inventory.ExportRow{"place": st.Place, "item": l.Item, "product": product, "batch_no": l.BatchNo,
			"serial": l.Serial, "made_on": l.MadeOn.String(),
			"end_printed": l.EndPrinted, "end_wording": string(l.EndWording), "qty": strconv.Itoa(st.Qty),
			"received_on": l.ReceivedOn.String(),
			"stowed_on":   l.StowedOn.String(), "opened_on": l.OpenedOn.String(), "exposed_since": l.ExposedSince.String(),
			"exposed_days": inventory.NumText(l.Clocks.ExposedDays),
			"exposed_last": l.ExposedLast.String(), "unidentified": inventory.FlagText(l.Unidentified),
			"inspected_on": l.InspectedOn.String(), "training_cycles": inventory.NumText(l.Cycles)})
		if err != nil {
			return err
		}
	}
	return nil
}

// vehiclesOffNow leaves out those that nothing rides on any longer.
func (x *exporting) vehiclesOffNow(add emit) error {
	all, err := x.r.VehiclesOutOfService(inventory.VehicleFilter{Stations: x.stations, Now: true})
	slices.Reverse(all) // they were taken off in that order
	all = slices.DeleteFunc(all, func(v inventory.VehicleOutOfService) bool {
		_, wrong := shift.VehicleFor(x.r, x.by, &shift.VehicleChange{Station: v.Station, Vehicle: v.Vehicle})
		if inventory.KindOf(wrong) != inventory.Invalid {
			err = cmp.Or(err, wrong)
		}
		return wrong != nil
	})
	return eachOf(all, err, add, func(v inventory.VehicleOutOfService) inventory.ExportRow {
		return inventory.ExportRow{"station": v.Station, "vehicle": v.Vehicle, "reason": v.Reason, "by": v.By,
			"recorded_at": v.RecordedAt.String()}
	})
}

func (x *exporting) observations(add emit) error {
	all, err := x.r.Observations(inventory.ObservationFilter{AtStations: x.stations, Open: true})
	for _, o := range all {
		if err != nil {
			return err
		}
		row := inventory.ExportRow{"bag": o.Bag, "kind": string(o.Kind), "item": o.Item, "text": o.Text,
			"opened_at": o.OpenedAt.String(), "opened_by": o.OpenedBy}
		if o.LotID != 0 {
			var l inventory.Lot
			if l, err = x.r.Lot(o.LotID); err != nil {
				return err
			}
			row["item"], row["serial"] = l.Item, l.Serial
		}
		err = add(row)
	}
	return err
}

func (x *exporting) notices(add emit) error {
	all, err := x.r.Notices(inventory.NoticeFilter{}, inventory.Page{})
	slices.Reverse(all) // they were issued in that order
	for _, n := range all {
		var product string
		if err == nil {
			product, err = x.product(n.Item, n.Product)
		}
		if err != nil {
			return err
		}
		err = add(inventory.ExportRow{"reference": n.Reference, "action": string(n.Action), "item": n.Item,
			"product":   product,
			"batch_nos": strings.Join(n.BatchNos, "\n"), "serials": strings.Join(n.Serials, "\n"), "serial_from": n.SerialFrom,
			"serial_to": n.SerialTo,
			"made_from": n.MadeFrom.String(), "made_to": n.MadeTo.String(), "text": n.Text, "issued_at": n.IssuedAt.String(),
			"issued_by": n.IssuedBy,
			"status":    string(n.Status), "ended_at": n.EndedAt.String(), "ended_by": n.EndedBy, "end_reason": n.EndReason})
	}
	return err
}

func (x *exporting) usage(add emit) error {
	all, err := x.r.PastUsage(inventory.UsageFilter{Stations: x.stations})
	return eachOf(all, err, add, usageRow)
}

func usageRow(u inventory.PastUsage) inventory.ExportRow {
	return inventory.ExportRow{"station": u.Station, "item": u.Item, "period": u.Period, "qty": strconv.Itoa(u.Qty)}
}
