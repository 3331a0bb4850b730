package lists

import (
	"slices"

	"stowkeeper/inventory"
)

func SummaryOf(v inventory.BagView, now inventory.Instant, ask Outlook) inventory.BagSummary {
	r := inventory.ReadinessOf(v, now, ask.AsOf, ask.Days())
	b := inventory.BagSummary{Bag: v.Bag, State: r.State, Headline: inventory.Headline(v.Bag, r)}
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
	v := inventory.BagView{Bag: b, Items: map[string]inventory.Item{}}
	var err error
	if v.Station, err = r.Station(b.AtStation); err != nil {
		return v, err
	}
	if v.List, err = r.KitList(b.KitList, b.KitListVersion); err != nil {
		return v, err
	}
	if v.Stock, err = r.Stock(inventory.StockFilter{Places: []string{b.Code}}); err != nil {
		return v, err
	}
	if v.Observations, err = r.Observations(inventory.ObservationFilter{Bags: []string{b.Code}, Open: true}); err != nil {
		return v, err
	}
	here := []string{b.Code}
	if v.Miscounts, err = r.BalanceChecks(inventory.BalanceFilter{Places: here, Latest: true, Differ: true}); err != nil {
		return v, err
	}
	if v.Owed, err = r.OwedEntries(inventory.OwedFilter{Places: here, Open: true}); err != nil {
		return v, err
	}
	codes := v.List.Items()
	for _, c := range v.Miscounts {
		codes = append(codes, c.Item)
	}
	for _, o := range v.Owed {
		codes = append(codes, o.Item)
	}
	for _, st := range v.Stock {
		codes = append(codes, st.Lot.Item)
	}
	if v.Items, err = ItemsByCode(r, inventory.ItemFilter{Codes: codes}); err != nil || b.Inside != "" {
		return v, err
	}
	modules, err := r.Bags(inventory.BagFilter{Inside: b.Code}, inventory.Page{})
	if err != nil {
		return v, err
	}
	for _, m := range modules {
		inside, err := LoadBag(r, m)
		if err != nil {
			return v, err
		}
		v.Modules = append(v.Modules, inside)
	}
	return v, nil
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
func LoadBags(r inventory.Reader, f inventory.BagFilter, p inventory.Page,
	items map[string]inventory.Item) ([]inventory.BagView, error) {
	bags, err := r.Bags(f, p)
	if err != nil {
		return nil, err
	}
	asked := len(bags)
	if bags, err = withModules(r, bags); err != nil {
		return nil, err
	}
	stations, err := StationsByCode(r)
	if err != nil {
		return nil, err
	}
	lists, err := listsInUse(r)
	if err != nil {
		return nil, err
	}
	of := inventory.StockFilter{Kinds: []inventory.PlaceKind{inventory.KindBag}, Stations: f.AtStations}
	if p.Limit > 0 {
		for _, b := range bags {
			of.Places = append(of.Places, b.Code)
		}
	}
	stock, err := stockOfBags(r, of, len(bags))
	if err != nil {
		return nil, err
	}
	observations, err := r.Observations(inventory.ObservationFilter{AtStations: f.AtStations, Open: true})
	if err != nil {
		return nil, err
	}
	miscounts, err := r.BalanceChecks(inventory.BalanceFilter{Latest: true, Differ: true})
	if err != nil {
		return nil, err
	}
	owed, err := r.OwedEntries(inventory.OwedFilter{Open: true})
	if err != nil {
		return nil, err
	}
	views := make([]inventory.BagView, len(bags))
	index := make(map[string]int, len(bags))
	for i, b := range bags {
		views[i] = inventory.BagView{Bag: b, Station: stations[b.AtStation], List: lists[listVersion{b.KitList,
			b.KitListVersion}], Items: items}
		index[b.Code] = i
	}
	for _, o := range observations {
		if i, ok := index[o.Bag]; ok {
			views[i].Observations = append(views[i].Observations, o)
		}
	}
	for _, c := range miscounts {
		if i, ok := index[c.Place]; ok {
			views[i].Miscounts = append(views[i].Miscounts, c)
		}
	}
	for _, o := range owed {
		for _, place := range []string{o.From, o.To} {
			if i, ok := index[place]; ok {
				views[i].Owed = append(views[i].Owed, o)
			}
		}
	}
	for from := 0; from < len(stock); { // stock comes ordered by place
		to := from + 1
		for to < len(stock) && stock[to].Place == stock[from].Place {
			to++
		}
		if i, ok := index[stock[from].Place]; ok {
			views[i].Stock = stock[from:to:to]
		}
		from = to
	}
	for _, v := range views {
		if i, ok := index[v.Bag.Inside]; ok {
			views[i].Modules = append(views[i].Modules, v)
		}
	}
	return views[:asked], nil
}

// withModules adds the modules of bags that are not among them, at the end. A
// module is where its bag is.
func withModules(r inventory.Reader, bags []inventory.Bag) ([]inventory.Bag, error) {
	modules, err := r.Bags(inventory.BagFilter{Modules: true}, inventory.Page{})
	if err != nil || len(modules) == 0 || len(bags) == 0 {
		return bags, err
	}
	there := make(map[string]bool, len(bags))
	for _, b := range bags {
		there[b.Code] = true
	}
	for _, m := range modules {
		if there[m.Inside] && !there[m.Code] {
			bags = append(bags, m)
		}
	}
	return bags, nil
}

// Exists refuses a kit list or a bag to be inside of that does not exist.
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

func stockOfBags(r inventory.Reader, f inventory.StockFilter, bags int) ([]inventory.Stock, error) {
	if bags == 0 {
		return nil, nil
	}
	return r.Stock(f)
}

type listVersion struct {
	code    string
	version int
}

func listsInUse(r inventory.Reader) (map[listVersion]inventory.KitList, error) {
	all, err := r.KitListVersions(nil)
	m := make(map[listVersion]inventory.KitList, len(all))
	for _, k := range all {
		m[listVersion{k.Code, k.Version}] = k
	}
	return m, err
}

func StationsByCode(r inventory.Reader) (map[string]inventory.Station, error) {
	all, err := r.Stations()
	m := make(map[string]inventory.Station, len(all))
	for _, s := range all {
		m[s.Code] = s
	}
	return m, err
}

// LoadReportInput reads all that the shortage report looks at: the bags for issue and
// the stores of every station, since what one lacks another may hold.
func LoadReportInput(r inventory.Reader) (inventory.ReportInput, error) {
	g := inventory.ReportInput{StationOf: map[string]string{}, Products: map[int64]inventory.Product{}}
	var err error
	if g.Stations, err = r.Stations(); err != nil {
		return g, err
	}
	if g.Items, err = ItemsByCode(r, inventory.ItemFilter{}); err != nil {
		return g, err
	}
	if g.Bags, err = LoadBags(r, inventory.BagFilter{Purpose: inventory.ForIssue}, inventory.Page{}, g.Items); err != nil {
		return g, err
	}
	if g.Stores, err = r.Stock(inventory.StockFilter{Kinds: []inventory.PlaceKind{inventory.KindStore},
		Purpose: inventory.ForIssue}); err != nil {
		return g, err
	}
	places, err := r.Places(inventory.PlaceFilter{Kind: inventory.KindStore}, inventory.Page{})
	if err != nil {
		return g, err
	}
	for _, p := range places {
		g.StationOf[p.Code] = p.Station
	}
	products, err := r.Products(inventory.ProductFilter{}, inventory.Page{})
	for _, p := range products {
		g.Products[p.ID] = p
	}
	return g, err
}

// Ask says what day a reading is about. AsOf 0 is today at each station; Horizon
// below zero is the default.
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
