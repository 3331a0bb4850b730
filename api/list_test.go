package api_test

import (
	"encoding/json"
	"fmt"
	"net/url"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stowkeeper/inventory"
)

// TestListsPage reads every list in parts of one and of two, and expects the
// whole list each time.
func TestListsPage(t *testing.T) {
	s := newPacked(t)
	s.as(quartermaster, "POST",
		"/bags").json(`{"code":"KD7-443","station":"N1","name":"Response bag 2","kit_list":"RESPONSE"}`).want(201)
	s.as(quartermaster, "POST",
		"/kit-lists").json(`{"code":"SMALL","name":"Small bag","lines":[{"item":"GAUZE-10","par":1,"minimum":1}]}`).want(201)
	for i := range 3 {
		s.as(quartermaster, "POST", "/products").json(fmt.Sprintf(`{"item":"GAUZE-10","pack_size":%d}`, i+1)).want(201)
		position := s.bag().Position
		s.as(crew, "POST", "/bags/KD7-442/uses").key(fmt.Sprint(i)).
			json(fmt.Sprintf(`{"incident":"I-%d","seen_position":%d,"lines":[{"lot_id":%d,"qty":1}]}`, i, position,
				s.gauze)).want(201)
		s.as(crew, "POST", "/bags/KD7-442/checks").key(fmt.Sprint(i)).json(fmt.Sprintf(`{"kind":"full","seen_position":%d,`+
			`"lines":[{"lot_id":%d,"counted":2},{"lot_id":%d,"counted":%d}],"found":[{"item":"TQ-ADULT","qty":1,`+
			`"reason":"training_mark"}]}`,
			s.bag().Position, s.tourniquets, s.gauze, 3-i)).want(201)
		s.as(quartermaster, "POST", "/bags/KD7-442/restocks").json(fmt.Sprintf(`{"seal_set":"B-%d"}`, i)).want(201)
	}
	for path, least := range map[string]int{
		"/categories": 14, "/items": 2, "/products": 3, "/stations": 2, "/places": 8, "/kit-lists": 2, "/bags": 2, "/lots": 3,
		"/movements":             8,
		"/movements?newest=true": 8, "/checks": 3, "/uses": 3, "/observations": 3, "/bags/KD7-442/checks": 3,
		"/bags/KD7-442/uses":     3,
		"/bags/KD7-442/restocks": 4, "/bags/KD7-442/seals": 6, "/lots?ends_before=2030-01-01": 2,
	} {
		whole := s.parts(path, 1000)
		assert.GreaterOrEqual(t, len(whole), least, path)
		for _, limit := range []int{1, 2} {
			assert.Equal(t, whole, s.parts(path, limit), "%s by %d", path, limit)
		}
	}
}

// parts reads a list in parts to its end, each of at most so many entries.
func (s stocked) parts(path string, limit int) (all []string) {
	s.t.Helper()
	u, err := url.Parse(path)
	require.NoError(s.t, err)
	q := u.Query()
	q.Set("limit", fmt.Sprint(limit))
	for range 100 {
		u.RawQuery = q.Encode()
		part := decoded[listOf[json.RawMessage]](s.as(administrator, "GET", u.String()).want(200))
		require.LessOrEqual(s.t, len(part.Data), limit)
		for _, e := range part.Data {
			all = append(all, string(e))
		}
		if part.NextCursor == "" {
			return all
		}
		require.Len(s.t, part.Data, limit, "a part before the end is full")
		q.Set("cursor", part.NextCursor)
	}
	s.t.Fatal("the list has no end")
	return nil
}

func TestFilters(t *testing.T) {
	s := newPacked(t)
	for path, want := range map[string]int{
		"/items?category=tourniquet": 1, "/items?text=SWAB": 1, "/items?text=nothing": 0,
		"/places?station=n1": 5, "/places?station=N1&kind=store": 2, "/places?station=N1&kind=bag": 1,
		"/bags?purpose=training": 0, "/bags?kit_list=response&station=N1": 1, "/bags?vehicle=none": 0,
		"/lots?item=gauze-10": 2, "/lots?batch_no=T-01": 1, "/lots?place=KD7-442": 2, "/lots?serial=1": 0,
		"/lots?ends_before=2027-09-01": 1, "/lots?ends_before=2027-08-31": 0,
		"/movements?reason=receipt": 3, "/movements?place=KD7-442": 2, "/movements?item=TQ-ADULT": 2,
		fmt.Sprintf("/movements?lot_id=%d", s.later): 1,
		"/products?item=GAUZE-10":                    0, "/checks?status=to_review": 0,
	} {
		got := decoded[listOf[json.RawMessage]](s.as(quartermaster, "GET", path).want(200))
		assert.Len(t, got.Data, want, path)
	}
}

// TestAsOf judges what is there now on another day.
func TestAsOf(t *testing.T) {
	s := newPacked(t)
	at := func(path string) answer { return s.as(quartermaster, "GET", path).want(200) }
	r := decoded[inventory.Readiness](at("/bags/KD7-442/readiness?as_of=2027-08-31&horizon_days=0"))
	assert.Equal(t, inventory.ReadyWithGaps, r.State, "the last day of the swabs")
	assert.True(t, r.ClockLeft)
	r = decoded[inventory.Readiness](at("/bags/KD7-442/readiness?as_of=2027-09-01"))
	assert.Equal(t, inventory.NotReady, r.State)
	assert.Equal(t, inventory.NotReady, decoded[listOf[inventory.BagSummary]](at("/bags?as_of=2027-09-01")).Data[0].State)
	assert.Contains(t, string(at("/bags/KD7-442?as_of=2027-09-01").body), `"state":"not_ready"`)
	assert.Equal(t, inventory.MustDay("2027-09-01"), decoded[inventory.PickList](
		at("/bags/KD7-442/pick-list?as_of=2027-09-01")).AsOf)
	rep := decoded[inventory.Shortages](at("/reports/shortages?as_of=2027-09-01"))
	assert.Equal(t, inventory.BagCounts{NotReady: 1}, rep.Bags)
	rep = decoded[inventory.Shortages](at("/reports/shortages?horizon_days=90"))
	assert.Equal(t, []inventory.FirstStop{{Bag: "KD7-442", Station: "N1", On: inventory.MustDay("2027-09-01"),
		LotID: s.gauze}}, rep.FirstStops)
	assert.Equal(t, inventory.DefaultHorizonDays, decoded[inventory.Readiness](at("/bags/KD7-442/readiness")).HorizonDays)
}
