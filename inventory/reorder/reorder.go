package reorder

import (
	"math"
	"slices"
	"sort"
)

// Terms are what the level of an item at a station follows from. Times are in days, or all in weeks or months.
type Terms struct {
	Use    Use     // in a day
	Lead   float64 // from ordering to having the units
	LeadSD float64 // its standard deviation, 0 for always the same
	Review float64 // from one look at the stock to the next, 0 for at every use
}

// over is the use in the lead time and so much more, the lead time independent of the use.
func (t Terms) over(more float64) Use {
	u := t.Use.Over(t.Lead + more)
	u.Variance += t.Use.Mean * t.Use.Mean * t.LeadSD * t.LeadSD
	return u
}

// Cover is the use that a level has to cover: what is decided at one review arrives a lead time after the next.
func (t Terms) Cover() Use { return t.over(t.Review) }

// NoStockOut is the chance that a level lasts from a delivery to the next.
func (t Terms) NoStockOut(level int) float64 { return t.Cover().AtMost(level) }

// FillRate is the share of all units wanted that are there when they are wanted. Where stock is looked at with every
// use and units are used one at a time, it is the chance that one was there (W. J. Hopp and M. L. Spearman, Factory
// Physics, 2.4.2).
func (t Terms) FillRate(level int) float64 {
	if t.Use.Mean == 0 {
		return 1
	}
	if t.Review == 0 {
		return t.over(0).AtMost(level - 1)
	}
	missing := t.Cover().Short(level) - t.over(0).Short(level)
	return min(1, max(0, 1-missing/(t.Use.Mean*t.Review)))
}

// Measure is what a service level is a share of.
type Measure string

// Measures of service.
const (
	ByNoStockOut Measure = "no_stock_out" // of the times between deliveries those without any unit missing
	ByFillRate   Measure = "fill_rate"    // of the units wanted those that were there
)

// Level is the units to hold and have on order together, and what that gives.
type Level struct {
	Units                int
	NoStockOut, FillRate float64 // both measures, whichever was asked for
	Safety               float64 // units above the use that is expected
}

// BaseStock is the lowest level that reaches a service, above 0 and below 1; above 0.9999 it is that. Units are whole:
// nothing is rounded before the end, and then up.
func (t Terms) BaseStock(by Measure, service float64) Level {
	units := t.Cover().Quantile(service)
	if by == ByFillRate {
		enough := func(level int) bool { return t.FillRate(level) >= min(service, highest) }
		high := units + 1
		for !enough(high) {
			high *= 2
		}
		units = sort.Search(high, enough)
	}
	return Level{units, t.NoStockOut(units), t.FillRate(units), float64(units) - t.Cover().Mean}
}

// Critical is the service at which one unit more costs what it saves, by what a missing unit costs and what one too
// many does.
func Critical(missing, over float64) float64 { return missing / (missing + over) }

// Economic is the quantity to order at a time for the least cost of ordering and holding, not rounded (F. W. Harris,
// How many parts to make at once, 1913).
func Economic(perDay, orderCost, holdingCostPerUnitAndDay float64) float64 {
	return math.Sqrt(2 * perDay * orderCost / holdingCostPerUnitAndDay)
}

// MaxMin are the levels of the other policy, that of public health supply: at each collection up to Max, and at once
// where Min is reached.
type MaxMin struct{ Min, Max int }

// MaxMinOf holds what a supply period uses and a share of it, usually 0.25, beneath which nobody should fall. Both
// levels round up, once.
func MaxMinOf(perPeriod, share float64) MaxMin {
	return MaxMin{up(perPeriod * share), up(perPeriod * (1 + share))}
}

// up rounds up what is not whole but for the last bits of a computation.
func up(x float64) int { return int(math.Ceil(x - 1e-9)) }

// WithWaste is what has to be supplied so that so much is left after a share is wasted, below 1: the factor is not
// rounded.
func WithWaste(need, wasted float64) float64 { return need / (1 - wasted) }

// Position is what a level is compared with: units that are usable until a day or longer, and those on order, less
// those that bags are owed.
func Position(lots []Lot, outlast, onOrder, owed int) int {
	for _, l := range lots {
		if l.Through >= outlast {
			onOrder += l.Qty
		}
	}
	return onOrder - owed
}

// Need is what one station lacks up to its level, and the most that it can use before what is bought ends.
type Need struct{ Units, Most int } // below zero as 0

// Order is what to buy for several stations in packs.
type Order struct {
	Packs   int
	Shares  []int // units by station; together what is in the packs
	Missing int   // units wanted that are not bought: they would end first, or are fewer than the supplier sends
}

// Packs is how many packs hold so many units.
func Packs(units, pack int) int { return (units + pack - 1) / pack }

// OrderOf finds the fewest packs, of so many units each, that give every station what it needs, no station more than
// it can use in time. The supplier sends at least minimum units. Where there is no such number, it buys as many packs
// as can be used in time, or none where that is less than the minimum.
func OrderOf(needs []Need, pack, minimum int) Order {
	o := Order{Shares: make([]int, len(needs))}
	wanted, room, all := 0, 0, 0
	most := make([]int, len(needs))
	for i, n := range needs {
		most[i] = max(0, n.Most)
		o.Shares[i] = min(max(0, n.Units), most[i])
		all += max(0, n.Units)
		wanted += o.Shares[i]
		room += most[i]
	}
	if wanted > 0 {
		o.Packs = Packs(max(wanted, minimum), pack)
	}
	if o.Packs*pack > room {
		if o.Packs = room / pack; o.Packs*pack < minimum {
			o.Packs = 0
		}
	}
	units := o.Packs * pack
	for ; wanted < units; wanted++ { // what is over goes where most of it can be used
		o.Shares[widest(most, o.Shares)]++
	}
	for ; wanted > units; wanted-- {
		o.Shares[slices.Index(o.Shares, slices.Max(o.Shares))]--
	}
	for i, n := range needs {
		all -= min(max(0, n.Units), o.Shares[i])
	}
	o.Missing = all
	return o
}

// widest is the station with the most room above its share.
func widest(most, shares []int) int {
	best := 0
	for i := range most {
		if most[i]-shares[i] > most[best]-shares[best] {
			best = i
		}
	}
	return best
}
