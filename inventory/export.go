package inventory

import (
	"cmp"
	"context"
	"slices"
	"strconv"
	"strings"

	"stowkeeper/inventory/table"
)

// Export writes everything that the actor may see: first the lists that an
// import reads, then the history, for reading. It is one snapshot. Names of
// people are written for those who keep people; PINs and passwords never are.
func (s *Service) Export(ctx context.Context, by Actor, out table.Sink) error {
	now := s.Now()
	return s.Store.Read(ctx, func(_ context.Context, r Reader) error {
		if err := by.must(ActKeepLists, ""); err != nil {
			return err
		}
		if err := out.Note("README", exportReadme(now)); err != nil {
			return err
		}
		x := &exporting{r: r, by: by, sites: by.sitesSeen(), out: out, products: map[string][]Product{}}
		for _, k := range ImportKinds {
			if by.May(importers[k].act) || k == ImportCategories || k == ImportSites {
				if err := x.list(k); err != nil {
					return err
				}
			}
		}
		if !by.May(ActHistory) { // a token that is kept to lists
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
	r        Reader
	by       Actor
	sites    []string // nil for all
	out      table.Sink
	products map[string][]Product
}

// row is one row of a list that is written, by column.
type exportRow map[string]string

func (x *exporting) list(k ImportKind) error {
	columns := importers[k].columns
	err := x.out.Begin(string(k), tableColumns(columns))
	if err != nil {
		return err
	}
	return exporters[k](x, func(row exportRow) error {
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

// numText writes a number, and nothing for none.
func numText(n int) string {
	if n == 0 {
		return ""
	}
	return strconv.Itoa(n)
}

// flagText writes yes, and nothing for no.
func flagText(b bool) string {
	if b {
		return "yes"
	}
	return ""
}

type emit = func(exportRow) error

var exporters = map[ImportKind]func(*exporting, emit) error{
	ImportCategories: (*exporting).categories, ImportSites: (*exporting).siteRows, ImportPlaces: (*exporting).places, ImportPeople: (*exporting).people,
	ImportItems: (*exporting).items, ImportProducts: (*exporting).productRows, ImportKitLists: (*exporting).kitLists, ImportBags: (*exporting).bags, ImportVehiclesOff: (*exporting).vehiclesOffNow,
	ImportStock: (*exporting).stock, ImportObservations: (*exporting).observations, ImportNotices: (*exporting).notices, ImportUsage: (*exporting).usage,
}

// eachOf writes a row for each of a list that was read.
func eachOf[T any](all []T, err error, add emit, row func(T) exportRow) error {
	for _, v := range all {
		if err == nil {
			err = add(row(v))
		}
	}
	return err
}

func (x *exporting) categories(add emit) error {
	all, err := x.r.Categories()
	return eachOf(all, err, add, func(c Category) exportRow { return exportRow{"name": string(c)} })
}

func (x *exporting) siteRows(add emit) error {
	all, err := x.r.Sites()
	all = slices.DeleteFunc(all, func(s Site) bool { return !x.by.At(s.Code) })
	return eachOf(all, err, add, func(s Site) exportRow { return exportRow{"code": s.Code, "name": s.Name, "timezone": s.Timezone} })
}

func (x *exporting) places(add emit) error {
	all, err := x.r.Places(PlaceFilter{Sites: x.sites}, Page{})
	all = slices.DeleteFunc(all, func(p Place) bool { return p.Kind == KindBag })
	return eachOf(all, err, add, placeRow)
}

func placeRow(p Place) exportRow {
	return exportRow{"code": p.Code, "site": p.Site, "kind": string(p.Kind), "purpose": string(p.Purpose), "name": p.Name, "holder": p.Holder,
		"due_back": p.DueBack.String(), "vehicle": p.Vehicle}
}

func (x *exporting) people(add emit) error {
	all, err := x.r.People()
	return eachOf(all, err, add, func(p Person) exportRow {
		return exportRow{"name": p.Name, "role": string(p.Role), "sites": strings.Join(p.Sites, " "), "disabled": flagText(p.Disabled)}
	})
}

func (x *exporting) items(add emit) error {
	all, err := x.r.Items(ItemFilter{}, Page{})
	return eachOf(all, err, add, itemRow)
}

func itemRow(it Item) exportRow {
	return exportRow{"code": it.Code, "name": it.Name, "category": string(it.Category), "unit": it.Unit, "tracked_by": string(it.TrackedBy),
		"dated": flagText(it.Dated), "single_use": flagText(it.SingleUse), "witnessed": flagText(it.Witnessed), "strength": it.Strength, "form": it.Form,
		"made_months": numText(it.Life.MadeMonths), "stowed_months": numText(it.Life.StowedMonths), "exposed_days": numText(it.Life.ExposedDays),
		"opened_days": numText(it.Life.OpenedDays), "inspect_days": numText(it.Life.InspectDays), "training_cycles": numText(it.Life.TrainingCycles),
		"inspection_points": strings.Join(it.InspectionPoints, "\n"), "inspection_notes": strings.Join(it.InspectionNotes, "\n"),
		"lead_time_days": numText(it.LeadTimeDays)}
}

func (x *exporting) productRows(add emit) error {
	items, err := x.r.Items(ItemFilter{}, Page{})
	if err != nil {
		return err
	}
	preferred := map[int64]bool{}
	for _, it := range items {
		preferred[it.PreferredProduct] = true
	}
	all, err := x.r.Products(ProductFilter{}, Page{})
	return eachOf(all, err, add, func(p Product) exportRow { return productRow(p, preferred[p.ID]) })
}

func productRow(p Product, preferred bool) exportRow {
	return exportRow{"item": p.Item, "gtin": p.GTIN, "hibc": p.HIBC, "maker_reference": p.MakerReference, "supplier": p.Supplier,
		"pack_size": strconv.Itoa(p.PackSize), "preferred": flagText(preferred)}
}

// product names a product among those of its item.
func (x *exporting) product(item string, id int64) (string, error) {
	if id == 0 {
		return "", nil
	}
	all, err := cached(x.products, item, func(item string) ([]Product, error) { return x.r.Products(ProductFilter{Item: item}, Page{}) })
	return productRef(all, id), err
}

func (x *exporting) kitLists(add emit) error {
	latest, err := x.r.KitLists(Page{})
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
func addKitList(k KitList, add emit) error {
	rows := make([]exportRow, 0, len(k.Lines)+len(k.Modules)+len(k.Rules))
	for _, l := range k.Lines {
		rows = append(rows, exportRow{"row": "line", "item": l.Item, "pouch": l.Pouch, "par": numText(l.Par), "minimum": numText(l.Minimum), "critical": flagText(l.Critical),
			"presence_only": flagText(l.PresenceOnly), "carried_elsewhere": l.CarriedElsewhere, "accepts": strings.Join(l.Accepts, " ")})
	}
	for _, m := range k.Modules {
		rows = append(rows, exportRow{"row": "module", "module": m.KitList, "count": strconv.Itoa(m.Count)})
	}
	for _, r := range k.Rules {
		rows = append(rows, exportRow{"row": "rule", "when_category": string(r.WhenCategory), "need_category": string(r.NeedCategory), "item": r.NeedItem,
			"count": strconv.Itoa(r.AtLeast), "severity": string(r.Severity), "because": r.Because})
	}
	for i, row := range rows {
		row["code"], row["version"] = k.Code, strconv.Itoa(k.Version)
		if i == 0 {
			k.head(row)
		}
		if err := add(row); err != nil {
			return err
		}
	}
	return nil
}

func (k KitList) head(row exportRow) {
	row["name"], row["edition"], row["source"] = k.Name, k.Edition, k.Source
	row["valid_from"], row["valid_to"] = k.ValidFrom.String(), k.ValidTo.String()
	row["sealed"], row["seal_warns"] = flagText(k.Sealed), flagText(k.SealWarns)
	row["seal_check_hours"], row["full_check_days"], row["min_remaining_days"] = numText(k.SealCheckHours), numText(k.FullCheckDays), numText(k.MinRemainingDays)
}

func (x *exporting) bags(add emit) error {
	all, err := x.r.Bags(BagFilter{AtSites: x.sites, Retired: true}, Page{})
	return eachOf(all, err, add, bagRow)
}

func bagRow(b Bag) exportRow {
	row := exportRow{"code": b.Code, "site": b.Site, "at_site": b.AtSite, "name": b.Name, "kit_list": b.KitList, "kit_list_version": strconv.Itoa(b.KitListVersion),
		"priority": strconv.Itoa(b.Priority), "purpose": string(b.Purpose), "vehicle": b.Vehicle, "inside": b.Inside,
		"retired_at": b.RetiredAt.String(), "retired_by": b.RetiredBy, "successor": b.Successor,
		"seal": b.Seal, "seal_state": string(b.SealState), "seal_seen_at": b.SealSeenAt.String(), "last_seal_check": b.LastSealCheck.String(),
		"last_full_check": b.LastFullCheck.String(), "last_use": b.LastUse.String(), "last_restock": b.LastRestock.String()}
	if off := b.TakenOff; off != nil {
		row["taken_off"], row["taken_off_by"], row["taken_off_at"] = off.Reason, off.By, off.At.String()
	}
	return row
}

// stock writes what lies where by lot id: where dates are equal the older lot
// goes out first, and an import keeps that order.
func (x *exporting) stock(add emit) error {
	all, err := x.r.Stock(StockFilter{Sites: x.sites})
	if err != nil {
		return err
	}
	slices.SortStableFunc(all, func(a, b Stock) int { return int(a.Lot.ID - b.Lot.ID) })
	for _, st := range all {
		l := st.Lot
		product, err := x.product(l.Item, l.Product)
		if err != nil {
			return err
		}
		err = add(exportRow{"place": st.Place, "item": l.Item, "product": product, "lot_no": l.LotNo, "serial": l.Serial, "made_on": l.MadeOn.String(),
			"end_printed": l.EndPrinted, "end_wording": string(l.EndWording), "qty": strconv.Itoa(st.Qty), "received_on": l.ReceivedOn.String(),
			"stowed_on": l.StowedOn.String(), "opened_on": l.OpenedOn.String(), "exposed_since": l.ExposedSince.String(), "exposed_days": numText(l.Clocks.ExposedDays),
			"exposed_last": l.ExposedLast.String(), "unidentified": flagText(l.Unidentified), "inspected_on": l.InspectedOn.String(), "training_cycles": numText(l.Cycles)})
		if err != nil {
			return err
		}
	}
	return nil
}

// vehiclesOffNow leaves out those that nothing rides on any longer.
func (x *exporting) vehiclesOffNow(add emit) error {
	all, err := x.r.VehiclesOff(VehicleFilter{Sites: x.sites, Now: true})
	slices.Reverse(all) // they were taken off in that order
	all = slices.DeleteFunc(all, func(v VehicleOff) bool {
		_, wrong := vehicleFor(x.r, x.by, &VehicleChange{Site: v.Site, Vehicle: v.Vehicle})
		if KindOf(wrong) != Invalid {
			err = cmp.Or(err, wrong)
		}
		return wrong != nil
	})
	return eachOf(all, err, add, func(v VehicleOff) exportRow {
		return exportRow{"site": v.Site, "vehicle": v.Vehicle, "reason": v.Reason, "by": v.By, "at": v.At.String()}
	})
}

func (x *exporting) observations(add emit) error {
	all, err := x.r.Observations(ObservationFilter{AtSites: x.sites, Open: true})
	for _, o := range all {
		if err != nil {
			return err
		}
		row := exportRow{"bag": o.Bag, "kind": string(o.Kind), "item": o.Item, "text": o.Text, "opened_at": o.OpenedAt.String(), "opened_by": o.OpenedBy}
		if o.LotID != 0 {
			var l Lot
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
	all, err := x.r.Notices(NoticeFilter{}, Page{})
	slices.Reverse(all) // they were issued in that order
	for _, n := range all {
		var product string
		if err == nil {
			product, err = x.product(n.Item, n.Product)
		}
		if err != nil {
			return err
		}
		err = add(exportRow{"reference": n.Reference, "action": string(n.Action), "item": n.Item, "product": product,
			"lot_nos": strings.Join(n.LotNos, "\n"), "serials": strings.Join(n.Serials, "\n"), "serial_from": n.SerialFrom, "serial_to": n.SerialTo,
			"made_from": n.MadeFrom.String(), "made_to": n.MadeTo.String(), "text": n.Text, "issued_at": n.IssuedAt.String(), "issued_by": n.IssuedBy,
			"status": string(n.Status), "ended_at": n.EndedAt.String(), "ended_by": n.EndedBy, "end_reason": n.EndReason})
	}
	return err
}

func (x *exporting) usage(add emit) error {
	all, err := x.r.PastUsage(UsageFilter{Sites: x.sites})
	return eachOf(all, err, add, usageRow)
}

func usageRow(u PastUsage) exportRow {
	return exportRow{"site": u.Site, "item": u.Item, "period": u.Period, "qty": strconv.Itoa(u.Qty)}
}
