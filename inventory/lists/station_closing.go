package lists

import (
	"cmp"
	"context"
	"slices"
	"strings"

	"stowkeeper/inventory"
	"stowkeeper/inventory/ledger"
)

// CloseStation closes a station that has nothing left, or moves all that it has to another one, in one step: bags,
// carriers and what is away as they are, the rest into the other's stores and quarantines. Its people then belong to
// the other station too; its terminals are revoked. Refuses: Forbidden without keep_stations; NotFound; Invalid for
// the other station, where signatures are missing, and where the actor has not just confirmed; Conflict for what is in
// the way, which it names. Locks both stations.
func (s *Service) CloseStation(ctx context.Context, by inventory.Actor, code, into string) (StationClosed,
	error) {
	return inventory.WriteAs(ctx, s.store, by, inventory.ActKeepStations,
		func(w inventory.Writer) (StationClosed, error) {
			c := closing{w: w, by: by, now: s.now(), done: StationClosed{Into: into, Places: []string{},
				People: []string{}, Terminals: []string{}}}
			if err := c.open(code, into); err != nil {
				return c.done, err
			}
			for _, step := range []func() error{c.look, c.moveAll, c.tellPeople, c.revokeTerminals, c.close} {
				if err := step(); err != nil {
					return c.done, err
				}
			}
			return c.done, nil
		})
}

// closing is a station being closed.
type closing struct {
	w     inventory.Writer
	by    inventory.Actor
	now   inventory.Instant
	other inventory.Station // where all goes, if it goes anywhere
	holds StationHolds
	done  StationClosed
}

// open reads the station, and the one that all goes to, and locks both.
func (c *closing) open(code, into string) error {
	var err error
	if c.done.Station, err = c.w.Station(code); err != nil {
		return err
	}
	codes := []string{code}
	if into != "" {
		if into == code {
			return inventory.InvalidField("into", "not found")
		}
		if c.other, err = c.w.Station(into); err != nil {
			return inventory.AsField(err, "into", "not found")
		}
		if err := cmp.Or(c.by.MustConfirm(c.now), c.other.MustBeOpen()); err != nil {
			return err
		}
		codes = append(codes, into)
	}
	if err := c.w.LockStations(codes); err != nil {
		return err
	}
	if c.done.Station, err = c.w.Station(code); err != nil { // again, now that others wait
		return err
	}
	return c.done.Station.MustBeOpen()
}

// look finds out what the station has, and whether that is in the way.
func (c *closing) look() (err error) {
	if c.holds, err = holdsOf(c.w, c.done.Station.Code); err != nil {
		return err
	}
	return c.holds.MayClose(c.other.Code != "")
}

func holdsOf(r inventory.Reader, station string) (StationHolds, error) {
	h := StationHolds{Places: map[string]inventory.Place{}}
	at := []string{station}
	places, err := r.Places(inventory.PlaceFilter{Stations: at, Retired: true}, inventory.Page{})
	if err != nil {
		return h, err
	}
	codes := make([]string, 0, len(places))
	for _, p := range places {
		h.Places[p.Code] = p
		codes = append(codes, p.Code)
	}
	if h.Stock, err = r.Stock(inventory.StockFilter{Places: codes}); err != nil {
		return h, err
	}
	bags, err := r.Bags(inventory.BagFilter{}, inventory.Page{})
	h.Bags = slices.DeleteFunc(bags, func(b inventory.Bag) bool { return b.Station != station && b.AtStation != station })
	if err != nil {
		return h, err
	}
	off, err := r.VehiclesOutOfService(inventory.VehicleFilter{Stations: at, Now: true})
	for _, v := range off {
		h.Vehicles = append(h.Vehicles, v.Vehicle)
	}
	if err != nil {
		return h, err
	}
	deliveries, err := r.OpenDeliveries(at)
	if err != nil {
		return h, err
	}
	h.Deliveries = len(deliveries)
	if h.Documents, err = r.Documents(inventory.DocumentFilter{Stations: at, Open: true}, inventory.Page{}); err != nil {
		return h, err
	}
	owed, err := r.OwedEntries(inventory.OwedFilter{Open: true})
	for _, o := range owed {
		if o.Station == station {
			h.Owed++
		}
	}
	if err == nil {
		h.Open, err = r.Discrepancies(inventory.DiscrepancyFilter{Places: codes, Open: true})
	}
	return h, err
}

// moveAll takes all that the station has to the other one.
func (c *closing) moveAll() error {
	if c.other.Code == "" {
		return nil
	}
	why := "station " + c.done.Station.Code + " closed"
	moves := c.holds.MovesTo(c.other)
	for i := range moves {
		moves[i].Note = why
		c.done.Units += moves[i].Qty
	}
	if _, err := ledger.NewUnit(c.w, c.by, c.now, ledger.TwoSign).Post(moves, "movements"); err != nil {
		return err
	}
	bags := map[string]inventory.Bag{}
	for _, b := range c.holds.Bags {
		bags[b.Code] = b
	}
	for _, p := range c.holds.Places {
		if _, inService := bags[p.Code]; goesAlong(p) && (inService || p.Kind != inventory.KindBag) {
			c.done.Places = append(c.done.Places, p.Code)
		}
	}
	slices.Sort(c.done.Places)
	for _, code := range c.done.Places {
		if err := c.w.MovePlace(code, c.other.Code, c.now); err != nil {
			return err
		}
	}
	return c.bagsFollow(why)
}

// bagsFollow says in the log of each bag where it is now, and takes those along that were lent to the station.
func (c *closing) bagsFollow(why string) error {
	for _, was := range c.holds.Bags {
		if was.AtStation != c.done.Station.Code {
			continue
		}
		old := was
		if old.Station == c.done.Station.Code {
			old.Station, old.Version = c.other.Code, 0 // as MovePlace has left it
		}
		now := old
		now.AtStation, now.Version = c.other.Code, 0
		if _, err := ChangeBag(c.w, c.by, c.now, old, now, why); err != nil {
			return err
		}
	}
	return nil
}

// tellPeople lets the station's people belong to the other one too; its history they see as before.
func (c *closing) tellPeople() error {
	if c.other.Code == "" {
		return nil
	}
	people, err := c.w.People()
	if err != nil {
		return err
	}
	var told []inventory.HistoryEntry
	for _, p := range people {
		if !slices.Contains(p.Stations, c.done.Station.Code) || slices.Contains(p.Stations, c.other.Code) {
			continue
		}
		p.Stations = append(slices.Clone(p.Stations), c.other.Code)
		if err := c.w.UpdatePerson(p); err != nil {
			return err
		}
		c.done.People = append(c.done.People, p.Name)
		told = append(told, inventory.HistoryEntry{RecordedAt: c.now, By: c.by.Name, From: c.by.From,
			Kind: inventory.HistoryPersonChanged, Person: p.Name, Detail: strings.Join(p.Stations, " ")})
	}
	return c.w.AddHistory(told)
}

// revokeTerminals takes away the way in of the terminals that stand at the station.
func (c *closing) revokeTerminals() error {
	all, err := c.w.Terminals()
	if err != nil {
		return err
	}
	var told []inventory.HistoryEntry
	for _, t := range all {
		if t.Station != c.done.Station.Code || t.RevokedAt != 0 {
			continue
		}
		t.RevokedAt = c.now
		if err := c.w.UpdateTerminal(t); err != nil {
			return err
		}
		if err := c.w.EndSessions(0, t.ID); err != nil {
			return err
		}
		c.done.Terminals = append(c.done.Terminals, t.Name)
		told = append(told, inventory.HistoryEntry{RecordedAt: c.now, By: c.by.Name, From: c.by.From,
			Kind: inventory.HistoryTerminalRevoked, Station: t.Station, Detail: t.Name})
	}
	return c.w.AddHistory(told)
}

func (c *closing) close() error {
	c.done.Station.ClosedAt = c.now
	return c.w.UpdateStation(c.done.Station)
}

// ReopenStation opens a closed station again, as empty as it was closed: what went to another one stays there.
// Refuses: Forbidden without keep_stations; NotFound; Invalid where the actor has not just confirmed; Conflict where
// it is open.
func (s *Service) ReopenStation(ctx context.Context, by inventory.Actor, code string) (inventory.Station, error) {
	return inventory.WriteAs(ctx, s.store, by, inventory.ActKeepStations, func(w inventory.Writer) (inventory.Station,
		error) {
		station, err := w.Station(code)
		if err != nil {
			return station, err
		}
		if !station.Closed() {
			return station, inventory.Refuse(inventory.Conflict, "in service already")
		}
		if err := by.MustConfirm(s.now()); err != nil {
			return station, err
		}
		station.ClosedAt = 0
		return station, w.UpdateStation(station)
	})
}
