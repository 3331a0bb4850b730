// Package agenda is what there is to do at a station, by the day: for calendars that people have anyway.
package agenda

import (
	"cmp"
	"context"
	"fmt"
	"slices"
	"strconv"

	"stowkeeper/inventory"
	"stowkeeper/inventory/count"
	"stowkeeper/inventory/lists"
	"stowkeeper/inventory/message"
	"stowkeeper/inventory/notice"
	"stowkeeper/inventory/scope"
)

// Service tells agendas. It changes nothing.
type Service struct {
	store inventory.Store
	now   inventory.Clock
	count *count.Service
}

// New returns the service over a store and a clock, which asks the other one what to count.
func New(store inventory.Store, now inventory.Clock, counts *count.Service) *Service {
	return &Service{store: store, now: now, count: counts}
}

// Agenda is what there is to do at a station, by day and then by what it is.
type Agenda struct {
	Station  inventory.Station
	At       inventory.Instant
	Sequence int // greater than that of every agenda in which something stood on another day
	Events   []Event
}

// Event is something to do, all day.
type Event struct {
	ID      string // the same for as long as it is about the same thing, whichever day it moves to
	Day     inventory.Day
	Text    message.Message
	Details []message.Message
	Place   string
	Path    string // of the page about it, below the service's address
	Warn    int    // how many days before somebody is to be told, 0 for not
}

// The kinds of events, as their ids begin.
const (
	useBy      = "use-by"
	sealCheck  = "seal-check"
	fullCheck  = "full-check"
	shelfCount = "count"
	inspection = "inspection"
	recall     = "recall"
	dueBack    = "due-back"
)

// ahead is how far use-by dates are told, and warnDates how long before somebody is told of one, in days.
const (
	ahead     = 365
	warnDates = 7
)

// At gathers a station's agenda: use-by dates of what is for issue in its stores, bags and carriers, one event for each
// day and place; seal checks and full checks of the bags that are there; places to count this week; inspections of
// devices; open recalls that the station is not done with; and what is away and due back. A use-by date stays on its
// day. Everything else that is late, or has no day, is on today, where people look, and says since when it is due.
//
// What is done is not in the agenda any more: a calendar that subscribes shows what it is given, and takes away what it
// had and is not given again, so nothing needs to be kept in order to say that it is cancelled.
//
// An event moves only since something was recorded, which is an entry in some chain and maybe another station's (of a
// bag that is lent, of an item), or since another day began. So the sequence is made of the number of all entries and
// that of the day: it only grows, and no table has to remember what a calendar was told last. Entries count three
// times, since one of them, another time zone of the station, can take its day back, by two at most.
//
// Refuses: Forbidden without see, and for a station that is not the actor's; NotFound for a station.
func (s *Service) At(ctx context.Context, by inventory.Actor, station string) (Agenda, error) {
	return inventory.ReadAs(ctx, s.store, by, inventory.ActSee, func(r inventory.Reader) (Agenda, error) {
		seen, err := scope.Narrowed(by, r, []string{inventory.NormalCode(station)})
		if err != nil {
			return Agenda{}, err
		}
		at, err := r.Station(seen[0])
		if err != nil {
			return Agenda{}, err
		}
		g := gathering{Agenda: Agenda{Station: at, At: s.now()}, today: at.Today(s.now()), places: map[string]where{}}
		if err := cmp.Or(s.gather(r, &g, seen), g.number(r)); err != nil {
			return Agenda{}, err
		}
		slices.SortFunc(g.Events, func(a, b Event) int { return cmp.Or(cmp.Compare(a.Day, b.Day), cmp.Compare(a.ID, b.ID)) })
		return g.Agenda, nil
	})
}

// gathering is an agenda in the making.
type gathering struct {
	Agenda
	today  inventory.Day
	items  map[string]inventory.Item
	places map[string]where // where units are that are used
}

// where is a place as an event names it.
type where struct {
	short, long, path string
	issue             bool // what is there is not for training, and may not be old
}

func (s *Service) gather(r inventory.Reader, g *gathering, station []string) error {
	var errs [7]error
	var bags []inventory.BagView
	var held []inventory.Stock
	var places []inventory.Place
	var shelves []count.Shelf
	var open []notice.NoticeSummary
	g.items, errs[0] = lists.ItemsByCode(r, inventory.ItemFilter{})
	bags, errs[1] = lists.LoadBags(r, inventory.BagFilter{AtStations: station}, inventory.Page{})
	held, errs[2] = r.Stock(inventory.StockFilter{Stations: station})
	places, errs[3] = r.Places(inventory.PlaceFilter{Stations: station}, inventory.Page{})
	shelves, errs[4] = s.count.DueAt(r, station)
	open, errs[5] = notice.LeftAt(r, station[0])
	for _, v := range bags {
		g.checks(v)
	}
	for _, p := range places {
		g.place(p, held)
	}
	g.dates(held)
	g.inspections(held)
	for _, sh := range shelves {
		e := Event{Text: message.M("Count {1}", sh.Name), Path: "counts?place=" + sh.Place, Place: sh.Name}
		g.late(shelfCount, sh.Place, sh.Due, e)
	}
	for _, n := range open {
		g.recall(n)
	}
	return cmp.Or(errs[:]...)
}

// number reads the sequence.
func (g *gathering) number(r inventory.Reader) error {
	heads, err := r.Heads()
	g.Sequence = int(g.today)
	for _, h := range heads {
		g.Sequence += 3 * int(h.Seq)
	}
	return err
}

func (g *gathering) add(kind, of string, e Event) {
	e.ID = kind + "/" + of + "/" + g.Station.Code
	g.Events = append(g.Events, e)
}

// late adds what moves to today once its day is over.
func (g *gathering) late(kind, of string, due inventory.Day, e Event) {
	if e.Day = max(due, g.today); due > g.today {
		e.Warn = 1
	}
	g.add(kind, of, e)
}

// named words an event of something that has a name.
func named(name string, what message.Message) message.Message {
	return message.Join(": ", message.Plain(name), what)
}

// or is the second text for what is due since a day that is over.
func (g *gathering) or(due inventory.Day, yet, over message.Message) message.Message {
	if due < g.today {
		return over
	}
	return yet
}

// checks adds the checks of a bag, and notes it as a place.
func (g *gathering) checks(v inventory.BagView) {
	b := v.Bag
	at := where{b.Code, b.Code + " " + b.Name, "b/" + b.Code, b.Purpose == inventory.ForIssue}
	g.places[b.Code] = at
	if due, asked := inventory.FullCheckDue(v); asked {
		text := g.or(due, message.M("full check"), message.M("full check overdue since {1}", due))
		if due == 0 {
			text = message.M("no full check yet")
		}
		g.late(fullCheck, b.Code, due, Event{Text: named(b.Code, text), Place: at.long, Path: at.path})
	}
	if until, asked := inventory.SealCheckDue(v); asked {
		due := g.Station.Today(until)
		text := g.or(due, message.M("seal check"), message.M("seal check overdue since {1}", due))
		g.late(sealCheck, b.Code, due, Event{Text: named(b.Code, text), Place: at.long, Path: at.path})
	}
}

// place notes a store or carrier, and adds what is away from it and due back.
func (g *gathering) place(p inventory.Place, held []inventory.Stock) {
	switch p.Kind {
	case inventory.KindStore, inventory.KindCarrier:
		g.places[p.Code] = where{p.Name, p.Code + " " + p.Name, "stock/" + p.Code, p.Purpose == inventory.ForIssue}
	case inventory.KindAway:
		e := Event{Text: named(p.Name, message.M("due back {1}", p.DueBack)), Place: p.Name, Path: "away/" + p.Code}
		for _, st := range held {
			if st.Place == p.Code {
				e.Details = append(e.Details, g.units(st))
			}
		}
		if p.DueBack != 0 && len(e.Details) > 0 {
			g.late(dueBack, p.Code, p.DueBack, e)
		}
	}
}

func (g *gathering) units(st inventory.Stock) message.Message {
	return inventory.UnitsOf(st.Qty, cmp.Or(g.items[st.Lot.Item].Name, st.Lot.Item), st.Lot)
}

// dates adds the use-by dates. An event is known by the first of its lots, so that it moves with that one where its
// date is corrected; no lot is in two events of a place.
func (g *gathering) dates(held []inventory.Stock) {
	type group struct {
		place string
		day   inventory.Day
	}
	first, events := map[group]int64{}, map[group]Event{}
	for _, st := range held {
		at, used := g.places[st.Place]
		of := group{st.Place, inventory.UsableThrough(g.items[st.Lot.Item], st.Lot, g.today)}
		if !used || !at.issue || of.day == 0 || of.day > g.today.AddDays(ahead) {
			continue
		}
		e := events[of]
		if first[of] == 0 || st.Lot.ID < first[of] {
			first[of] = st.Lot.ID
		}
		e.Text, e.Day, e.Place, e.Path, e.Warn = named(at.short, message.M("use by {1}", of.day)), of.day, at.long, at.path,
			warnDates
		e.Details = append(e.Details, g.units(st))
		events[of] = e
	}
	for of, e := range events {
		g.add(useBy, of.place+"/"+strconv.FormatInt(first[of], 10), e)
	}
}

// inspections adds those of devices that are used. A device keeps its batch, whichever lot it is in.
func (g *gathering) inspections(held []inventory.Stock) {
	for _, st := range held {
		it := g.items[st.Lot.Item]
		due, asked := inventory.InspectionDue(it, st.Lot)
		at, used := g.places[st.Place]
		if !asked || !used || inventory.WornOut(it, st.Lot) {
			continue
		}
		text := g.or(due, message.M("inspection due by {1}", due), message.M("inspection due since {1}", due))
		g.late(inspection, strconv.FormatInt(st.Lot.Batch.ID, 10), due, Event{
			Text: named(cmp.Or(it.Name, it.Code)+" "+st.Lot.Serial, text), Place: at.long,
			Path: fmt.Sprintf("d/%d", st.Lot.ID)})
	}
}

// recall adds a notice, with what is still to pull or to inspect.
func (g *gathering) recall(n notice.NoticeSummary) {
	e := Event{Text: named(cmp.Or(g.items[n.Item].Name, n.Item), message.M("under notice {1}", n.Reference)),
		Path: fmt.Sprintf("notices/%d", n.ID)}
	for _, u := range n.PullFrom {
		lot := inventory.Lot{Batch: inventory.Batch{BatchNo: u.BatchNo, Serial: u.Serial}}
		e.Details = append(e.Details, named(u.Place, inventory.UnitsOf(u.Qty, cmp.Or(g.items[n.Item].Name, n.Item), lot)))
	}
	g.late(recall, strconv.FormatInt(n.ID, 10), 0, e)
}
