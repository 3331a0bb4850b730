package web

import (
	"net/url"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stowkeeper/inventory"
)

// A balance check that differs stops the bag, and says so where quartermaster,
// crew and manager look first, until one agrees.
func TestARegisterThatDoesNotBalance(t *testing.T) {
	w := newWorld(t)
	ctx := t.Context()
	_, err := w.svc.Lists.CreateItem(ctx, admin, inventory.Item{Code: "VIAL", Name: "Controlled ampoule",
		Category: inventory.CategoryPainRelief, Unit: "ampoule",
		TrackedBy: inventory.ByLot, Dated: true, Controlled: true, Strength: "10 mg in 1 ml", Form: "ampoule"})
	require.NoError(t, err)
	lot, err := w.svc.Ledger.Receive(ctx, w.signed(), inventory.Receipt{Place: "CEN-STORE", Item: "VIAL", BatchNo: "A1",
		EndPrinted: "2029-01", EndWording: "expiry", Qty: 4})
	require.NoError(t, err)
	_, err = w.svc.Ledger.Move(ctx, w.signed(), []inventory.Movement{{LotID: lot.ID, Qty: 2, From: "CEN-STORE",
		To: "CEN-01", Reason: inventory.ReasonStow}})
	require.NoError(t, err)
	const alert = "Does not balance: Controlled ampoule, 10 mg in 1 ml"
	lookers := map[string]string{"/store": "Quinn Master", "/board": "Kim Crew", "/report": "Max Manager"}
	count := func(counted string) *client {
		c := w.as("Quinn Master").get("/register/CEN-01/VIAL/check").submit("/register/CEN-01/VIAL/check",
			url.Values{"counted": {counted}, "own_pin": {password}, "witness": {"Kim Crew"}, "witness_pin": {crewPIN}})
		require.Equal(t, 303, c.res.Code, c.text())
		return c.follow()
	}
	shown := count("1").text()
	assert.Contains(t, shown, "Recorded: does not balance. Do not use this bag until it balances.")
	assert.Contains(t, shown, "Balance check: 1 counted, does not balance")
	for page, who := range lookers {
		assert.Contains(t, w.as(who).get(page).text(), alert, page)
	}
	assert.Contains(t, w.as("Kim Crew").get("/b/CEN-01").text(),
		"Controlled ampoule does not balance: 1 counted, 2 recorded")
	shown = count("2").text()
	assert.Contains(t, shown, "Recorded: balanced.")
	assert.Contains(t, shown, "Balance check: 2 counted")
	for page, who := range lookers {
		assert.NotContains(t, w.as(who).get(page).text(), alert, page)
	}
}
