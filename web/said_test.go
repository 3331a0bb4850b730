package web

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stowkeeper/inventory"
)

// Kim signs out where there is no signal: the phone forgets Kim at once and keeps its pages. Jo taps a name and
// confirms a seal; once there is signal the service knows that Kim left, and what Jo recorded is said to be Jo's, under
// review, until Jo signs in and confirms it.
func TestSignOutWithoutSignal(t *testing.T) {
	w := newWorld(t)
	b := newBrowser(t, w)
	b.onTerminal(w)
	b.as(w, "Kim Crew")
	b.open("/board")
	b.kept(4)
	b.offline(true)
	b.open("/board")
	b.sees("No signal. As of")
	ask[bool](b, `document.querySelector("form[action='/sign-out'] button").click() || true`)
	b.until("the names", `document.querySelectorAll(".names button").length === 2`)
	assert.NotContains(t, b.text(), "Lee", "of another station, as the phone keeps for Kim's pages")
	ask[bool](b, `[...document.querySelectorAll(".names button")].find(e => e.textContent === "Jo Crew").click() || true`)
	b.at("/board")
	b.sees("said to be Jo Crew")
	assert.NotContains(t, b.text(), "Kim")
	b.open("/b/CEN-01")
	b.taken()
	ask[bool](b, `document.querySelector(".actions form button").click() || true`)
	b.sees("not sent yet")
	checks, _ := w.recordsOf("CEN-01")
	had := len(checks)

	b.offline(false)
	b.open("/b/CEN-01")
	b.sees("Sign in")
	assert.Contains(t, b.text(), "PIN")
	b.as(w, "Kim Crew")
	b.open("/b/CEN-01")
	b.until("it was sent", noneWait)
	checks, _ = w.recordsOf("CEN-01")
	require.Len(t, checks, had+1)
	assert.Equal(t, "Jo Crew", checks[0].By)
	assert.Equal(t, "Kim Crew", checks[0].SentBy)
	assert.Equal(t, inventory.StatusToReview, checks[0].Status)
	assert.Contains(t, w.as("Quinn Master").get("/review").text(), "said to be Jo Crew")
	assert.NotContains(t, w.as("Kim Crew").get("/board").text(), "said to be yours")

	jo := w.as("Jo Crew").get("/board")
	assert.Contains(t, jo.text(), "1 record is said to be yours: confirm")
	jo.get("/said").submit("/said/checks/"+formatID(checks[0].ID), nil).follow()
	assert.Contains(t, jo.text(), "None.")
	assert.NotContains(t, jo.get("/board").text(), "said to be yours")
	checks, _ = w.recordsOf("CEN-01")
	assert.Equal(t, inventory.StatusAccepted, checks[0].Status)
	assert.Empty(t, checks[0].SentBy)
}

// On an enrolled terminal people tap their name and type their PIN; those who were here lately stand first. Another
// browser is told no name.
func TestNamesToTap(t *testing.T) {
	w := newWorld(t)
	c := w.stranger().get("/sign-in?next=/b/CEN-01")
	names := c.text()
	assert.Contains(t, names, "Jo Crew")
	assert.NotContains(t, names, "Quinn Master Name", "who has a password types it")
	assert.Less(t, strings.Index(names, "Jo Crew"), strings.Index(names, "Kim Crew"), "by name")
	href := (&story{t: t, w: w, c: c}).link("/sign-in?who=1*")
	require.NotEmpty(t, href)
	c.get(href)
	before, _, _ := strings.Cut(c.text(), "Demo sign-ins")
	assert.NotContains(t, before, "Jo Crew")
	c.submit("/sign-in", map[string][]string{"secret": {"0000"}})
	assert.Contains(t, c.text(), "Kim Crew", "asked for the PIN again")
	c.submit("/sign-in", map[string][]string{"secret": {crewPIN}})
	assert.Equal(t, "/b/CEN-01", c.location())
	c.get("/board").submit("/sign-out", nil).follow()
	names = c.text()
	assert.Less(t, strings.Index(names, "Kim Crew"), strings.Index(names, "Jo Crew"), "lately here")

	other := w.stranger()
	delete(other.others, "stowkeeper_terminal")
	page := other.get("/sign-in").res.Body.String()
	before, _, _ = strings.Cut(page, "Demo sign-ins")
	assert.NotContains(t, before, "Crew")
	assert.NotContains(t, other.get("/sign-in?who=1").text(), "Kim Crew, Name")
}
