package web

import (
	"net/http"
	"net/url"
	"slices"

	"stowkeeper/inventory"
	"stowkeeper/inventory/message"
	"stowkeeper/inventory/stock"
)

type placesPage struct {
	Base
	Places  []inventory.Place
	MayKeep bool
}

// showPlaces lists the places of the person's stations.
func (s *server) showPlaces(v *visit) error {
	return s.render(v, http.StatusOK, &placesPage{Base: Base{Title: message.M("Places")}, Places: v.places(),
		MayKeep: v.may(inventory.ActKeepLists)})
}

type placePage struct {
	Base
	Code, Name, Station, Kind, Holder Field
	Training                          bool
}

// placeKinds are the kinds of places that people make by hand.
var placeKinds = []inventory.PlaceKind{inventory.KindStore, inventory.KindCarrier, inventory.KindQuarantine}

func (s *server) placeForm(v *visit, f *form, failed error) error {
	if len(f.values) == 0 {
		f.values = url.Values{"kind": {string(inventory.KindStore)}, "station": {v.ownStation().Code}}
	}
	p := &placePage{Base: Base{Title: message.M("Add place")}}
	p.Code, p.Name = f.field("code", message.M("Code")).Need(), f.field("name", message.M("Name")).Need()
	p.Station = v.stationField(f, "station", message.M("Station")).Need()
	p.Kind = f.choice("kind", message.M("What"), optionsOf(placeKinds, placeKindWords)).Need()
	p.Holder = f.field("holder", message.M("Holder, never a patient"))
	p.Training = f.text("training") != ""
	return s.renderForm(v, f, p, failed)
}

func (s *server) createPlace(v *visit, f *form) error {
	in := inventory.Place{Code: inventory.NormalCode(f.text("code")), Name: f.text("name"), Station: f.text("station"),
		Kind: inventory.PlaceKind(f.text("kind")), Purpose: inventory.ForIssue, Holder: f.text("holder")}
	if f.text("training") != "" {
		in.Purpose = inventory.ForTraining
	}
	if _, err := s.svc.Lists.CreatePlace(v.ctx(), v.actor, in); err != nil {
		return err
	}
	return v.to(placePath(in))
}

func placeKind(p inventory.Place) message.Message {
	if p.Purpose == inventory.ForTraining {
		return message.M("training {1}", placeKindWords[p.Kind])
	}
	return placeKindWords[p.Kind]
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
	Bins      []Bin  // it has expired
}

// Bin is expired units in a place that one press on their row disposes of.
type Bin struct {
	inventory.Movement
	Key  string
	Text message.Message
}

// binsIn lists what may go to the bin from a place, for those who may send it there.
func binsIn(v *visit, place inventory.Place, held []stock.LotSummary) []Bin {
	var out []Bin
	if v.may(inventory.ActKeepStock) {
		for _, m := range stock.ToTheBin(place, held, v.itemsByCode(), v.station(place.Station).Today(v.now)) {
			out = append(out, Bin{m, newKey(), message.M("{1}: {2}", message.M("Dispose of units"),
				message.M("{1} in {2}", m.Qty, place.Name))})
		}
	}
	return out
}

func binsOf(bins []Bin, lot int64) []Bin {
	return slices.DeleteFunc(slices.Clone(bins), func(b Bin) bool { return b.LotID != lot })
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
	bins := binsIn(v, p.Place, lots)
	p.Expired = len(bins)
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
		row.Bins = binsOf(bins, l.ID)
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
