package api_test

import (
	"fmt"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stowkeeper/api"
	"stowkeeper/inventory"
	"stowkeeper/inventory/stock"
)

const (
	crew          = inventory.Crew
	quartermaster = inventory.Quartermaster
	manager       = inventory.Manager
	administrator = inventory.Administrator
)

// stocked is a world with two items, a kit list, an empty bag and stock in the
// store: three tourniquets, six gauze swabs until 2027-08, ten until 2029-01-31.
type stocked struct {
	*world
	tourniquets, gauze, later int64 // lots
}

const (
	tourniquetItem = `{"code":"TQ-ADULT","name":"Tourniquet, windlass, adult","category":"tourniquet","unit":"each",` +
		`"tracked_by":"lot","dated":true,"single_use":true}`
	gauzeItem = `{"code":"gauze 10","name":"Gauze swab 10 cm","category":"plain dressing","unit":"each",` +
		`"tracked_by":"lot","dated":true}`
	responseList = `{"code":"RESPONSE","name":"Response bag","edition":"2027-1","sealed":true,
		"seal_check_hours":24,"full_check_days":7,"min_remaining_days":60,
		"lines":[{"item":"TQ-ADULT","pouch":"Front","par":2,"minimum":1,"critical":true},
		{"item":"gauze-10","pouch":"Main","par":4,"minimum":2}]}`
	responseBag = `{"code":"KD7-442","station":"N1","name":"Response bag 1","kit_list":"RESPONSE","priority":1}`
)

func newStocked(t *testing.T) stocked {
	t.Helper()
	w := newWorld(t)
	w.as(quartermaster, "POST", "/items").json(tourniquetItem).want(201)
	w.as(quartermaster, "POST", "/items").json(gauzeItem).want(201)
	w.as(quartermaster, "POST", "/kit-lists").json(responseList).want(201)
	w.as(quartermaster, "POST", "/bags").json(responseBag).want(201)
	s := stocked{world: w}
	s.tourniquets = s.receive(
		`{"place":"N1-STORE","item":"TQ-ADULT","batch_no":"T-01","end_printed":"2030-05","end_wording":"expiry","qty":3}`)
	s.gauze = s.receive(`{"place":"N1-STORE","item":"GAUZE-10","batch_no":"G-01","end_printed":"2027-08","qty":6}`)
	s.later = s.receive(
		`{"place":"N1-STORE","item":"GAUZE-10","batch_no":"G-02","end_printed":"2029-01-31","end_wording":"use_by","qty":10}`)
	return s
}

func (s stocked) receive(body string) int64 {
	s.t.Helper()
	return decoded[stock.LotSummary](s.as(quartermaster, "POST", "/receipts").json(body).want(201)).ID
}

// packed is a stocked world whose bag has been packed and sealed with A-100.
func newPacked(t *testing.T) stocked {
	t.Helper()
	s := newStocked(t)
	s.as(quartermaster, "POST", "/bags/KD7-442/restocks").
		json(fmt.Sprintf(`{"lines":[{"lot_id":%d,"qty":2,"from":"N1-STORE"},{"lot_id":%d,"qty":4}],"seal_set":"A-100"}`,
			s.tourniquets, s.gauze)).want(201)
	return s
}

func (s stocked) bag() api.BagSheet {
	s.t.Helper()
	return decoded[api.BagSheet](s.as(crew, "GET", "/bags/KD7-442").want(200))
}

func (s stocked) state() inventory.State { s.t.Helper(); return s.bag().State }

// fullCheck is a full check of the packed bag with its counts.
func (s stocked) fullCheck(position int64, tourniquets, gauze string) string {
	return fmt.Sprintf(`{"kind":"full","seen_position":%d,"seal_set":"A-101","lines":[{"lot_id":%d,%s},{"lot_id":%d,%s}]}`,
		position, s.tourniquets, tourniquets, s.gauze, gauze)
}

// TestStory walks the main job through the API and checks every number on the
// way.
func TestStory(t *testing.T) {
	s := newStocked(t)
	assert.Equal(t, inventory.NotReady, s.state(), "empty")

	var picked []string
	for _, l := range decoded[inventory.PickList](s.as(quartermaster, "GET", "/bags/kd7-442/pick-list").want(200)).Lines {
		picked = append(picked, fmt.Sprint(l.Qty, " of ", l.BatchNo, " from ", l.From))
	}
	assert.Equal(t, []string{"2 of T-01 from N1-STORE", "4 of G-01 from N1-STORE"}, picked)

	s.as(quartermaster, "POST", "/bags/KD7-442/restocks").
		json(fmt.Sprintf(`{"lines":[{"lot_id":%d,"qty":2},{"lot_id":%d,"qty":4}],"seal_set":"A-100"}`, s.tourniquets,
			s.gauze)).want(201)
	bag := s.bag()
	assert.Equal(t, inventory.ReadyWithGaps, bag.State, "no full check yet")
	assert.Equal(t, "A-100", bag.Seal)
	require.Len(t, bag.Pouches, 2)
	assert.Equal(t, "Front", bag.Pouches[0].Name)
	assert.Equal(t, []inventory.LotOnLine{{LotID: s.gauze, Item: "GAUZE-10", BatchNo: "G-01", Qty: 4,
		UsableThrough: inventory.MustDay("2027-08-31"), Rule: "printed", Usable: true}}, bag.Pouches[1].Lines[0].Lots)

	check := decoded[inventory.Check](s.as(crew, "POST", "/bags/KD7-442/checks").key("c1").json(s.fullCheck(bag.Position,
		`"counted":2`, `"counted":4`)).want(201))
	assert.Equal(t, inventory.StatusAccepted, check.Status)
	assert.Equal(t, inventory.Ready, s.state())

	s.use()
	s.refill()
}

// use is an incident that takes one tourniquet and three swabs.
func (s stocked) use() {
	s.t.Helper()
	t := s.t
	before := s.bag()
	use := decoded[inventory.Use](s.as(crew, "POST", "/bags/KD7-442/uses").key("u1").
		json(fmt.Sprintf(`{"incident":"I-77","seen_position":%d,"lines":[{"lot_id":%d,"qty":1},{"lot_id":%d,"qty":3}]}`,
			before.Position, s.tourniquets, s.gauze)).want(201))
	assert.Equal(t, inventory.StatusAccepted, use.Status)
	r := decoded[inventory.Readiness](s.as(crew, "GET", "/bags/KD7-442/readiness").want(200))
	assert.Equal(t, inventory.NotReady, r.State, "swabs below minimum")
	assert.Equal(t, []int{1, 3}, []int{r.Lines[0].Shortfall, r.Lines[1].Shortfall})

	rep := decoded[inventory.Shortages](s.as(manager, "GET", "/reports/shortages?station=N1").want(200))
	assert.Equal(t, []inventory.ShortageRow{
		{Station: "N1", Bag: "KD7-442", Item: "TQ-ADULT", Pouch: "Front", Par: 2, Minimum: 1, Usable: 1, Shortfall: 1,
			Critical: true},
		{Station: "N1", Bag: "KD7-442", Item: "GAUZE-10", Pouch: "Main", Par: 4, Minimum: 2, Usable: 1, Shortfall: 3,
			BelowMinimum: true},
	}, rep.Rows)
	filled := map[string]int{}
	for _, f := range rep.Fill {
		assert.Equal(t, inventory.FillRestock, f.Kind)
		filled[f.BatchNo] += f.Qty
	}
	assert.Equal(t, map[string]int{"T-01": 1, "G-01": 2, "G-02": 1}, filled)
	assert.Empty(t, rep.Buy)
	assert.Equal(t, inventory.BagCounts{NotReady: 1}, rep.Bags)
}

// refill brings the bag back to its list by its pick list.
func (s stocked) refill() {
	s.t.Helper()
	pick := decoded[inventory.PickList](s.as(quartermaster, "GET", "/bags/KD7-442/pick-list").want(200))
	assert.Empty(s.t, pick.Unfilled)
	lines := ""
	for _, l := range pick.Lines {
		lines += fmt.Sprintf(`,{"lot_id":%d,"qty":%d,"from":%q}`, l.LotID, l.Qty, l.From)
	}
	s.as(quartermaster, "POST", "/bags/KD7-442/restocks").
		json(fmt.Sprintf(`{"seen_position":%d,"seal_set":"A-102","lines":[%s]}`, pick.Position, lines[1:])).want(201)
	assert.Equal(s.t, inventory.Ready, s.state())
	rep := decoded[inventory.Shortages](s.as(manager, "GET", "/reports/shortages").want(200))
	assert.Empty(s.t, rep.Rows)
	assert.Equal(s.t, inventory.BagCounts{Ready: 1}, rep.Bags)
	restocks := decoded[listOf[inventory.Restock]](s.as(manager, "GET", "/bags/KD7-442/restocks?limit=1").want(200))
	require.Len(s.t, restocks.Data, 1)
	assert.Equal(s.t, "A-102", restocks.Data[0].SealSet, "newest first")
	assert.NotEmpty(s.t, restocks.NextCursor)
	seals := decoded[listOf[inventory.SealEntry]](s.as(crew, "GET", "/bags/KD7-442/seals").want(200))
	assert.Equal(s.t, "A-102", seals.Data[0].Number)
	assert.Equal(s.t, inventory.SealWasSet, seals.Data[0].Event)
}

func TestSealCheck(t *testing.T) {
	s := newPacked(t)
	s.pass(25 * time.Hour)
	findings := func() (kinds []inventory.FindingKind) {
		for _, f := range s.bag().Findings {
			kinds = append(kinds, f.Kind)
		}
		return kinds
	}
	assert.Contains(t, findings(), inventory.FindSealCheckDue)
	s.as(crew, "POST", "/bags/KD7-442/checks").key("seal").
		json(fmt.Sprintf(`{"kind":"seal","seen_position":%d,"seal_seen":"a-100"}`, s.bag().Position)).want(201)
	assert.NotContains(t, findings(), inventory.FindSealCheckDue)
	s.as(crew, "POST", "/bags/KD7-442/checks").key("broken").
		json(fmt.Sprintf(`{"kind":"seal","seen_position":%d,"seal_broken":true}`, s.bag().Position)).want(201)
	assert.Contains(t, findings(), inventory.FindSeal)
	assert.Equal(t, inventory.NotReady, s.state())
}

// TestLateAndLacking keeps what cannot be posted, and lets the quartermaster
// decide it.
func TestLateAndLacking(t *testing.T) {
	s := newPacked(t)
	old := s.bag().Position
	use := decoded[inventory.Use](s.as(crew, "POST", "/bags/KD7-442/uses").key("u1").
		json(fmt.Sprintf(`{"incident":"I-1","seen_position":%d,"lines":[{"lot_id":%d,"qty":99}]}`, old, s.gauze)).want(201))
	assert.Equal(t, inventory.StatusToReview, use.Status, "the ledger lacks it")
	s.as(quartermaster, "POST", "/movements").json(fmt.Sprintf(
		`{"movements":[{"lot_id":%d,"qty":1,"from":"KD7-442","to":"N1-STORE","reason":"return"}]}`, s.gauze)).want(201)
	check := decoded[inventory.Check](s.as(crew, "POST", "/bags/KD7-442/checks").key("c1").json(s.fullCheck(old,
		`"counted":2`, `"counted":4`)).want(201))
	assert.Equal(t, inventory.StatusToReview, check.Status, "the bag changed since")

	waiting := decoded[listOf[inventory.Check]](s.as(quartermaster, "GET", "/checks?status=to_review").want(200))
	require.Len(t, waiting.Data, 1)
	assert.Equal(t, check.ID, waiting.Data[0].ID)
	assert.Len(t, decoded[listOf[inventory.Use]](s.as(quartermaster, "GET", "/uses?status=to_review&bag=KD7-442").
		want(200)).Data, 1)

	s.as(crew, "POST", fmt.Sprintf("/checks/%d/decision", check.ID)).json(`{"decision":"accept","reason":"looked"}`).
		want(403)
	posted := decoded[inventory.Check](s.as(quartermaster, "POST", fmt.Sprintf("/checks/%d/decision", check.ID)).
		json(`{"decision":"accept","reason":"looked again"}`).want(200))
	assert.Equal(t, inventory.StatusAccepted, posted.Status)
	again := s.as(quartermaster, "POST", fmt.Sprintf("/checks/%d/decision", check.ID)).
		json(`{"decision":"reject","reason":"again"}`).want(409).problem()
	assert.Equal(t, inventory.Conflict, again.Kind)
	s.as(quartermaster, "POST", fmt.Sprintf("/uses/%d/decision",
		use.ID)).json(`{"decision":"accept","reason":"as it is"}`).want(409)
	adjusted := decoded[inventory.Use](s.as(quartermaster, "POST", fmt.Sprintf("/uses/%d/decision", use.ID)).
		json(fmt.Sprintf(`{"decision":"edit","reason":"three were used","lines":[{"lot_id":%d,"qty":3}]}`,
			s.gauze)).want(200))
	assert.Equal(t, inventory.StatusAccepted, adjusted.Status)
	assert.Equal(t, 0, s.bag().Pouches[1].Lines[0].Usable)
	got := decoded[inventory.Use](s.as(crew, "GET", fmt.Sprintf("/uses/%d", use.ID)).want(200))
	assert.Equal(t, adjusted, got)
	assert.Equal(t, posted, decoded[inventory.Check](s.as(crew, "GET", fmt.Sprintf("/checks/%d", check.ID)).want(200)))
}

func TestObservations(t *testing.T) {
	s := newPacked(t)
	body := fmt.Sprintf(`{"kind":"full","seen_position":%d,"lines":[{"lot_id":%d,"counted":2},{"lot_id":%d,`+
		`"counted":4}],"found":[{"item":"tq-adult","qty":1,"reason":"training_mark"}]}`,
		s.bag().Position, s.tourniquets, s.gauze)
	s.as(crew, "POST", "/bags/KD7-442/checks").key("c1").json(body).want(201)
	assert.Equal(t, inventory.NotReady, s.state(), "a training mark stops the bag")
	open := decoded[listOf[inventory.Observation]](s.as(quartermaster, "GET", "/observations?open=true&station=N1").
		want(200))
	require.Len(t, open.Data, 1)
	assert.Equal(t, inventory.SawTrainingMark, open.Data[0].Kind)
	path := fmt.Sprintf("/bags/KD7-442/observations/%d/close", open.Data[0].ID)
	s.as(quartermaster, "POST", path).json(`{"reason":"  "}`).want(422)
	s.as(quartermaster, "POST", path).json(`{"reason":"taken out, to the training store"}`).want(200)
	s.as(quartermaster, "POST", path).json(`{"reason":"again"}`).want(404)
	assert.Empty(t, decoded[listOf[inventory.Observation]](s.as(crew, "GET", "/observations?open=true").want(200)).Data)
	assert.Len(t, decoded[listOf[inventory.Observation]](s.as(crew, "GET", "/observations?bag=KD7-442").want(200)).Data, 1)
}
