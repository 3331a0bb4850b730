package main

import (
	"bytes"
	"fmt"
	"io"
	"math/rand/v2"
	"mime/multipart"
	"net/http"
	"net/url"
	"regexp"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stowkeeper/inventory/inventorytest"
	"stowkeeper/inventory/store"
	"stowkeeper/inventory/store/storetest"
)

// TestDutyUnderLoad: 64 crews record what they do each second, while a quartermaster imports a long list, eight people
// export everything and a stranger guesses at passwords. Nothing that was acknowledged is lost, and memory stays within
// its bound. How long the crews wait, with all that and without, is told and not judged: that is the machine's.
// Part of the long run.
func TestDutyUnderLoad(t *testing.T) {
	rows, quiet := 100_000, 30*time.Second
	if !inventorytest.Long {
		t.Skip("part of the long run")
	}
	for _, engine := range []string{store.SQLite, store.Postgres} {
		t.Run(engine, func(t *testing.T) {
			db := storetest.Database(t, engine)
			serve(t, db).stop() // makes it
			require.Zero(t, stowkeeperWith(t, "seven lamps at dusk\n", nil, "person", "add", "--db", db, "--role",
				"administrator", "Ann").code)
			w := newWriters(t, newToken(t, db, "administrator", "duty"))
			w.pause, w.ofKind = time.Second, 21
			p := beginAs(t, demoBinary(t), servesLine, "serve", "--db", db, "--listen", "127.0.0.1:0")
			c := newClient(t, p, w.token)
			w.setUp(c)
			c.post("/stations", fields{"code": "S3", "name": "South", "timezone": "Europe/London"})
			c.post("/items", fields{"code": "BAND", "name": "Bandage", "category": "plain dressing", "unit": "each",
				"tracked_by": "lot", "dated": true})
			w.write()
			time.Sleep(quiet)
			w.told("without load")

			d := &disturbers{writers: w, p: p, over: make(chan struct{})}
			for range 8 {
				d.group.Go(d.export)
			}
			for range 4 {
				d.group.Go(d.guess)
			}
			began := time.Now()
			came := d.importRows(rows, signIn(t, p, "Ann", "seven lamps at dusk"), began.Add(6*quiet))
			t.Logf("import, after %s: %s", time.Since(began), came)
			time.Sleep(quiet - time.Since(began))
			close(d.over)
			d.group.Wait()
			w.told("with an import, exports and guesses")
			w.finish()
			peak := peakOf(p.cmd.Process.Pid)
			t.Logf("answers: %v; %d KiB at most", d.answers, peak)
			assert.Positive(t, d.answers["export 200"])
			assert.Positive(t, d.answers["guess 401"]+d.answers["guess 429"])
			assert.Less(t, peak, mostOfAll)
			w.look(c)
			p.stop()
			assert.Contains(t, succeed(t, "verify", "--db", db), " 0 faults")
		})
	}
}

// told logs how long writes took since it was asked last.
func (w *writers) told(when string) {
	w.mu.Lock()
	defer w.mu.Unlock()
	slices.Sort(w.took)
	if n := len(w.took); n > 0 {
		w.Logf("%s: %d writes, half within %s, 99 %% within %s, all within %s", when, n, w.took[n/2], w.took[n*99/100],
			w.took[n-1])
	}
	w.took = nil
}

// disturbers are what goes on beside the writers.
type disturbers struct {
	*writers
	p       *process
	over    chan struct{}
	group   sync.WaitGroup
	mu      sync.Mutex
	answers map[string]int
}

// again sends a request again and again until it is over, and counts the answers.
func (d *disturbers) again(what string, every time.Duration, next func() *http.Request) {
	for {
		select {
		case <-d.over:
			return
		case <-time.After(every):
		}
		res, err := http.DefaultTransport.RoundTrip(next())
		if !assert.NoError(d, err) {
			return
		}
		_, err = io.Copy(io.Discard, res.Body)
		assert.NoError(d, err)
		assert.NoError(d, res.Body.Close())
		d.mu.Lock()
		if d.answers == nil {
			d.answers = map[string]int{}
		}
		d.answers[fmt.Sprint(what, " ", res.StatusCode)]++
		d.mu.Unlock()
	}
}

func (d *disturbers) request(method, path string, body io.Reader, kind string) *http.Request {
	r, err := http.NewRequestWithContext(d.Context(), method, "http://"+d.p.address+path, body)
	require.NoError(d, err)
	r.Header.Set("Content-Type", kind)
	return r
}

func (d *disturbers) export() {
	d.again("export", time.Second, func() *http.Request {
		r := d.request(http.MethodGet, "/api/v1/export.xlsx", http.NoBody, "")
		r.Header.Set("Authorization", "Bearer "+d.token)
		return r
	})
}

func (d *disturbers) guess() {
	d.again("guess", 10*time.Millisecond, func() *http.Request {
		form := url.Values{"name": {fmt.Sprint("Person ", rand.N(50))}, "secret": {fmt.Sprint("a guess ", rand.N(1000))}}
		return d.request(http.MethodPost, "/sign-in", strings.NewReader(form.Encode()), "application/x-www-form-urlencoded")
	})
}

// importRows has a person upload a list on the page, look at what it would do, and import it, until some time: it says
// how far it came.
func (d *disturbers) importRows(rows int, session string, until time.Time) string {
	d.Helper()
	var body bytes.Buffer
	form := multipart.NewWriter(&body)
	require.NoError(d, form.WriteField("kind", "stock"))
	file, err := form.CreateFormFile("file", "stock.csv")
	require.NoError(d, err)
	fmt.Fprint(file, openingHead)
	for i := range rows {
		fmt.Fprintf(file, "S3-STORE;BAND;B%06d;2099-%02d;10\n", i, 1+i%12)
	}
	require.NoError(d, form.Close())
	send := func(r *http.Request) (*http.Response, string) {
		r.AddCookie(&http.Cookie{Name: "stowkeeper_session", Value: session})
		res, err := http.DefaultTransport.RoundTrip(r)
		require.NoError(d, err)
		defer res.Body.Close()
		text, err := io.ReadAll(res.Body)
		require.NoError(d, err)
		return res, string(text)
	}
	far := regexp.MustCompile(`[\d,]+ of [\d,]+ rows|Ready to import|Imported: [\d,]+ created`)
	settled := func(res *http.Response, said string) (path, came string) {
		require.Equal(d, http.StatusSeeOther, res.StatusCode, said)
		path = res.Header.Get("Location")
		for ; ; time.Sleep(time.Second) {
			_, said = send(d.request(http.MethodGet, path, http.NoBody, ""))
			if !strings.Contains(said, `http-equiv="refresh"`) {
				require.Regexp(d, far, said)
				return path, far.FindString(said)
			}
			if time.Now().After(until) {
				return path, "only " + far.FindString(said)
			}
		}
	}
	path, came := settled(send(d.request(http.MethodPost, "/imports", &body, form.FormDataContentType())))
	if came == "Ready to import" {
		_, came = settled(send(d.request(http.MethodPost, path, http.NoBody, "application/x-www-form-urlencoded")))
	}
	return came
}
