package lists

import (
	"cmp"
	"maps"
	"slices"

	"stowkeeper/inventory"
)

func SummaryOf(v inventory.BagView, now inventory.Instant, ask Outlook) inventory.BagSummary {
	return Summary(v.Bag, inventory.ReadinessOf(v, now, ask.AsOf, ask.Days()))
}

// Summary sums up what a reading of a bag found.
func Summary(bag inventory.Bag, r inventory.Readiness) inventory.BagSummary {
	b := inventory.BagSummary{Bag: bag, State: r.State, Headline: inventory.Headline(bag, r), Strip: r.Strip()}
	for _, f := range r.Findings {
		if f.Severity == inventory.SeverityStop {
			b.Stops++
		} else {
			b.Warnings++
		}
		if !slices.Contains(b.Kinds, f.Kind) {
			b.Kinds = append(b.Kinds, f.Kind)
		}
	}
	return b
}

// LoadBag reads all that the rules need to know of one bag.
func LoadBag(r inventory.Reader, b inventory.Bag) (inventory.BagView, error) {
	views, err := LoadNamed(r, []inventory.Bag{b})
	if err != nil {
		return inventory.BagView{Bag: b}, err
	}
	return views[0], nil
}

// LoadNamed reads all that the rules need to know of some bags, and nothing of others.
func LoadNamed(r inventory.Reader, bags []inventory.Bag) ([]inventory.BagView, error) {
	if len(bags) == 0 {
		return nil, nil
	}
	here, err := bagsAround(r, bags)
	if err != nil {
		return nil, err
	}
	all := withModules(bags, here)
	codes := make([]string, 0, len(all))
	for _, b := range all {
		codes = append(codes, b.Code)
	}
	views, err := loadViews(r, all, inventory.StockFilter{Places: codes})
	if err != nil {
		return nil, err
	}
	setTwins(views, here)
	return views[:len(bags)], nil
}

func ItemsByCode(r inventory.Reader, f inventory.ItemFilter) (map[string]inventory.Item, error) {
	items, err := r.Items(f, inventory.Page{})
	m := make(map[string]inventory.Item, len(items))
	for _, it := range items {
		m[it.Code] = it
	}
	return m, err
}

// LoadBags reads all that the rules need to know of many bags, in a number of
// queries that does not depend on how many.
func LoadBags(r inventory.Reader, f inventory.BagFilter, p inventory.Page) ([]inventory.BagView, error) {
	bags, err := r.Bags(f, p)
	if err != nil || len(bags) == 0 {
		return nil, err
	}
	if p != (inventory.Page{}) || f.KitList+f.Inside+f.Vehicle != "" || f.Lent {
		return LoadNamed(r, bags)
	}
	// Modules are among them: they are where their bag is. Whoever wants all bags of a station wants what lies in its
	// other places too, and asks for the same.
	views, err := loadViews(r, bags, inventory.StockFilter{Stations: f.AtStations})
	here := bags
	if err == nil && (f.Purpose != "" || f.Codes != nil) {
		here, err = bagsAround(r, bags)
	}
	setTwins(views, here)
	return views, err
}

// bagsAround reads all bags where some bags are: among them are their modules, and those that may bear the same seal.
func bagsAround(r inventory.Reader, bags []inventory.Bag) ([]inventory.Bag, error) {
	var at []string
	for _, b := range bags {
		at = append(at, b.AtStation)
	}
	slices.Sort(at)
	return r.Bags(inventory.BagFilter{AtStations: slices.Compact(at)}, inventory.Page{})
}

// withModules adds the modules of bags that are not among them, at the end.
func withModules(bags, here []inventory.Bag) []inventory.Bag {
	there := make(map[string]bool, len(bags))
	for _, b := range bags {
		there[b.Code] = true
	}
	out := slices.Clone(bags)
	for _, m := range here {
		if there[m.Inside] && !there[m.Code] {
			out = append(out, m)
		}
	}
	return out
}

// setTwins tells each bag, and the modules in it, of the other bags of its station that bear its seal number.
func setTwins(views []inventory.BagView, here []inventory.Bag) {
	type seal struct{ station, number string }
	sealOf := func(b inventory.Bag) seal { return seal{b.AtStation, inventory.FoldSeal(b.Seal)} }
	on := map[seal][]string{}
	for _, b := range here {
		if b.Seal != "" && b.SealState != inventory.SealNone {
			on[sealOf(b)] = append(on[sealOf(b)], b.Code)
		}
	}
	var set func([]inventory.BagView)
	set = func(views []inventory.BagView) {
		for i := range views {
			if twins := on[sealOf(views[i].Bag)]; slices.Contains(twins, views[i].Bag.Code) && len(twins) > 1 {
				own := func(code string) bool { return code == views[i].Bag.Code }
				views[i].SealTwins = slices.DeleteFunc(slices.Clone(twins), own)
			}
			set(views[i].Modules)
		}
	}
	set(views)
}

// bagFacts is what bags are judged by, read for all of them at once.
type bagFacts struct {
	stations     map[string]inventory.Station
	lists        map[string][]inventory.KitList // by code, in the order of their versions
	stock        []inventory.Stock
	observations []inventory.Observation
	checks       []inventory.BalanceCheck
	owed         []inventory.OwedEntry
	reports      []inventory.UnderReview
}

// loadViews reads what the rules need to know of bags that were read. of is
// their stock; where it names places, nothing but theirs is read.
func loadViews(r inventory.Reader, bags []inventory.Bag, of inventory.StockFilter) ([]inventory.BagView, error) {
	var x bagFacts
	var errs [8]error
	theirs := of.Places != nil
	x.stations, errs[0] = StationsByCode(r)
	x.lists, errs[1] = listsOf(r, bags, theirs)
	x.stock, errs[2] = r.Stock(of)
	x.observations, errs[3] = r.Observations(inventory.ObservationFilter{Bags: of.Places, AtStations: of.Stations,
		Open: true})
	x.checks, errs[4] = r.BalanceChecks(inventory.BalanceFilter{Places: of.Places, Latest: true})
	x.owed, errs[5] = r.OwedEntries(inventory.OwedFilter{Places: of.Places, Open: true})
	x.reports, errs[7] = r.UnderReview(inventory.UnderReviewFilter{Places: of.Places, AtStations: of.Stations})
	views := x.views(bags)
	var codes []string
	for i := 0; theirs && i < len(views); i++ {
		codes = append(codes, itemCodes(views[i])...)
	}
	slices.Sort(codes)
	items, err := ItemsByCode(r, inventory.ItemFilter{Codes: slices.Compact(codes)})
	errs[6] = err
	for i := range views {
		if views[i].Items = items; theirs {
			views[i].Items = ItemsOf(views[i], items)
		}
	}
	putInside(views)
	return views, cmp.Or(errs[:]...)
}

// putInside puts each module into its bag.
func putInside(views []inventory.BagView) {
	index := make(map[string]*inventory.BagView, len(views))
	for i, v := range views {
		index[v.Bag.Code] = &views[i]
	}
	for _, v := range views {
		if outer := index[v.Bag.Inside]; outer != nil {
			outer.Modules = append(outer.Modules, v)
		}
	}
}

// listsOf reads the versions of kit lists that bags use, or all that are in use, and newer ones, by code.
func listsOf(r inventory.Reader, bags []inventory.Bag, theirs bool) (map[string][]inventory.KitList, error) {
	var of []inventory.ListVersion
	for _, b := range bags {
		key := inventory.ListVersion{Code: b.KitList, Version: b.KitListVersion}
		if theirs && !slices.Contains(of, key) {
			of = append(of, key)
		}
	}
	used := map[string][]inventory.KitList{}
	all, err := r.KitListVersions(of)
	for _, k := range all {
		used[k.Code] = append(used[k.Code], k)
	}
	return used, err
}

// itemCodes names every item that a bag's list names or that it holds or held.
func itemCodes(v inventory.BagView) []string {
	codes := v.List.Items()
	for _, st := range v.Stock {
		codes = append(codes, st.Lot.Item)
	}
	for _, c := range v.Miscounts {
		codes = append(codes, c.Item)
	}
	for _, o := range v.Owed {
		codes = append(codes, o.Item)
	}
	for _, u := range v.Reports {
		for _, said := range u.Says {
			codes = append(codes, said.Item)
		}
	}
	return codes
}

// ItemsOf keeps, of all items, those that a bag's list names or that it holds or held.
func ItemsOf(v inventory.BagView, all map[string]inventory.Item) map[string]inventory.Item {
	out := map[string]inventory.Item{}
	for _, code := range itemCodes(v) {
		if it, ok := all[code]; ok {
			out[code] = it
		}
	}
	return out
}

// views gives each bag its part of the facts.
func (x bagFacts) views(bags []inventory.Bag) []inventory.BagView {
	views := make([]inventory.BagView, len(bags))
	index := make(map[string]*inventory.BagView, len(bags))
	for i, b := range bags {
		views[i] = inventory.BagView{Bag: b, Station: x.stations[b.AtStation], Versions: x.lists[b.KitList]}
		for _, k := range x.lists[b.KitList] {
			if k.Version == b.KitListVersion {
				views[i].List = k
			}
		}
		index[b.Code] = &views[i]
	}
	for _, o := range x.observations {
		if v := index[o.Bag]; v != nil {
			v.Observations = append(v.Observations, o)
		}
	}
	for _, c := range x.checks {
		if v := index[c.Place]; v != nil && c.Differs() {
			v.Miscounts = append(v.Miscounts, c)
		}
	}
	for _, o := range x.owed {
		for _, place := range slices.Compact([]string{o.From, o.To}) {
			if v := index[place]; v != nil {
				v.Owed = append(v.Owed, o)
			}
		}
	}
	for _, u := range x.reports {
		for code, says := range saysByBag(u) {
			if v := index[code]; v != nil {
				u.Says = says
				v.Reports = append(v.Reports, u)
			}
		}
	}
	for from := 0; from < len(x.stock); { // it comes ordered by place
		to := from + 1
		for to < len(x.stock) && x.stock[to].Place == x.stock[from].Place {
			to++
		}
		if v := index[x.stock[from].Place]; v != nil {
			v.Stock = x.stock[from:to:to]
		}
		from = to
	}
	return views
}

// saysByBag is what a report says of each bag that it is about, at least of its own.
func saysByBag(u inventory.UnderReview) map[string][]inventory.Reported {
	by := map[string][]inventory.Reported{u.Bag: nil}
	for _, said := range u.Says {
		by[said.Place] = append(by[said.Place], said)
	}
	return by
}

// Exists refuses a kit list or a bag to be inside of that does not exist. Refuses: NotFound.
func Exists(f inventory.BagFilter, r inventory.Reader) error {
	if f.KitList != "" {
		if _, err := r.KitList(f.KitList, 0); err != nil {
			return err
		}
	}
	if f.Inside == "" {
		return nil
	}
	_, err := r.Bag(f.Inside)
	return err
}

func StationsByCode(r inventory.Reader) (map[string]inventory.Station, error) {
	all, err := r.Stations()
	m := make(map[string]inventory.Station, len(all))
	for _, s := range all {
		m[s.Code] = s
	}
	return m, err
}

// LoadReportInput reads all that the shortage report looks at: the bags and the
// stores of a purpose at some stations, at every one where none is named.
func LoadReportInput(r inventory.Reader, of inventory.Purpose, stations []string) (inventory.ReportInput, error) {
	var errs [3]error
	g, err := StoresOf(r, of, stations)
	errs[0] = err
	g.Bags, errs[1] = LoadBags(r, inventory.BagFilter{AtStations: stations, Purpose: of}, inventory.Page{})
	products, err := r.Products(inventory.ProductFilter{}, inventory.Page{})
	for _, p := range products {
		g.Products[p.ID] = p
	}
	errs[2] = err
	return g, cmp.Or(errs[:]...)
}

// LoadRecords reads bags with their records and the versions of their lists, and nothing of what is in them.
func LoadRecords(r inventory.Reader, f inventory.BagFilter) ([]inventory.BagView, error) {
	bags, err := r.Bags(f, inventory.Page{})
	if err != nil || len(bags) == 0 {
		return nil, err
	}
	var x bagFacts
	var errs [2]error
	x.stations, errs[0] = StationsByCode(r)
	x.lists, errs[1] = listsOf(r, bags, true)
	return x.views(bags), cmp.Or(errs[:]...)
}

// StoresWith reads what the stores of a purpose hold of some items, with the products that these prefer, without bags.
func StoresWith(r inventory.Reader, of inventory.Purpose, items map[string]bool) (inventory.ReportInput, error) {
	g := inventory.ReportInput{StationOf: map[string]string{}, Products: map[int64]inventory.Product{}}
	codes := append(slices.Sorted(maps.Keys(items)), "") // of none where none is wanted
	var errs [5]error
	g.Stations, errs[0] = r.Stations()
	g.Stations = slices.DeleteFunc(g.Stations, inventory.Station.Closed)
	g.Items, errs[1] = ItemsByCode(r, inventory.ItemFilter{Codes: codes})
	places, err := r.Places(inventory.PlaceFilter{Kind: inventory.KindStore}, inventory.Page{})
	for _, p := range places {
		if p.Purpose == of {
			g.StationOf[p.Code] = p.Station
		}
	}
	errs[2] = err
	all, err := r.Stock(inventory.StockFilter{Places: append(slices.Sorted(maps.Keys(g.StationOf)), "")})
	for _, st := range all {
		if items[st.Lot.Item] {
			g.Stores = append(g.Stores, st)
		}
	}
	errs[3] = err
	products, err := r.Products(inventory.ProductFilter{}, inventory.Page{})
	for _, p := range products {
		g.Products[p.ID] = p
	}
	errs[4] = err
	return g, cmp.Or(errs[:]...)
}

// StoresOf reads what the stores of a purpose hold, without bags and products.
func StoresOf(r inventory.Reader, of inventory.Purpose, stations []string) (inventory.ReportInput, error) {
	g := inventory.ReportInput{StationOf: map[string]string{}, Products: map[int64]inventory.Product{}}
	var errs [4]error
	g.Stations, errs[0] = r.Stations()
	g.Stations = slices.DeleteFunc(g.Stations, inventory.Station.Closed)
	g.Items, errs[1] = ItemsByCode(r, inventory.ItemFilter{})
	places, err := r.Places(inventory.PlaceFilter{Stations: stations, Retired: true}, inventory.Page{}) // as others ask
	for _, p := range places {
		if p.Purpose == of && p.Kind == inventory.KindStore {
			g.StationOf[p.Code] = p.Station
		}
	}
	errs[2] = err
	all, err := r.Stock(inventory.StockFilter{Stations: stations})
	for _, st := range all {
		if g.StationOf[st.Place] != "" {
			g.Stores = append(g.Stores, st)
		}
	}
	errs[3] = err
	return g, cmp.Or(errs[:]...)
}

// Outlook says what day a reading is about. AsOf 0 is today at each station; Horizon below zero is the default.
type Outlook struct {
	AsOf    inventory.Day
	Horizon int
}

func (a Outlook) Days() int {
	if a.Horizon < 0 {
		return inventory.DefaultHorizonDays
	}
	return a.Horizon
}
