package web

import (
	"slices"

	"stowkeeper/inventory"
)

// StationLink leads to the same page for another station.
type StationLink struct {
	Href, Name string
	Current    bool
}

// stationAsked returns the person's stations and the one that the page is about:
// the one named in the address, else the first.
func (s *server) stationAsked(v *visit) ([]inventory.Station, inventory.Station, error) {
	stations, err := s.svc.Lists.Stations(v.ctx(), v.actor)
	if err != nil {
		return nil, inventory.Station{}, err
	}
	asked := inventory.NormalCode(v.Query("station"))
	for _, x := range stations {
		if asked == "" || x.Code == asked {
			return stations, x, nil
		}
	}
	if asked == "" {
		return nil, inventory.Station{}, inventory.Errorf(inventory.NotFound, "no station exists yet")
	}
	return nil, inventory.Station{}, inventory.Errorf(inventory.NotFound, "none of your stations has this code")
}

// stationOf returns one of the person's stations, for its time zone.
func stationOf(stations []inventory.Station, code string) inventory.Station {
	i := slices.IndexFunc(stations, func(s inventory.Station) bool { return s.Code == code })
	if i < 0 {
		return inventory.Station{Code: code, Name: code}
	}
	return stations[i]
}

func stationLinks(path string, stations []inventory.Station, here inventory.Station) []StationLink {
	if len(stations) < 2 {
		return nil
	}
	var out []StationLink
	for _, x := range stations {
		out = append(out, StationLink{path + "?station=" + x.Code, x.Name, x.Code == here.Code})
	}
	return out
}

// allStationLinks leads to a page for each station, and for all of them.
func allStationLinks(path string, stations []inventory.Station, chosen string) []StationLink {
	links := stationLinks(path, stations, inventory.Station{Code: chosen})
	if links == nil {
		return nil
	}
	return append([]StationLink{{path, "All stations", chosen == ""}}, links...)
}

// stationsAsked returns the station named in the address, to narrow a page to it,
// or none for all.
func stationsAsked(v *visit, stations []inventory.Station) (only []string, chosen string) {
	code := inventory.NormalCode(v.Query("station"))
	for _, x := range stations {
		if x.Code == code {
			return []string{code}, code
		}
	}
	return nil, ""
}

// StationDay is a today, and the stations where it is that day; no names where
// it is the same everywhere on the page.
type StationDay struct {
	Day   inventory.Day
	Names string
}

// stationDays gathers the stations by the day that it is there.
func stationDays(stations []inventory.Station, only []string, now inventory.Instant) []StationDay {
	var out []StationDay
	for _, x := range stations {
		if len(only) > 0 && only[0] != x.Code {
			continue
		}
		day := x.Today(now)
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

func stationOptions(stations []inventory.Station) []Option {
	var out []Option
	for _, x := range stations {
		out = append(out, Option{Value: x.Code, Text: x.Name})
	}
	return out
}
