package exchange

import (
	"slices"

	"stowkeeper/inventory"
)

// ImportKind is what a file that is imported lists.
type ImportKind string

// The kinds of list, and everything: all of them at once, as an export has them.
const (
	ImportCategories   ImportKind = "categories"
	ImportStations     ImportKind = "stations"
	ImportPlaces       ImportKind = "places"
	ImportPeople       ImportKind = "people"
	ImportItems        ImportKind = "items"
	ImportProducts     ImportKind = "products"
	ImportKitLists     ImportKind = "kit-lists"
	ImportBags         ImportKind = "bags"
	ImportVehiclesOff  ImportKind = "vehicles-off"
	ImportStock        ImportKind = "stock"
	ImportObservations ImportKind = "observations"
	ImportNotices      ImportKind = "notices"
	ImportUsage        ImportKind = "usage"

	ImportEverything ImportKind = "everything"
)

// ImportKinds lists the kinds in the order in which one rests on another.
var ImportKinds = []ImportKind{
	ImportCategories, ImportStations, ImportPlaces, ImportPeople, ImportItems, ImportProducts, ImportKitLists, ImportBags,
	ImportVehiclesOff, ImportStock, ImportObservations, ImportNotices, ImportUsage,
}

// list is one kind of list: its columns, how it is written, and how it is read.
type list struct {
	about   string
	act     inventory.Action // what the importer's role must be allowed to do
	columns []column
	write   func(*exporting) error
	start   func(*importing) (rowReader, error)
}

// rowReader takes the rows of a table one after another, outside of a unit of work, and says by later what is to be
// done in one. It returns errors that end the import, and notes all others with the row.
type rowReader interface {
	row(*record) error
	end() error
}

// eachRow reads rows that do not depend on one another.
type eachRow func(*record) error

func (f eachRow) row(r *record) error { return r.im.later(task{of: r, do: f}) }
func (f eachRow) end() error          { return nil }

func alone(f eachRow) func(*importing) (rowReader, error) {
	return func(*importing) (rowReader, error) { return f, nil }
}

// kinds are all kinds of list.
var kinds = map[ImportKind]list{
	ImportCategories: listOf("Categories", inventory.ActKeepStations,
		categoryColumns, (*exporting).categories, alone(importCategory)),
	ImportStations: listOf("Stations", inventory.ActKeepStations,
		stationColumns, (*exporting).stationRows, alone(importStation)),
	ImportPlaces: listOf("Places", inventory.ActKeepLists,
		placeColumns, (*exporting).places, alone(importPlace)),
	ImportPeople: listOf("People; no PINs or passwords", inventory.ActKeepPeople,
		personColumns, (*exporting).people, alone(importPerson)),
	ImportItems: listOf("Items", inventory.ActKeepLists,
		itemColumns, (*exporting).items, alone(importItem)),
	ImportProducts: listOf("Products", inventory.ActKeepLists,
		productColumns, (*exporting).productRows, newProductReader),
	ImportKitLists: listOf("Kit lists; several rows make one list", inventory.ActKeepLists,
		kitListColumns, (*exporting).kitLists, newKitListReader),
	ImportBags: listOf("Bags, with last checks and seal", inventory.ActKeepLists,
		bagColumns, (*exporting).bags, newBagReader),
	ImportVehiclesOff: listOf("Vehicles out of service", inventory.ActKeepStock,
		vehicleColumns, (*exporting).vehiclesOffNow, alone(importVehicleOff)),
	ImportStock: listOf("Opening stock", inventory.ActKeepStock,
		stockColumns, (*exporting).stock, newStockReader),
	ImportObservations: listOf("Open observations", inventory.ActKeepStock,
		observationColumns, (*exporting).observations, alone(importObservation)),
	ImportNotices: listOf("Recalls and notices", inventory.ActKeepStock,
		noticeColumns, (*exporting).notices, alone(importNotice)),
	ImportUsage: listOf("Past usage, by month or day", inventory.ActKeepStock,
		usageColumns, (*exporting).usage, newUsageReader),
}

// formerNames are what tables and columns were called in exports before they
// had the names of today, and what people write over them.
var formerNames = map[string]string{
	"sites": "stations", "site": "station", "at_site": "at_station",
	"lot_no": "batch_no", "lot_nos": "batch_nos", "lot": "batch_no", "batch": "batch_no", "batch_number": "batch_no",
	"witnessed": "controlled", "at": "recorded_at", "taken_off": "out_of_service",
	"taken_off_by": "out_of_service_by", "taken_off_at": "out_of_service_at",
}

// kindOf returns the kind of list that a table of this name holds.
func kindOf(table string) (k ImportKind, ok bool) {
	k = ImportKind(table)
	if to, former := formerNames[table]; former {
		k = ImportKind(to)
	}
	_, ok = kinds[k]
	return k, ok
}

// TableNames lists the names that tables of an export have or had, for whoever looks into a folder.
func TableNames() []string {
	var out []string
	for _, k := range ImportKinds {
		out = append(out, string(k))
	}
	for from := range formerNames {
		if _, ok := kindOf(from); ok {
			out = append(out, from)
		}
	}
	return out
}

// ImportColumn is one column of a list, for people who prepare a file.
type ImportColumn struct {
	Name, Kind, About string
	Needed            bool // the column must be there
}

// ImportColumns lists the columns of a kind of list, none of everything.
func ImportColumns(k ImportKind) (about string, columns []ImportColumn) {
	for _, c := range kinds[k].columns {
		columns = append(columns, ImportColumn{c.name, cellWords[c.kind], c.about, c.presence == needed})
	}
	return kinds[k].about, columns
}

// MayImport tells whether an actor's role may import a kind of list.
func MayImport(by inventory.Actor, k ImportKind) bool {
	if k == ImportEverything {
		return !slices.ContainsFunc(ImportKinds, func(k ImportKind) bool { return !by.May(kinds[k].act) })
	}
	l, ok := kinds[k]
	return ok && by.May(l.act)
}
