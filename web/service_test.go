package web

import (
	"net/http"
	"net/url"
	"regexp"
	"testing"
	"time"

	"github.com/gin-gonic/gin"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stowkeeper/inventory"
	"stowkeeper/inventory/account"
	"stowkeeper/inventory/exchange"
)

// A service whose clock was set back ten years overnight calls nothing ready and takes nothing down, until an
// administrator has said whether the clock or the newest records are wrong. A few minutes are only warned of.
func TestClockSetBack(t *testing.T) {
	w := newWorld(t)
	keeper := w.as("Quinn Master")
	set := func(by time.Duration) {
		t.Helper()
		w.later(by)
		require.NoError(t, w.svc.History.LookAtClock(t.Context()))
	}
	set(-3 * time.Minute)
	assert.Contains(t, keeper.get("/b/CEN-01").text(), "The service's clock is behind its records: it says 25 Nov 2026, ")
	set(3 * time.Minute)
	assert.NotContains(t, keeper.get("/b/CEN-01").text(), "clock")

	set(-10 * 365 * 24 * time.Hour)
	keeper.get("/b/CEN-01")
	assert.Equal(t, http.StatusSeeOther, keeper.res.Code, "a session does not outlast a clock that was set back")
	keeper = w.as("Quinn Master")
	keeper.get("/b/CEN-01")
	assert.Equal(t, http.StatusServiceUnavailable, keeper.res.Code)
	assert.Contains(t, keeper.text(),
		"clock says 27 Nov 2016, its newest record is of 25 Nov 2026: an administrator must say")
	assert.NotContains(t, keeper.text(), "Ready")
	keeper.post("/b/CEN-01/seal-check", url.Values{"seal_seen": {"100234"}})
	assert.Equal(t, http.StatusServiceUnavailable, keeper.res.Code)
	keeper.get("/service")
	assert.Equal(t, http.StatusForbidden, keeper.res.Code)

	admin := w.as("Ada Ministrator")
	admin.get("/")
	assert.Contains(t, admin.text(), "Service")
	to, values := formWith(admin.get("/service"), "/service", url.Values{"own_password": {password}})
	assert.Contains(t, admin.text(), "Service clock (UTC) 27 Nov 2016")
	admin.post(to, values)
	assert.Equal(t, http.StatusSeeOther, admin.res.Code, admin.text())
	keeper.get("/b/CEN-01")
	assert.Equal(t, http.StatusOK, keeper.res.Code)
	assert.NotContains(t, keeper.text(), "clock is behind")
	assert.Contains(t, admin.get("/history").text(), "Clock confirmed")
}

// The administrator's page says how the program and its database are, and names what needs somebody's hand.
func TestServicePage(t *testing.T) {
	w := newWorld(t)
	now := w.svc.Now()
	state := ServiceState{Version: "stowkeeper v1", Database: "/var/lib/kit.db", Size: 48_000_000,
		Free: 300_000_000, LittleRoom: true,
		Backups: true, BackupOverdue: true, BackedUp: now.Add(-4 * time.Hour), Wrote: now,
		Waiting: 7, Verified: now, Trouble: inventory.Refuse(inventory.StorageFull, "no room")}
	w.router = gin.New()
	o := w.options()
	o.State = func() ServiceState { return state }
	require.NoError(t, Mount(w.router, w.svc, o))
	admin := w.as("Ada Ministrator")
	admin.get("/service")
	for _, says := range []string{"stowkeeper v1", "/var/lib/kit.db, 48 MB", "Records not saved yet 7",
		"Records last verified (UTC) 25 Nov 2026", "300 MB little: make room", "no room", "overdue"} {
		assert.Contains(t, admin.text(), says)
	}
	state = ServiceState{Version: "stowkeeper v1", Database: "postgres", Wrote: now}
	admin.get("/service")
	assert.Contains(t, admin.text(), "none by the hour")
	assert.NotContains(t, admin.text(), "make room")
	assert.Equal(t, []string{"", "1 kB", "9999 kB", "10 MB", "9999 MB", "10 GB"}, []string{inBytes(0), inBytes(1),
		inBytes(9_999_000), inBytes(10_000_000), inBytes(9_999_999_999), inBytes(10_000_000_000)})
}

// A phone is lost, somebody guesses at a password, an import stopped and a session was left open somewhere: an
// administrator finds all of it on one page, and ends there what must end.
func TestServicePageWatches(t *testing.T) {
	w := newWorld(t)
	lost, err := w.svc.Account.AddTerminal(t.Context(), admin, "Garage phone", "")
	require.NoError(t, err)
	_, err = w.svc.Account.EnrolHere(t.Context(), admin, lost.ID)
	require.NoError(t, err)
	_, err = w.svc.Account.AddTerminal(t.Context(), admin, "Never enrolled", "")
	require.NoError(t, err)
	w.later(inventory.SilentAfter * 24 * time.Hour)
	page := w.as("Ada Ministrator").get("/service").text()
	assert.NotContains(t, page, "No sign-in for 30 days")
	assert.NotContains(t, page, "Stopped before its end")
	assert.NotContains(t, page, "Sign-in delayed")

	w.later(24 * time.Hour)
	keeper := w.as("Quinn Master")
	for range account.FreeAttempts {
		w.stranger().post("/sign-in", url.Values{"name": {"Quinn Master"}, "secret": {"a guess of somebody's"}})
	}
	for kind, stopped := range map[exchange.ImportKind]bool{exchange.ImportStock: true, exchange.ImportItems: false} {
		j := importJob{Kind: kind, Report: exchange.ImportReport{Stopped: stopped, Done: !stopped}}
		j.Upload = inventory.Upload{Code: string(kind), Owner: "x", KeptAt: w.svc.Now(), State: j.state()}
		require.NoError(t, w.options().Uploads.Keep(t.Context(), j.Upload, []byte("a"), 0, 0, mostUploads))
	}
	admin := w.as("Ada Ministrator")
	page = admin.get("/service").text()
	assert.Contains(t, page, "Garage phone never No sign-in for 30 days: find it, or revoke it.")
	assert.NotContains(t, page, "Never enrolled")
	assert.Contains(t, page, "Import: Opening stock Stopped before its end.")
	assert.NotContains(t, page, "Import: Items")
	assert.Regexp(t, `Sign-in delayed after wrong tries.*26 Dec 2026.* Quinn Master`, page)
	out := regexp.MustCompile(`<b>Quinn Master</b>.*formaction="(/people/\d+/sign-out)" name="ref" value="(\w+)"`).
		FindStringSubmatch(admin.res.Body.String())
	require.NotNil(t, out)
	assert.NotRegexp(t, `<b>Ada Ministrator</b>.*sign-out`, admin.res.Body.String(), "one's own end on one's own page")
	admin.post(out[1], url.Values{"ref": {out[2]}})
	assert.Equal(t, http.StatusSeeOther, admin.res.Code)
	keeper.get("/store")
	assert.Equal(t, "/sign-in?next=%2Fstore", keeper.res.Header().Get("Location"), "that session has ended")
	assert.NotContains(t, admin.get("/service").res.Body.String(), "<b>Quinn Master</b>")

	admin.get("/service")
	assert.Contains(t, admin.res.Body.String(), `<a href="/terminals">2</a>`)
	admin.post("/terminals/"+formatID(lost.ID), url.Values{"how": {"revoke"}})
	assert.Equal(t, http.StatusSeeOther, admin.res.Code)
	assert.NotContains(t, admin.get("/service").text(), "Garage phone")
}
