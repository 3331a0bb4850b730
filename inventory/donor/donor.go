// Package donor says which station sends units to another that lacks them, and how far stations lie apart.
package donor

import (
	"cmp"
	"math"
	"strconv"
	"strings"
)

// Donor is a station from which units of an item could go to another that lacks them.
type Donor struct {
	Station string
	Left    int // usable units in its stores that its own bags do not need
	Reserve int // that the owner wants each station to keep
	Through int // the last day of the batch that it would send next; 0 where undated
	Away    Distance
}

// Spare is how many units it may send.
func (d Donor) Spare() int { return max(0, d.Left-d.Reserve) }

// Next says who sends next, by index, or -1 where nobody may: who can spare it longest-dated, then who is nearest,
// then by code.
func Next(all []Donor) int {
	best := -1
	for i, d := range all {
		if d.Spare() == 0 {
			continue
		}
		if best < 0 || cmp.Or(ends(all[best], d), d.Away.compare(all[best].Away),
			cmp.Compare(d.Station, all[best].Station)) < 0 {
			best = i
		}
	}
	return best
}

// ends compares by date: what is undated ends last.
func ends(a, b Donor) int {
	if a.Through == 0 || b.Through == 0 {
		return -cmp.Compare(a.Through, b.Through)
	}
	return cmp.Compare(a.Through, b.Through)
}

// Place is where a station lies: latitude and longitude in degrees, as in 51.48, -0.01, and the minutes to others by
// code, as in HT 25. Both are optional.
type Place struct {
	Code, Position string
	Minutes        []string
}

// Distance is how far two stations lie apart: minutes go before kilometres, and a distance that nobody gave is last.
type Distance struct {
	Minutes, Km float64
	By          DistanceBy
}

// DistanceBy says what a distance is known by.
type DistanceBy int

// What a distance is known by, the best first.
const (
	ByMinutes DistanceBy = iota
	ByPosition
	ByNothing
)

func (d Distance) compare(o Distance) int {
	return cmp.Or(cmp.Compare(d.By, o.By), cmp.Compare(d.Minutes, o.Minutes), cmp.Compare(d.Km, o.Km))
}

// earthKm is the mean radius R1 of the Earth (IUGG, 1980), in kilometres.
const earthKm = 6371.0088

// DistanceOf is how far b lies from a: by the minutes that either says of the other, a's first, or else along the
// great circle between their positions.
func DistanceOf(a, b Place) Distance {
	for _, x := range [][2]Place{{a, b}, {b, a}} {
		for _, t := range x[0].Minutes {
			if to, minutes, ok := Travel(t); ok && to == x[1].Code {
				return Distance{Minutes: float64(minutes), By: ByMinutes}
			}
		}
	}
	aLat, aLon, one := Position(a.Position)
	bLat, bLon, other := Position(b.Position)
	if !one || !other {
		return Distance{By: ByNothing}
	}
	hav := func(x float64) float64 { return math.Pow(math.Sin(x/2), 2) }
	h := hav(bLat-aLat) + math.Cos(aLat)*math.Cos(bLat)*hav(bLon-aLon)
	return Distance{Km: 2 * earthKm * math.Asin(math.Sqrt(min(1, h))), By: ByPosition}
}

// Position reads latitude and longitude, in degrees, as radians.
func Position(s string) (lat, lon float64, ok bool) {
	north, east, two := strings.Cut(s, ",")
	lat, err := strconv.ParseFloat(strings.TrimSpace(north), 64)
	lon, wrong := strconv.ParseFloat(strings.TrimSpace(east), 64)
	ok = two && err == nil && wrong == nil && math.Abs(lat) <= 90 && math.Abs(lon) <= 180
	return lat * math.Pi / 180, lon * math.Pi / 180, ok
}

// Travel reads a station's code and the minutes to it, as in HT 25.
func Travel(s string) (station string, minutes int, ok bool) {
	parts := strings.Fields(s)
	if len(parts) != 2 {
		return "", 0, false
	}
	minutes, err := strconv.Atoi(parts[1])
	return strings.ToUpper(parts[0]), minutes, err == nil && minutes > 0 && minutes <= 10000
}
