package web

import (
	"net/http"
	"net/url"
	"slices"
	"strings"

	"stowkeeper/inventory"
	"stowkeeper/inventory/stock"
)

type devicesPage struct {
	Base
	Stations []StationLink
	Chosen   string // the station that the page is narrowed to
	Today    []StationDay
	Item     Field
	Serial   Field
	Rows     []DeviceRow
	More     int    // how many more there are
	All      string // leads to all of them
	Recorded *Done

	MayTrain bool
}

// DeviceRow is a device in a list.
type DeviceRow struct {
	stock.DeviceSummary
	Place string // its name
}

// deviceRows is how many devices the list shows at first, and allRows how many
// when all of them are asked for.
const (
	deviceRows = 40
	allRows    = 1000
)

// showDevices lists devices by what is due first.
func (s *server) showDevices(v *visit) error {
	stations, err := s.svc.Lists.Stations(v.ctx(), v.actor)
	if err != nil {
		return err
	}
	only, chosen := stationsAsked(v, stations)
	f := openForm(v.Request.URL.Query())
	found, err := s.findDevices(v, stock.DeviceFilter{Item: f.text("item"), Stations: only}, f.text("serial"))
	if err != nil {
		return err
	}
	slices.SortStableFunc(found, stock.CompareDue)
	p := &devicesPage{Base: Base{Title: "Devices", Caution: true}, Stations: allStationLinks("/devices", stations, chosen),
		Chosen: chosen, Today: stationDays(stations, only, v.now),
		MayTrain: v.may(inventory.ActKeepStock)}
	p.limit(v.Request.URL.Query(), len(found))
	if p.Rows, err = s.deviceRows(v, found[:len(found)-p.More]); err != nil {
		return err
	}
	if p.Item, err = s.deviceItemField(v, f); err != nil {
		return err
	}
	p.Serial = f.field("serial", "Serial number, as printed")
	if p.Recorded, err = s.doneClass(v, stations); err != nil {
		return err
	}
	return s.render(v, http.StatusOK, p)
}

// limit says how many of the devices found are left out, and leads to all of
// them.
func (p *devicesPage) limit(asked url.Values, found int) {
	if asked.Get("rows") == "all" {
		p.More = max(0, found-allRows)
		return
	}
	if p.More = max(0, found-deviceRows); p.More > 0 {
		asked.Set("rows", "all")
		asked.Del("done")
		p.All = "/devices?" + asked.Encode()
	}
}

// findDevices lists devices. A serial number is looked for as it was typed and
// in upper case.
func (s *server) findDevices(v *visit, f stock.DeviceFilter, serial string) ([]stock.DeviceSummary, error) {
	var out []stock.DeviceSummary
	seen := map[int64]bool{}
	for _, text := range []string{serial, strings.ToUpper(serial)} {
		f.Serial = text
		found, err := s.svc.Stock.Devices(v.ctx(), v.actor, f, inventory.Page{})
		if err != nil {
			return nil, err
		}
		for _, d := range found {
			if !seen[d.ID] {
				seen[d.ID] = true
				out = append(out, d)
			}
		}
		if serial == strings.ToUpper(serial) {
			break
		}
	}
	return out, nil
}

func (s *server) deviceRows(v *visit, found []stock.DeviceSummary) ([]DeviceRow, error) {
	places, err := s.svc.Lists.Places(v.ctx(), v.actor, inventory.PlaceFilter{}, inventory.Page{})
	out := make([]DeviceRow, 0, len(found))
	for _, d := range found {
		row := DeviceRow{DeviceSummary: d}
		for _, w := range d.Where {
			row.Place = placeName(places, w.Place)
			if row.Place != w.Place {
				row.Place += ", " + w.Place
			}
		}
		out = append(out, row)
	}
	return out, err
}

// deviceItemField chooses among the items whose units are devices.
func (s *server) deviceItemField(v *visit, f *form) (Field, error) {
	items, err := s.svc.Lists.Items(v.ctx(), v.actor, inventory.ItemFilter{}, inventory.Page{})
	items = slices.DeleteFunc(items, func(it inventory.Item) bool { return it.TrackedBy != inventory.BySerial })
	x := f.choice("item", "Item", itemOptions(items, inventory.KitList{}))
	x.Empty = "all items"
	return x, err
}
