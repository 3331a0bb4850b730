package web

import (
	"bytes"
	"compress/gzip"
	"crypto/sha256"
	"embed"
	"encoding/hex"
	"fmt"
	"html/template"
	"io/fs"
	"net/http"
	"net/url"
	"path"
	"reflect"
	"regexp"
	"slices"
	"strings"

	"stowkeeper/inventory/message"
	"stowkeeper/web/text"
)

const htmlType = "text/html; charset=utf-8"

//go:embed templates
var templateFiles embed.FS

// Base is what every page has; each page's struct embeds it.
type Base struct {
	Title        message.Message
	Person       string // who is signed in, empty for nobody
	Role         string
	Caution      bool // show that this is a stock tool and who decides
	Sought, Here string
	Sent         string          // the key of the form that the page is the answer to, where it was sent
	ClockBehind  message.Message // what is wrong with the service's clock, if anything
	Night        bool            // in the look for the night
	NightHere    bool            // since the vehicle that the page is about keeps that look
	Lock         int             // minutes without a touch, after which a phone that is shared locks; 0 on any other
	Refresh      int             // seconds until the page looks again, 0 for never
	Yours        int             // records that are said to be the person's
	Form         Form
}

// Installs tells whether a phone may be asked on the page to install all of them as an app: where an app begins, and
// on no page that a scan opens, since it costs a request.
func (b *Base) Installs() bool { return b.Here == "/board" || b.Here == "/sign-in" }

// NavLink leads to a section, to a part of a page, or to the same page for another station.
type NavLink struct {
	Href    string
	Text    message.Message
	Current bool
}

func (b *Base) base() *Base { return b }

// page is what can be rendered: a struct with a Base, and a template of the
// same name without Page and in lower case: bagChangePage has bagchange.html.
type page interface{ base() *Base }

func templateOf(p page) string {
	return strings.ToLower(strings.TrimSuffix(reflect.TypeOf(p).Elem().Name(), "Page"))
}

// templates are the parsed pages by name, each with the layout and the parts.
type templates map[string]*template.Template

// parseTemplates parses every page under templates/pages.
func parseTemplates(a assets, c *text.Catalogue) (templates, error) {
	shared, err := template.New("").Funcs(funcs(a, c)).ParseFS(templateFiles, "templates/*.html")
	if err != nil {
		return nil, err
	}
	files, err := fs.Glob(templateFiles, "templates/pages/*.html")
	if err != nil {
		return nil, err
	}
	ts := templates{}
	for _, f := range files {
		t, err := shared.Clone()
		if err == nil {
			_, err = t.ParseFS(templateFiles, f)
		}
		if err != nil {
			return nil, err
		}
		ts[strings.TrimSuffix(path.Base(f), ".html")] = t
	}
	return ts, nil
}

// execute renders a page into memory, so that a template that fails half way sends nothing.
func (ts templates) execute(p page) ([]byte, error) {
	name := templateOf(p)
	t := ts[name]
	if t == nil {
		return nil, fmt.Errorf("no template %s", name)
	}
	var b bytes.Buffer
	if err := t.ExecuteTemplate(&b, "layout", p); err != nil {
		return nil, fmt.Errorf("template %s: %w", name, err)
	}
	return b.Bytes(), nil
}

// render dresses a page for its visitor and sends it.
func (s *server) render(v *visit, status int, p page) error {
	if v.failed != nil {
		return v.failed
	}
	if status >= 400 && v.queued() {
		return v.sendRefusal(status, p)
	}
	b := p.base()
	b.Person, b.Role, b.Here = v.actor.Name, string(v.actor.Role), v.Request.URL.Path
	b.Sent, b.Lock = v.Request.PostForm.Get("key"), v.actor.LockMinutes
	b.Night, b.NightHere = v.night()
	if c := s.svc.History.Clock(); c.Warns() {
		b.ClockBehind = message.M("The service's clock is behind its records: it says {1}, UTC.", whenAt(c.Now, utc).Text())
	}
	body, err := s.pages.execute(p)
	if err == nil {
		body, err = s.withTables(v, p, body)
	}
	if err != nil {
		return err
	}
	if kept := v.GetHeader("Kept-Page"); kept != "" && kept == sumOf(body) {
		v.Header("As-Of", url.PathEscape(string(asOf.Find(body))))
		v.Status(http.StatusNoContent)
		return nil
	}
	v.sendHTML(status, body)
	return nil
}

var (
	formKey = regexp.MustCompile(`name="key" value="[^"]*"`)
	asOf    = regexp.MustCompile(`<p class="asof">.*?</p>`)
)

// sumOf is what a phone tells of a page that it keeps: its worker works it out the same way. Its script gives each form
// a key of its own, so a page is the same but for them, and for when it is.
func sumOf(page []byte) string {
	page = formKey.ReplaceAll(page, nil)
	if at := asOf.FindIndex(page); at != nil {
		page = slices.Delete(page, at[0], at[1])
	}
	sum := sha256.Sum256(page)
	return hex.EncodeToString(sum[:8])
}

// sendHTML sends a page, small for a phone with a bad signal. Nothing secret
// stands on a page beside what somebody else typed, so its size tells nothing.
func (v *visit) sendHTML(status int, body []byte) { v.sendText(status, htmlType, body) }

// sendText sends something that packs well.
func (v *visit) sendText(status int, contentType string, body []byte) {
	v.Header("Vary", "Accept-Encoding")
	if len(body) > 1024 && strings.Contains(v.GetHeader("Accept-Encoding"), "gzip") {
		v.Header("Content-Encoding", "gzip")
		body = zip(body, gzip.DefaultCompression)
	}
	v.Data(status, contentType, body)
}
