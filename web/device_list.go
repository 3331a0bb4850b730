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

type devicesPage struct {
	Base
	Stations     []NavLink
	Chosen       string // the station that the page is narrowed to
	Today        []StationDay
	Item, Serial Field
	Rows         []DeviceRow
	More         int    // how many more there are
	All          string // leads to all of them
	Recorded     *Done

	MayTrain bool
}

// DeviceRow is a device in a list.
type DeviceRow struct {
	stock.DeviceSummary
	Place string // its name
}

// deviceRows is how many devices the list shows at first, and allRows how many when all of them are asked for.
const (
	deviceRows = phoneRows
	allRows    = 1000
)

// showDevices lists devices by what is due first.
func (s *server) showDevices(v *visit) error {
	only, chosen := v.stationsAsked()
	f := openForm(v.Request.URL.Query())
	found, err := s.findDevices(v, stock.DeviceFilter{Item: f.text("item"), Stations: only}, f.text("serial"))
	if err != nil {
		return err
	}
	slices.SortStableFunc(found, stock.CompareDue)
	p := &devicesPage{Base: Base{Title: message.M("Devices"), Caution: true},
		Stations: v.allStationLinks("/devices", chosen),
		Chosen:   chosen, Today: v.today(only), MayTrain: v.may(inventory.ActKeepStock)}
	p.limit(v.Request.URL.Query(), len(found))
	p.Rows = rowsOfDevices(v, found[:len(found)-p.More])
	p.Item = deviceItemField(v, f)
	p.Serial = f.field("serial", message.M("Serial number"))
	if p.Recorded, err = s.doneClass(v, v.stations()); err != nil {
		return err
	}
	return s.render(v, http.StatusOK, p)
}

// limit says how many of the devices found are left out, and leads to all of them.
func (p *devicesPage) limit(asked url.Values, found int) {
	if asked.Get("rows")+asked.Get("sort")+asked.Get("q") != "" {
		p.More = max(0, found-allRows)
		return
	}
	if p.More = max(0, found-deviceRows); p.More > 0 {
		asked.Set("rows", "all")
		asked.Del("done")
		p.All = "/devices?" + asked.Encode()
	}
}

// findDevices lists devices. A serial number is looked for as it was typed and in upper case.
func (s *server) findDevices(v *visit, f stock.DeviceFilter, serial string) ([]stock.DeviceSummary, error) {
	return inEitherCase(serial, func(text string) ([]stock.DeviceSummary, error) {
		f.Serial = text
		return s.svc.Stock.Devices(v.ctx(), v.actor, f, inventory.Page{})
	}, func(d stock.DeviceSummary) int64 { return d.ID })
}

// inEitherCase finds by a text as it was typed and in upper case, each once.
func inEitherCase[T any](typed string, find func(text string) ([]T, error), id func(T) int64) ([]T, error) {
	var out []T
	seen := map[int64]bool{}
	for _, text := range slices.Compact([]string{typed, strings.ToUpper(typed)}) {
		found, err := find(text)
		if err != nil {
			return nil, err
		}
		for _, x := range found {
			if !seen[id(x)] {
				seen[id(x)] = true
				out = append(out, x)
			}
		}
	}
	return out, nil
}

func rowsOfDevices(v *visit, found []stock.DeviceSummary) []DeviceRow {
	out := make([]DeviceRow, 0, len(found))
	for _, d := range found {
		row := DeviceRow{DeviceSummary: d}
		for _, w := range d.Where {
			row.Place = placeName(v.places(), w.Place)
			if row.Place != w.Place {
				row.Place += ", " + w.Place
			}
		}
		out = append(out, row)
	}
	return out
}

func deviceItemField(v *visit, f *form) Field {
	items := slices.DeleteFunc(slices.Clone(v.items()),
		func(it inventory.Item) bool { return it.TrackedBy != inventory.BySerial })
	x := f.choice("item", message.M("Item"), itemOptions(items, inventory.KitList{}))
	x.Empty = message.M("all items")
	return x
}
