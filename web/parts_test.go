package web

import (
	"bytes"
	"compress/gzip"
	"io"
	"net/http"
	"net/http/httptest"
	"net/url"
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stowkeeper/inventory"
	"stowkeeper/inventory/lists"
	"stowkeeper/inventory/message"
)

// Assets are addressed by their content, kept for good, and sent small.
func TestAssets(t *testing.T) {
	w := newWorld(t)
	c := w.stranger().get("/sign-in")
	hrefs := regexp.MustCompile(`/assets/[a-z]+\.[0-9a-f]{16}\.(css|js|svg)`).FindAllString(c.res.Body.String(), -1)
	require.Len(t, hrefs, 3)
	total := 0
	for _, href := range hrefs {
		c.get(href)
		require.Equal(t, http.StatusOK, c.res.Code, href)
		assert.Equal(t, "public, max-age=31536000, immutable", c.res.Header().Get("Cache-Control"))
		assert.Equal(t, "nosniff", c.res.Header().Get("X-Content-Type-Options"))
		plain := c.res.Body.Bytes()

		r := httptest.NewRequest(http.MethodGet, href, nil)
		r.Header.Set("Accept-Encoding", "br, gzip")
		c.do(r)
		assert.Equal(t, "gzip", c.res.Header().Get("Content-Encoding"))
		assert.Equal(t, "Accept-Encoding", c.res.Header().Get("Vary"))
		total += c.res.Body.Len()
		z, err := gzip.NewReader(bytes.NewReader(c.res.Body.Bytes()))
		require.NoError(t, err)
		unzipped, err := io.ReadAll(z)
		require.NoError(t, err)
		assert.Equal(t, plain, unzipped)
	}
	assert.Less(t, total, 25_000, "all that a first visit loads besides the page")
	assert.Equal(t, http.StatusNotFound, c.get("/assets/style.css").res.Code, "only with its checksum")
	assert.Equal(t, http.StatusNotFound, c.get("/assets/style.0000000000000000.css").res.Code)
}

func TestAssetTypes(t *testing.T) {
	a, err := loadAssets(english(t))
	require.NoError(t, err)
	for name, x := range a.byName {
		assert.NotEmpty(t, x.contentType, name)
		assert.True(t, strings.HasPrefix(x.href, "/assets/"), name)
	}
}

// The printed labels are a PDF that is shown in the browser.
func TestLabelSheet(t *testing.T) {
	w := newWorld(t)
	c := w.as("Quinn Master").get("/labels/sheet.pdf?sheet=a4-3x7&bag=CEN-01&bag=NOR-01&start=2&outline=yes")
	require.Equal(t, http.StatusOK, c.res.Code, c.res.Body.String())
	assert.Equal(t, "application/pdf", c.res.Header().Get("Content-Type"))
	assert.True(t, strings.HasPrefix(c.res.Body.String(), "%PDF-"))
	many := url.Values{"sheet": {"a4-3x7"}}
	for range 1001 {
		many.Add("bag", "CEN-01")
	}
	assert.Equal(t, http.StatusUnprocessableEntity, c.get("/labels/sheet.pdf?"+many.Encode()).res.Code)
}

// A label that cannot be read at that size is refused in words.
func TestLabelThatCannotBeRead(t *testing.T) {
	w := newWorld(t)
	opt := w.options()
	opt.BaseURL = "https://a-very-long-name-of-a-service." + strings.Repeat("department.", 12) + "example.org"
	s, err := newServer(w.svc, opt)
	require.NoError(t, err)
	c := w.as("Quinn Master")
	c.handler = handlerOf(t, s)
	c.get("/labels/sheet.pdf?sheet=letter-3x10&bag=CEN-01")
	assert.Equal(t, http.StatusUnprocessableEntity, c.res.Code, c.text())
	assert.Contains(t, c.text(), "Labels")
}

func TestWords(t *testing.T) {
	assert.Equal(t, "serial S1", lotLabel("L1", "S1").String())
	assert.Equal(t, "no batch number", lotLabel("", "").String())
	at := inventory.InstantOf(time.Date(2026, 7, 1, 22, 30, 0, 0, time.UTC))
	athens := whenAt(at, inventory.Station{Timezone: "Europe/Athens"})
	assert.Equal(t, When{"2026-07-01T22:30:00Z", "01:30", "2026-07-02 01:30+03:00", inventory.MustDay("2026-07-02")},
		athens)
	assert.Equal(t, "2 Jul 2026, 01:30", english(t).Text(athens.Text()))
	assert.Equal(t, "never", english(t).Text(When{}.Text()))
	assert.Equal(t, "no date", english(t).Text(message.M("{1}", dayOrNone(0))))
	assert.Equal(t, When{}, whenAt(0, inventory.Station{}))
}

// Every word that a page looks up is there.
func TestEveryWordIsThere(t *testing.T) {
	for _, s := range []inventory.State{inventory.Ready, inventory.ReadyWithGaps, inventory.NotReady,
		inventory.OutOfService} {
		assert.NotEmpty(t, stateWord(s))
		assert.Contains(t, stateOrder, s)
	}
	for _, w := range inventory.Wordings {
		assert.NotEmpty(t, wordingWords[w])
	}
	for _, k := range inventory.OutsideKinds {
		assert.NotEmpty(t, outsideWords[k])
	}
	for _, k := range inventory.InsideKinds {
		assert.NotEmpty(t, placeKindWords[k])
	}
}

// Movements are told without naming what lies outside as a place.
func TestMoveText(t *testing.T) {
	for _, r := range inventory.Reasons {
		for _, pair := range [][2]string{{"supplier", "CEN-STORE"}, {"CEN-01", "used"}, {"CEN-01", "disposed"},
			{"lost", "CEN-01"}, {"found", "CEN-01"}, {"CEN-STORE", "CEN-01"}} {
			text := moveText(inventory.Movement{Qty: 3, From: pair[0], To: pair[1], Reason: r}).String()
			for _, k := range inventory.OutsideKinds {
				assert.NotContains(t, text, "to "+string(k))
				assert.NotContains(t, text, "from "+string(k))
			}
		}
	}
	m := inventory.Movement{Qty: 2, From: "CEN-01", To: "disposed", Reason: inventory.ReasonDisposed,
		Cause: inventory.CauseExpired}
	assert.Equal(t, "2 disposed of, from CEN-01: expired", moveText(m).String())
	m = inventory.Movement{Qty: 2, From: "disposed", To: "CEN-01", Reason: inventory.ReasonCorrection, Corrects: 7}
	assert.Equal(t, "2 back into CEN-01, correction", moveText(m).String())
	m = inventory.Movement{Qty: 1, From: "CEN-01", To: "supplier", Reason: inventory.ReasonCorrection, Corrects: 7}
	assert.Equal(t, "1 out of CEN-01, correction", moveText(m).String())
	m = inventory.Movement{Qty: 4, From: "CEN-QUARANTINE", To: "supplier", Reason: inventory.ReasonToSupplier}
	assert.Equal(t, "4 from CEN-QUARANTINE to supplier, returned", moveText(m).String())
}

func TestSealText(t *testing.T) {
	for event, want := range map[inventory.SealEvent]string{
		inventory.SealWasSet: "seal 8 set", inventory.SealSeen: "seal 8 confirmed",
		inventory.SealSeenBroken: "seal 7 broken or missing",
		inventory.SealSeenOther:  "seal 8 found, not 7", inventory.SealOpened: "seal 8 opened",
	} {
		assert.Equal(t, want, sealText(inventory.SealEntry{Event: event, Number: "8", Expected: "7"}).String())
	}
}

func TestFieldIDs(t *testing.T) {
	assert.Equal(t, "f-row-0-12-counted", Field{Name: "row.0.12.counted"}.ID())
	assert.Equal(t, "f-found-0--batch-no", Field{Name: "found[0].batch_no"}.ID())
}

func TestIndexed(t *testing.T) {
	i, field, ok := indexed("lines[12].reason", "lines")
	assert.True(t, ok)
	assert.Equal(t, 12, i)
	assert.Equal(t, "reason", field)
	for _, path := range []string{"lines", "found[1].qty", "lines[x].qty", "lines[-1].qty", "lines[1]"} {
		_, _, ok := indexed(path, "lines")
		assert.False(t, ok, path)
	}
}

// A lot in two pouches is counted in each, where the page said how many should
// be there; else its counts are added up. What is wrong is shown where it is.
func TestReadCounts(t *testing.T) {
	n := func(n int) *int { return &n }
	f := openForm(url.Values{
		"row.0.5.counted": {"2"}, "row.0.5.expected": {"2"},
		"row.1.5.counted": {"1"}, "row.1.5.expected": {"3"}, "row.1.5.reason": {"used"},
		"row.2.5.counted": {"2"}, "row.2.5.expected": {"1"}, "row.2.5.reason": {"from:B2"},
		"row.10.6.counted": {"4"}, "row.10.6.expected": {"4"},
		"incident": {" INC-1 "},
	})
	c := readCounts(f, nil)
	assert.Equal(t, []inventory.CheckLine{{LotID: 5, Counted: 2, Expected: n(2)}, {LotID: 5, Counted: 1,
		Reason: inventory.CountUsed, Incident: "INC-1", Expected: n(3)},
		{LotID: 5, Counted: 2, Reason: inventory.CountFound, CameFrom: "B2", Expected: n(1)}, {LotID: 6, Counted: 4,
			Expected: n(4)}}, c.lines)
	assert.Equal(t, "row.1.5.reason", c.name("lines[1].reason"))
	assert.Equal(t, "row.2.5.reason", c.name("lines[2].came_from"))
	assert.Equal(t, "row.10.6.counted", c.name("lines[3].counted"))
	assert.Equal(t, "lines", c.name("lines"))
	assert.True(t, f.ok())

	f = openForm(url.Values{"row.0.5.counted": {"2"}, "row.0.5.expected": {"2"}, "row.1.5.counted": {"1"},
		"row.1.5.expected": {"3"}})
	assert.Equal(t, "row.1.5.reason", readCounts(f, nil).name("lines[0].reason"), "the row that differs is asked")

	c = readCounts(openForm(url.Values{"row.0.5.counted": {"2"}, "row.1.5.counted": {"1"}, "row.1.6.counted": {"7"}}), nil)
	assert.Equal(t, []inventory.CheckLine{{LotID: 5, Counted: 3}, {LotID: 6, Counted: 7}}, c.lines)
	assert.Equal(t, "row.1.6.counted", c.name("lines[1].counted"))
}

func TestLocalTime(t *testing.T) {
	f := openForm(url.Values{"at": {"2026-07-01T08:30"}, "bad": {"yesterday"}})
	athens := inventory.Station{Timezone: "Europe/Athens"}
	assert.Equal(t, "2026-07-01T05:30:00Z", f.localTime("at", athens).String())
	assert.Zero(t, f.localTime("none", athens))
	assert.True(t, f.ok())
	assert.Zero(t, f.localTime("bad", athens))
	assert.False(t, f.ok())
}

// The links to the spreadsheet ask for what the page shows.
func TestCSVLinks(t *testing.T) {
	assert.Equal(t, "/api/v1/reports/shortages.csv?part=rows", csvLinks("", lists.Outlook{Horizon: -1})[0].Href)
	links := csvLinks("CEN", lists.Outlook{AsOf: inventory.MustDay("2026-12-24"), Horizon: 10})
	assert.Equal(t, "/api/v1/reports/shortages.csv?as_of=2026-12-24&horizon_days=10&part=buy&station=CEN", links[2].Href)
}
