package inventory_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stowkeeper/inventory"
	"stowkeeper/inventory/ledger"
	"stowkeeper/inventory/lists"
	"stowkeeper/inventory/store/storetest"
)

func ptr[T any](v T) *T { return &v }

func TestStationsAndCategories(t *testing.T) {
	t.Parallel()
	storetest.Engines(t, func(t *testing.T, s inventory.Store) {
		h := newHouse(t, s)
		_, err := h.s.Lists.CreateStation(h.ctx, keeper, inventory.Station{Code: "WEST", Name: "West", Timezone: "UTC"})
		requireKind(t, inventory.Forbidden, err)
		_, err = h.s.Lists.CreateStation(h.ctx, admin, inventory.Station{Code: "NORTH", Name: "Again", Timezone: "UTC"})
		requireKind(t, inventory.Conflict, err)
		_, err = h.s.Lists.CreateStation(h.ctx, admin, inventory.Station{Code: "west", Timezone: "Moon"})
		requireFields(t, err, "code", "name", "timezone")
		stations, err := h.s.Lists.Stations(h.ctx, crew)
		require.NoError(t, err)
		require.Len(t, stations, 1, "one's own")
		assert.Equal(t, "NORTH", stations[0].Code)

		cats, err := h.s.Lists.Categories(h.ctx, crew)
		require.NoError(t, err)
		assert.ElementsMatch(t, inventory.Categories, cats)
		require.NoError(t, h.s.Lists.AddCategory(h.ctx, admin, "water rescue"))
		requireKind(t, inventory.Conflict, h.s.Lists.AddCategory(h.ctx, admin, "water rescue"))
		requireFields(t, h.s.Lists.AddCategory(h.ctx, admin, " "), "name")
		requireKind(t, inventory.Forbidden, h.s.Lists.AddCategory(h.ctx, keeper, "x"))
		_, err = h.s.Lists.CreateItem(h.ctx, keeper, inventory.Item{Code: "ROPE", Name: "Throw line",
			Category: "water rescue", Unit: "each", TrackedBy: inventory.ByLot})
		require.NoError(t, err)
	})
}

func TestItemsAndProducts(t *testing.T) {
	t.Parallel()
	storetest.Engines(t, func(t *testing.T, s inventory.Store) {
		h := newHouse(t, s)
		it, err := h.s.Lists.Item(h.ctx, crew, " pen ")
		require.NoError(t, err)
		pr, err := h.s.Lists.CreateProduct(h.ctx, keeper, inventory.Product{Item: "PEN", GTIN: "09506000134352",
			PackSize: 12})
		require.NoError(t, err)
		_, err = h.s.Lists.CreateProduct(h.ctx, keeper, inventory.Product{Item: "NONE", PackSize: 1})
		requireFields(t, err, "item")

		it.PreferredProduct, it.Name = pr.ID, "Marker, permanent"
		next, err := h.s.Lists.UpdateItem(h.ctx, keeper, it)
		require.NoError(t, err)
		assert.Equal(t, it.Version+1, next.Version)
		_, err = h.s.Lists.UpdateItem(h.ctx, keeper, it)
		requireKind(t, inventory.Stale, err)
		other, err := h.s.Lists.Item(h.ctx, crew, "DRESSING")
		require.NoError(t, err)
		other.PreferredProduct = pr.ID
		_, err = h.s.Lists.UpdateItem(h.ctx, keeper, other)
		requireFields(t, err, "preferred_product")
		other.PreferredProduct = 99
		_, err = h.s.Lists.UpdateItem(h.ctx, keeper, other)
		requireFields(t, err, "preferred_product")

		// How units are told apart cannot change once there are any.
		free, err := h.s.Lists.Item(h.ctx, crew, "GAUZE")
		require.NoError(t, err)
		free.TrackedBy = inventory.BySerial
		_, err = h.s.Lists.UpdateItem(h.ctx, keeper, free)
		require.NoError(t, err)
		h.receive("DRESSING", "B1", 1, "2028-02")
		other.PreferredProduct, other.TrackedBy = 0, inventory.BySerial
		_, err = h.s.Lists.UpdateItem(h.ctx, keeper, other)
		requireKind(t, inventory.Conflict, err)

		other.TrackedBy, other.Category = inventory.ByLot, inventory.CategoryMedicine
		_, err = h.s.Lists.UpdateItem(h.ctx, keeper, other)
		requireKind(t, inventory.Conflict, err) // it decides what printed dates mean
		other.Category = inventory.CategoryTool
		_, err = h.s.Lists.UpdateItem(h.ctx, keeper, other)
		require.NoError(t, err)

		pr.PackSize = 10
		changed, err := h.s.Lists.UpdateProduct(h.ctx, keeper, pr)
		require.NoError(t, err)
		assert.Equal(t, 10, changed.PackSize)
		_, err = h.s.Lists.UpdateProduct(h.ctx, keeper, pr)
		requireKind(t, inventory.Stale, err)
		changed.Item = "DRESSING"
		_, err = h.s.Lists.UpdateProduct(h.ctx, keeper, changed)
		requireFields(t, err, "item")
		list, err := h.s.Lists.Products(h.ctx, crew, inventory.ProductFilter{Item: "PEN"}, inventory.Page{})
		require.NoError(t, err)
		assert.Len(t, list, 1)
		items, err := h.s.Lists.Items(h.ctx, crew, inventory.ItemFilter{Text: "PERMA"}, inventory.Page{})
		require.NoError(t, err)
		require.Len(t, items, 1)
		assert.Equal(t, "PEN", items[0].Code)

		_, err = h.s.Lists.CreateItem(h.ctx, keeper, inventory.Item{Code: "PEN", Name: "x", Category: "tool", Unit: "each",
			TrackedBy: inventory.ByLot})
		requireKind(t, inventory.Conflict, err)
		_, err = h.s.Lists.CreateItem(h.ctx, crew, it)
		requireKind(t, inventory.Forbidden, err)
		_, err = h.s.Lists.Item(h.ctx, crew, "GONE")
		requireKind(t, inventory.NotFound, err)
		_, err = h.s.Lists.Product(h.ctx, crew, 99)
		requireKind(t, inventory.NotFound, err)
	})
}

func TestPlaces(t *testing.T) {
	t.Parallel()
	h := newHouse(t, storetest.OpenSQLite(t))
	_, err := h.s.Lists.CreatePlace(h.ctx, keeper, inventory.Place{Code: "W-1", Station: "WEST", Kind: inventory.KindStore,
		Purpose: inventory.ForIssue, Name: "x"})
	requireKind(t, inventory.Forbidden, err)
	_, err = h.s.Lists.CreatePlace(h.ctx, admin, inventory.Place{Code: "W-1", Station: "WEST", Kind: inventory.KindStore,
		Purpose: inventory.ForIssue, Name: "x"})
	requireFields(t, err, "station")
	_, err = h.s.Lists.CreatePlace(h.ctx, admin, inventory.Place{Code: "N-BELT", Station: "NORTH",
		Kind: inventory.KindCarrier, Purpose: inventory.ForIssue, Name: "x"})
	requireKind(t, inventory.Conflict, err)
	places, err := h.s.Lists.Places(h.ctx, crew, inventory.PlaceFilter{}, inventory.Page{})
	require.NoError(t, err)
	for _, p := range places {
		assert.Equal(t, "NORTH", p.Station)
		assert.False(t, p.Outside(), "places outside are never listed")
	}
	_, err = h.s.Lists.Places(h.ctx, crew, inventory.PlaceFilter{Stations: []string{"SOUTH"}}, inventory.Page{})
	requireKind(t, inventory.Forbidden, err)
}

func TestKitListVersions(t *testing.T) {
	t.Parallel()
	storetest.Engines(t, func(t *testing.T, s inventory.Store) {
		h := newHouse(t, s)
		next := houseList()
		next.Lines = next.Lines[:1]
		k, err := h.s.Lists.NextKitList(h.ctx, keeper, next, 1)
		require.NoError(t, err)
		assert.Equal(t, 2, k.Version)
		_, err = h.s.Lists.NextKitList(h.ctx, keeper, next, 1)
		requireKind(t, inventory.Stale, err)
		old, err := h.s.Lists.KitList(h.ctx, crew, "grab", 1)
		require.NoError(t, err)
		assert.Len(t, old.Lines, 4, "a version never changes")
		latest, err := h.s.Lists.KitList(h.ctx, crew, "GRAB", 0)
		require.NoError(t, err)
		assert.Equal(t, 2, latest.Version)
		all, err := h.s.Lists.KitLists(h.ctx, crew, inventory.Page{})
		require.NoError(t, err)
		assert.Len(t, all, 1)
		assert.Equal(t, 1, h.bag("N-01").KitListVersion)

		bad := houseList()
		bad.Code = "BAD"
		bad.Lines[0].Item, bad.Lines[1].Accepts = "GONE", []string{"ALSO-GONE"}
		bad.Rules = []inventory.KitRule{{WhenCategory: "gadgets", NeedItem: "GONE", AtLeast: 1,
			Severity: inventory.SeverityWarn, Because: "so"},
			{NeedCategory: "gadgets", AtLeast: 1, Severity: inventory.SeverityWarn, Because: "so"}}
		_, err = h.s.Lists.CreateKitList(h.ctx, keeper, bad)
		requireFields(t, err, "lines[0].item", "lines[1].accepts", "rules[0].need_item", "rules[0].when_category",
			"rules[1].need_category")
		_, err = h.s.Lists.CreateKitList(h.ctx, keeper, houseList())
		require.Error(t, err)
		assert.Contains(t, []inventory.ErrorKind{inventory.Conflict, inventory.Stale}, inventory.KindOf(err))
		_, err = h.s.Lists.NextKitList(h.ctx, keeper, inventory.KitList{Code: "GONE"}, 0)
		requireKind(t, inventory.NotFound, err)
		_, err = h.s.Lists.CreateKitList(h.ctx, crew, houseList())
		requireKind(t, inventory.Forbidden, err)
	})
}

func TestBags(t *testing.T) {
	t.Parallel()
	storetest.Engines(t, func(t *testing.T, s inventory.Store) {
		h := newHouse(t, s)
		good := inventory.Bag{Code: "N-03", Station: "NORTH", Name: "Third", KitList: "GRAB"}
		made, err := h.s.Lists.CreateBag(h.ctx, keeper, good)
		require.NoError(t, err)
		assert.Equal(t, []any{"NORTH", inventory.ForIssue, 5, 1}, []any{made.AtStation, made.Purpose, made.Priority,
			made.KitListVersion}, "what is left out")
		_, err = h.s.Lists.CreateBag(h.ctx, keeper, good)
		requireKind(t, inventory.Conflict, err)
		for path, change := range map[string]func(*inventory.Bag){
			"kit_list":   func(b *inventory.Bag) { b.KitList = "GONE" },
			"at_station": func(b *inventory.Bag) { b.AtStation = "WEST" },
			"inside":     func(b *inventory.Bag) { b.Inside = "GONE" }, "code": func(b *inventory.Bag) { b.Code = "n 4" },
		} {
			b := good
			b.Code = "N-04"
			change(&b)
			_, err := h.s.Lists.CreateBag(h.ctx, admin, b)
			requireFields(t, err, path)
		}
		module := good
		module.Code, module.Inside = "N-03A", "N-03"
		_, err = h.s.Lists.CreateBag(h.ctx, keeper, module)
		require.NoError(t, err)
		module.Code, module.Inside = "N-03B", "N-03A"
		_, err = h.s.Lists.CreateBag(h.ctx, keeper, module)
		requireFields(t, err, "inside") // a module is no bag for modules
		module.Code, module.Inside = "N-03C", "S-01"
		_, err = h.s.Lists.CreateBag(h.ctx, keeper, module)
		requireFields(t, err, "inside") // another station's
		_, err = h.s.Lists.UpdateBag(h.ctx, keeper, "N-03", 0, ledger.BagChange{Inside: ptr("N-01")})
		requireFields(t, err, "inside") // a bag with modules becomes none
		_, err = h.s.Lists.CreateBag(h.ctx, crew, good)
		requireKind(t, inventory.Forbidden, err)
	})
}

func TestUpdateBag(t *testing.T) {
	t.Parallel()
	storetest.Engines(t, func(t *testing.T, s inventory.Store) {
		h := newHouse(t, s)
		b := h.bag("N-01")
		off, err := h.s.Lists.UpdateBag(h.ctx, crew, "n-01", b.Version, ledger.BagChange{OutOfService: ptr("zip torn")})
		require.NoError(t, err)
		assert.Equal(t, &inventory.ServicePause{Reason: "zip torn", By: "Cleo", RecordedAt: h.now}, off.OutOfService)
		assert.Equal(t, inventory.OutOfService, h.readiness("N-01").State)
		_, err = h.s.Lists.UpdateBag(h.ctx, crew, "N-01", 0, ledger.BagChange{OutOfService: ptr("")})
		requireKind(t, inventory.Forbidden, err) // crew take off and do not put back
		_, err = h.s.Lists.UpdateBag(h.ctx, crew, "N-01", 0, ledger.BagChange{Name: ptr("Mine")})
		requireKind(t, inventory.Forbidden, err)
		_, err = h.s.Lists.UpdateBag(h.ctx, keeper, "N-01", b.Version, ledger.BagChange{OutOfService: ptr("")})
		requireKind(t, inventory.Stale, err)
		back, err := h.s.Lists.UpdateBag(h.ctx, keeper, "N-01", off.Version, ledger.BagChange{OutOfService: ptr(""),
			Priority: ptr(3), Vehicle: ptr("Van 2")})
		require.NoError(t, err)
		assert.Nil(t, back.OutOfService)
		assert.Equal(t, []any{3, "Van 2", b.Name}, []any{back.Priority, back.Vehicle, back.Name})
		_, err = h.s.Lists.UpdateBag(h.ctx, keeper, "N-01", 0, ledger.BagChange{Priority: ptr(10)})
		requireFields(t, err, "priority")
		_, err = h.s.Lists.UpdateBag(h.ctx, keeper, "X-99", 0, ledger.BagChange{Priority: ptr(1)})
		requireKind(t, inventory.NotFound, err)

		// Another list moves the position on: what the crew saw no longer holds.
		_, err = h.s.Lists.NextKitList(h.ctx, keeper, houseList(), 0)
		require.NoError(t, err)
		position := h.bag("N-01").Position
		moved, err := h.s.Lists.UpdateBag(h.ctx, keeper, "N-01", 0, ledger.BagChange{KitListVersion: ptr(0)})
		require.NoError(t, err)
		assert.Equal(t, 2, moved.KitListVersion)
		assert.Greater(t, h.bag("N-01").Position, position)
	})
}

// TestLentBag: while a bag is at another station, that station's crew check it
// and its day counts; its movements stay in its owner's chain.
func TestLentBag(t *testing.T) {
	t.Parallel()
	storetest.Engines(t, func(t *testing.T, s inventory.Store) {
		h := newStowed(t, s)
		h.now = at("2027-06-14T13:00:00Z") // the next day in Auckland
		_, err := h.s.Lists.UpdateBag(h.ctx, admin, "N-01", 0, ledger.BagChange{AtStation: ptr("SOUTH")})
		require.NoError(t, err)
		_, err = h.s.Lists.Bag(h.ctx, crew, "N-01")
		requireKind(t, inventory.Forbidden, err)
		south := inventory.Actor{Name: "Sol", Role: inventory.Crew, Stations: []string{"SOUTH"}}
		r, err := h.s.Shift.Readiness(h.ctx, south, "N-01", lists.Outlook{Horizon: -1})
		require.NoError(t, err)
		assert.Equal(t, "2027-06-15", r.AsOf.String())
		assert.Equal(t, inventory.DefaultHorizonDays, r.HorizonDays)
		h.move(h.pens.ID, 1, "N-01", "used", inventory.ReasonUsed)
		ms, err := h.s.Ledger.Movements(h.ctx, admin, inventory.MovementFilter{Place: "N-01"}, inventory.Page{})
		require.NoError(t, err)
		assert.Equal(t, "NORTH", ms[len(ms)-1].Station)
		h.verify()
	})
}
