package web

import (
	"net/http"
	"net/url"
	"slices"
	"strings"

	"stowkeeper/inventory"
	"stowkeeper/inventory/message"
	"stowkeeper/inventory/stock"
)

type placesPage struct {
	Base
	Groups []PlaceGroup
	Asked  string
	Lots   LotTable
	Search bool
}

// PlaceGroup is the places of one station.
type PlaceGroup struct {
	Name   string
	Places []inventory.Place
}

// showPlaces lists the places of the person's stations, and finds lots by what is printed on them.
func (s *server) showPlaces(v *visit) error {
	p := &placesPage{Base: Base{Title: message.M("Stock")}, Asked: strings.TrimSpace(v.Query("q"))}
	for _, station := range v.stations() {
		g := PlaceGroup{Name: station.Name}
		for _, pl := range v.places() {
			if pl.Station == station.Code {
				g.Places = append(g.Places, pl)
			}
		}
		p.Groups = append(p.Groups, g)
	}
	if p.Asked != "" {
		var err error
		if p.Lots.Rows, err = s.findLots(v, p.Asked); err != nil {
			return err
		}
		p.Lots.Where, p.Search = true, true
	}
	return s.render(v, http.StatusOK, p)
}

func placeKind(p inventory.Place) message.Message {
	if p.Purpose == inventory.ForTraining {
		return message.M("training {1}", placeKindWords[p.Kind])
	}
	return placeKindWords[p.Kind]
}

// findLots finds lots by batch or serial number, as printed or as typed in upper case.
func (s *server) findLots(v *visit, asked string) (rows []LotRow, err error) {
	lots, err := inEitherCase(asked, func(text string) ([]stock.LotSummary, error) {
		page := inventory.Page{Limit: 200}
		byBatch, err := s.svc.Stock.Lots(v.ctx(), v.actor, inventory.LotFilter{BatchNo: text}, 0, page)
		if err != nil {
			return nil, err
		}
		bySerial, err := s.svc.Stock.Lots(v.ctx(), v.actor, inventory.LotFilter{Serial: text}, 0, page)
		return append(byBatch, bySerial...), err
	}, func(l stock.LotSummary) int64 { return l.ID })
	for _, l := range lots {
		rows = append(rows, lotRow(l, v.itemsByCode()))
	}
	return rows, err
}

// LotTable is a list of lots, with where they are or without.
type LotTable struct {
	Rows  []LotRow
	Where bool
	One   bool // all of one item, which stands above
}

// LotRow is a lot in a list.
type LotRow struct {
	stock.LotSummary
	Name      string
	Label     message.Message
	Qty       int
	NotUsable bool // it does not count today
	Href      string
	GiveHref  string // the way to give it to training, where it ends soon or has ended
	ApartHref string // what may be done with it, where it is set apart
}

func lotRow(l stock.LotSummary, items map[string]inventory.Item) LotRow {
	row := LotRow{LotSummary: l, Name: nameOf(items, l.Item), Label: lotLabel(l.BatchNo, l.Serial),
		Href: "/lots/" + formatID(l.ID)}
	if l.Device() {
		row.Href = devicePath(l.ID)
	}
	for _, w := range l.Where {
		row.Qty += w.Qty
	}
	return row
}

type stockPage struct {
	Base
	Place   inventory.Place
	Kind    message.Message
	Station inventory.Station
	Today   inventory.Day
	Shelf   string // leads to the labels of its shelves, for who may print them
	MayList bool   // this person may look through all stock
	Send    string // leads to the form for what is left somewhere
	Count   string // leads to the form to count it
	Counted When   // the last time
	Expired int    // batches that may go to the bin at once
	Done    *Done
	Item    string // name of the one item that is shown, where it is one
	Lots    LotTable
}

// showStock lists what lies in a place, item by item, in the order in which it is picked.
func (s *server) showStock(v *visit) error {
	code := inventory.NormalCode(v.Param("place"))
	places := v.places()
	i := slices.IndexFunc(places, func(p inventory.Place) bool { return p.Code == code })
	if i < 0 {
		return inventory.Refuse(inventory.NotFound, "not found at your stations")
	}
	if places[i].Kind == inventory.KindBag {
		return v.to(bagPath(code))
	}
	lots, err := s.svc.Stock.StockAt(v.ctx(), v.actor, code)
	if err != nil {
		return err
	}
	items := v.itemsByCode()
	station := v.station(places[i].Station)
	p := &stockPage{Base: Base{Title: message.Plain(places[i].Name)}, Place: places[i], Kind: placeKind(places[i]),
		Station: station, Today: station.Today(v.now)}
	if p.Place.Kind == inventory.KindStore && v.may(inventory.ActLabel) {
		p.Shelf = "/labels?" + url.Values{"kind": {"shelf"}, "place": {p.Place.Code}}.Encode()
	}
	if p.Place.Kind != inventory.KindAway && v.may(inventory.ActCheck) {
		p.Send = awaySendPath(p.Place.Code)
	}
	if p.Place.Kind != inventory.KindAway && v.may(inventory.ActKeepStock) {
		last, err := s.svc.Count.LastCounts(v.ctx(), v.actor)
		if err != nil {
			return err
		}
		p.Count, p.Counted = countsPath(p.Place.Code), whenAt(last[p.Place.Code], station)
	}
	if kind, _ := doneParam(v); kind == "apart" {
		p.Done = &Done{Title: message.M("Recorded")}
	}
	if v.may(inventory.ActKeepStock) {
		p.Expired = len(stock.ToTheBin(p.Place, lots, items, p.Today))
	}
	only := inventory.NormalCode(v.Query("item"))
	if only != "" {
		p.Item, p.Lots.One = nameOf(items, only), true
		p.Title = message.M("{1}, {2}", p.Item, p.Title)
	}
	for _, l := range sortLots(lots, items) {
		if only != "" && l.Item != only {
			continue
		}
		row := lotRow(l, items)
		row.NotUsable = !inventory.Usable(items[l.Item], l.Lot, p.Today, p.Place.Purpose)
		if it := items[l.Item]; v.may(inventory.ActKeepStock) && stock.MayGoToTraining(it, l.Lot, p.Place) &&
			stock.EndsWithin(it, l.Lot, p.Today, inventory.DefaultHorizonDays) {
			row.GiveHref = toTrainingPath(l.ID, p.Place.Code)
		}
		if v.may(inventory.ActKeepStock) && p.Place.Kind == inventory.KindQuarantine && !l.Device() {
			row.ApartHref = quarantinePath(l.ID, p.Place.Code)
		}
		p.Lots.Rows = append(p.Lots.Rows, row)
	}
	p.MayList = v.may(inventory.ActHistory)
	return s.render(v, http.StatusOK, p)
}
