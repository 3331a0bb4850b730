package web

import (
	"bytes"
	"mime/multipart"
	"net/http"
	"net/http/httptest"
	"net/url"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stowkeeper/inventory/exchange"
)

// send uploads a file as a browser does.
func (c *client) send(kind, name, text string, dates ...string) *client {
	c.t.Helper()
	var body bytes.Buffer
	w := multipart.NewWriter(&body)
	require.NoError(c.t, w.WriteField("kind", kind))
	require.NoError(c.t, w.WriteField("dates", strings.Join(dates, "")))
	part, err := w.CreateFormFile("file", name)
	require.NoError(c.t, err)
	_, err = part.Write([]byte(text))
	require.NoError(c.t, err)
	require.NoError(c.t, w.Close())
	r := httptest.NewRequestWithContext(c.t.Context(), http.MethodPost, "https://stock.example.org/imports", &body)
	r.Header.Set("Content-Type", w.FormDataContentType())
	return c.do(r)
}

// settled follows an upload until its page has something to say.
func (c *client) settled() string {
	c.t.Helper()
	require.Equal(c.t, http.StatusSeeOther, c.res.Code, c.res.Body.String())
	path := c.res.Header().Get("Location")
	for range 500 {
		body := c.get(path).res.Body.String()
		if !strings.Contains(body, `http-equiv="refresh"`) {
			return body
		}
		time.Sleep(20 * time.Millisecond)
	}
	c.t.Fatal("the import does not end")
	return ""
}

// TestImportPage shows first and does then, shows what is refused to who sent
// it, as text, and keeps it from all others.
func TestImportPage(t *testing.T) {
	w := newWorld(t)
	c := w.as("Quinn Master")
	bad := c.send("stock", "../../x.csv", "place,item,qty\nCEN-STORE,<script>alert(1)</script>,1\n").settled()
	assert.Contains(t, bad, "Import rejected: 1 row.")
	assert.Contains(t, bad, "&lt;script&gt;alert(1)&lt;/script&gt;")
	assert.NotContains(t, bad, "<script>alert")

	before := c.get("/stock/CEN-STORE").res.Body.String()
	page := c.send("items", "items.csv", "code;name;category\nNEW-1;New thing;other\n").settled()
	assert.Contains(t, page, "Ready to import")
	job := c.path
	assert.Equal(t, http.StatusNotFound, w.as("Ada Ministrator").get(job).res.Code, "only who sent it sees it")
	c.post(job, nil)
	assert.Contains(t, c.settled(), "Imported: 1 created, 0 changed.")
	changing := c.send("items", "items.csv", "code;name;category;made months\nNEW-1;New thing;other;12,0\n").settled()
	assert.Contains(t, changing, `<td>To change</td><td>NEW-1</td><td `+
		`data-l="Column"><code>made_months</code></td><td data-l="Value">12</td><td>was empty</td>`)
	both := c.send("items", "items.csv", "code;name;category;made months\nNEW-2;;boots;x\n").settled()
	assert.Contains(t, both, "Import rejected: 1 row.")
	assert.Equal(t, 1, strings.Count(both, `class="first"`), "one row of the file, all that is wrong with it")
	assert.Equal(t, 3, strings.Count(both, `data-l="Column"`))
	assert.Contains(t, c.send("items", "items.csv", "code;name;category\nNEW-1;New thing;other\n").settled(),
		"Nothing to import")
	assert.Equal(t, before, c.get("/stock/CEN-STORE").res.Body.String())

	assert.Contains(t, c.get("/imports").text(), "05/06/2028 means (optional) 5 Jun 2028 6 May 2028")
	const dated = "place,item,batch no,end printed,qty\nCEN-STORE,TQ,D-1,05/06/2029,1\n"
	assert.Contains(t, c.send("stock", "d.csv", dated).settled(), `<td data-l="Column"><code>end_printed</code></td>`+
		`<td data-l="Value">05/06/2029</td><td>choose what 05/06/2028 means in this file</td>`)
	assert.Contains(t, c.send("stock", "d.csv", dated, "day-first").settled(), "Ready to import")
	c.post(c.path, nil)
	c.settled()
	assert.Contains(t, c.get("/search?q=D-1").text(), "batch D-1 Tourniquet")

	assert.Equal(t, http.StatusUnprocessableEntity, c.send("people", "p.csv", "name,role\n").res.Code,
		"people are the administrator's")
	assert.Equal(t, http.StatusUnprocessableEntity, c.send("stock", "p.csv", "").res.Code)
	assert.Equal(t, http.StatusForbidden, w.as("Kim Crew").send("stock", "p.csv", "place\n").res.Code)
	for path, start := range map[string]string{"/exports/stowkeeper.xlsx": "PK", "/exports/stowkeeper.zip": "PK"} {
		assert.True(t, strings.HasPrefix(c.get(path).res.Body.String(), start), path)
	}
}

// TestAnImportIsStopped: who sent a file stops its import, whichever copy of the program reads it, and sees what it
// came to.
func TestAnImportIsStopped(t *testing.T) {
	w := newWorld(t)
	c := w.as("Quinn Master")
	c.send("items", "items.csv", "code;name;category\nNEW-1;New thing;other\n").settled()
	path := c.path
	uploads := w.options().Uploads
	kept, err := uploads.Upload(t.Context(), strings.TrimPrefix(path, "/imports/"))
	require.NoError(t, err)
	j, err := jobOf(kept)
	require.NoError(t, err)
	j.Dry, j.HeardAt = false, w.svc.Now()
	j.State = j.state()
	_, err = uploads.Take(t.Context(), j.Upload, j.HeardAt)
	require.NoError(t, err)
	far := exchange.Progress{Rows: 1000, Total: 5000, Took: 2 * time.Second}
	done := make(chan struct{})
	go (&server{svc: w.svc, opt: w.options()}).follow(t.Context(), j, func() exchange.Progress { return far },
		sync.OnceFunc(func() { close(done) }), func() { j.Report = exchange.ImportReport{Stopped: true, Created: 1500} },
		done)
	assert.Eventually(t, func() bool {
		return strings.Contains(c.get(path).text(), "Importing. 1000 of 5000 rows, 500 a second, 8 s left.")
	}, 10*time.Second, 50*time.Millisecond)
	c.post(path, url.Values{"do": {"stop"}})
	assert.Equal(t, http.StatusSeeOther, c.res.Code)
	page := c.get(path).text()
	assert.Contains(t, page, "Stopped before its end.")
	assert.Contains(t, page, "Created 1500")
	assert.Contains(t, page, "Import file", "and it goes on")
}
