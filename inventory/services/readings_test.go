package services_test

import (
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stowkeeper/inventory"
	"stowkeeper/inventory/fixture"
	"stowkeeper/inventory/inventorytest"
	"stowkeeper/inventory/lists"
	"stowkeeper/inventory/store/storetest"
)

// TestReadingsNeedSignIn walks every reading: a stranger is refused, crew
// without a station see no station's things.
func TestReadingsNeedSignIn(t *testing.T) {
	t.Parallel()
	h := fixture.NewStowed(t, storetest.OpenSQLite(t))
	lost := inventory.Actor{Name: "Lou", Role: inventory.Crew}
	ask := lists.Outlook{Horizon: -1}
	for name, reading := range map[string]func(by inventory.Actor) (int, error){
		"bag": func(by inventory.Actor) (int, error) { _, err := h.S.Lists.Bag(h.Ctx, by, "N-01"); return 1, err },
		"search": func(by inventory.Actor) (int, error) {
			f, err := h.S.Search.Search(h.Ctx, by, "n01")
			return len(f.Bags) + len(f.Lots) + len(f.Items) + len(f.People), err
		},
		"find bag": func(by inventory.Actor) (int, error) { _, err := h.S.Stock.FindBag(h.Ctx, by, "n01"); return 1, err },
		"readiness": func(by inventory.Actor) (int, error) {
			_, err := h.S.Shift.Readiness(h.Ctx, by, "N-01", ask)
			return 1, err
		},
		"checklist": func(by inventory.Actor) (int, error) {
			_, err := h.S.Shift.Checklist(h.Ctx, by, "N-01", ask)
			return 1, err
		},
		"pick list": func(by inventory.Actor) (int, error) {
			_, err := h.S.Storeroom.RestockPlan(h.Ctx, by, "N-01", ask)
			return 1, err
		},
		"seals": func(by inventory.Actor) (int, error) {
			_, err := h.S.Storeroom.Seals(h.Ctx, by, "N-01", inventory.Page{})
			return 1, err
		},
		"restocks": func(by inventory.Actor) (int, error) {
			_, err := h.S.Storeroom.Restocks(h.Ctx, by, "N-01", inventory.Page{})
			return 1, err
		},
		"stock at": func(by inventory.Actor) (int, error) {
			_, err := h.S.Stock.StockAt(h.Ctx, by, "NORTH-STORE")
			return 1, err
		},
		"bag list": func(by inventory.Actor) (int, error) {
			x, err := h.S.Shift.BagList(h.Ctx, by, inventory.BagFilter{}, inventory.Page{}, ask)
			return len(x), err
		},
		"bags": func(by inventory.Actor) (int, error) {
			x, err := h.S.Storeroom.Bags(h.Ctx, by, inventory.BagFilter{}, inventory.Page{})
			return len(x), err
		},
		"stations": func(by inventory.Actor) (int, error) { x, err := h.S.Lists.Stations(h.Ctx, by); return len(x), err },
		"places": func(by inventory.Actor) (int, error) {
			x, err := h.S.Lists.Places(h.Ctx, by, inventory.PlaceFilter{}, inventory.Page{})
			return len(x), err
		},
		"lots": func(by inventory.Actor) (int, error) {
			x, err := h.S.Stock.Lots(h.Ctx, by, inventory.LotFilter{}, 0, inventory.Page{})
			return len(x), err
		},
		"checks": func(by inventory.Actor) (int, error) {
			x, err := h.S.Shift.Checks(h.Ctx, by, inventory.RecordFilter{}, inventory.Page{})
			return len(x), err
		},
		"check": func(by inventory.Actor) (int, error) { _, err := h.S.Shift.Check(h.Ctx, by, 1); return 1, err },
		"uses": func(by inventory.Actor) (int, error) {
			x, err := h.S.Shift.Uses(h.Ctx, by, inventory.RecordFilter{}, inventory.Page{})
			return len(x), err
		},
		"observations": func(by inventory.Actor) (int, error) {
			x, err := h.S.Storeroom.Observations(h.Ctx, by, "", inventory.ObservationFilter{})
			return len(x), err
		},
		"movements": func(by inventory.Actor) (int, error) {
			x, err := h.S.Ledger.Movements(h.Ctx, by, inventory.MovementFilter{}, inventory.Page{})
			return len(x), err
		},
		"shortages": func(by inventory.Actor) (int, error) {
			x, err := h.S.Report.Shortages(h.Ctx, by, nil, ask)
			return len(x.States), err
		},
		"desk": func(by inventory.Actor) (int, error) { _, err := h.S.Storeroom.Desk(h.Ctx, by, nil); return 1, err },
	} {
		_, err := reading(fixture.Nobody)
		inventorytest.RequireKind(t, inventory.SignedOut, err)
		_, err = reading(fixture.Admin)
		assert.NoError(t, err, name)
		n, err := reading(lost)
		if err == nil {
			assert.Zero(t, n, name)
		} else {
			assert.Contains(t, []inventory.ErrorKind{inventory.Forbidden, inventory.NotFound}, inventory.KindOf(err), "%s: %v",
				name, err)
		}
	}
	for name, reading := range map[string]func(by inventory.Actor) error{
		"categories": func(by inventory.Actor) error { _, err := h.S.Lists.Categories(h.Ctx, by); return err },
		"item":       func(by inventory.Actor) error { _, err := h.S.Lists.Item(h.Ctx, by, "PEN"); return err },
		"items": func(by inventory.Actor) error {
			_, err := h.S.Lists.Items(h.Ctx, by, inventory.ItemFilter{}, inventory.Page{})
			return err
		},
		"products": func(by inventory.Actor) error {
			_, err := h.S.Lists.Products(h.Ctx, by, inventory.ProductFilter{}, inventory.Page{})
			return err
		},
		"kit list":  func(by inventory.Actor) error { _, err := h.S.Lists.KitList(h.Ctx, by, "GRAB", 0); return err },
		"kit lists": func(by inventory.Actor) error { _, err := h.S.Lists.KitLists(h.Ctx, by, inventory.Page{}); return err },
		"lot":       func(by inventory.Actor) error { _, err := h.S.Stock.Lot(h.Ctx, by, h.Pens.ID); return err },
		"people":    func(by inventory.Actor) error { _, err := h.S.Account.People(h.Ctx, by); return err },
	} {
		inventorytest.RequireKind(t, inventory.SignedOut, reading(fixture.Nobody))
		assert.NoError(t, reading(fixture.Admin), name)
	}
}

func TestBagListAndReportsKeepToTheStations(t *testing.T) {
	t.Parallel()
	storetest.Engines(t, func(t *testing.T, s inventory.Store) {
		h := fixture.NewStowed(t, s)
		ask := lists.Outlook{Horizon: -1}
		list, err := h.S.Shift.BagList(h.Ctx, fixture.Crew, inventory.BagFilter{}, inventory.Page{}, ask)
		require.NoError(t, err)
		got := map[string]string{}
		for _, b := range list {
			got[b.Code] = string(b.State) + ": " + b.Headline.String()
		}
		assert.Equal(t, map[string]string{"N-01": "ready: OK to go out",
			"N-02": "not_ready: Do not use: Tourniquet, windlass: 0 of 2 in Red, at least 1 required",
			"T-01": "not_ready: Not ready for training: Tourniquet, windlass: 0 of 2 in Red, at least 1 required"}, got)
		i := slices.IndexFunc(list, func(b inventory.BagSummary) bool { return b.Code == "N-02" })
		assert.Equal(t, []int{2, 4}, []int{list[i].Stops, list[i].Warnings})
		_, err = h.S.Shift.BagList(h.Ctx, fixture.Crew, inventory.BagFilter{AtStations: []string{"SOUTH"}}, inventory.Page{},
			ask)
		inventorytest.RequireKind(t, inventory.Forbidden, err)
		page, err := h.S.Shift.BagList(h.Ctx, fixture.Admin, inventory.BagFilter{}, inventory.Page{Limit: 2, After: "N-01"},
			ask)
		require.NoError(t, err)
		assert.Equal(t, []string{"N-02", "S-01"}, []string{page[0].Code, page[1].Code})

		rep, err := h.S.Report.Shortages(h.Ctx, fixture.Manager, []string{"SOUTH"}, ask)
		require.NoError(t, err)
		assert.Equal(t, inventory.BagCounts{NotReady: 1}, rep.Bags)
		for _, r := range rep.Rows {
			assert.Equal(t, "SOUTH", r.Station)
		}
		for _, f := range rep.Fill {
			assert.Equal(t, "S-01", f.Bag)
			assert.Equal(t, inventory.FillTransfer, f.Kind, "the stock lies at the other station")
		}
		assert.NotEmpty(t, rep.Fill)
		all, err := h.S.Report.Shortages(h.Ctx, fixture.Manager, nil, ask)
		require.NoError(t, err)
		assert.Equal(t, inventory.BagCounts{Ready: 1, NotReady: 2}, all.Bags, "training bags are left out")
		_, err = h.S.Report.Shortages(h.Ctx, fixture.Crew, nil, ask)
		inventorytest.RequireKind(t, inventory.Forbidden, err)
		_, err = h.S.Report.Shortages(h.Ctx, fixture.Keeper, []string{"WEST"}, ask)
		inventorytest.RequireKind(t, inventory.NotFound, err)
		_, err = h.S.Report.Shortages(h.Ctx, inventory.Actor{Name: "Nell", Role: inventory.Quartermaster,
			Stations: []string{"NORTH"}}, []string{"SOUTH"}, ask)
		inventorytest.RequireKind(t, inventory.Forbidden, err)
	})
}
