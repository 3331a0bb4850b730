package inventory_test

import (
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stowkeeper/inventory"
	"stowkeeper/inventory/lists"
	"stowkeeper/inventory/shift"
	"stowkeeper/inventory/stock"
	"stowkeeper/inventory/store/storetest"
)

// TestReadingsNeedSignIn walks every reading: a stranger is refused, crew
// without a station see no station's things.
func TestReadingsNeedSignIn(t *testing.T) {
	t.Parallel()
	h := newStowed(t, storetest.OpenSQLite(t))
	lost := inventory.Actor{Name: "Lou", Role: inventory.Crew}
	ask := lists.Outlook{Horizon: -1}
	for name, reading := range map[string]func(by inventory.Actor) (int, error){
		"bag": func(by inventory.Actor) (int, error) { _, err := h.s.Lists.Bag(h.ctx, by, "N-01"); return 1, err },
		"search": func(by inventory.Actor) (int, error) {
			f, err := h.s.Search.Search(h.ctx, by, "n01")
			return len(f.Bags) + len(f.Lots) + len(f.Items) + len(f.People), err
		},
		"find bag": func(by inventory.Actor) (int, error) { _, err := h.s.Stock.FindBag(h.ctx, by, "n01"); return 1, err },
		"readiness": func(by inventory.Actor) (int, error) {
			_, err := h.s.Shift.Readiness(h.ctx, by, "N-01", ask)
			return 1, err
		},
		"checklist": func(by inventory.Actor) (int, error) {
			_, err := h.s.Shift.Checklist(h.ctx, by, "N-01", ask)
			return 1, err
		},
		"pick list": func(by inventory.Actor) (int, error) {
			_, err := h.s.Storeroom.RestockPlan(h.ctx, by, "N-01", ask)
			return 1, err
		},
		"seals": func(by inventory.Actor) (int, error) {
			_, err := h.s.Storeroom.Seals(h.ctx, by, "N-01", inventory.Page{})
			return 1, err
		},
		"restocks": func(by inventory.Actor) (int, error) {
			_, err := h.s.Storeroom.Restocks(h.ctx, by, "N-01", inventory.Page{})
			return 1, err
		},
		"stock at": func(by inventory.Actor) (int, error) {
			_, err := h.s.Stock.StockAt(h.ctx, by, "NORTH-STORE")
			return 1, err
		},
		"bag list": func(by inventory.Actor) (int, error) {
			x, err := h.s.Shift.BagList(h.ctx, by, inventory.BagFilter{}, inventory.Page{}, ask)
			return len(x), err
		},
		"bags": func(by inventory.Actor) (int, error) {
			x, err := h.s.Storeroom.Bags(h.ctx, by, inventory.BagFilter{}, inventory.Page{})
			return len(x), err
		},
		"stations": func(by inventory.Actor) (int, error) { x, err := h.s.Lists.Stations(h.ctx, by); return len(x), err },
		"places": func(by inventory.Actor) (int, error) {
			x, err := h.s.Lists.Places(h.ctx, by, inventory.PlaceFilter{}, inventory.Page{})
			return len(x), err
		},
		"lots": func(by inventory.Actor) (int, error) {
			x, err := h.s.Stock.Lots(h.ctx, by, inventory.LotFilter{}, 0, inventory.Page{})
			return len(x), err
		},
		"checks": func(by inventory.Actor) (int, error) {
			x, err := h.s.Shift.Checks(h.ctx, by, inventory.RecordFilter{}, inventory.Page{})
			return len(x), err
		},
		"check": func(by inventory.Actor) (int, error) { _, err := h.s.Shift.Check(h.ctx, by, 1); return 1, err },
		"uses": func(by inventory.Actor) (int, error) {
			x, err := h.s.Shift.Uses(h.ctx, by, inventory.RecordFilter{}, inventory.Page{})
			return len(x), err
		},
		"observations": func(by inventory.Actor) (int, error) {
			x, err := h.s.Storeroom.Observations(h.ctx, by, "", inventory.ObservationFilter{})
			return len(x), err
		},
		"movements": func(by inventory.Actor) (int, error) {
			x, err := h.s.Ledger.Movements(h.ctx, by, inventory.MovementFilter{}, inventory.Page{})
			return len(x), err
		},
		"shortages": func(by inventory.Actor) (int, error) {
			x, err := h.s.Report.Shortages(h.ctx, by, nil, ask)
			return len(x.States), err
		},
		"desk": func(by inventory.Actor) (int, error) { _, err := h.s.Storeroom.Desk(h.ctx, by, nil); return 1, err },
	} {
		_, err := reading(nobody)
		requireKind(t, inventory.SignedOut, err)
		_, err = reading(admin)
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
		"categories": func(by inventory.Actor) error { _, err := h.s.Lists.Categories(h.ctx, by); return err },
		"item":       func(by inventory.Actor) error { _, err := h.s.Lists.Item(h.ctx, by, "PEN"); return err },
		"items": func(by inventory.Actor) error {
			_, err := h.s.Lists.Items(h.ctx, by, inventory.ItemFilter{}, inventory.Page{})
			return err
		},
		"products": func(by inventory.Actor) error {
			_, err := h.s.Lists.Products(h.ctx, by, inventory.ProductFilter{}, inventory.Page{})
			return err
		},
		"kit list":  func(by inventory.Actor) error { _, err := h.s.Lists.KitList(h.ctx, by, "GRAB", 0); return err },
		"kit lists": func(by inventory.Actor) error { _, err := h.s.Lists.KitLists(h.ctx, by, inventory.Page{}); return err },
		"lot":       func(by inventory.Actor) error { _, err := h.s.Stock.Lot(h.ctx, by, h.pens.ID); return err },
		"people":    func(by inventory.Actor) error { _, err := h.s.Account.People(h.ctx, by); return err },
	} {
		requireKind(t, inventory.SignedOut, reading(nobody))
		assert.NoError(t, reading(admin), name)
	}
}

func TestBagListAndReportsKeepToTheStations(t *testing.T) {
	t.Parallel()
	storetest.Engines(t, func(t *testing.T, s inventory.Store) {
		h := newStowed(t, s)
		ask := lists.Outlook{Horizon: -1}
		list, err := h.s.Shift.BagList(h.ctx, crew, inventory.BagFilter{}, inventory.Page{}, ask)
		require.NoError(t, err)
		got := map[string]string{}
		for _, b := range list {
			got[b.Code] = string(b.State) + ": " + b.Headline
		}
		assert.Equal(t, map[string]string{"N-01": "ready: May go out",
			"N-02": "not_ready: Must not go out: Tourniquet, windlass: 0 of 2 in Red, at least 1 needed",
			"T-01": "not_ready: Not ready for training: Tourniquet, windlass: 0 of 2 in Red, at least 1 needed"}, got)
		i := slices.IndexFunc(list, func(b inventory.BagSummary) bool { return b.Code == "N-02" })
		assert.Equal(t, []int{2, 4}, []int{list[i].Stops, list[i].Warnings})
		_, err = h.s.Shift.BagList(h.ctx, crew, inventory.BagFilter{AtStations: []string{"SOUTH"}}, inventory.Page{}, ask)
		requireKind(t, inventory.Forbidden, err)
		page, err := h.s.Shift.BagList(h.ctx, admin, inventory.BagFilter{}, inventory.Page{Limit: 2, After: "N-01"}, ask)
		require.NoError(t, err)
		assert.Equal(t, []string{"N-02", "S-01"}, []string{page[0].Code, page[1].Code})

		rep, err := h.s.Report.Shortages(h.ctx, manager, []string{"SOUTH"}, ask)
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
		all, err := h.s.Report.Shortages(h.ctx, manager, nil, ask)
		require.NoError(t, err)
		assert.Equal(t, inventory.BagCounts{Ready: 1, NotReady: 2}, all.Bags, "training bags are left out")
		_, err = h.s.Report.Shortages(h.ctx, crew, nil, ask)
		requireKind(t, inventory.Forbidden, err)
		_, err = h.s.Report.Shortages(h.ctx, keeper, []string{"WEST"}, ask)
		requireKind(t, inventory.NotFound, err)
		_, err = h.s.Report.Shortages(h.ctx, inventory.Actor{Name: "Nell", Role: inventory.Quartermaster,
			Stations: []string{"NORTH"}}, []string{"SOUTH"}, ask)
		requireKind(t, inventory.Forbidden, err)
	})
}

func TestFindBag(t *testing.T) {
	t.Parallel()
	h := newHouse(t, storetest.OpenSQLite(t))
	for _, typed := range []string{"N-01", " n-01 ", "n01", "N.01", "n 01"} {
		b, err := h.s.Stock.FindBag(h.ctx, crew, typed)
		require.NoError(t, err, typed)
		assert.Equal(t, "N-01", b.Code)
	}
	for _, code := range []string{"N0-1"} {
		_, err := h.s.Lists.CreateBag(h.ctx, admin, inventory.Bag{Code: code, Station: "NORTH", Name: "Twin",
			KitList: "GRAB"})
		require.NoError(t, err)
	}
	_, err := h.s.Stock.FindBag(h.ctx, crew, "n01")
	requireKind(t, inventory.NotFound, err) // two bags might be meant
	_, err = h.s.Stock.FindBag(h.ctx, crew, "S-01")
	requireKind(t, inventory.Forbidden, err)
	_, err = h.s.Stock.FindBag(h.ctx, crew, "s01")
	requireKind(t, inventory.NotFound, err)
}

func TestChecklistToCountAndConfirm(t *testing.T) {
	t.Parallel()
	h := newStowed(t, storetest.OpenSQLite(t))
	h.restock("N-01", "102", inventory.RestockLine{LotID: h.dressings.ID, Qty: 3},
		inventory.RestockLine{LotID: h.receive("TABLET", "T1", 2, "2029-01").ID, Qty: 2})
	c, err := h.s.Shift.Checklist(h.ctx, crew, "N-01", lists.Outlook{Horizon: -1})
	require.NoError(t, err)
	assert.Equal(t, "102", c.SealToConfirm())
	counted := map[int64]int{}
	for _, g := range c.ToCount() {
		for _, row := range g.Rows {
			for _, l := range row.Lots {
				counted[l.LotID] += l.Qty
			}
		}
	}
	assert.Equal(t, h.holds("N-01"), counted, "every unit once, surplus and what is not on the list included")
	h.record(sealCheck(h.bag("N-01").Position, "7"))
	c, err = h.s.Shift.Checklist(h.ctx, crew, "N-01", lists.Outlook{Horizon: -1})
	require.NoError(t, err)
	assert.Empty(t, c.SealToConfirm(), "nothing to confirm once another was seen")
	assert.Len(t, c.Open, 1)
}

func TestDesk(t *testing.T) {
	t.Parallel()
	h := newStowed(t, storetest.OpenSQLite(t))
	h.recordUse(h.use(inventory.UseLine{LotID: h.dressings.ID, Qty: 9}))
	h.record(sealCheck(h.bag("N-01").Position, "7"))
	late := h.fullCheck()
	h.pass(time.Minute)
	h.move(h.pens.ID, 1, "N-01", "NORTH-STORE", inventory.ReasonReturn)
	h.record(late)
	d, err := h.s.Storeroom.Desk(h.ctx, keeper, []string{"NORTH"})
	require.NoError(t, err)
	var codes []string
	for _, b := range d.ToRestock {
		codes = append(codes, b.Code)
		assert.NotEmpty(t, b.Mend)
	}
	assert.Equal(t, []string{"N-01", "N-02", "T-01"}, codes, "by priority")
	assert.Len(t, d.Checks, 1)
	assert.Len(t, d.Uses, 1)
	assert.Len(t, d.Open, 1)
	_, err = h.s.Storeroom.Desk(h.ctx, crew, nil)
	requireKind(t, inventory.Forbidden, err)
}

func TestLotsPages(t *testing.T) {
	t.Parallel()
	h := newHouse(t, storetest.OpenSQLite(t))
	for _, end := range []string{"2028-01", "2027-08", "2028-02", "2027-09"} {
		h.receive("DRESSING", "B"+end, 1, end)
	}
	lots, err := h.s.Stock.Lots(h.ctx, keeper, inventory.LotFilter{Item: "DRESSING"}, day("2028-01-01"),
		inventory.Page{Limit: 2})
	require.NoError(t, err)
	require.Len(t, lots, 2)
	assert.Equal(t, []string{"2027-08-31", "2027-09-30"}, []string{lots[0].UsableThrough.String(),
		lots[1].UsableThrough.String()})
	slices.SortFunc(lots, func(a, b stock.LotSummary) int { return stock.ComparePickOrder(b, a) })
	assert.Equal(t, "2027-09-30", lots[0].UsableThrough.String())
	_, err = h.s.Stock.Lot(h.ctx, keeper, 99)
	requireKind(t, inventory.NotFound, err)
	_, err = h.s.Stock.StockAt(h.ctx, crew, "SOUTH-STORE")
	requireKind(t, inventory.Forbidden, err)
	story, err := h.s.Stock.Lot(h.ctx, crew, lots[0].ID)
	require.NoError(t, err)
	assert.Empty(t, story.History, "crew do not read the movements")
}

func TestLotsStowed(t *testing.T) {
	t.Parallel()
	h := newStowed(t, storetest.OpenSQLite(t))
	stored := h.receive("TABLET", "T1", 2, "2029-01")
	lots, err := h.s.Storeroom.LotsStowed(h.ctx, crew, []int64{h.dressings.ID, stored.ID, 99})
	require.NoError(t, err)
	require.Len(t, lots, 1, "only what lies in a bag")
	assert.Equal(t, "B1", lots[h.dressings.ID].BatchNo)
	lots, err = h.s.Storeroom.LotsStowed(h.ctx, inventory.Actor{Name: "Sol", Role: inventory.Crew,
		Stations: []string{"SOUTH"}}, []int64{h.dressings.ID})
	require.NoError(t, err)
	assert.Empty(t, lots, "of another station's bag")
	_, err = h.s.Storeroom.LotsStowed(h.ctx, nobody, []int64{1})
	requireKind(t, inventory.SignedOut, err)
}

// TestSuggestionOfCounts: what adjusting a waiting check starts from.
func TestSuggestionOfCounts(t *testing.T) {
	for _, c := range []struct {
		name string
		row  shift.CountReview
		want inventory.CheckLine
	}{
		{"as it was", shift.CountReview{Expected: 6, Counted: 6, Now: 6, Posted: 6, Listed: true},
			inventory.CheckLine{Counted: 6}},
		{"one missing, two used since", shift.CountReview{Expected: 6, Counted: 5, Now: 4, Posted: 3, Listed: true,
			Reason: inventory.CountMissing}, inventory.CheckLine{Counted: 3, Reason: inventory.CountMissing}},
		{"more gone than there is", shift.CountReview{Expected: 6, Counted: 1, Now: 2, Posted: -3, Listed: true,
			Reason: inventory.CountUsed, Incident: "I"}, inventory.CheckLine{Counted: 0, Reason: inventory.CountUsed,
			Incident: "I"}},
		{"nothing left to explain", shift.CountReview{Expected: 6, Counted: 5, Now: 0, Posted: -1, Listed: true,
			Reason: inventory.CountMissing}, inventory.CheckLine{Counted: 0}},
		{"came in since, so it was not counted", shift.CountReview{Now: 3, Posted: 3}, inventory.CheckLine{Counted: 3}},
	} {
		assert.Equal(t, c.want, c.row.Suggestion(), c.name)
	}
}
