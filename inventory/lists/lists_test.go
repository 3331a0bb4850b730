package lists_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stowkeeper/inventory"
	"stowkeeper/inventory/fixture"
	"stowkeeper/inventory/inventorytest"
	"stowkeeper/inventory/ledger"
	"stowkeeper/inventory/lists"
	"stowkeeper/inventory/money"
	"stowkeeper/inventory/store/storetest"
)

func TestStationsAndCategories(t *testing.T) {
	t.Parallel()
	storetest.Engines(t, func(t *testing.T, s inventory.Store) {
		h := fixture.New(t, s)
		_, err := h.S.Lists.CreateStation(h.Ctx, fixture.Keeper, inventory.Station{Code: "WEST", Name: "West",
			Timezone: "UTC"})
		inventorytest.RequireKind(t, inventory.Forbidden, err)
		_, err = h.S.Lists.CreateStation(h.Ctx, fixture.Admin, inventory.Station{Code: "NORTH", Name: "Again",
			Timezone: "UTC"})
		inventorytest.RequireKind(t, inventory.Conflict, err)
		_, err = h.S.Lists.CreateStation(h.Ctx, fixture.Admin, inventory.Station{Code: "west", Timezone: "Moon"})
		inventorytest.RequireFields(t, err, "code", "name", "timezone")
		stations, err := h.S.Lists.Stations(h.Ctx, fixture.Crew)
		require.NoError(t, err)
		require.Len(t, stations, 1, "one's own")
		assert.Equal(t, "NORTH", stations[0].Code)

		cats, err := h.S.Lists.Categories(h.Ctx, fixture.Crew)
		require.NoError(t, err)
		assert.ElementsMatch(t, inventory.Categories, cats)
		require.NoError(t, h.S.Lists.AddCategory(h.Ctx, fixture.Admin, "water rescue"))
		inventorytest.RequireKind(t, inventory.Conflict, h.S.Lists.AddCategory(h.Ctx, fixture.Admin, "water rescue"))
		inventorytest.RequireFields(t, h.S.Lists.AddCategory(h.Ctx, fixture.Admin, " "), "name")
		inventorytest.RequireKind(t, inventory.Forbidden, h.S.Lists.AddCategory(h.Ctx, fixture.Keeper, "x"))
		_, err = h.S.Lists.CreateItem(h.Ctx, fixture.Keeper, inventory.Item{Code: "ROPE", Name: "Throw line",
			Category: "water rescue", Unit: "each", TrackedBy: inventory.ByLot})
		require.NoError(t, err)
	})
}

// TestTravelMinutesNameStations: travel minutes must name other stations that exist, for a new station too.
func TestTravelMinutesNameStations(t *testing.T) {
	t.Parallel()
	h := fixture.New(t, storetest.OpenSQLite(t))
	west := inventory.Station{Code: "WEST", Name: "West", Timezone: "UTC", TravelMinutes: []string{"nowhere 5"}}
	_, err := h.S.Lists.CreateStation(h.Ctx, fixture.Admin, west)
	inventorytest.RequireFields(t, err, "travel_minutes")
	west.TravelMinutes = []string{"NORTH 5", "south 30"}
	_, err = h.S.Lists.CreateStation(h.Ctx, fixture.Admin, west)
	require.NoError(t, err)
	for minutes, refused := range map[string]string{"WEST 5": "", "south 30": "",
		"EAST 5":  "travel_minutes: enter the code of another station, as in SOUTH 25",
		"NORTH 5": "travel_minutes: enter the code of another station, as in SOUTH 25",
		"SOUTH":   "travel_minutes: enter it as in HT 25"} {
		_, err := h.S.Lists.ChangeStation(h.Ctx, fixture.Keeper, "NORTH", lists.StationSettings{TravelMinutes: []string{
			minutes}})
		if refused == "" {
			require.NoError(t, err, minutes)
			continue
		}
		assert.ErrorContains(t, err, refused, minutes)
	}
}

func TestItemsAndProducts(t *testing.T) {
	t.Parallel()
	storetest.Engines(t, func(t *testing.T, s inventory.Store) {
		h := fixture.New(t, s)
		it, err := h.S.Lists.Item(h.Ctx, fixture.Crew, " pen ")
		require.NoError(t, err)
		pr, err := h.S.Lists.CreateProduct(h.Ctx, fixture.Keeper, inventory.Product{Item: "PEN", GTIN: "09506000134352",
			PackSize: 12})
		require.NoError(t, err)
		_, err = h.S.Lists.CreateProduct(h.Ctx, fixture.Keeper, inventory.Product{Item: "NONE", PackSize: 1})
		inventorytest.RequireFields(t, err, "item")

		it.PreferredProduct, it.Name = pr.ID, "Marker, permanent"
		next, err := h.S.Lists.UpdateItem(h.Ctx, fixture.Keeper, it)
		require.NoError(t, err)
		assert.Equal(t, it.Version+1, next.Version)
		_, err = h.S.Lists.UpdateItem(h.Ctx, fixture.Keeper, it)
		inventorytest.RequireKind(t, inventory.Stale, err)
		other, err := h.S.Lists.Item(h.Ctx, fixture.Crew, "DRESSING")
		require.NoError(t, err)
		other.PreferredProduct = pr.ID
		_, err = h.S.Lists.UpdateItem(h.Ctx, fixture.Keeper, other)
		inventorytest.RequireFields(t, err, "preferred_product")
		other.PreferredProduct = 99
		_, err = h.S.Lists.UpdateItem(h.Ctx, fixture.Keeper, other)
		inventorytest.RequireFields(t, err, "preferred_product")

		// An item can change between batches and serial numbers only while it has no units.
		free, err := h.S.Lists.Item(h.Ctx, fixture.Crew, "GAUZE")
		require.NoError(t, err)
		free.TrackedBy = inventory.BySerial
		_, err = h.S.Lists.UpdateItem(h.Ctx, fixture.Keeper, free)
		require.NoError(t, err)
		h.Receive("DRESSING", "B1", 1, "2028-02")
		other.PreferredProduct, other.TrackedBy = 0, inventory.BySerial
		_, err = h.S.Lists.UpdateItem(h.Ctx, fixture.Keeper, other)
		inventorytest.RequireKind(t, inventory.Conflict, err)

		other.TrackedBy, other.Category = inventory.ByLot, inventory.CategoryMedicine
		_, err = h.S.Lists.UpdateItem(h.Ctx, fixture.Keeper, other)
		inventorytest.RequireKind(t, inventory.Conflict, err) // the category decides what printed dates mean
		other.Category = inventory.CategoryTool
		_, err = h.S.Lists.UpdateItem(h.Ctx, fixture.Keeper, other)
		require.NoError(t, err)

		pr.PackSize = 10
		changed, err := h.S.Lists.UpdateProduct(h.Ctx, fixture.Keeper, pr)
		require.NoError(t, err)
		assert.Equal(t, 10, changed.PackSize)
		_, err = h.S.Lists.UpdateProduct(h.Ctx, fixture.Keeper, pr)
		inventorytest.RequireKind(t, inventory.Stale, err)
		changed.Item = "DRESSING"
		_, err = h.S.Lists.UpdateProduct(h.Ctx, fixture.Keeper, changed)
		inventorytest.RequireFields(t, err, "item")
		list, err := h.S.Lists.Products(h.Ctx, fixture.Crew, inventory.ProductFilter{Item: "PEN"}, inventory.Page{})
		require.NoError(t, err)
		assert.Len(t, list, 1)
		items, err := h.S.Lists.Items(h.Ctx, fixture.Crew, inventory.ItemFilter{Text: "PERMA"}, inventory.Page{})
		require.NoError(t, err)
		require.Len(t, items, 1)
		assert.Equal(t, "PEN", items[0].Code)

		_, err = h.S.Lists.CreateItem(h.Ctx, fixture.Keeper, inventory.Item{Code: "PEN", Name: "x", Category: "tool",
			Unit:      "each",
			TrackedBy: inventory.ByLot})
		inventorytest.RequireKind(t, inventory.Conflict, err)
		_, err = h.S.Lists.CreateItem(h.Ctx, fixture.Crew, it)
		inventorytest.RequireKind(t, inventory.Forbidden, err)
		_, err = h.S.Lists.Item(h.Ctx, fixture.Crew, "GONE")
		inventorytest.RequireKind(t, inventory.NotFound, err)
		_, err = h.S.Lists.Product(h.Ctx, fixture.Crew, 99)
		inventorytest.RequireKind(t, inventory.NotFound, err)
	})
}

func TestPlaces(t *testing.T) {
	t.Parallel()
	h := fixture.New(t, storetest.OpenSQLite(t))
	_, err := h.S.Lists.CreatePlace(h.Ctx, fixture.Keeper, inventory.Place{Code: "W-1", Station: "WEST",
		Kind:    inventory.KindStore,
		Purpose: inventory.ForIssue, Name: "x"})
	inventorytest.RequireKind(t, inventory.Forbidden, err)
	_, err = h.S.Lists.CreatePlace(h.Ctx, fixture.Admin, inventory.Place{Code: "W-1", Station: "WEST",
		Kind:    inventory.KindStore,
		Purpose: inventory.ForIssue, Name: "x"})
	inventorytest.RequireFields(t, err, "station")
	_, err = h.S.Lists.CreatePlace(h.Ctx, fixture.Admin, inventory.Place{Code: "N-BELT", Station: "NORTH",
		Kind: inventory.KindCarrier, Purpose: inventory.ForIssue, Name: "x"})
	inventorytest.RequireKind(t, inventory.Conflict, err)
	places, err := h.S.Lists.Places(h.Ctx, fixture.Crew, inventory.PlaceFilter{}, inventory.Page{})
	require.NoError(t, err)
	for _, p := range places {
		assert.Equal(t, "NORTH", p.Station)
		assert.False(t, p.Outside(), "places outside are never listed")
	}
	_, err = h.S.Lists.Places(h.Ctx, fixture.Crew, inventory.PlaceFilter{Stations: []string{"SOUTH"}}, inventory.Page{})
	inventorytest.RequireKind(t, inventory.Forbidden, err)
}

func TestKitListVersions(t *testing.T) {
	t.Parallel()
	storetest.Engines(t, func(t *testing.T, s inventory.Store) {
		h := fixture.New(t, s)
		next := fixture.HouseList()
		next.Lines = next.Lines[:1]
		then, _, err := h.S.Lists.Preview(h.Ctx, fixture.Keeper, next)
		require.NoError(t, err)
		require.NotEmpty(t, then, "what is no more on the list is missing no more")
		assert.NotEmpty(t, then[0].Lacks)
		then, same, err := h.S.Lists.Preview(h.Ctx, fixture.Keeper, fixture.HouseList())
		require.NoError(t, err)
		assert.Empty(t, then)
		assert.Positive(t, same)
		_, _, err = h.S.Lists.Preview(h.Ctx, fixture.Crew, next)
		inventorytest.RequireKind(t, inventory.Forbidden, err)
		k, err := h.S.Lists.NextKitList(h.Ctx, fixture.Keeper, next, 1)
		require.NoError(t, err)
		assert.Equal(t, 2, k.Version)
		_, err = h.S.Lists.NextKitList(h.Ctx, fixture.Keeper, next, 1)
		inventorytest.RequireKind(t, inventory.Stale, err)
		old, err := h.S.Lists.KitList(h.Ctx, fixture.Crew, "grab", 1)
		require.NoError(t, err)
		assert.Len(t, old.Lines, 4, "a version never changes")
		latest, err := h.S.Lists.KitList(h.Ctx, fixture.Crew, "GRAB", 0)
		require.NoError(t, err)
		assert.Equal(t, 2, latest.Version)
		all, err := h.S.Lists.KitLists(h.Ctx, fixture.Crew, inventory.Page{})
		require.NoError(t, err)
		assert.Len(t, all, 1)
		assert.Equal(t, 1, h.Bag("N-01").KitListVersion)
		_, err = h.S.Lists.MoveBags(h.Ctx, fixture.Crew, "GRAB")
		inventorytest.RequireKind(t, inventory.Forbidden, err)
		_, err = h.S.Lists.MoveBags(h.Ctx, fixture.Keeper, "GONE")
		inventorytest.RequireKind(t, inventory.NotFound, err)
		next.ValidFrom = inventorytest.Day("2030-01-01")
		_, err = h.S.Lists.NextKitList(h.Ctx, fixture.Keeper, next, 2)
		require.NoError(t, err)
		waiting, err := h.S.Lists.BagsToMove(h.Ctx, fixture.Crew, "grab")
		require.NoError(t, err)
		assert.Equal(t, 2, waiting["N-01"], "the newest that is in force, not the newest of all")
		_, err = h.S.Lists.BagsToMove(h.Ctx, fixture.Crew, "GONE")
		inventorytest.RequireKind(t, inventory.NotFound, err)
		moved, err := h.S.Lists.MoveBags(h.Ctx, fixture.Keeper, "grab")
		require.NoError(t, err)
		require.NotEmpty(t, moved)
		assert.Equal(t, []int{1, 2, 2}, []int{moved[0].From, moved[0].To, h.Bag("N-01").KitListVersion})

		bad := fixture.HouseList()
		bad.Code = "BAD"
		bad.Lines[0].Item, bad.Lines[1].Accepts = "GONE", []string{"ALSO-GONE"}
		bad.Rules = []inventory.KitRule{{WhenCategory: "gadgets", NeedItem: "GONE", AtLeast: 1,
			Severity: inventory.SeverityWarn, Because: "so"},
			{NeedCategory: "gadgets", AtLeast: 1, Severity: inventory.SeverityWarn, Because: "so"}}
		_, err = h.S.Lists.CreateKitList(h.Ctx, fixture.Keeper, bad)
		inventorytest.RequireFields(t, err, "lines[0].item", "lines[1].accepts", "rules[0].need_item",
			"rules[0].when_category",
			"rules[1].need_category")
		_, err = h.S.Lists.CreateKitList(h.Ctx, fixture.Keeper, fixture.HouseList())
		require.Error(t, err)
		assert.Contains(t, []inventory.ErrorKind{inventory.Conflict, inventory.Stale}, inventory.KindOf(err))
		_, err = h.S.Lists.NextKitList(h.Ctx, fixture.Keeper, inventory.KitList{Code: "GONE"}, 0)
		inventorytest.RequireKind(t, inventory.NotFound, err)
		_, err = h.S.Lists.CreateKitList(h.Ctx, fixture.Crew, fixture.HouseList())
		inventorytest.RequireKind(t, inventory.Forbidden, err)
	})
}

func TestBags(t *testing.T) {
	t.Parallel()
	storetest.Engines(t, func(t *testing.T, s inventory.Store) {
		h := fixture.New(t, s)
		good := inventory.Bag{Code: "N-03", Station: "NORTH", Name: "Third", KitList: "GRAB"}
		made, err := h.S.Lists.CreateBag(h.Ctx, fixture.Keeper, good)
		require.NoError(t, err)
		assert.Equal(t, []any{"NORTH", inventory.ForIssue, 5, 1}, []any{made.AtStation, made.Purpose, made.Priority,
			made.KitListVersion}, "what is left out")
		_, err = h.S.Lists.CreateBag(h.Ctx, fixture.Keeper, good)
		inventorytest.RequireKind(t, inventory.Conflict, err)
		for path, change := range map[string]func(*inventory.Bag){
			"kit_list":   func(b *inventory.Bag) { b.KitList = "GONE" },
			"at_station": func(b *inventory.Bag) { b.AtStation = "WEST" },
			"inside":     func(b *inventory.Bag) { b.Inside = "GONE" }, "code": func(b *inventory.Bag) { b.Code = "n 4" },
		} {
			b := good
			b.Code = "N-04"
			change(&b)
			_, err := h.S.Lists.CreateBag(h.Ctx, fixture.Admin, b)
			inventorytest.RequireFields(t, err, path)
		}
		module := good
		module.Code, module.Inside = "N-03A", "N-03"
		_, err = h.S.Lists.CreateBag(h.Ctx, fixture.Keeper, module)
		require.NoError(t, err)
		module.Code, module.Inside = "N-03B", "N-03A"
		_, err = h.S.Lists.CreateBag(h.Ctx, fixture.Keeper, module)
		inventorytest.RequireFields(t, err, "inside") // a module cannot hold modules
		module.Code, module.Inside = "N-03C", "S-01"
		_, err = h.S.Lists.CreateBag(h.Ctx, fixture.Keeper, module)
		inventorytest.RequireFields(t, err, "inside") // the outer bag is at another station
		_, err = h.S.Lists.UpdateBag(h.Ctx, fixture.Keeper, "N-03", 0, ledger.BagChange{Inside: inventorytest.Ptr("N-01")})
		inventorytest.RequireFields(t, err, "inside") // a bag that holds modules cannot become a module
		_, err = h.S.Lists.CreateBag(h.Ctx, fixture.Crew, good)
		inventorytest.RequireKind(t, inventory.Forbidden, err)
	})
}

func TestUpdateBag(t *testing.T) {
	t.Parallel()
	storetest.Engines(t, func(t *testing.T, s inventory.Store) {
		h := fixture.New(t, s)
		b := h.Bag("N-01")
		off, err := h.S.Lists.UpdateBag(h.Ctx, fixture.Crew, "n-01", b.Version,
			ledger.BagChange{OutOfService: inventorytest.Ptr("zip torn")})
		require.NoError(t, err)
		assert.Equal(t, &inventory.ServicePause{Reason: "zip torn", By: "Cleo", RecordedAt: h.Now}, off.OutOfService)
		assert.Equal(t, inventory.OutOfService, h.Readiness("N-01").State)
		_, err = h.S.Lists.UpdateBag(h.Ctx, fixture.Crew, "N-01", 0, ledger.BagChange{OutOfService: inventorytest.Ptr("")})
		inventorytest.RequireKind(t, inventory.Forbidden, err) // crew may take a bag out of service, but not return it
		_, err = h.S.Lists.UpdateBag(h.Ctx, fixture.Crew, "N-01", 0, ledger.BagChange{Name: inventorytest.Ptr("Mine")})
		inventorytest.RequireKind(t, inventory.Forbidden, err)
		_, err = h.S.Lists.UpdateBag(h.Ctx, fixture.Keeper, "N-01", b.Version,
			ledger.BagChange{OutOfService: inventorytest.Ptr("")})
		inventorytest.RequireKind(t, inventory.Stale, err)
		back, err := h.S.Lists.UpdateBag(h.Ctx, fixture.Keeper, "N-01", off.Version,
			ledger.BagChange{OutOfService: inventorytest.Ptr(""),
				Priority: inventorytest.Ptr(3), Vehicle: inventorytest.Ptr("Van 2")})
		require.NoError(t, err)
		assert.Nil(t, back.OutOfService)
		assert.Equal(t, []any{3, "Van 2", b.Name}, []any{back.Priority, back.Vehicle, back.Name})
		_, err = h.S.Lists.UpdateBag(h.Ctx, fixture.Keeper, "N-01", 0, ledger.BagChange{Priority: inventorytest.Ptr(10)})
		inventorytest.RequireFields(t, err, "priority")
		_, err = h.S.Lists.UpdateBag(h.Ctx, fixture.Keeper, "X-99", 0, ledger.BagChange{Priority: inventorytest.Ptr(1)})
		inventorytest.RequireKind(t, inventory.NotFound, err)

		// A new kit list changes the position, so a report on what the crew saw before is out of date.
		_, err = h.S.Lists.NextKitList(h.Ctx, fixture.Keeper, fixture.HouseList(), 0)
		require.NoError(t, err)
		position := h.Bag("N-01").Position
		moved, err := h.S.Lists.UpdateBag(h.Ctx, fixture.Keeper, "N-01", 0,
			ledger.BagChange{KitListVersion: inventorytest.Ptr(0)})
		require.NoError(t, err)
		assert.Equal(t, 2, moved.KitListVersion)
		assert.Greater(t, h.Bag("N-01").Position, position)
	})
}

// TestLentBag: a bag lent to another station is checked by that station's crew and judged on that station's day; its
// movements stay in the chain of the station that owns it.
func TestLentBag(t *testing.T) {
	t.Parallel()
	storetest.Engines(t, func(t *testing.T, s inventory.Store) {
		h := fixture.NewStowed(t, s)
		h.Now = inventorytest.At("2027-06-14T13:00:00Z") // in Auckland it is the next day
		_, err := h.S.Lists.UpdateBag(h.Ctx, fixture.Admin, "N-01", 0,
			ledger.BagChange{AtStation: inventorytest.Ptr("SOUTH")})
		require.NoError(t, err)
		_, err = h.S.Lists.Bag(h.Ctx, fixture.Crew, "N-01")
		inventorytest.RequireKind(t, inventory.Forbidden, err)
		south := inventory.Actor{Name: "Sol", Role: inventory.Crew, Stations: []string{"SOUTH"}}
		r, err := h.S.Shift.Readiness(h.Ctx, south, "N-01", lists.Outlook{Horizon: -1})
		require.NoError(t, err)
		assert.Equal(t, "2027-06-15", r.AsOf.String())
		assert.Equal(t, inventory.DefaultHorizonDays, r.HorizonDays)
		h.Move(h.Pens.ID, 1, "N-01", "used", inventory.ReasonUsed)
		ms, err := h.S.Ledger.Movements(h.Ctx, fixture.Admin, inventory.MovementFilter{Place: "N-01"}, inventory.Page{})
		require.NoError(t, err)
		assert.Equal(t, "NORTH", ms[len(ms)-1].Station)
		h.Verify()
	})
}

// TestPrices: what a pack costs is kept from a day on, and what it cost before stays.
func TestPrices(t *testing.T) {
	t.Parallel()
	storetest.Engines(t, func(t *testing.T, s inventory.Store) {
		h := fixture.New(t, s)
		today := h.Now.InUTC()
		pr, err := h.S.Lists.CreateProduct(h.Ctx, fixture.Keeper, inventory.Product{Item: "PEN", PackSize: 10})
		require.NoError(t, err)
		assert.Empty(t, pr.PriceIn(today).String())
		price := func(minor int64, from inventory.Day) inventory.Price {
			return inventory.Price{Amount: money.Amount{Minor: minor, Currency: "EUR"}, ValidFrom: from}
		}
		for _, p := range []inventory.Price{price(500, today), price(450, today.AddDays(-30)), price(520, today),
			price(600, today.AddDays(1))} {
			_, err = h.S.Lists.AddPrice(h.Ctx, fixture.Keeper, pr.ID, p)
			require.NoError(t, err)
		}
		pr, err = h.S.Lists.Product(h.Ctx, fixture.Crew, pr.ID)
		require.NoError(t, err)
		for day, want := range map[inventory.Day]string{today.AddDays(-31): "", today.AddDays(-30): "4.50 EUR",
			today.AddDays(-1): "4.50 EUR", today: "5.20 EUR", today.AddDays(400): "6.00 EUR"} {
			assert.Equal(t, want, pr.PriceIn(day).String(), day)
		}
		inventorytest.RequireKind(t, inventory.Forbidden, h.S.Lists.Prefer(h.Ctx, fixture.Crew, pr.ID))
		inventorytest.RequireKind(t, inventory.NotFound, h.S.Lists.Prefer(h.Ctx, fixture.Keeper, 999))
		require.NoError(t, h.S.Lists.Prefer(h.Ctx, fixture.Keeper, pr.ID))
		pen, err := h.S.Lists.Item(h.Ctx, fixture.Keeper, "PEN")
		require.NoError(t, err)
		assert.Equal(t, pr.ID, pen.PreferredProduct)
		wrong := price(1, 0)
		wrong.Currency = "XXX"
		_, err = h.S.Lists.AddPrice(h.Ctx, fixture.Keeper, pr.ID, wrong)
		inventorytest.RequireFields(t, err, "amount", "valid_from")
		_, err = h.S.Lists.AddPrice(h.Ctx, fixture.Manager, pr.ID, price(1, today))
		inventorytest.RequireKind(t, inventory.Forbidden, err)
		_, err = h.S.Lists.AddPrice(h.Ctx, fixture.Keeper, 999, price(1, today))
		inventorytest.RequireKind(t, inventory.NotFound, err)
		h.Verify()
	})
}
