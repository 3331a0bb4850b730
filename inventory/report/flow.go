package report

import (
	"cmp"
	"context"
	"maps"
	"slices"

	"stowkeeper/inventory"
	"stowkeeper/inventory/lists"
)

// Flow says what became of the units of one item in a period. Before and what came in is together what went out and
// the stock at the end: before + received + found + moved_in + converted = used + trained + wasted + training_wasted +
// lost + to_supplier + moved_out + stock. A correction takes back what it undoes, in the period in which it was made.
type Flow struct {
	Item           string                  `json:"item,omitempty" doc:"Item code; missing in the total"`
	Before         int                     `json:"before" doc:"Units before the period"`
	Received       int                     `json:"received"`
	Found          int                     `json:"found"`
	MovedIn        int                     `json:"moved_in" doc:"From stations that are not in this report"`
	Used           int                     `json:"used" doc:"In incidents"`
	Trained        int                     `json:"trained" doc:"By classes, or disposed of because of training"`
	Wasted         map[inventory.Cause]int `json:"wasted" doc:"Issue stock disposed of, by cause"`
	TrainingWasted int                     `json:"training_wasted" doc:"Training stock disposed of"`
	Lost           int                     `json:"lost"`
	ToSupplier     int                     `json:"to_supplier" doc:"Returned to their supplier"`
	MovedOut       int                     `json:"moved_out" doc:"To stations that are not in this report"`
	Stock          int                     `json:"stock" doc:"Units at the end, in every place"`
	Converted      int                     `json:"converted" doc:"More, or below 0 fewer, by a new unit"`
}

// Flows is the report of what became of the units of each item.
type Flows struct {
	Since inventory.Day `json:"since,omitempty" format:"date" doc:"First day; missing for the beginning"`
	Until inventory.Day `json:"until,omitempty" format:"date" doc:"Last day; missing for now"`
	Rows  []Flow        `json:"rows" doc:"By item"`
	Total Flow          `json:"total"`
}

// FlowPlaces are the places that a report is about, of all inside the service: those that belonged to its stations when
// a movement was recorded.
type FlowPlaces struct {
	All      map[string]inventory.Place
	Moved    []inventory.PlaceMove
	Stations []string // none for every one
}

// at returns a place as it was at a movement, and whether the report is about it.
func (p FlowPlaces) at(code string, movement int64) (inventory.Place, bool) {
	place, ok := p.All[code]
	place.Station = place.StationThen(movement, p.Moved)
	return place, ok && (len(p.Stations) == 0 || slices.Contains(p.Stations, place.Station))
}

// handovers are the units that lay in places when these went on to other stations, as movements without a reason: they
// have the id of the last movement before, and stay where they lie. ms are by id.
func (p FlowPlaces) handovers(ms []inventory.Movement) (out []inventory.Movement) {
	for _, moved := range p.Moved {
		held, last := map[int64]int{}, inventory.Movement{}
		for _, m := range ms {
			if m.ID > moved.Until {
				break
			}
			if m.From == moved.Place {
				held[m.LotID] -= m.Qty
				last = m
			}
			if m.To == moved.Place {
				held[m.IntoLotID] += m.Qty
				last = m
			}
		}
		at := cmp.Or(moved.At, last.HappenedAt)
		for _, lot := range slices.Sorted(maps.Keys(held)) {
			if held[lot] > 0 {
				out = append(out, inventory.Movement{ID: moved.Until, Station: moved.Station, LotID: lot, IntoLotID: lot,
					Qty: held[lot], From: moved.Place, To: moved.Place, HappenedAt: at, RecordedAt: at})
			}
		}
	}
	return out
}

// flowBook is what movements are told apart by.
type flowBook struct {
	items  map[int64]string // lot → item
	places FlowPlaces
	byID   map[int64]inventory.Movement
}

// FlowsOf adds movements up by item; they are by id. Places inside the service that the report is not about are
// elsewhere. dayOf tells the day of a movement; since and until are inclusive, 0 for no limit.
func FlowsOf(ms []inventory.Movement, items map[int64]string, places FlowPlaces,
	dayOf func(inventory.Movement) inventory.Day, since, until inventory.Day) Flows {
	b := flowBook{items: items, places: places, byID: map[int64]inventory.Movement{}}
	for _, m := range ms {
		b.byID[m.ID] = m
	}
	rows := map[string]*Flow{}
	for _, m := range slices.Concat(ms, places.handovers(ms)) {
		day := dayOf(m)
		if until != 0 && day > until {
			continue
		}
		item := items[m.LotID]
		if rows[item] == nil {
			rows[item] = &Flow{Item: item, Wasted: map[inventory.Cause]int{}}
		}
		b.add(rows[item], m, day < since)
	}
	out := Flows{Since: since, Until: until, Rows: []Flow{}, Total: Flow{Wasted: map[inventory.Cause]int{}}}
	for _, item := range slices.Sorted(maps.Keys(rows)) {
		out.Rows = append(out.Rows, *rows[item])
		out.Total.plus(*rows[item])
	}
	return out
}

// edge is a movement across the edge of a report's places.
type edge struct {
	kind  FlowKind // empty for a movement within the places, or outside of them
	cause inventory.Cause
	qty   int // below zero where a correction takes units back
}

// judge tells what a movement is for the report, and by how much it changes
// the stock. A correction counts as what it undoes, taken back.
func (b flowBook) judge(m inventory.Movement) (e edge, change int) {
	qty, before, after := m.Qty, m.ID, m.ID
	switch m.Reason {
	case inventory.ReasonCorrection:
		m, qty = b.byID[m.Corrects], -m.Qty
	case "": // a place that went to another station
		after++
	}
	from, fromHere := b.places.at(m.From, before)
	_, toHere := b.places.at(m.To, after)
	if toHere {
		change += qty
	}
	if fromHere {
		change -= qty
	}
	if fromHere != toHere {
		e = edge{flowKind(m, from, toHere), m.Cause, qty}
		// What was lost comes back from there, and what was found goes back.
		if fromHere && (e.kind == FlowFound || e.kind == FlowConverted) || e.kind == FlowLost && toHere {
			e.qty = -qty
		}
	}
	return e, change
}

// add counts one movement.
func (b flowBook) add(f *Flow, m inventory.Movement, before bool) {
	e, change := b.judge(m)
	f.Stock += change
	if before {
		f.Before += change
	} else {
		f.count(e.kind, e.cause, e.qty)
	}
}

// FlowKind says what became of units that came into a report's places or left them.
type FlowKind string

// The kinds of flow.
const (
	FlowReceived       FlowKind = "received"
	FlowFound          FlowKind = "found"
	FlowMovedIn        FlowKind = "moved_in"
	FlowUsed           FlowKind = "used"
	FlowTrained        FlowKind = "trained"
	FlowWasted         FlowKind = "wasted"
	FlowTrainingWasted FlowKind = "training_wasted"
	FlowLost           FlowKind = "lost"
	FlowToSupplier     FlowKind = "to_supplier"
	FlowMovedOut       FlowKind = "moved_out"
	FlowConverted      FlowKind = "converted"
)

// FlowBefore asks for what came and went before the period: of no movement in it is this the kind.
const FlowBefore FlowKind = "before"

// flowKind tells what a movement across the edge of a report's places is. from
// is the place where it begins, when that is one of them.
func flowKind(m inventory.Movement, from inventory.Place, comesIn bool) FlowKind {
	if m.Reason == inventory.ReasonConverted {
		return FlowConverted
	}
	if comesIn {
		switch inventory.PlaceKind(m.From) {
		case inventory.KindSupplier:
			return FlowReceived
		case inventory.KindFound:
			return FlowFound
		case inventory.KindLost:
			return FlowLost
		}
		return FlowMovedIn
	}
	training := from.Purpose == inventory.ForTraining
	switch to := inventory.PlaceKind(m.To); {
	case to == inventory.KindUsed && training, to == inventory.KindDisposed && !training &&
		m.Cause == inventory.CauseTraining:
		return FlowTrained
	case to == inventory.KindUsed:
		return FlowUsed
	case to == inventory.KindDisposed && training:
		return FlowTrainingWasted
	case to == inventory.KindDisposed:
		return FlowWasted
	case to == inventory.KindLost:
		return FlowLost
	case to == inventory.KindSupplier:
		return FlowToSupplier
	case to == inventory.KindFound: // unidentified units that were identified, and so found anew
		return FlowFound
	}
	return FlowMovedOut
}

// count adds units to one number of the flow.
func (f *Flow) count(kind FlowKind, cause inventory.Cause, qty int) {
	switch kind {
	case FlowReceived:
		f.Received += qty
	case FlowMovedIn:
		f.MovedIn += qty
	case FlowUsed:
		f.Used += qty
	case FlowTrained:
		f.Trained += qty
	case FlowTrainingWasted:
		f.TrainingWasted += qty
	case FlowWasted:
		if f.Wasted[cause] += qty; f.Wasted[cause] == 0 {
			delete(f.Wasted, cause)
		}
	case FlowFound:
		f.Found += qty
	case FlowLost:
		f.Lost += qty
	case FlowToSupplier:
		f.ToSupplier += qty
	case FlowMovedOut:
		f.MovedOut += qty
	case FlowConverted:
		f.Converted += qty
	}
}

// plus adds the numbers of another flow.
func (f *Flow) plus(o Flow) {
	for _, n := range []struct{ sum, more *int }{
		{&f.Before, &o.Before}, {&f.Received, &o.Received}, {&f.Found, &o.Found}, {&f.MovedIn, &o.MovedIn},
		{&f.Used, &o.Used}, {&f.Trained, &o.Trained},
		{&f.TrainingWasted, &o.TrainingWasted}, {&f.Lost, &o.Lost}, {&f.ToSupplier, &o.ToSupplier},
		{&f.MovedOut, &o.MovedOut}, {&f.Converted, &o.Converted}, {&f.Stock, &o.Stock},
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
	came := f.Before + f.Received + f.Found + f.MovedIn + f.Converted
	return came == f.Used+f.Trained+f.Waste()+f.TrainingWasted+f.Lost+f.ToSupplier+f.MovedOut+f.Stock
}

// Flows reports what became of the units of each item at the actor's stations, or at some of them, by item. A place
// counts for the station that owned it then. The day of a movement is that of its happening, at the station of its
// chain. Refuses: Forbidden without report, and for a station that is not the actor's; Invalid for until before since.
func (s *Service) Flows(ctx context.Context, by inventory.Actor, stations []string, since, until inventory.Day) (Flows,
	error) {
	return inventory.Read(ctx, s.store, func(r inventory.Reader) (Flows, error) {
		in, err := readFlows(r, by, stations, since, until)
		if err != nil {
			return Flows{}, err
		}
		return FlowsOf(in.moves, in.items, in.places, in.day, since, until), nil
	})
}

// FlowAsk narrows the movements behind a report of flows. Empty fields do not narrow.
type FlowAsk struct {
	Stations     []string
	Since, Until inventory.Day
	Item         string
	Kind         FlowKind
	Cause        inventory.Cause
}

// FlowMove is a movement that a report of flows counts, with what it counts
// as. Qty is below zero where a correction takes units back.
type FlowMove struct {
	inventory.Movement
	Item    string
	Kind    FlowKind
	Because inventory.Cause // why units were disposed of
	Counts  int
}

// FlowMoves lists the movements behind the numbers of a report of flows, in units, the newest first. Refuses as
// Flows does: Forbidden, Invalid.
func (s *Service) FlowMoves(ctx context.Context, by inventory.Actor, ask FlowAsk) ([]FlowMove, error) {
	return inventory.Read(ctx, s.store, func(r inventory.Reader) ([]FlowMove, error) {
		in, err := readFlows(r, by, ask.Stations, ask.Since, ask.Until)
		if err != nil {
			return nil, err
		}
		b := flowBook{items: in.items, places: in.places, byID: map[int64]inventory.Movement{}}
		var out []FlowMove
		for _, m := range in.moves {
			b.byID[m.ID] = m
		}
		for _, m := range slices.Concat(in.moves, in.places.handovers(in.moves)) {
			day := in.day(m)
			e, change := b.judge(m)
			row := FlowMove{m, in.items[m.LotID], e.kind, e.cause, e.qty}
			if ask.Kind == FlowBefore {
				row.Counts = change
			}
			if e.kind != "" && ask.takes(row, day) {
				out = append(out, row)
			}
		}
		slices.SortStableFunc(out, func(a, b FlowMove) int { return cmp.Compare(b.ID, a.ID) })
		return out, nil
	})
}

// takes tells whether a movement on a day is behind the number asked about.
func (ask FlowAsk) takes(m FlowMove, day inventory.Day) bool {
	if ask.Item != "" && ask.Item != m.Item || ask.Cause != "" && ask.Cause != m.Because {
		return false
	}
	if ask.Kind == FlowBefore {
		return day < ask.Since
	}
	return day >= ask.Since && (ask.Until == 0 || day <= ask.Until) && (ask.Kind == "" || ask.Kind == m.Kind)
}

// flowInput is what a report of flows is made of.
type flowInput struct {
	moves  []inventory.Movement // by id
	items  map[int64]string
	places FlowPlaces
	day    func(inventory.Movement) inventory.Day
}

func readFlows(r inventory.Reader, by inventory.Actor, stations []string, since, until inventory.Day) (flowInput,
	error) {
	in := flowInput{items: map[int64]string{}, places: FlowPlaces{All: map[string]inventory.Place{}}}
	if err := by.Must(inventory.ActReport, ""); err != nil {
		return in, err
	}
	seen, err := by.Narrow(stations)
	if err != nil {
		return in, err
	}
	if since != 0 && until != 0 && until < since {
		return in, inventory.InvalidField("until", "enter a later day, or the first")
	}
	in.places.Stations = seen
	if in.places.Moved, err = r.PlaceMoves(); err != nil {
		return in, err
	}
	places, err := r.Places(inventory.PlaceFilter{Retired: true}, inventory.Page{})
	if err != nil {
		return in, err
	}
	for _, p := range places {
		in.places.All[p.Code] = p
	}
	lots, err := r.Lots(inventory.LotFilter{}, inventory.Page{})
	if err != nil {
		return in, err
	}
	for _, l := range lots {
		in.items[l.ID] = l.Item
	}
	if in.moves, err = r.Movements(inventory.MovementFilter{Stations: seen}, inventory.Page{}); err != nil {
		return in, err
	}
	zones, err := lists.StationsByCode(r)
	in.day = func(m inventory.Movement) inventory.Day { return zones[m.Station].Today(m.HappenedAt) }
	slices.SortFunc(in.moves, func(a, b inventory.Movement) int { return cmp.Compare(a.ID, b.ID) })
	return in, err
}
