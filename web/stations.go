package web

import (
	"slices"

	"stowkeeper/inventory"
	"stowkeeper/inventory/message"
)

// station returns one of the visitor's stations, for its time zone, closed or not.
func (v *visit) station(code string) inventory.Station {
	all := v.everyStation()
	i := slices.IndexFunc(all, func(s inventory.Station) bool { return s.Code == code })
	if i < 0 {
		return inventory.Station{Code: code, Name: code}
	}
	return all[i]
}

// ownStation is the first of the visitor's stations, in whose time is told what
// belongs to none, such as a batch; none where there is none.
func (v *visit) ownStation() inventory.Station {
	if all := v.stations(); len(all) > 0 {
		return all[0]
	}
	return inventory.Station{}
}

// stationAsked returns the station that the page is about: the one named in the address, else the first.
func (v *visit) stationAsked() (inventory.Station, error) {
	asked := inventory.NormalCode(v.Query("station"))
	for _, x := range v.stations() {
		if asked == "" || x.Code == asked {
			return x, nil
		}
	}
	if asked == "" {
		return inventory.Station{}, inventory.Refuse(inventory.NotFound, "no stations yet")
	}
	return inventory.Station{}, inventory.Refuse(inventory.NotFound, "not found")
}

// stationsAsked returns the station named in the address, to narrow a page to it, or none for all.
func (v *visit) stationsAsked() (only []string, chosen string) {
	code := inventory.NormalCode(v.Query("station"))
	for _, x := range v.everyStation() { // the history of one that is closed stays
		if x.Code == code {
			return []string{code}, code
		}
	}
	return nil, ""
}

// stationLinks leads to a page for each station, where there are several.
func (v *visit) stationLinks(path, here string) []NavLink {
	if len(v.stations()) < 2 {
		return nil
	}
	var out []NavLink
	for _, x := range v.stations() {
		out = append(out, NavLink{path + "?station=" + x.Code, message.Plain(x.Name), x.Code == here})
	}
	return out
}

// allStationLinks leads to a page for each station, and for all of them.
func (v *visit) allStationLinks(path, chosen string) []NavLink {
	links := v.stationLinks(path, chosen)
	if links == nil {
		return nil
	}
	return append([]NavLink{{path, message.M("All stations"), chosen == ""}}, links...)
}

// StationDay is a today, and the stations where it is that day; no names where it is the same everywhere on the page.
type StationDay struct {
	Day   inventory.Day
	Names string
}

// today gathers the stations, or only some, by the day that it is there.
func (v *visit) today(only []string) []StationDay {
	var out []StationDay
	for _, x := range v.stations() {
		if len(only) > 0 && only[0] != x.Code {
			continue
		}
		day := x.Today(v.now)
		i := slices.IndexFunc(out, func(d StationDay) bool { return d.Day == day })
		if i < 0 {
			out = append(out, StationDay{Day: day, Names: x.Name})
		} else {
			out[i].Names += ", " + x.Name
		}
	}
	if len(out) == 1 && len(only) == 0 {
		out[0].Names = ""
	}
	return out
}

func (v *visit) stationField(f *form, name string, label message.Message) Field {
	var options []Option
	for _, x := range v.stations() {
		options = append(options, Option{Value: x.Code, Text: message.Plain(x.Name)})
	}
	return f.choice(name, label, options)
}

// anyStation chooses one of them, or all.
func (v *visit) anyStation(f *form) Field {
	x := v.stationField(f, "station", message.M("Station"))
	x.Empty = message.M("All stations")
	return x
}
