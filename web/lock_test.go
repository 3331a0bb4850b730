package web

import (
	"net/http"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stowkeeper/inventory/lists"
)

// locks has the phones of the world's station lock after some minutes.
func (w *world) locks(minutes int) {
	w.t.Helper()
	_, err := w.svc.Lists.ChangeStation(w.t.Context(), admin, "CEN", lists.StationSettings{LockMinutes: &minutes})
	require.NoError(w.t, err)
}

// later has the page that is open believe that it lay untouched for so long, and look at its clock.
func (b *browser) later(minutes int) {
	b.t.Helper()
	ask[bool](b, `(n => { const was = Date.now; Date.now = () => was() + n * 60000; return true; })(`+
		formatID(int64(minutes))+`)`)
	ask[bool](b, `document.dispatchEvent(new Event("visibilitychange")) || true`)
}

// Kim leaves the shared phone on a bag's page. It locks, and Kim has the seal confirmed by three touches and the PIN.
// The pad has large keys, the field shows and remembers nothing, and a keyboard types into it too.
func TestSealCheckFromALockedPhone(t *testing.T) {
	w := newWorld(t)
	w.locks(5)
	b := newBrowser(t, w)
	b.onTerminal(w)
	b.as(w, "Kim Crew")
	b.open("/b/CEN-01")
	b.kept(4)
	b.later(4)
	assert.Equal(t, "/b/CEN-01", ask[string](b, "location.pathname"), "not yet")
	b.later(2)
	b.at("/sign-in")
	assert.Equal(t, http.StatusSeeOther, w.as("Kim Crew").get("/sign-in").res.Code)
	assert.NotContains(t, b.text(), "CEN-01")
	touches := 0
	tap := func(selector string) {
		t.Helper()
		b.do(chromedp.Click(selector))
		touches++
	}
	link := ask[string](b, `[...document.querySelectorAll(".names a")].find(e => e.textContent === "Kim Crew")`+
		`.getAttribute("href")`)
	tap(`.names a[href="` + link + `"]`)
	b.until("the number pad", `document.querySelectorAll(".pad button").length === 12`)
	assert.Empty(t, ask[[]string](b, gloved))
	assert.True(t, ask[bool](b, `(e => e.type === "password" && e.autocomplete === "off" && e.inputMode === "none" && `+
		`document.querySelector(".pad").getBoundingClientRect().bottom <= innerHeight)(`+
		`document.querySelector("input[name=secret]"))`))
	b.pin("11")
	b.pin("\u00d7")
	b.do(chromedp.SendKeys("[name=secret][inputmode]", crewPIN[:1]))
	b.pin(crewPIN[1:])
	assert.Contains(t, ask[string](b, `document.querySelector(".pad + [role=status]").textContent`), "PIN: ")
	assert.NotContains(t, ask[string](b, `document.querySelector("main form").innerText + `+
		`JSON.stringify(localStorage)`), crewPIN)
	tap(".pad .main")
	b.at("/b/CEN-01")
	tap(".actions button.main")
	b.sees("Seal check recorded.")
	assert.LessOrEqual(t, touches, 3)
}

// pin types digits on the pad.
func (b *browser) pin(digits string) {
	b.t.Helper()
	for _, d := range digits {
		ask[bool](b, `[...document.querySelectorAll(".pad button")].find(e => e.textContent === "`+string(d)+
			`").click() || true`)
	}
}

// A phone that locks without signal, or lay in a drawer, shows names and no page. What Kim recorded before stays, and
// is sent once Kim is back.
func TestLockedPhoneKeepsWhatIsNotSent(t *testing.T) {
	w := newWorld(t)
	w.locks(5)
	b := newBrowser(t, w)
	b.onTerminal(w)
	b.as(w, "Kim Crew")
	b.open("/board")
	b.kept(4)
	b.offline(true)
	b.open("/b/CEN-01")
	b.taken()
	ask[bool](b, `document.querySelector(".actions form button").click() || true`)
	b.sees("not sent yet")
	checks, _ := w.recordsOf("CEN-01")
	had := len(checks)
	ask[bool](b, `localStorage.setItem("touched", Date.now() - 6 * 60000) || true`)
	b.open("/board")
	b.until("the names", `document.querySelectorAll(".names button").length === 2`)
	assert.NotContains(t, b.text(), "said to be")
	b.open("/b/CEN-02")
	assert.NotContains(t, b.text(), "OK to go out", "nor by another address")

	b.offline(false)
	b.open("/b/CEN-01")
	b.sees("PIN or password")
	b.as(w, "Kim Crew")
	b.open("/b/CEN-01")
	b.until("it was sent", noneWait)
	checks, _ = w.recordsOf("CEN-01")
	require.Len(t, checks, had+1)
	assert.Equal(t, "Kim Crew", checks[0].By)
	assert.Empty(t, checks[0].SentBy)
}

// The service judges a phone by when it last heard of it. Whoever touches a page is heard.
func TestServiceLocksIdlePhones(t *testing.T) {
	w := newWorld(t)
	w.locks(5)
	c := w.as("Kim Crew").get("/board")
	assert.Contains(t, c.res.Body.String(), `data-lock="5"`)
	for range 3 {
		w.later(4 * time.Minute)
		assert.Equal(t, http.StatusOK, c.get("/still-here").res.Code)
	}
	w.later(5*time.Minute + time.Second)
	assert.Equal(t, http.StatusSeeOther, c.get("/b/CEN-01").res.Code)
	assert.Equal(t, "/sign-in?next=%2Fb%2FCEN-01", c.location())
}

// Somebody else takes over the phone: one touch leads to the names, and back to where the phone was.
func TestAnotherPersonTakesOver(t *testing.T) {
	w := newWorld(t)
	b := newBrowser(t, w)
	b.onTerminal(w)
	b.as(w, "Kim Crew")
	b.open("/b/CEN-01/full-check")
	b.kept(4)
	b.do(chromedp.SetValue("[name=note]", "half way"))
	ask[bool](b, `document.querySelector("[name=note]").dispatchEvent(new Event("input", { bubbles: true }))`)
	ask[bool](b, `document.querySelector("form.lock button").click() || true`)
	b.at("/sign-in")
	assert.Equal(t, "/b/CEN-01/full-check", ask[string](b, `new URLSearchParams(location.search).get("next")`))
	assert.NotZero(t, askLater[int](b, `(async () => (await (await caches.open("pages")).keys()).length)()`), "pages stay")
}

// The quartermaster of a station sets when its phones lock and which vehicles keep the look for the night; a number out
// of bounds comes back with what was chosen.
func TestStationSettings(t *testing.T) {
	w := newWorld(t)
	c := w.as("Quinn Master").get("/stations/CEN")
	assert.NotContains(t, c.text(), "Close station")
	c.submit("/stations/CEN", map[string][]string{"lock_minutes": {"999"}, "night": {"Vehicle 01"}})
	assert.Contains(t, c.text(), "enter 0 to 240")
	c.submit("/stations/CEN", map[string][]string{"lock_minutes": {"7"}}).follow()
	all, err := w.svc.Lists.Stations(t.Context(), admin)
	require.NoError(t, err)
	assert.Equal(t, 7, all[0].LockMinutes)
	assert.Equal(t, []string{"Vehicle 01"}, all[0].NightVehicles)
	assert.Equal(t, http.StatusForbidden, w.as("Kim Crew").get("/stations/CEN").res.Code)
}
