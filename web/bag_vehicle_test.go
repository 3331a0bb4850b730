package web

import (
	"testing"
	"time"

	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stowkeeper/inventory/ledger"
)

// A shift goes from bag to bag of its vehicle: after each check the page leads to the next that is due, and the
// vehicle's page says who checked what, until all are.
func TestAShiftGoesRound(t *testing.T) {
	w := newWorld(t)
	w.later(25 * time.Hour)
	kim := w.as("Kim Crew")
	move := func(bag string) {
		keeper := w.as("Quinn Master")
		keeper.get("/bags/"+bag).submit("/bags/"+bag, map[string][]string{"vehicle": {"Vehicle 01"}})
		assert.Equal(t, 303, keeper.res.Code, keeper.text())
	}
	move("CEN-02")
	kim.get(vehiclePath("CEN", "Vehicle 01"))
	assert.Contains(t, kim.text(), "0 of 2 checked")
	assert.Contains(t, kim.text(), "check due")
	kim.get("/b/CEN-01").submit("/seal-check", nil).follow()
	assert.Contains(t, kim.text(), "Next: CEN-02")
	kim.get(vehiclePath("CEN", "Vehicle 01"))
	assert.Contains(t, kim.text(), "1 of 2 checked")
	assert.Contains(t, kim.text(), "checked 08:00 by Kim Crew")
	kim.get("/b/CEN-02").submit("/seal-check", nil).follow()
	assert.Contains(t, kim.text(), "Vehicle 01: all bags checked")
	kim.get(vehiclePath("CEN", "Vehicle 01"))
	assert.Contains(t, kim.text(), "Vehicle 01: all bags checked")
	w.later(24 * time.Hour)
	kim = w.as("Kim Crew")
	assert.Contains(t, kim.get(vehiclePath("CEN", "Vehicle 01")).text(), "0 of 2 checked", "the next day")
}

// The same shift without signal: what waits on the phone counts as checked, from bag to bag and on the vehicle's page.
func TestAShiftGoesRoundWithoutSignal(t *testing.T) {
	w := newWorld(t)
	w.later(25 * time.Hour)
	on := "Vehicle 01"
	for _, bag := range []string{"CEN-02", "CEN-03"} {
		_, err := w.svc.Lists.UpdateBag(t.Context(), admin, bag, 0, ledger.BagChange{Vehicle: &on})
		require.NoError(t, err)
	}
	b := newBrowser(t, w)
	b.onTerminal(w)
	b.as(w, "Kim Crew")
	b.open("/board")
	b.kept(4)
	b.until("the vehicle is kept", `caches.match("/vehicle?name=Vehicle+01&station=CEN").then(r => !!r)`)
	b.offline(true)
	const first = `document.querySelector(".actions .main").innerText`
	check := func(bag string) {
		b.open("/b/" + bag)
		b.sees("No signal. As of ")
		ask[bool](b, `document.querySelector(".actions form button").click() || true`)
		b.until("it waits", `document.body.innerText.includes("Seal check not sent yet")`)
	}
	check("CEN-01")
	b.until("the next one", first+` === "Next: CEN-02"`)
	assert.Equal(t, int64(1), ask[int64](b, `document.querySelectorAll(".actions .main").length`), "one filled button")
	b.open(vehiclePath("CEN", on))
	b.sees("1 of 3 checked")
	assert.Regexp(t, `checked \d\d:\d\d by Kim Crew`, ask[string](b, `document.querySelector(".bags").innerText`))
	check("CEN-02")
	b.until("the next one", first+` === "Next: CEN-03"`)
	b.open("/b/CEN-03/full-check")
	b.taken()
	b.do(chromedp.SetValue("[name=seal_set]", "501"))
	ask[bool](b, `document.querySelectorAll(".seen input").forEach(e => e.click()) || true`)
	b.until("it was kept", `document.querySelector("form[data-keep] > button.main").click() || true`)
	b.at("/b/CEN-03")
	b.until("no more", first+` === "Vehicle 01: all bags checked"`)
	b.do(chromedp.Click(".actions .main"))
	b.sees("Vehicle 01: all bags checked")
	b.sees("checked ")
	b.offline(false)
	b.until("all is sent", `document.querySelector(".unsent, #strip a") === null`)
}
