package web

import (
	"net/http"
	"net/http/httptest"
	"net/url"
	"strings"
	"testing"

	"github.com/gin-gonic/gin"
	"github.com/stretchr/testify/require"
	"golang.org/x/net/html"
)

// client is a browser without a script: it keeps a cookie, reads pages, and
// sends the forms that it finds on them.
type client struct {
	t       testing.TB
	handler http.Handler
	cookie  *http.Cookie            // of the session
	others  map[string]*http.Cookie // by name
	path    string                  // of the last answer
	asked   *http.Request           // the last
	res     *httptest.ResponseRecorder
}

// stranger is nobody yet, on a terminal that is enrolled for all stations.
func (w *world) stranger() *client {
	const name = "stowkeeper_terminal"
	return &client{t: w.t, handler: w.router, others: map[string]*http.Cookie{name: {Name: name, Value: w.terminal}}}
}

// as signs a person in through the page.
func (w *world) as(name string) *client {
	w.t.Helper()
	c := w.stranger()
	for _, p := range people {
		if p.Name == name {
			c.post("/sign-in", url.Values{"name": {name}, "secret": {secretOf(p)}})
			require.Equal(w.t, http.StatusSeeOther, c.res.Code, "sign in as %s: %s", name, c.text())
			return c
		}
	}
	w.t.Fatalf("no person %q", name)
	return nil
}

func (c *client) do(r *http.Request) *client {
	c.t.Helper()
	if c.cookie != nil {
		r.AddCookie(c.cookie)
	}
	for _, k := range c.others {
		r.AddCookie(k)
	}
	c.path, c.asked = r.URL.Path, r
	c.res = httptest.NewRecorder()
	c.handler.ServeHTTP(c.res, r)
	for _, k := range c.res.Result().Cookies() {
		if k.Name != "stowkeeper_session" && k.Name != "own_name" {
			c.others[k.Name] = k
			continue
		}
		c.cookie = k
		if k.MaxAge < 0 {
			c.cookie = nil
		}
	}
	return c
}

func (c *client) get(path string) *client {
	c.t.Helper()
	return c.do(httptest.NewRequest(http.MethodGet, path, nil))
}

func (c *client) post(path string, form url.Values) *client {
	c.t.Helper()
	r := httptest.NewRequest(http.MethodPost, path, strings.NewReader(form.Encode()))
	r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	return c.do(r)
}

// queue sends a form as the script does that kept it on a phone.
func (c *client) queue(path string, form url.Values) *client {
	c.t.Helper()
	r := httptest.NewRequest(http.MethodPost, path, strings.NewReader(form.Encode()))
	r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	r.Header.Set("Accept", "application/json")
	return c.do(r)
}

func (c *client) location() string { return c.res.Header().Get("Location") }

// follow goes where the last answer leads.
func (c *client) follow() *client {
	c.t.Helper()
	require.NotEmpty(c.t, c.location(), "the last answer leads nowhere: %d %s", c.res.Code, c.text())
	to, _, _ := strings.Cut(c.location(), "#") // a browser keeps that to itself
	return c.get(to)
}

func (c *client) doc() *html.Node {
	c.t.Helper()
	n, err := html.Parse(strings.NewReader(c.res.Body.String()))
	require.NoError(c.t, err)
	return n
}

// text is what a person reads on the page, blanks brought to one.
func (c *client) text() string {
	var b strings.Builder
	walk(c.doc(), func(n *html.Node) bool {
		if n.Type == html.TextNode {
			b.WriteString(n.Data + " ")
		}
		return n.Data != "script" && n.Data != "style"
	})
	s := strings.Join(strings.Fields(b.String()), " ")
	return strings.NewReplacer(" .", ".", " ,", ",", " :", ":", " )", ")", " ;", ";").Replace(s)
}

// walk visits a tree from the top; visit says whether to go deeper.
func walk(n *html.Node, visit func(*html.Node) bool) {
	if !visit(n) {
		return
	}
	for k := range n.ChildNodes() {
		walk(k, visit)
	}
}

func attr(n *html.Node, name string) (string, bool) {
	for _, a := range n.Attr {
		if a.Key == name {
			return a.Val, true
		}
	}
	return "", false
}

// form returns the form on the page whose action ends like that, with the
// values that sending it untouched would send.
func (c *client) form(action string) (string, url.Values) {
	c.t.Helper()
	found := c.formNode(action)
	to, _ := attr(found, "action")
	values := url.Values{}
	walk(found, func(n *html.Node) bool {
		addValue(values, n)
		return true
	})
	return to, values
}

// formNode finds a form on the page by the end of its action.
func (c *client) formNode(action string) *html.Node {
	c.t.Helper()
	var found *html.Node
	walk(c.doc(), func(n *html.Node) bool {
		if n.Data == "form" && found == nil {
			if a, _ := attr(n, "action"); strings.HasSuffix(a, action) {
				found = n
			}
		}
		return true
	})
	require.NotNil(c.t, found, "no form to %s on %s:\n%s", action, c.path, c.text())
	return found
}

// addValue adds what a field sends as it stands. Buttons send nothing: they
// are pressed by naming their value.
func addValue(values url.Values, n *html.Node) {
	name, ok := attr(n, "name")
	if !ok {
		return
	}
	value, _ := attr(n, "value")
	switch n.Data {
	case "input":
		kind, _ := attr(n, "type")
		if strings.HasPrefix(name, seenPrefix) { // who sends a count has looked, or says otherwise
			values.Set(name, "yes")
			return
		}
		if _, checked := attr(n, "checked"); (kind == "checkbox" || kind == "radio") && !checked {
			return
		}
		values.Add(name, value)
	case "textarea":
		if n.FirstChild != nil {
			value = n.FirstChild.Data
		}
		values.Add(name, value)
	case "select":
		walk(n, func(o *html.Node) bool {
			if _, chosen := attr(o, "selected"); chosen {
				value, _ = attr(o, "value")
			}
			return true
		})
		values.Add(name, value)
	}
}

// submit sends a form of the page with some values changed.
func (c *client) submit(action string, change url.Values) *client {
	c.t.Helper()
	to, values := c.form(action)
	for name, v := range change {
		values[name] = v
	}
	return c.post(to, values)
}

// handlerOf mounts a server made by hand.
func handlerOf(t testing.TB, s *server) http.Handler {
	t.Helper()
	r := gin.New()
	for _, rt := range s.routes() {
		require.NoError(t, s.register(r, rt))
	}
	return r
}
