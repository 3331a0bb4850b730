package api_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stowkeeper/inventory"
)

const (
	crew          = inventory.Crew
	quartermaster = inventory.Quartermaster
	manager       = inventory.Manager
	administrator = inventory.Administrator
)

// stocked is a world with two items, a kit list, a bag packed to it and stock
// in the store.
type stocked struct {
	*world
	tourniquets, gauze, later int64 // lots: three tourniquets; gauze until 2027-08; gauze until 2029-01
}

func newStocked(t *testing.T) stocked {
	t.Helper()
	w := newWorld(t)
	w.as(quartermaster, "POST", "/items").json(`{"code":"TQ-ADULT","name":"Tourniquet, windlass, adult","category":"tourniquet","unit":"each","tracked_by":"lot","dated":true,"single_use":true}`).want(201)
	w.as(quartermaster, "POST", "/items").json(`{"code":"GAUZE-10","name":"Gauze swab 10 cm","category":"plain dressing","unit":"each","tracked_by":"lot","dated":true}`).want(201)
	w.as(quartermaster, "POST", "/kit-lists").json(`{"code":"RESPONSE","name":"Response bag","edition":"2027-1","sealed":true,"seal_check_hours":24,"full_check_days":7,"min_remaining_days":60,
		"lines":[{"item":"TQ-ADULT","pouch":"Front","par":2,"minimum":1,"critical":true},{"item":"GAUZE-10","pouch":"Main","par":4,"minimum":2}]}`).want(201)
	w.as(quartermaster, "POST", "/bags").json(`{"code":"KD7-442","site":"N1","name":"Response bag 1","kit_list":"RESPONSE","priority":1}`).want(201)
	s := stocked{world: w}
	s.tourniquets = s.receive(`{"place":"N1-STORE","item":"TQ-ADULT","lot_no":"T-01","end_printed":"2030-05","end_wording":"expiry","qty":3}`)
	s.gauze = s.receive(`{"place":"N1-STORE","item":"GAUZE-10","lot_no":"G-01","end_printed":"2027-08","end_wording":"expiry","qty":6}`)
	s.later = s.receive(`{"place":"N1-STORE","item":"GAUZE-10","lot_no":"G-02","end_printed":"2029-01-31","end_wording":"use_by","qty":10}`)
	return s
}

func (s stocked) receive(body string) int64 {
	s.t.Helper()
	return decoded[inventory.LotSummary](s.as(quartermaster, "POST", "/receipts").json(body).want(201)).ID
}

func TestStory(t *testing.T) {
	s := newStocked(t)
	pick := decoded[inventory.PickList](s.as(quartermaster, "GET", "/bags/kd7-442/pick-list").want(200))
	require.NotEmpty(t, pick.Lines)
	assert.Equal(t, s.gauze, pick.Lines[1].LotID, "first expired, first out, as far as it lasts")
}
