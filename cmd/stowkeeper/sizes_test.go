//go:build unix

package main

import (
	"testing"
	"time"

	"github.com/chromedp/cdproto/network"
	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// testFewBytes counts what a phone is sent for a station of ten bags and one for training: all that its worker fetches
// by itself after the first page, and a bag's page that it had before, as it is and after somebody changed it.
func testFewBytes(t *testing.T, p *process) {
	l := newLink(t, p.address)
	phone := newPhone(t, chromium(t), l.url())
	_, err := chromedp.Call(phone.tab, network.SetCookie, network.SetCookieParams{Name: "stowkeeper_session",
		Value: signIn(t, p, "Dilys Wrenfield", "4821"), URL: l.url()})
	require.NoError(t, err)
	phone.open("/board")
	opened := l.carried()
	const kept = `caches.open("pages").then(c => c.keys()).then(k => k.filter(r => r.url.includes("/b/")).length)`
	require.Eventually(t, func() bool { return ask[int](phone, kept) == 5*11 }, time.Minute, 100*time.Millisecond)
	idle := settled(l) - opened
	t.Logf("%d bytes for the first page, %d in the background", opened, idle)
	assert.Less(t, idle, 120_000)
	for _, bag := range []string{"/b/FM-TR1", "/b/FM-AW1", "/b/FM-TR1"} {
		before := settled(l)
		phone.open(bag)
		again := settled(l) - before
		t.Logf("%d bytes for %s", again, bag)
		assert.LessOrEqual(t, again, 4000, bag)
		assert.False(t, ask[bool](phone, `document.body.hasAttribute("data-kept")`), "it is as it is now")
	}
}

// settled is what was carried, once nothing more comes.
func settled(l *link) int {
	for n := -1; ; time.Sleep(1500 * time.Millisecond) {
		now := l.carried()
		if now == n {
			return n
		}
		n = now
	}
}
