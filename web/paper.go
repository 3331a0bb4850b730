package web

import (
	"cmp"
	"fmt"
	"net/http"
	"net/url"
	"slices"
	"strconv"

	"stowkeeper/inventory"
	"stowkeeper/inventory/count"
	"stowkeeper/inventory/message"
	"stowkeeper/inventory/stock"
	"stowkeeper/inventory/storeroom"
	"stowkeeper/labels"
)

// paperPage is sheets to print: pick lists, and what is filled in by hand on a day when the network is down.
type paperPage struct {
	Base
	Kinds, Stations []NavLink
	Kind, Station   string
	Bags            []Option // to choose some of
	Sheets          []Sheet
}

// Sheet is a page of paper. Its symbol opens the page on which it is typed in afterwards, or else the sheet itself.
type Sheet struct {
	Title, Text   message.Message
	AsOf          inventory.Day
	Walk          bool // it is typed in by the sheets of its bags
	Href, Address string
	Symbol        string // an SVG path of one unit a module
	Side          int    // of it, in modules
	Head          []message.Message
	Rows          []SheetRow
	Notes         []message.Message
	Sign          []message.Message // lines to fill in
}

// SheetRow is a row of a sheet; New begins the shelf or the pouch that it is of.
type SheetRow struct {
	Of    message.Message
	New   bool
	Cells []SheetCell
}

// SheetCell is a text, boxes to tick, or room to write where it is neither.
type SheetCell struct {
	Text  message.Message
	Whole bool // not broken into two lines
	Boxes []message.Message
}

// symbolSide is that of a printed symbol with its quiet zone, mm. Where an address is too long for it, that is written.
const symbolSide = 29

// blankRows are for batches that the records do not have in a place.
const blankRows = 4

const (
	paperRestock = "restock"
	paperCheck   = "check"
	paperUse     = "use"
	paperCount   = "count"
)

var paperKinds = []struct {
	kind string
	text message.Message
}{
	{paperRestock, message.M("Restock")}, {paperCheck, message.M("Full check")}, {paperUse, message.M("Use")},
	{paperCount, message.M("Counts")},
}

// onPaper tells a form that types in what was written on paper, and seenPosition what the bag was when that was
// printed: who filled it in saw nothing newer.
func (v *visit) onPaper() bool { return v.Query("paper") != "" }

func (v *visit) seenPosition(b inventory.Bag) int64 {
	return cmp.Or(idOf(v.Query("position")), b.Position)
}

func paperPath(kind string, more url.Values) string {
	more.Set("kind", kind)
	return "/paper?" + more.Encode()
}

// showPaper shows sheets of one kind for a whole station, or for the bags or the place that the address names.
func (s *server) showPaper(v *visit) error {
	station, err := v.stationAsked()
	if err != nil {
		return err
	}
	kind := cmp.Or(v.Query("kind"), paperRestock)
	p := &paperPage{Base: Base{Title: message.M("Paper forms")}, Kind: kind}
	for _, k := range paperKinds {
		q := v.Request.URL.Query()
		p.Kinds = append(p.Kinds, NavLink{paperPath(k.kind, q), k.text, k.kind == kind})
	}
	if kind == paperCount {
		p.Sheets, err = s.countSheets(v, station)
	} else {
		var plans []storeroom.RestockPlan
		named := v.Request.URL.Query()["bag"]
		plans, err = s.svc.Storeroom.RestockPlans(v.ctx(), v.actor, station.Code, named)
		p.Sheets = s.bagSheets(v, kind, plans)
		if len(plans) > 0 {
			station = plans[0].Checklist.Station
		}
		for _, b := range v.nextBags(inventory.Bag{AtStation: station.Code, Purpose: inventory.ForIssue}) {
			p.Bags = append(p.Bags, Option{Value: b.Code, Text: message.Plain(b.Code), Chosen: slices.Contains(named, b.Code)})
		}
	}
	p.Stations, p.Station = v.stationLinks("/paper", station.Code), station.Code
	for i := range p.Stations {
		p.Stations[i].Href += "&kind=" + url.QueryEscape(kind)
	}
	if err != nil {
		return noSuchBag(err)
	}
	for i := range p.Sheets {
		x := &p.Sheets[i]
		x.Address = s.opt.BaseURL + x.Href
		x.Symbol, x.Side, _ = labels.Path(x.Address, symbolSide)
	}
	return s.render(v, http.StatusOK, p)
}

func (s *server) bagSheets(v *visit, kind string, plans []storeroom.RestockPlan) (out []Sheet) {
	stores := v.places()
	for _, plan := range plans {
		c := plan.Checklist
		typed := "?paper=yes&position=" + strconv.FormatInt(c.Bag.Position, 10)
		x := Sheet{AsOf: plan.AsOf, Text: message.Join(", ", message.Plain(c.Bag.Name), message.Plain(c.Bag.Vehicle),
			message.Plain(c.Station.Name))}
		switch kind {
		case paperCheck:
			x.Title, x.Href = message.M("Full check of {1}", c.Bag.Code), bagPath(c.Bag.Code)+"/full-check"+typed
			x.addContents(c, message.M("Counted"), message.M("Note"), boxCell)
			x.Sign = []message.Message{message.M("Seal found"), message.M("New seal number"), message.M("Who"),
				message.M("When")}
		case paperUse:
			x.Title, x.Href = message.M("Use from {1}", c.Bag.Code), bagPath(c.Bag.Code)+"/use"+typed
			x.addContents(c, message.M("Units"), message.M("Used"), numberCell)
			x.Sign = []message.Message{message.M("Incident number"), message.M("New seal number"), message.M("Who"),
				message.M("When")}
		default:
			x.Title, x.Href = message.M("Restock {1}", c.Bag.Code), "/bags/"+url.PathEscape(c.Bag.Code)+"/restock?paper=yes"
			x.addPicks(plan, v.itemsByCode(), v.kitLists(), stores)
			x.Sign = []message.Message{message.M("New seal number"), message.M("Who"), message.M("When")}
			if len(x.Rows)+len(x.Notes) == 0 {
				continue
			}
			x.Notes = append(x.Notes, message.M("Put this sheet in the bag."))
		}
		out = append(out, x)
	}
	if kind == paperRestock && len(out) > 1 {
		out = slices.Insert(out, 0, s.walkSheet(v, plans, stores))
	}
	return out
}

// walkSheet is the way round the store for several bags: each batch once, with a box for each bag that it goes to.
func (s *server) walkSheet(v *visit, plans []storeroom.RestockPlan, stores []inventory.Place) Sheet {
	type shelf struct {
		pick inventory.Pick
		name string
		into []message.Message
		qty  int
		bag  string // the last of into
		here int    // that go there
	}
	var walk []*shelf
	var codes []message.Message
	for _, plan := range plans {
		if len(plan.Lines) > 0 {
			codes = append(codes, message.Plain(plan.Bag))
		}
		for _, x := range plan.Lines {
			i := slices.IndexFunc(walk, func(y *shelf) bool { return y.pick.LotID == x.LotID && y.pick.From == x.From })
			if i < 0 {
				name := message.Plain(nameOf(v.itemsByCode(), x.Item))
				if x.InspectFirst {
					name = message.Join(", ", name, message.M("Inspect first"))
				}
				i, walk = len(walk), append(walk, &shelf{pick: x, name: name.String()})
			}
			y := walk[i]
			if y.qty += x.Qty; y.bag != plan.Bag {
				y.bag, y.here, y.into = plan.Bag, 0, append(y.into, nil)
			}
			y.here += x.Qty
			y.into[len(y.into)-1] = message.Plain(fmt.Sprint(y.here, " ", plan.Bag))
		}
	}
	slices.SortStableFunc(walk, func(a, b *shelf) int {
		return cmp.Or(cmpText(placeName(stores, a.pick.From), placeName(stores, b.pick.From)), cmpText(a.name, b.name),
			inventory.CompareEnd(a.pick.UsableThrough, b.pick.UsableThrough))
	})
	out := Sheet{Title: message.M("Pick list"), Text: message.Join(", ", codes...), Walk: true, AsOf: plans[0].AsOf,
		Href: paperPath(paperRestock, v.Request.URL.Query()), Sign: []message.Message{message.M("Who"), message.M("When")},
		Head: []message.Message{message.M("Place"), message.M("Item"), message.M("Batch"), message.M("Use by"),
			message.M("Units"), message.M("Put in")}}
	for _, x := range walk {
		out.add(message.Plain(placeName(stores, x.pick.From)), batchCells(x.name, x.pick.BatchNo, x.pick.Serial,
			x.pick.UsableThrough, numberCell(x.qty), SheetCell{Boxes: x.into})...)
	}
	return out
}

func numberCell(n int) SheetCell { return SheetCell{Text: message.Plain(strconv.Itoa(n))} }

func boxCell(n int) SheetCell {
	return SheetCell{Boxes: []message.Message{message.Plain(strconv.Itoa(n))}}
}

// batchCells are what a sheet says of a batch, and what stands beside it.
func batchCells(name, batch, serial string, through inventory.Day, more ...SheetCell) []SheetCell {
	number, ends := lotLabel(batch, serial), message.M("no date")
	if batch+serial != "" {
		number = message.Plain(cmp.Or(serial, batch))
	}
	if through != 0 {
		ends = message.M("{1}", through)
	}
	return append([]SheetCell{{Text: message.Plain(name)}, {Text: number, Whole: true}, {Text: ends, Whole: true}},
		more...)
}

// addPicks lists what comes out of a bag, what goes in by pouch, and what the store does not have.
func (x *Sheet) addPicks(plan storeroom.RestockPlan, items map[string]inventory.Item, lists KitLists,
	stores []inventory.Place) {
	x.Head = []message.Message{message.M("Pouch"), message.M("Item"), message.M("Batch"), message.M("Use by"),
		message.M("Place"), message.M("Units")}
	for _, o := range plan.TakeOut {
		name := message.Join(", ", message.Plain(nameOf(items, o.Item)), o.Why)
		x.add(message.M("Take out"), batchCells(name.String(), o.BatchNo, o.Serial, o.UsableThrough,
			SheetCell{Text: goesTo(o.To, o.Reason)}, boxCell(o.Qty))...)
	}
	pouch := func(p inventory.Pick) int {
		return slices.IndexFunc(plan.Checklist.Pouches, func(g inventory.Pouch) bool { return g.Name == p.Pouch })
	}
	for _, p := range slices.SortedStableFunc(slices.Values(plan.Lines), func(a, b inventory.Pick) int {
		return cmp.Compare(pouch(a), pouch(b))
	}) {
		name := []message.Message{message.Plain(nameOf(items, p.Item))}
		if p.ShortDated {
			name = append(name, message.M("short-dated"))
		}
		if p.PriorClaim != "" {
			name = append(name, message.M("{1} has priority", p.PriorClaim))
		}
		if p.InspectFirst {
			name = append(name, message.M("Inspect first"))
		}
		x.add(message.Plain(p.Pouch), batchCells(message.Join(", ", name...).String(), p.BatchNo, p.Serial,
			p.UsableThrough, SheetCell{Text: message.Plain(placeName(stores, p.From))}, boxCell(p.Qty))...)
	}
	for _, m := range plan.Modules {
		x.Notes = append(x.Notes, message.M("Module {1}", lists.Named(m.KitList)+", "+m.Module))
	}
	for _, u := range plan.Unfilled {
		x.Notes = append(x.Notes, message.Join(": ", message.M("Not in the store"), message.Plain(fmt.Sprint(u.Qty, " × ",
			cmp.Or(nameOf(items, u.Item), lists.Named(u.KitList))))))
	}
}

// addContents lists what should be in a bag, by pouch, each with its number and room to write.
func (x *Sheet) addContents(c inventory.Checklist, number, room message.Message, cell func(int) SheetCell) {
	x.Head = []message.Message{message.M("Pouch"), message.M("Item"), message.M("Batch"), message.M("Use by"), number,
		room}
	for _, pv := range contentsOf(c) {
		for _, line := range pv.Lines {
			name := message.Join(", ", message.Plain(line.Name), askedFor(line)).String()
			for _, l := range line.Lots {
				x.add(pv.Name, batchCells(name, l.BatchNo, l.Serial, l.UsableThrough, cell(l.Qty), SheetCell{})...)
			}
			if len(line.Lots) == 0 {
				count := cell(0)
				if line.CarriedElsewhere != "" {
					count = SheetCell{}
				}
				x.add(pv.Name, SheetCell{Text: message.Plain(name)}, SheetCell{}, SheetCell{}, count, SheetCell{})
			}
		}
	}
}

// add adds a row; the place or pouch that it is of begins with a heavier rule.
func (x *Sheet) add(of message.Message, cells ...SheetCell) {
	last := len(x.Rows) - 1
	x.Rows = append(x.Rows, SheetRow{of, last < 0 || x.Rows[last].Of.String() != of.String(), cells})
}

// countSheets list what may lie in each place that is counted, without how many.
func (s *server) countSheets(v *visit, station inventory.Station) ([]Sheet, error) {
	only := s.placeAt(v, inventory.NormalCode(v.Query("place")))
	if only.Code != "" {
		station = v.station(only.Station)
	}
	lots, err := s.svc.Stock.Lots(v.ctx(), v.actor, inventory.LotFilter{Stations: []string{station.Code}, Held: true}, 0,
		inventory.Page{})
	var out []Sheet
	for _, pl := range v.places() {
		if pl.Station != station.Code || only.Code != "" && pl.Code != only.Code ||
			!slices.Contains(count.Kinds, pl.Kind) {
			continue
		}
		x := Sheet{Title: message.M("Count {1}", pl.Name), Text: message.Plain(station.Name), Href: countsPath(pl.Code),
			AsOf: station.Today(v.now), Sign: []message.Message{message.M("Who"), message.M("When")},
			Head: []message.Message{message.M("Item"), message.M("Batch"), message.M("Use by"), message.M("Counted"),
				message.M("Note")}}
		for _, l := range sortLots(lots, v.itemsByCode()) {
			if slices.ContainsFunc(l.Where, func(w stock.AtPlace) bool { return w.Place == pl.Code }) {
				name := nameOf(v.itemsByCode(), l.Item)
				x.add(message.Plain(name), batchCells(name, l.BatchNo, l.Serial, l.UsableThrough, SheetCell{},
					SheetCell{})[1:]...)
			}
		}
		for range blankRows {
			x.add(nil, make([]SheetCell, len(x.Head)-1)...)
		}
		out = append(out, x)
	}
	return out, err
}
