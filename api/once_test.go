package api_test

import (
	"fmt"
	"strings"
	"sync"
	"testing"

	"github.com/stretchr/testify/assert"

	"stowkeeper/inventory"
	"stowkeeper/inventory/stock"
)

const receiptBody = `{"place":"N1-STORE","item":"GAUZE-10","batch_no":"G-01","end_printed":"2027-08","qty":5}`

// held is how many swabs of the first lot the store has.
func (s stocked) held() int {
	s.t.Helper()
	lot := decoded[stock.LotStory](s.as(manager, "GET", fmt.Sprintf("/lots/%d", s.gauze)).want(200))
	for _, w := range lot.Where {
		if w.Place == "N1-STORE" {
			return w.Qty
		}
	}
	return 0
}

func TestSameKeyCountsOnce(t *testing.T) {
	s := newStocked(t)
	first := s.as(quartermaster, "POST", "/receipts").key(`"8e03978e-40d5-43dd-bc93-6894a57f9324"`).json(receiptBody).
		want(201)
	assert.Empty(t, first.header.Get("Idempotent-Replay"))
	again := s.as(quartermaster, "POST", "/receipts").key("8e03978e-40d5-43dd-bc93-6894a57f9324").
		json(strings.ReplaceAll(receiptBody, `,"qty":5`, ` , "qty" : 5 `)).want(201)
	assert.Equal(t, "true", again.header.Get("Idempotent-Replay"), "a bare key and another spelling of the same body")
	assert.Equal(t, first.body, again.body)
	assert.Equal(t, 11, s.held())

	other := s.as(quartermaster, "POST", "/receipts").key("8e03978e-40d5-43dd-bc93-6894a57f9324").
		json(strings.Replace(receiptBody, "5", "6", 1)).want(422).problem()
	assert.Equal(t, "header.Idempotency-Key", other.Errors[0].Location)
	assert.Equal(t, 11, s.held())
	s.as(administrator, "POST", "/receipts").key("8e03978e-40d5-43dd-bc93-6894a57f9324").json(receiptBody).want(201)
	assert.Equal(t, 16, s.held(), "another sender's key is another key")
	s.as(quartermaster, "POST", "/receipts").json(receiptBody).want(201)
	s.as(quartermaster, "POST", "/receipts").json(receiptBody).want(201)
	assert.Equal(t, 26, s.held(), "without a key each one counts")
}

// TestFailedLeavesNoAnswer lets a request that was refused be tried again with
// its key.
func TestFailedLeavesNoAnswer(t *testing.T) {
	s := newStocked(t)
	body := fmt.Sprintf(
		`{"movements":[{"lot_id":%d,"qty":11,"from":"N1-STORE","to":"N1-QUARANTINE","reason":"quarantine"}]}`, s.gauze)
	s.as(quartermaster, "POST", "/movements").key("m").json(body).want(409)
	s.as(quartermaster, "POST", "/receipts").json(receiptBody).want(201)
	s.as(quartermaster, "POST", "/movements").key("m").json(body).want(201)
	assert.Equal(t, "true", s.as(quartermaster, "POST", "/movements").key("m").json(body).want(201).
		header.Get("Idempotent-Replay"))
	assert.Equal(t, 0, s.held())
}

func TestChecksAndUsesNeedAKey(t *testing.T) {
	s := newPacked(t)
	position := s.bag().Position
	check := fmt.Sprintf(`{"kind":"seal","seen_position":%d,"seal_seen":"A-100"}`, position)
	use := fmt.Sprintf(`{"incident":"I-9","seen_position":%d,"lines":[{"lot_id":%d,"qty":1}]}`, position, s.gauze)
	for path, body := range map[string]string{"/bags/KD7-442/checks": check, "/bags/KD7-442/uses": use} {
		p := s.as(crew, "POST", path).json(body).want(400).problem()
		assert.Contains(t, p.Detail, "Idempotency-Key")
		for _, bad := range []string{`""`, "two words", "tab\there", "grün", strings.Repeat("x", 201)} {
			e := s.as(crew, "POST", path).key(bad).json(body).want(422).problem().Errors
			assert.Equal(t, "header.Idempotency-Key", e[0].Location)
		}
	}
	assert.Equal(t, position, s.bag().Position)
	s.as(crew, "POST", "/bags/KD7-442/uses").key(strings.Repeat("x", 200)).json(use).want(201)
	// The bag has moved on by now; the same use sent again is still the same one.
	a := s.as(crew, "POST", "/bags/KD7-442/uses").key(strings.Repeat("x", 200)).json(use).want(201)
	assert.Equal(t, "true", a.header.Get("Idempotent-Replay"))
	assert.Equal(t, inventory.StatusAccepted, decoded[inventory.Use](a).Status)
	assert.Len(t, decoded[listOf[inventory.Use]](s.as(crew, "GET", "/bags/KD7-442/uses").want(200)).Data, 1)
}

// TestSameKeyAtOnce sends the same use from eight hands at the same moment.
func TestSameKeyAtOnce(t *testing.T) {
	s := newPacked(t)
	body := fmt.Sprintf(`{"incident":"I-9","seen_position":%d,"lines":[{"lot_id":%d,"qty":1}]}`, s.bag().Position, s.gauze)
	answers := make([]answer, 8)
	var wg sync.WaitGroup
	for i := range answers {
		wg.Go(func() { answers[i] = s.as(crew, "POST", "/bags/KD7-442/uses").key("at-once").json(body).do() })
	}
	wg.Wait()
	fresh := 0
	for _, a := range answers {
		assert.Equal(t, 201, a.status, "%s", a.body)
		assert.Equal(t, answers[0].body, a.body)
		if a.header.Get("Idempotent-Replay") == "" {
			fresh++
		}
	}
	assert.Equal(t, 1, fresh, "one of them did it")
	assert.Equal(t, 3, s.bag().Pouches[1].Lines[0].Usable)
	assert.Len(t, decoded[listOf[inventory.Use]](s.as(crew, "GET", "/bags/KD7-442/uses").want(200)).Data, 1)
}
