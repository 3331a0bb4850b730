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

type stockTablePage struct {
	Base
	Stations []NavLink
	Now      When
	Rows     []StockRow
	Columns  []Option // to choose from
	Has      ShownColumns
	MayKeep  bool
}

// ShownColumns is which columns of the table of stock are shown.
type ShownColumns struct{ Store, Others, Bags, Date, Missing, OnOrder bool }

// StockRow is an item in the table of stock, opened to its batches or not.
type StockRow struct {
	stock.OfItem
	Href    string // opens or closes it
	Open    bool
	Numbers string // of its batches, by which it is found
	OnOrder int    // not there, and not counted elsewhere
	Lots    []StockLotRow
}

// StockLotRow is a batch beneath its item.
type StockLotRow struct {
	stock.OfBatch
	Label message.Message
	Href  string
	Bins  []Bin
}

// columnsCookie remembers which columns of the table of stock this browser leaves out.
const columnsCookie = "stowkeeper_columns"

// stockColumns may be left out; an item and its unit always stand there.
var stockColumns = []Option{{Value: "store", Text: message.M("Store")},
	{Value: "others", Text: message.M("Other stations")}, {Value: "bags", Text: message.M("Bags")},
	{Value: "date", Text: message.M("Use by")}, {Value: "missing", Text: message.M("Missing")},
	{Value: "order", Text: message.M("On order")}}

// showStockTable shows a station's stock item by item.
func (s *server) showStockTable(v *visit) error {
	station, err := v.stationAsked()
	if err != nil {
		return err
	}
	items, err := s.svc.Stock.ByItem(v.ctx(), v.actor, station)
	if err != nil {
		return err
	}
	p := &stockTablePage{Base: Base{Title: message.M("Stock")}, Stations: v.stationLinks("/stock", station.Code),
		Now: whenAt(v.now, station), MayKeep: v.may(inventory.ActKeepLists)}
	out, _ := v.Cookie(columnsCookie)
	for _, c := range stockColumns {
		c.Chosen = !slices.Contains(strings.Split(out, "."), c.Value)
		p.Columns = append(p.Columns, c)
	}
	shown := func(i int) bool { return p.Columns[i].Chosen }
	p.Has = ShownColumns{shown(0), shown(1), shown(2), shown(3), shown(4), shown(5)}
	coming, err := s.svc.Order.OnOrder(v.ctx(), v.actor, station.Code)
	for _, it := range items {
		row := stockRow(it, v.Request.URL.Query())
		row.OnOrder = coming[it.Code]
		if row.Open && err == nil {
			err = s.addBins(v, station, row.Lots)
		}
		p.Rows = append(p.Rows, row)
	}
	if err != nil {
		return err
	}
	return s.render(v, http.StatusOK, p)
}

func stockRow(it stock.OfItem, q url.Values) StockRow {
	row := StockRow{OfItem: it, Open: q.Get("open") == it.Code}
	q.Set("open", it.Code)
	if row.Open {
		q.Del("open")
	}
	row.Href = "/stock?" + q.Encode() + "#i-" + it.Code
	var numbers []string
	for _, b := range it.Batches {
		numbers = append(numbers, b.BatchNo+b.Serial)
		if row.Open {
			row.Lots = append(row.Lots, StockLotRow{OfBatch: b, Label: lotLabel(b.BatchNo, b.Serial),
				Href: "/lots/" + formatID(b.LotID)})
		}
	}
	row.Numbers = strings.Join(numbers, " ")
	return row
}

// addBins puts onto the batches of an item what of them may go to the bin from the stores of a station.
func (s *server) addBins(v *visit, station inventory.Station, rows []StockLotRow) error {
	for _, place := range v.places() {
		if place.Station != station.Code || place.Kind != inventory.KindStore {
			continue
		}
		held, err := s.svc.Stock.StockAt(v.ctx(), v.actor, place.Code)
		if err != nil {
			return err
		}
		bins := binsIn(v, place, held)
		for _, l := range held {
			for i := range rows {
				if rows[i].Batch.ID == l.Batch.ID {
					rows[i].Bins = append(rows[i].Bins, binsOf(bins, l.ID)...)
				}
			}
		}
	}
	return nil
}

// chooseColumns keeps which columns this browser shows of the table of stock.
func (s *server) chooseColumns(v *visit) error {
	var out []string
	for _, c := range stockColumns {
		if !slices.Contains(v.Request.PostForm["column"], c.Value) {
			out = append(out, c.Value)
		}
	}
	v.keep(columnsCookie, strings.Join(out, "."), terminalLife, false)
	return v.to(v.cameFrom())
}
