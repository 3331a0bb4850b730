package main

import (
	"bytes"
	"log/slog"
	"net/http"
	"net/url"
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/gin-gonic/gin"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stowkeeper/api"
	"stowkeeper/inventory"
	"stowkeeper/inventory/inventorytest/outside"
)

// TestCalendarAddress: a quartermaster makes an address on the page of their station, at which two calendar programs
// of others read what the API tells, signed in as nobody. Its key opens nothing else, is written to no log and in no
// figures, and once it is revoked, the address answers as one that never was.
func TestCalendarAddress(t *testing.T) {
	c := compose(t)
	var log bytes.Buffer
	p := &program{svc: c.svc, baseURL: "https://kit.example.org",
		log: slog.New(slog.NewTextHandler(&log, &slog.HandlerOptions{Level: slog.LevelDebug}))}
	h, err := p.handler()
	require.NoError(t, err)
	c.router = h.(*gin.Engine)
	session := c.session(inventory.Quartermaster)
	page := c.form("/stations/N1/calendar", session, url.Values{"own_password_new": {"seven lamps at dusk"}})
	require.Equal(t, http.StatusOK, page.Code, page.Body)
	assert.Equal(t, "no-store", page.Header().Get("Cache-Control"))
	session = page.Result().Cookies()[0] // who confirms gets another
	found := regexp.MustCompile(`https://kit.example.org(/calendar/(cal_\w+)\.ics)`).FindStringSubmatch(page.Body.String())
	require.Len(t, found, 3)
	address, key := found[1], found[2]

	token := c.token(inventory.Crew)
	feed := c.do(http.MethodGet, address, "")
	require.Equal(t, http.StatusOK, feed.Code)
	assert.Equal(t, []string{"text/calendar; charset=utf-8", "no-store"},
		[]string{feed.Header().Get("Content-Type"), feed.Header().Get("Cache-Control")})
	told := c.do(http.MethodGet, api.Base+"/calendar.ics?station=N1", "", "Authorization", "Bearer "+token)
	require.Equal(t, http.StatusOK, told.Code)
	english := outside.Calendars(t, told.Body.Bytes())
	for by, read := range outside.Calendars(t, feed.Body.Bytes()) {
		require.NotEmpty(t, read.Events, by)
		require.Len(t, english[by].Events, len(read.Events), by)
		for i, e := range read.Events {
			assert.True(t, strings.HasSuffix(e.UID, "/N1@kit.example.org"), e.UID)
			e.Summary, e.Details = english[by].Events[i].Summary, english[by].Events[i].Details // pages write days otherwise
			assert.Equal(t, english[by].Events[i], e, by)
		}
	}

	c.ahead = -48 * time.Hour
	require.NoError(t, c.svc.History.LookAtClock(t.Context()))
	assert.Equal(t, http.StatusServiceUnavailable, c.do(http.MethodGet, address, "").Code, "nobody knows what is due")
	c.ahead = 0

	for _, path := range []string{"/bags", "/calendar.ics?station=N1", "/stations"} {
		assert.Equal(t, http.StatusUnauthorized, c.do(http.MethodGet, api.Base+path, "", "Authorization",
			"Bearer "+key).Code, path)
	}
	keys, err := c.svc.Account.CalendarKeys(t.Context(), operator, "N1")
	require.NoError(t, err)
	require.Len(t, keys, 1)
	gone := c.form("/stations/N1/calendar", session, url.Values{"revoke": {itoa(keys[0].ID)}})
	require.Equal(t, http.StatusSeeOther, gone.Code, gone.Body)
	revoked, never := c.do(http.MethodGet, address, ""), c.do(http.MethodGet, "/calendar/cal_NOBODY.ics", "")
	assert.Equal(t, []int{http.StatusNotFound, http.StatusNotFound}, []int{revoked.Code, never.Code})
	assert.Equal(t, strings.ReplaceAll(never.Body.String(), "cal_NOBODY", key), revoked.Body.String())

	assert.Contains(t, log.String(), "route=/calendar/:link")
	assert.NotContains(t, log.String(), key)
	figures := p.gathered(t.Context())
	assert.Contains(t, figures, `route="/calendar/:link"`)
	assert.NotContains(t, figures, key)
}
