package api_test

import (
	"fmt"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stowkeeper/inventory"
	"stowkeeper/inventory/notice"
	"stowkeeper/inventory/stock"
)

// TestNoticeThroughTheAPI issues a notice on a batch in two bags and the store,
// pulls it, and closes the notice.
func TestNoticeThroughTheAPI(t *testing.T) {
	s := newEquipped(t)
	wash := s.receive(
		`{"place":"N1-STORE","item":"WASH","batch_no":"W1","end_printed":"2029-01","end_wording":"expiry","qty":10}`)
	for _, m := range []string{`"to":"B-1","qty":3`, `"to":"B-2","qty":2`} {
		s.as(quartermaster, "POST", "/movements").json(fmt.Sprintf(
			`{"movements":[{"lot_id":%d,"from":"N1-STORE","reason":"stow",%s}]}`, wash, m)).want(201)
	}
	s.as(crew, "POST", "/bags/B-1/uses").key("u1").json(
		fmt.Sprintf(`{"incident":"I-7","seen_position":%d,"lines":[{"lot_id":%d,"qty":1}]}`, s.bagNamed("B-1").Position,
			wash)).want(201)
	s.pass(time.Hour)

	body := `{"reference":"FSN-1","action":"withdraw","item":"wash","batch_nos":["w 1"],"text":"may leak"}`
	s.as(crew, "POST", "/notices").json(body).want(403)
	s.as(manager, "POST", "/notices").json(body).want(403)
	n := decoded[notice.NoticeStory](s.as(quartermaster, "POST", "/notices").key("n1").json(body).want(201))
	again := decoded[notice.NoticeStory](s.as(quartermaster, "POST", "/notices").key("n1").json(body).want(201))
	assert.Equal(t, n, again, "once")
	s.as(quartermaster, "POST", "/notices").json(body).want(409)
	assert.Equal(t, []int{9, 0, 9, 0}, []int{n.Units, n.Pulled, n.Outstanding, n.Unclear})
	var pull []string
	moves := ""
	for _, u := range n.PullFrom {
		pull = append(pull, fmt.Sprintf("%s %d %d %s", u.Place, u.Priority, u.Qty, u.To))
		moves += fmt.Sprintf(`,{"lot_id":%d,"qty":%d,"from":%q,"to":%q,"reason":"quarantine","reference":"FSN-1"}`, u.LotID,
			u.Qty, u.Place, u.To)
	}
	assert.Equal(t, []string{"B-2 1 2 N1-QUARANTINE", "B-1 2 2 N1-QUARANTINE", "N1-STORE 0 5 N1-QUARANTINE"}, pull)
	require.Len(t, n.Incidents, 1)
	assert.Equal(t, "I-7", n.Incidents[0].Incident)
	for _, bag := range []string{"B-1", "B-2"} {
		assert.Equal(t, inventory.NotReady, s.bagNamed(bag).State)
	}
	p := s.as(quartermaster, "POST", "/receipts").json(
		`{"place":"N1-STORE","item":"WASH","batch_no":"W1","end_printed":"2029-01","end_wording":"expiry","qty":10}`).
		want(409).problem()
	assert.Contains(t, p.Detail, "into quarantine")

	path := fmt.Sprintf("/notices/%d", n.ID)
	assert.Contains(t, s.as(quartermaster, "POST", path+"/close").json(`{"reason":"done"}`).want(409).problem().Detail,
		"9 outstanding")
	s.as(quartermaster, "POST", "/movements").json(`{"movements":[` + moves[1:] + `]}`).want(201)
	closed := decoded[notice.NoticeStory](s.as(quartermaster, "POST", path+"/close").json(`{"reason":"all pulled"}`).
		want(200))
	assert.Equal(t, []any{inventory.NoticeClosed, 9, 0, "all pulled"}, []any{closed.Status, closed.Pulled,
		closed.Outstanding, closed.EndReason})
	assert.Len(t, closed.Incidents, 1)
	s.as(quartermaster, "POST", path+"/close").json(`{"reason":"again"}`).want(409)
	assert.Equal(t, []string{"body.reason"}, locations(s.as(quartermaster, "POST", path+"/cancel").json(`{"reason":" "}`).
		want(422).problem()))
	cancelled := decoded[notice.NoticeStory](s.as(quartermaster, "POST",
		path+"/cancel").json(`{"reason":"it was not ours"}`).want(200))
	assert.Equal(t, inventory.NoticeCancelled, cancelled.Status)
	assert.Empty(t, cancelled.Batches[0].Withdrawn)
	s.as(quartermaster, "POST", path+"/cancel").json(`{"reason":"again"}`).want(409)

	got := decoded[notice.NoticeStory](s.as(manager, "GET", path).want(200))
	assert.Equal(t, cancelled, got)
	s.as(crew, "GET", path).want(403)
	s.as(manager, "GET", "/notices/99").want(404)
	for query, want := range map[string]int{"": 1, "?status=cancelled": 1, "?status=open": 0, "?item=wash": 1,
		"?item=SPLINT": 0} {
		assert.Len(t, decoded[listOf[notice.NoticeSummary]](s.as(manager, "GET", "/notices"+query).want(200)).Data, want,
			query)
	}
}

// TestTraceInOneRequest: which incidents used lot X, and where is the rest.
func TestTraceInOneRequest(t *testing.T) {
	s := newEquipped(t)
	wash := s.receive(
		`{"place":"N1-STORE","item":"WASH","batch_no":"W1","end_printed":"2029-01","end_wording":"expiry","qty":10}`)
	s.as(quartermaster, "POST", "/movements").json(fmt.Sprintf(
		`{"movements":[{"lot_id":%d,"from":"N1-STORE","to":"B-1","qty":4,"reason":"stow"}]}`, wash)).want(201)
	opened := decoded[stock.LotSummary](s.as(crew, "POST", fmt.Sprintf("/lots/%d/openings",
		wash)).json(`{"place":"B-1","qty":1}`).want(201))
	for i, lot := range []int64{wash, opened.ID} {
		s.as(crew, "POST", "/bags/B-1/uses").key(fmt.Sprint("u", i)).
			json(fmt.Sprintf(`{"incident":"I-%d","seen_position":%d,"lines":[{"lot_id":%d,"qty":1}]}`, i,
				s.bagNamed("B-1").Position, lot)).want(201)
	}
	story := decoded[stock.LotStory](s.as(manager, "GET", fmt.Sprintf("/lots/%d", opened.ID)).want(200))
	var used []string
	for _, u := range story.Incidents {
		used = append(used, fmt.Sprint(u.Incident, " ", u.Bag, " ", u.Qty))
	}
	assert.Equal(t, []string{"I-0 B-1 1", "I-1 B-1 1"}, used, "of every lot of the batch")
	rest := 0
	for _, l := range append(story.SameBatch, story.LotSummary) {
		for _, w := range l.Where {
			rest += w.Qty
		}
	}
	assert.Equal(t, 8, rest)
}

// TestNoticeFields names what is wrong with a notice, each with its place.
func TestNoticeFields(t *testing.T) {
	s := newEquipped(t)
	for body, want := range map[string][]string{
		`{"reference":" ","action":"withdraw","item":"WASH"}`: {
			"body.reference"},
		`{"reference":"R","action":"withdraw"}`:               {"body.item"},
		`{"reference":"R","action":"withdraw","item":"NONE"}`: {"body.item"},
		`{"reference":"R","action":"withdraw","product":99}`: {
			"body.product"},
		`{"reference":"R","action":"withdraw","item":"WASH","serial_from":"A10","serial_to":"A9"}`: {
			"body.serial_to"},
		`{"reference":"R","action":"inform","item":"WASH","made_from":"2027-01-01"}`: {
			"body.made_to"},
		`{"reference":"R","action":"inform","item":"WASH","batch_nos":["","B"]}`: {
			"body.batch_nos[0]"},
		`{"reference":"R","action":"inform","item":"WASH","made_from":"2027-01-32","made_to":"2027-02-01"}`: {
			"body.made_from"},
		`{"reference":"R","action":"burn","item":"WASH"}`: {
			"body.action"},
		`{"reference":"R","action":"inform","item":"WASH","serials":["\u001f"]}`: {
			"body.serials[0]"},
		`{"reference":"R","action":"inform","item":"WASH","made_from":"2027-02-01","made_to":"2027-01-01"}`: {
			"body.made_to"},
		`{"reference":"R","action":"inform","item":"WASH","serial_to":"9","text":"` + string(longText) + `"}`: {"body.text"},
	} {
		p := s.as(quartermaster, "POST", "/notices").json(body).want(422).problem()
		assert.Equal(t, want, locations(p), body[:min(len(body), 120)])
	}
	assert.Empty(t, decoded[listOf[notice.NoticeSummary]](s.as(manager, "GET", "/notices").want(200)).Data)
}

var longText = func() []byte {
	b := make([]byte, 2001)
	for i := range b {
		b[i] = 'x'
	}
	return b
}()
