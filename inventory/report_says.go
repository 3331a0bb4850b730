package inventory

import (
	"cmp"
	"slices"
	"strings"
)

// saying gathers what a report says, given what is recorded in the bags that it is about.
type saying struct {
	held map[PlaceLot]int
	says []Reported
}

func newSaying(held []Stock) *saying {
	s := &saying{held: map[PlaceLot]int{}}
	for _, st := range held {
		s.held[PlaceLot{st.Place, st.Lot.ID}] += st.Qty
	}
	return s
}

// units adds units of a lot that are not to be counted on: no more than there are.
func (s *saying) units(place string, lot int64, kind ReportedKind, n int, note string) *Reported {
	had := s.held[PlaceLot{place, lot}]
	i := slices.IndexFunc(s.says, func(r Reported) bool { return r.Place == place && r.LotID == lot })
	if i < 0 {
		i, s.says = len(s.says), append(s.says, Reported{Place: place, Kind: kind, LotID: lot, Pool: had, Note: note})
	}
	s.says[i].Qty = min(s.says[i].Qty+n, had)
	return &s.says[i]
}

// seal adds what is wrong with the seal, unless something later is known of it.
func (s *saying) seal(b Bag, position int64, at Instant, seen string, broken, left bool) {
	r := Reported{Place: b.Code}
	switch {
	case b.KnowsLater(position, at):
		return
	case broken:
		r.Kind = ReportedBroken
	case seen != "" && b.Seal != "" && !SameSeal(seen, b.Seal):
		r.Kind = ReportedOther
	case left && b.Seal != "":
		r.Kind = ReportedOpened
	default:
		return
	}
	s.says = append(s.says, r)
}

// Says is what a use that comes to review says of the bags that it is about, given the bag and what is recorded in
// them.
func (u Use) Says(b Bag, held []Stock) []Reported {
	s := newSaying(held)
	for _, l := range u.Lines {
		s.units(cmp.Or(l.CameFrom, u.Bag), l.LotID, ReportedUsed, l.Qty, "")
	}
	s.seal(b, u.SeenPosition, u.HappenedAt, u.SealSeen, false, u.SealSet == "")
	return s.says
}

// Says is what a check that comes to review says of the bags that it is about, given the bag, what is recorded in them,
// what moved in the bag after the crew looked, and the item of each device that was inspected.
func (c Check) Says(b Bag, held []Stock, since map[int64]int, items map[int64]Item) []Reported {
	s := newSaying(held)
	full := c.Kind == FullCheck
	for i, l := range c.Lines {
		if slices.IndexFunc(c.Lines, func(x CheckLine) bool { return x.LotID == l.LotID }) == i {
			s.count(c, l.LotID, since[l.LotID])
		}
	}
	for _, f := range c.Found {
		what := Reported{Place: b.Code, Item: f.Item, Qty: f.Qty, Kind: ReportedTraining}
		switch {
		case f.Reason == FoundTrainingMark:
			s.says = append(s.says, what)
		case f.CameFrom != "":
			s.took(f, b.Code, held)
		case f.Unidentified:
			what.Kind = ReportedUnknown
			s.says = append(s.says, what)
		}
	}
	for _, in := range c.Inspections {
		if failed := failing(items[in.LotID], in.Points); len(failed) > 0 {
			s.units(b.Code, in.LotID, ReportedFailed, 1, strings.Join(failed, "”, “")).Item = items[in.LotID].Code
		}
	}
	s.seal(b, c.SeenPosition, c.HappenedAt, c.SealSeen, c.SealBroken, full && c.SealSet == "")
	return s.says
}

// failing lists the points that failed, those too that the item has no more.
func failing(it Item, points []PointCheck) (out []string) {
	for _, p := range points {
		if !p.Pass && !slices.Contains(it.InspectionNotes, p.Point) {
			out = append(out, p.Point)
		}
	}
	return out
}

// count adds what a full check says of one lot: less than was recorded when the crew looked, or more that came from
// another bag. since is what moved after that.
func (s *saying) count(c Check, lot int64, since int) {
	less, kind, from := s.held[PlaceLot{c.Bag, lot}]-since, ReportedMissing, ""
	for _, l := range c.Lines {
		if l.LotID != lot {
			continue
		}
		less -= l.Counted
		if from = cmp.Or(from, l.CameFrom); l.Reason != "" && l.Reason != CountFound {
			kind = ReportedKind(l.Reason)
		}
	}
	if less > 0 {
		s.units(c.Bag, lot, kind, less, "")
	} else if from != "" && less < 0 {
		s.units(from, lot, ReportedMoved, -less, c.Bag)
	}
}

// took adds units that were found in a bag and came from another one: of the lots there that they could be.
func (s *saying) took(f FoundLine, into string, held []Stock) {
	n := f.Qty
	for _, st := range held {
		if st.Place == f.CameFrom && n > 0 && f.MayBe(st.Lot) {
			s.units(st.Place, st.Lot.ID, ReportedMoved, n, into)
			n -= min(n, st.Qty)
		}
	}
}

// MayBe tells whether what was found may be of a lot.
func (f FoundLine) MayBe(l Lot) bool {
	return l.Item == f.Item && (f.LotID == 0 || l.ID == f.LotID) &&
		(f.BatchNo == "" || FoldNumber(l.BatchNo) == FoldNumber(f.BatchNo)) &&
		(f.Serial == "" || FoldNumber(l.Serial) == FoldNumber(f.Serial))
}
