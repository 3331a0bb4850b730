package storetest

import (
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stowkeeper/inventory"
)

var placePromises = []promise{
	{"the categories that every service starts with", categoriesSeeded},
	{"a category is added once", categoryAdded},
	{"stations are kept, by code", stationsKept},
	{"a station's chain starts empty", chainStartsEmpty},
	{"places are kept, every kind of them", placesKept},
	{"the five outside places are there and never listed", outsidePlaces},
	{"places are listed by station and kind", placesListed},
	{"a place is changed by version", placeUpdated},
	{"a place keeps its station, kind and purpose", placeFixed},
	{"a place needs a station that exists", placeNeedsStation},
	{"the places of a closed station are listed only where asked for", stationClosed},
	{"a place that moves to a station has the chain of that one from then on", placeMoved},
	{"a conversion of a unit stands after all that moved before", unitConverted},
}

func stationClosed(c *scene) {
	listed := func(f inventory.PlaceFilter) int {
		f.Stations = []string{south}
		return len(got(c, func(r inventory.Reader) ([]inventory.Place, error) { return r.Places(f, inventory.Page{}) }))
	}
	all := listed(inventory.PlaceFilter{})
	was := got(c, func(r inventory.Reader) (inventory.Station, error) { return r.Station(south) })
	was.LockMinutes, was.NightVehicles = 5, []string{"V 12", "βαν"}
	was.Position, was.TravelMinutes = "51.48, -0.01", []string{"NORTH 25"}
	closed := func(at inventory.Instant) func(w inventory.Writer) error {
		return func(w inventory.Writer) error { was.ClosedAt = at; return w.UpdateStation(was) }
	}
	c.write(closed(noon))
	assert.Equal(c.t, []int{0, all}, []int{listed(inventory.PlaceFilter{}), listed(inventory.PlaceFilter{Retired: true})})
	is := got(c, func(r inventory.Reader) (inventory.Station, error) { return r.Station(south) })
	assert.Equal(c.t, was, is)
	c.write(closed(0))
	assert.Equal(c.t, all, listed(inventory.PlaceFilter{}))
	c.refused(inventory.NotFound, func(w inventory.Writer) error {
		return w.UpdateStation(inventory.Station{Code: "NOWHERE"})
	})
}

func placeMoved(c *scene) {
	stow := func(n int) inventory.Movement {
		return c.post(move(c.lot, n, northStore, bagOne, inventory.ReasonStow))[0]
	}
	c.receive(c.lot, 9, northStore)
	last := stow(4)
	c.write(func(w inventory.Writer) error { return w.MovePlace(bagOne, south, noon) })
	b := got(c, func(r inventory.Reader) (inventory.Bag, error) { return r.Bag(bagOne) })
	assert.Equal(c.t, []string{south, south}, []string{b.Station, b.AtStation})
	assert.Equal(c.t, []inventory.PlaceMove{{Place: bagOne, Station: north, Until: last.ID, At: noon}},
		got(c, inventory.Reader.PlaceMoves))
	used := c.post(move(c.lot, 1, bagOne, string(inventory.KindUsed), inventory.ReasonUsed))[0]
	assert.Equal(c.t, []string{north, south}, []string{last.Station, used.Station})
	c.refused(inventory.NotFound, func(w inventory.Writer) error { return w.MovePlace("NOWHERE", south, noon) })
}

func unitConverted(c *scene) {
	c.receive(c.lot, 9, northStore)
	last := c.post(move(c.lot, 4, northStore, bagOne, inventory.ReasonStow))[0]
	want := inventory.Conversion{Item: c.batch.Item, OldUnit: "pair", NewUnit: "box", Old: 100, New: 1, RecordedAt: noon,
		By: "Quinn", Witness: "Ben", Reason: "as ordered"}
	c.write(func(w inventory.Writer) error { return w.AddConversion(want) })
	all := got(c, inventory.Reader.Conversions)
	require.Len(c.t, all, 1)
	want.ID, want.Until = all[0].ID, last.ID
	assert.Equal(c.t, want, all[0])
}

func categoriesSeeded(c *scene) {
	assert.ElementsMatch(c.t, inventory.Categories, got(c, inventory.Reader.Categories))
}

func categoryAdded(c *scene) {
	c.write(func(w inventory.Writer) error { return w.AddCategory("animal") })
	assert.Contains(c.t, got(c, inventory.Reader.Categories), inventory.Category("animal"))
	c.refused(inventory.Conflict, func(w inventory.Writer) error { return w.AddCategory("animal") })
}

func stationsKept(c *scene) {
	want := []inventory.Station{{Code: north, Name: "North", Timezone: "Europe/London"}, {Code: south, Name: "South",
		Timezone: "Europe/Athens"}}
	assert.Equal(c.t, want, got(c, inventory.Reader.Stations))
	assert.Equal(c.t, want[1], got(c, func(r inventory.Reader) (inventory.Station, error) { return r.Station(south) }))
	absent(c, spare("NOWHERE"))
	absent(c, spare("south"))
	c.refused(inventory.Conflict, func(w inventory.Writer) error { return addSpare(w, south) })
}

func chainStartsEmpty(c *scene) {
	assert.Equal(c.t, inventory.Head{Station: north}, got(c, func(r inventory.Reader) (inventory.Head,
		error) {
		return r.Head(north)
	}))
	absent(c, func(r inventory.Reader) (inventory.Head, error) { return r.Head("NOWHERE") })
}

func placesKept(c *scene) {
	for _, kind := range []inventory.PlaceKind{inventory.KindStore, inventory.KindCarrier, inventory.KindQuarantine,
		inventory.KindAway} {
		for _, purpose := range []inventory.Purpose{inventory.ForIssue, inventory.ForTraining} {
			want := inventory.Place{
				Code: "P-" + string(kind) + "-" + string(purpose), Station: south, Kind: kind, Purpose: purpose, Name: "πλάι",
				Holder: "H. Older", DueBack: inventory.MustDay("2027-02-28"), Vehicle: "V 12", Version: 1,
			}
			c.write(func(w inventory.Writer) error { return w.AddPlace(want) })
			assert.Equal(c.t, want, got(c, place(want.Code)))
		}
	}
	absent(c, place("NOWHERE"))
	c.refused(inventory.Conflict, func(w inventory.Writer) error {
		return w.AddPlace(inventory.Place{Code: bagOne, Station: north, Kind: inventory.KindStore,
			Purpose: inventory.ForIssue})
	})
}

func place(code string) func(inventory.Reader) (inventory.Place, error) {
	return func(r inventory.Reader) (inventory.Place, error) { return r.Place(code) }
}

func outsidePlaces(c *scene) {
	for _, kind := range inventory.OutsideKinds {
		p := got(c, place(string(kind)))
		p.Version = 0
		assert.Equal(c.t, inventory.OutsidePlace(kind), p)
	}
	for _, p := range got(c, func(r inventory.Reader) ([]inventory.Place, error) {
		return r.Places(inventory.PlaceFilter{}, inventory.Page{})
	}) {
		assert.False(c.t, p.Outside(), p.Code)
	}
}

func placesListed(c *scene) {
	list := func(f inventory.PlaceFilter) []string {
		return codesOf(got(c, func(r inventory.Reader) ([]inventory.Place, error) { return r.Places(f, inventory.Page{}) }),
			func(p inventory.Place) string { return p.Code })
	}
	assert.Equal(c.t, []string{
		bagOne, bagTwo, "NORTH-QUARANTINE", northStore, "NORTH-TRAINING", "NORTH-TRAINING-QUARANTINE",
		"SOUTH-QUARANTINE", southStore, "SOUTH-TRAINING", "SOUTH-TRAINING-QUARANTINE",
	}, list(inventory.PlaceFilter{}))
	assert.Equal(c.t, []string{northStore, "NORTH-TRAINING"}, list(inventory.PlaceFilter{Stations: []string{north},
		Kind: inventory.KindStore}))
	assert.Empty(c.t, list(inventory.PlaceFilter{Stations: []string{"NOWHERE"}}))
	assert.Equal(c.t, []string{bagTwo, northStore, "lost"},
		list(inventory.PlaceFilter{Codes: []string{"lost", northStore, "NONE", bagTwo, "lost"}}), "whatever they are")
}

func codesOf[T any](values []T, code func(T) string) []string {
	var out []string
	for _, v := range values {
		out = append(out, code(v))
	}
	return out
}

func placeUpdated(c *scene) {
	p := got(c, place(northStore))
	p.Name, p.Holder, p.DueBack = "main store", "nobody", inventory.MustDay("2027-01-01")
	update := func(p inventory.Place) func(inventory.Writer) error {
		return func(w inventory.Writer) error {
			out, err := w.UpdatePlace(p)
			if err == nil {
				assert.Equal(c.t, p.Name, out.Name)
			}
			return err
		}
	}
	c.write(update(p))
	now := got(c, place(northStore))
	assert.Equal(c.t, p.Version+1, now.Version)
	c.refused(inventory.Stale, update(p))
	now.Name, now.DueBack = "store", 0
	c.write(update(now))
	now.Version = 0
	c.write(update(now))
	assert.Equal(c.t, inventory.Place{
		Code: northStore, Station: north, Kind: inventory.KindStore, Purpose: inventory.ForIssue, Name: "store",
		Holder: "nobody", Version: 4,
	}, got(c, place(northStore)))
	p.Code = "NOWHERE"
	c.refused(inventory.NotFound, update(p))
}

func placeFixed(c *scene) {
	for _, change := range []func(*inventory.Place){
		func(p *inventory.Place) { p.Station = south },
		func(p *inventory.Place) { p.Kind = inventory.KindCarrier },
		func(p *inventory.Place) { p.Purpose = inventory.ForTraining },
	} {
		p := got(c, place(northStore))
		change(&p)
		c.refused(inventory.Conflict, func(w inventory.Writer) error {
			_, err := w.UpdatePlace(p)
			return err
		})
	}
}

func placeNeedsStation(c *scene) {
	for _, station := range []string{"NOWHERE", ""} {
		c.refused(inventory.Conflict, func(w inventory.Writer) error {
			return w.AddPlace(inventory.Place{Code: "P", Station: station, Kind: inventory.KindStore,
				Purpose: inventory.ForIssue})
		})
	}
	require.Len(c.t, got(c, func(r inventory.Reader) ([]inventory.Place, error) {
		return r.Places(inventory.PlaceFilter{Kind: inventory.KindStore}, inventory.Page{})
	}), 4)
}
