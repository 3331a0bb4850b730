package inventory

import (
	"cmp"
	"context"
	"maps"
	"slices"
)

// Flow says what became of the units of one item in a period. Before and what
// came in is together what went out and the stock at the end:
// before + received + found + moved_in =
// used + trained + wasted + training_wasted + lost + moved_out + stock.
// A correction takes back what it undoes, in the period in which it was made.
type Flow struct {
	Item           string        `json:"item,omitempty" doc:"Item code; missing in the total"`
	Before         int           `json:"before" doc:"Units before the period"`
	Received       int           `json:"received"`
	Found          int           `json:"found"`
	MovedIn        int           `json:"moved_in" doc:"From stations that are not in this report"`
	Used           int           `json:"used" doc:"In incidents"`
	Trained        int           `json:"trained" doc:"By classes, or disposed of because of training"`
	Wasted         map[Cause]int `json:"wasted" doc:"Issue stock disposed of, by cause"`
	TrainingWasted int           `json:"training_wasted" doc:"Training stock disposed of: never counted as waste"`
	Lost           int           `json:"lost"`
	MovedOut       int           `json:"moved_out" doc:"To stations that are not in this report"`
	Stock          int           `json:"stock" doc:"Units at the end, in every place"`
}

// Flows is the report of what became of the units of each item.
type Flows struct {
	Since Day    `json:"since,omitempty" format:"date" doc:"First day; missing for the beginning"`
	Until Day    `json:"until,omitempty" format:"date" doc:"Last day; missing for now"`
	Rows  []Flow `json:"rows" doc:"By item"`
	Total Flow   `json:"total"`
}

// flowBook is what movements are told apart by.
type flowBook struct {
	items  map[int64]string // lot → item
	places map[string]Place // the places of the report
	byID   map[int64]Movement
}

// FlowsOf adds movements up by item. places are the places that the report is
// about; any other inside the service is elsewhere. dayOf tells the day of a
// movement; since and until are inclusive, 0 for no limit.
func FlowsOf(ms []Movement, items map[int64]string, places map[string]Place, dayOf func(Movement) Day, since, until Day) Flows {
	b := flowBook{items: items, places: places, byID: map[int64]Movement{}}
	for _, m := range ms {
		b.byID[m.ID] = m
	}
	rows := map[string]*Flow{}
	for _, m := range ms {
		day := dayOf(m)
		if until != 0 && day > until {
			continue
		}
		item := items[m.LotID]
		if rows[item] == nil {
			rows[item] = &Flow{Item: item, Wasted: map[Cause]int{}}
		}
		b.add(rows[item], m, day < since)
	}
	out := Flows{Since: since, Until: until, Rows: []Flow{}, Total: Flow{Wasted: map[Cause]int{}}}
	for _, item := range slices.Sorted(maps.Keys(rows)) {
		out.Rows = append(out.Rows, *rows[item])
		out.Total.plus(*rows[item])
	}
	return out
}

// add counts one movement. A correction counts as what it undoes, taken back.
func (b flowBook) add(f *Flow, m Movement, before bool) {
	qty := m.Qty
	if m.Reason == ReasonCorrection {
		m, qty = b.byID[m.Corrects], -m.Qty
	}
	from, fromHere := b.places[m.From]
	_, toHere := b.places[m.To]
	change := 0
	if toHere {
		change += qty
	}
	if fromHere {
		change -= qty
	}
	f.Stock += change
	switch {
	case before:
		f.Before += change
	case toHere && !fromHere:
		f.comeIn(m.From, qty)
	case fromHere && !toHere:
		f.goOut(m, from, qty)
	}
}

func (f *Flow) comeIn(from string, qty int) {
	switch PlaceKind(from) {
	case KindSupplier:
		f.Received += qty
	case KindFound:
		f.Found += qty
	case KindLost:
		f.Lost -= qty
	default:
		f.MovedIn += qty
	}
}

func (f *Flow) goOut(m Movement, from Place, qty int) {
	training := from.Purpose == ForTraining
	switch to := PlaceKind(m.To); {
	case to == KindUsed && training, to == KindDisposed && !training && m.Cause == CauseTraining:
		f.Trained += qty
	case to == KindUsed:
		f.Used += qty
	case to == KindDisposed && training:
		f.TrainingWasted += qty
	case to == KindDisposed:
		if f.Wasted[m.Cause] += qty; f.Wasted[m.Cause] == 0 {
			delete(f.Wasted, m.Cause)
		}
	case to == KindLost:
		f.Lost += qty
	case to == KindFound: // unidentified units that were identified, and so found anew
		f.Found -= qty
	default:
		f.MovedOut += qty
	}
}

// plus adds the numbers of another flow.
func (f *Flow) plus(o Flow) {
	for _, n := range []struct{ sum, more *int }{
		{&f.Before, &o.Before}, {&f.Received, &o.Received}, {&f.Found, &o.Found}, {&f.MovedIn, &o.MovedIn}, {&f.Used, &o.Used}, {&f.Trained, &o.Trained},
		{&f.TrainingWasted, &o.TrainingWasted}, {&f.Lost, &o.Lost}, {&f.MovedOut, &o.MovedOut}, {&f.Stock, &o.Stock},
	} {
		*n.sum += *n.more
	}
	for cause, n := range o.Wasted {
		f.Wasted[cause] += n
	}
}

// Waste returns all issue stock that was disposed of.
func (f Flow) Waste() int {
	n := 0
	for _, qty := range f.Wasted {
		n += qty
	}
	return n
}

// Balanced tells whether what came in is what went out and what is left.
func (f Flow) Balanced() bool {
	return f.Before+f.Received+f.Found+f.MovedIn == f.Used+f.Trained+f.Waste()+f.TrainingWasted+f.Lost+f.MovedOut+f.Stock
}

// Flows reports what became of the units of each item at the actor's sites, or
// at some of them. A place counts for the site that owns it. The day of a
// movement is that of its happening, at the site of its chain.
func (s *Service) Flows(ctx context.Context, by Actor, sites []string, since, until Day) (Flows, error) {
	return read(ctx, s, func(r Reader) (Flows, error) {
		if err := by.must(ActReport, ""); err != nil {
			return Flows{}, err
		}
		seen, err := by.narrow(sites)
		if err != nil {
			return Flows{}, err
		}
		if since != 0 && until != 0 && until < since {
			return Flows{}, Invalidf("until", "give a day on or after since")
		}
		places, err := r.Places(PlaceFilter{Sites: seen}, Page{})
		if err != nil {
			return Flows{}, err
		}
		here := map[string]Place{}
		for _, p := range places {
			here[p.Code] = p
		}
		lots, err := r.Lots(LotFilter{}, Page{})
		if err != nil {
			return Flows{}, err
		}
		items := map[int64]string{}
		for _, l := range lots {
			items[l.ID] = l.Item
		}
		ms, err := r.Movements(MovementFilter{Sites: seen}, Page{})
		if err != nil {
			return Flows{}, err
		}
		zones, err := sitesByCode(r)
		slices.SortFunc(ms, func(a, b Movement) int { return cmp.Compare(a.ID, b.ID) })
		return FlowsOf(ms, items, here, func(m Movement) Day { return zones[m.Site].Today(m.HappenedAt) }, since, until), err
	})
}
