package exchange

import (
	"slices"
	"strings"

	"stowkeeper/inventory"
	"stowkeeper/inventory/account"
	"stowkeeper/inventory/ledger"
	"stowkeeper/inventory/lists"
)

// importers are all kinds of list.
var importers map[ImportKind]importer

func init() { // they read through functions that look here
	importers = map[ImportKind]importer{
		ImportCategories: {inventory.ActKeepStations, "the categories that items belong to", categoryColumns,
			func(*importing) rowReader { return eachRow(importCategory) }},
		ImportStations: {inventory.ActKeepStations, "the stations; each has its own time zone", stationColumns,
			func(*importing) rowReader { return eachRow(importStation) }},
		ImportPlaces: {inventory.ActKeepLists, "where stock is, bags apart", placeColumns,
			func(*importing) rowReader { return eachRow(importPlace) }},
		ImportPeople: {inventory.ActKeepPeople, "who may sign in, without PINs and passwords", peopleColumns,
			func(*importing) rowReader { return eachRow(importPerson) }},
		ImportItems: {inventory.ActKeepLists, "what kit lists ask for", itemColumns,
			func(*importing) rowReader { return eachRow(importItem) }},
		ImportProducts: {inventory.ActKeepLists, "trade packs of items", productColumns, newProductReader},
		ImportKitLists: {inventory.ActKeepLists, "what bags must hold; several rows make one list", kitListColumns,
			newKitListReader},
		ImportBags: {inventory.ActKeepLists, "the bags and what was last seen of them", bagColumns, newBagReader},
		ImportVehiclesOff: {inventory.ActKeepStock, "vehicles that are off the run", vehicleOffColumns,
			func(*importing) rowReader { return eachRow(importVehicleOff) }},
		ImportStock: {inventory.ActKeepStock, "what there is, counted in", stockColumns, newStockReader},
		ImportObservations: {inventory.ActKeepStock, "what was seen of bags and is still open", observationColumns,
			func(*importing) rowReader { return eachRow(importObservation) }},
		ImportNotices: {inventory.ActKeepStock, "recalls and safety notices that hold", noticeColumns,
			func(*importing) rowReader { return eachRow(importNotice) }},
		ImportUsage: {inventory.ActKeepStock, "what stations used before, by month or day", usageColumns, newUsageReader},
	}
}

var categoryColumns = []column{{"name", cellText, "the category", true}}

func importCategory(r *record) error {
	c := inventory.Category(r.text("name"))
	known, err := r.im.w.Categories()
	if err != nil {
		return err
	}
	if slices.Contains(known, c) {
		return r.im.settled(r, Unchanged, string(c), nil)
	}
	return r.im.settled(r, Created, string(c), r.im.s.lists.AddCategory(r.im.ctx, r.im.by, c))
}

var stationColumns = []column{
	{"code", cellCode, "code of the station", true},
	{"name", cellText, "its name", true},
	{"timezone", cellText, "its time zone, as Europe/London", true},
}

func importStation(r *record) error {
	in := inventory.Station{Code: r.code("code"), Name: r.text("name"), Timezone: r.text("timezone")}
	old, err := r.im.w.Station(in.Code)
	switch {
	case err == nil && old == in:
		return r.im.settled(r, Unchanged, in.Code, nil)
	case err == nil:
		return r.im.settled(r, Refused, in.Code, inventory.Errorf(inventory.Conflict,
			"the station is known with another name or time zone, and those do not change"))
	case inventory.KindOf(err) != inventory.NotFound:
		return err
	}
	_, err = r.im.s.lists.CreateStation(r.im.ctx, r.im.by, in)
	return r.im.settled(r, Created, in.Code, err)
}

var placeColumns = []column{
	{"code", cellCode, "code of the place", true},
	{"station", cellCode, "station that it belongs to", true},
	{"kind", cellText, "store, carrier, quarantine or away", true},
	{"purpose", cellText, "issue or training", false},
	{"name", cellText, "its name", true},
	{"holder", cellText, "who has it, never a patient", false},
	{"due_back", cellDay, "when what is away is due back", false},
	{"vehicle", cellText, "vehicle that a carrier rides on", false},
}

func importPlace(r *record) error {
	in := inventory.Place{Code: r.code("code"), Station: r.code("station"),
		Kind: inventory.PlaceKind(strings.ToLower(r.text("kind"))), Purpose: inventory.ForIssue}
	old, err := r.im.w.Place(in.Code)
	known := err == nil
	if err != nil && inventory.KindOf(err) != inventory.NotFound {
		return err
	}
	if known {
		if old.Station != in.Station || old.Kind != in.Kind || r.has("purpose") &&
			old.Purpose != inventory.Purpose(strings.ToLower(r.text("purpose"))) {
			return r.im.settled(r, Refused, in.Code, inventory.Errorf(inventory.Conflict,
				"the place is known, and its station, kind and purpose are for good"))
		}
		in = old
	} else if p := strings.ToLower(r.text("purpose")); p != "" {
		in.Purpose = inventory.Purpose(p)
	}
	r.setText(&in.Name, "name")
	r.setText(&in.Holder, "holder")
	r.setDay(&in.DueBack, "due_back")
	if r.has("vehicle") {
		in.Vehicle = inventory.Spaced(r.text("vehicle"))
	}
	switch {
	case !known:
		_, err = r.im.s.lists.CreatePlace(r.im.ctx, r.im.by, in)
		return r.im.settled(r, Created, in.Code, err)
	case in != old:
		_, err = r.im.s.lists.UpdatePlace(r.im.ctx, r.im.by, in.Code, 0, lists.PlaceChange{Name: &in.Name, Holder: &in.Holder,
			DueBack: &in.DueBack, Vehicle: &in.Vehicle})
		return r.im.changed(r, in.Code, placeRow(old), placeRow(in), err)
	}
	return r.im.settled(r, Unchanged, in.Code, nil)
}

var peopleColumns = []column{
	{"name", cellText, "full name", true},
	{"role", cellText, "crew, quartermaster, manager or administrator", true},
	{"stations", cellCodes, "codes of the stations that they belong to, none for all", false},
	{"disabled", cellYes, "whether they may no longer sign in", false},
}

// importPerson makes a person without a secret: nobody can sign in as them
// until an administrator sets one.
func importPerson(r *record) error {
	in := inventory.Person{Name: inventory.OneLine(r.raw("name")), Role: inventory.Role(strings.ToLower(r.text("role"))),
		Stations: r.codes("stations"), Disabled: r.yes("disabled")}
	old, err := r.im.w.PersonByName(in.Name)
	if err != nil && inventory.KindOf(err) != inventory.NotFound {
		return err
	}
	if err == nil {
		same := old.Role == in.Role && (!r.has("stations") || slices.Equal(slices.Sorted(slices.Values(old.Stations)),
			slices.Sorted(slices.Values(in.Stations)))) &&
			(!r.has("disabled") || old.Disabled == in.Disabled)
		if !same {
			err = inventory.Errorf(inventory.Conflict,
				"a person has this name already; a file does not change what somebody may do")
		}
		return r.im.settled(r, Unchanged, in.Name, err)
	}
	_, err = r.im.s.createPersonWithout(r.im.w, r.im.by, in)
	return r.im.settled(r, Created, in.Name, err)
}

// createPersonWithout makes a person who has no secret yet.
func (s *Service) createPersonWithout(w inventory.Writer, by inventory.Actor, in inventory.Person) (inventory.Person,
	error) {
	if err := by.Must(inventory.ActKeepPeople, ""); err != nil {
		return in, err
	}
	if err := account.CheckWho(w, in); err != nil {
		return in, err
	}
	if err := account.NameFree(w, in.Name); err != nil {
		return in, err
	}
	in, err := w.AddPerson(in)
	if err != nil {
		return in, err
	}
	return in, w.AddHistory([]inventory.HistoryEntry{s.account.AboutPerson(by, inventory.HistoryPersonAdded, in,
		account.Standing(in))})
}

var usageColumns = []column{
	{"station", cellCode, "station", true},
	{"item", cellCode, "item code", true},
	{"period", cellPrinted, "the month, or the day", true},
	{"qty", cellNumber, "units used in it", true},
}

type usageReader struct {
	known    map[inventory.PastUsage]int // what is kept, by all but the quantity
	stations map[string]inventory.Station
	items    map[string]bool
}

func newUsageReader(*importing) rowReader {
	return &usageReader{stations: map[string]inventory.Station{}, items: map[string]bool{}}
}

func (u *usageReader) end() error { return nil }

func (u *usageReader) row(r *record) error {
	if err := u.load(r.im.w); err != nil {
		return err
	}
	in := inventory.PastUsage{Station: r.code("station"), Item: r.code("item"), Period: r.dated("period"),
		Qty: r.number("qty")}
	what := in.Item + " at " + in.Station + " in " + in.Period
	if err := inventory.MergeErrors(r.problems.Err(), u.judge(r, in)); err != nil {
		return r.im.settled(r, Refused, what, err)
	}
	key := in
	key.Qty = 0
	old, known := u.known[key]
	if known && old == in.Qty {
		return r.im.settled(r, Unchanged, what, nil)
	}
	u.known[key] = in.Qty
	err := r.im.w.SetPastUsage(in)
	if known {
		key.Qty = old
		return r.im.changed(r, what, usageRow(key), usageRow(in), err)
	}
	return r.im.settled(r, Created, what, err)
}

func (u *usageReader) judge(r *record, in inventory.PastUsage) error {
	station, err := ledger.Cached(u.stations, in.Station, r.im.w.Station)
	if err = inventory.AsField(err, "station", "station"); err == nil {
		err = r.im.by.Must(inventory.ActKeepStock, in.Station)
	}
	_, noItem := ledger.Cached(u.items, in.Item, func(code string) (bool, error) {
		_,
			err := r.im.w.Item(code)
		return true, err
	})
	return inventory.MergeErrors(err, inventory.AsField(noItem, "item", "item"), in.Check(station.Today(r.im.now)))
}

func (u *usageReader) load(r inventory.Reader) error {
	if u.known != nil {
		return nil
	}
	u.known = map[inventory.PastUsage]int{}
	all, err := r.PastUsage(inventory.UsageFilter{})
	for _, x := range all {
		qty := x.Qty
		x.Qty = 0
		u.known[x] = qty
	}
	return err
}
