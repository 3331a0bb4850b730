package web

import (
	"fmt"
	"net/http"
	"net/url"
	"strconv"
	"strings"
	"testing"

	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"golang.org/x/net/html"

	"stowkeeper/inventory"
)

// formValues reads a page's form of an address as a browser would send it.
func (c *client) formValues(action string) url.Values {
	c.t.Helper()
	doc, err := html.Parse(strings.NewReader(c.res.Body.String()))
	require.NoError(c.t, err)
	out := url.Values{}
	walk(doc, func(n *html.Node) bool {
		if to, _ := attr(n, "action"); n.Data == "form" && to == action {
			walk(n, func(x *html.Node) bool { sends(x, out); return true })
		}
		return true
	})
	require.NotEmpty(c.t, out, "a form to %s", action)
	return out
}

func sends(x *html.Node, out url.Values) {
	name, _ := attr(x, "name")
	value, _ := attr(x, "value")
	kind, _ := attr(x, "type")
	_, checked := attr(x, "checked")
	switch {
	case x.Data == "input" && (kind != "checkbox" || checked):
		out.Set(name, value)
	case x.Data == "select":
		out.Set(name, "")
		walk(x, func(o *html.Node) bool {
			if _, chosen := attr(o, "selected"); chosen {
				v, _ := attr(o, "value")
				out.Set(name, v)
			}
			return true
		})
	}
}

// TestKitListUnchanged sends the form of every list as it was opened: what the
// next version holds is what the one before held.
func TestKitListUnchanged(t *testing.T) {
	w := newWorld(t)
	full := traumaList()
	full.Code, full.Edition, full.Source, full.ValidFrom, full.ValidTo = "FULL", "2nd", "our own", 740000, 740100
	full.Sealed, full.SealWarns, full.SealCheckHours, full.FullCheckDays, full.MinRemainingDays = true, true, 24, 30, 7
	full.Lines = append(full.Lines, inventory.Line{Item: "SHEARS", PresenceOnly: true, Critical: true},
		inventory.Line{Item: "OX", CarriedElsewhere: "on the vehicle"},
		inventory.Line{Item: "GLOVES", Pouch: "lid", Par: 9, Minimum: 2, Accepts: []string{"CARD", "MARK"}})
	full.Modules = []inventory.Module{{KitList: "MEDS", Count: 2}}
	full.Rules = append(inventory.TourniquetRules(), inventory.KitRule{NeedItem: "TQ", AtLeast: 1,
		Severity: inventory.SeverityWarn, Because: "asked for"})
	_, err := w.svc.Lists.CreateKitList(t.Context(), admin, full)
	require.NoError(t, err)
	c := w.as("Quinn Master")
	lists, err := w.svc.Lists.KitLists(t.Context(), admin, inventory.Page{})
	require.NoError(t, err)
	for _, k := range lists {
		path := kitListPath(k.Code) + "/change"
		c.post(path, c.get(path).formValues(path))
		require.Equal(t, http.StatusSeeOther, c.res.Code, c.text())
		next, err := w.svc.Lists.KitList(t.Context(), admin, k.Code, 0)
		require.NoError(t, err)
		k.Version++
		assert.Equal(t, k, next)
	}
}

// TestKitListChange adds, moves and removes lines, mends what is refused with
// nothing lost, and meets somebody else's version.
func TestKitListChange(t *testing.T) {
	w := newWorld(t)
	c := w.as("Quinn Master")
	const path = "/kit-lists/TRAUMA/change"
	old, err := w.svc.Lists.KitList(t.Context(), admin, "TRAUMA", 0)
	require.NoError(t, err)
	opened := c.get(path).formValues(path)
	n := len(old.Lines)
	in := url.Values{}
	for name, v := range opened {
		in[name] = v
	}
	in.Set(cellName("lines", 0, "out"), "yes")
	setRow(in, "lines", n+1, "item", "pulse OXIMETER", "par", "2", "accepts", "nope-1")
	c.post(path, in)
	assert.Contains(t, c.text(), "Pulse oximeter, At least: enter 0 or more", "a line without a minimum")
	in.Set(cellName("lines", n+1, "minimum"), "3")
	c.post(path, in)
	assert.Equal(t, http.StatusUnprocessableEntity, c.res.Code)
	assert.Contains(t, c.text(), "Pulse oximeter, At least: ")
	assert.Contains(t, c.res.Body.String(), `href="#`+Field{Name: cellName("lines", n+1, "minimum")}.ID()+`"`)
	assert.Equal(t, in, c.formValues(path), "nothing that was typed is lost")

	in.Set("more", "lines")
	c.post(path, in)
	in.Del("more")
	assert.Equal(t, http.StatusOK, c.res.Code)
	got := c.formValues(path)
	assert.True(t, got.Has(cellName("lines", n+blankLines+moreLines-1, "item")))
	assert.Equal(t, "pulse OXIMETER", got.Get(cellName("lines", n+1, "item")))

	in.Set(cellName("lines", n+1, "minimum"), "1")
	c.post(path, in)
	assert.Contains(t, c.text(), "Pulse oximeter, Alternatives, in order: not found")
	in.Set(cellName("lines", n+1, "accepts"), "card")
	setRow(in, "lines", n+2, "item", old.Lines[1].Item, "pouch", old.Lines[1].Pouch, "par", "1", "minimum", "1")
	c.post(path, in)
	assert.Contains(t, c.text(), "Item: enter each item once in a pouch")
	setRow(in, "lines", n+2, "item", "", "pouch", "", "par", "", "minimum", "")
	for row := n + 1; row > 0; row-- { // up, past all others
		in.Set("move", strconv.Itoa(row)+".up")
		c.post(path, in)
		require.Equal(t, http.StatusOK, c.res.Code)
		in = c.formValues(path)
	}
	in.Set("more", "preview")
	c.post(path, in)
	assert.Regexp(t, `Now Version 2 Missing Surplus CEN-01 \S.* Pulse oximeter: 0 → 2 .*Unchanged: 0 `, c.text())
	in.Del("more")
	c.post(path, in)
	require.Equal(t, kitListPath("TRAUMA")+"?done=version-2", c.location(), c.text())
	assert.Contains(t, c.get(c.location()).text(), "Version 2 saved.")
	made, err := w.svc.Lists.KitList(t.Context(), admin, "TRAUMA", 0)
	require.NoError(t, err)
	want := append([]inventory.Line{{Item: "OX", Par: 2, Minimum: 1, Accepts: []string{"CARD"}}}, old.Lines[1:]...)
	assert.Equal(t, want, made.Lines)
	assert.Equal(t, old.Rules, made.Rules)

	opened.Set("key", "of another person")
	opened.Set("name", "Trauma bag, from the old form")
	c.post(path, opened)
	assert.Equal(t, http.StatusConflict, c.res.Code)
	assert.Contains(t, c.text(), "now version 2")
	again := c.formValues(path)
	assert.Equal(t, "Trauma bag, from the old form", again.Get("name"))
	c.post(path, again)
	assert.Equal(t, http.StatusSeeOther, c.res.Code, "sent again on purpose it goes over the newest")

	kim := w.as("Kim Crew")
	assert.NotContains(t, kim.get("/kit-lists/TRAUMA").res.Body.String(), path)
	assert.Contains(t, kim.text(), "Pain relief tablets")
	assert.Equal(t, http.StatusForbidden, kim.post(path, opened).res.Code)
	assert.Contains(t, c.get("/kit-lists").text(), "on an older version")
}

// A quartermaster moves lines by a button, which keeps the focus, and by dragging one into another pouch; forgets a
// minimum, reads so at its field, where it stands now, and finds all that was typed.
func TestKitListOnItsPage(t *testing.T) {
	w := newWorld(t)
	b := newBrowser(t, w)
	b.as(w, "Quinn Master")
	b.open("/kit-lists/new")
	b.do(chromedp.Click(".fold:has(> .line) > summary"))
	held := func() string {
		return ask[string](b, `Array.from(document.querySelectorAll(".line")).slice(0, 4).map(function (l, i) {
			return ["item", "pouch", "par", "minimum"].map(function (n) {
				return document.getElementById("f-lines-" + i + "-" + n).value; }).join(" "); }).join("; ")`)
	}
	for i, line := range []string{"tq red 2 1", "mark  1 1", "ox lid 1 ", "card  3 1"} {
		for j, value := range strings.Split(line, " ") {
			if value != "" {
				at := fmt.Sprintf("#f-lines-%d-%s", i, lineFields[j])
				b.do(chromedp.SendKeys(at, value), chromedp.Blur(at))
			}
		}
	}
	assert.Equal(t, "tq red 2 1; mark red 1 1; ox lid 1 ; card lid 3 1", held(), "a line begins in the pouch before it")
	b.do(chromedp.Focus(`button[value="2.up"]`), chromedp.KeyEvent(kb.Enter))
	assert.Equal(t, "tq red 2 1; ox lid 1 ; mark red 1 1; card lid 3 1", held())
	assert.Equal(t, "1.up", ask[string](b, `document.activeElement.value`))
	ask[bool](b, `["dragstart", "drop"].every(function (type, i) {
		document.querySelectorAll(".line legend")[i ? 1 : 3].dispatchEvent(
			new DragEvent(type, { bubbles: true, dataTransfer: new DataTransfer() })); return true; })`)
	assert.Equal(t, "tq red 2 1; card lid 3 1; ox lid 1 ; mark red 1 1", held())
	ask[bool](b, `["dragstart", "drop"].every(function (type, i) {
		document.querySelectorAll(".line legend")[i ? 1 : 3].dispatchEvent(
			new DragEvent(type, { bubbles: true, dataTransfer: new DataTransfer() })); return true; })`)
	assert.Equal(t, "tq red 2 1; mark red 1 1; card lid 3 1; ox lid 1 ", held())
	b.do(chromedp.SendKeys("#f-code", "boat"), chromedp.SendKeys("#f-name", "Boat bag"))
	b.press("button.main")
	b.do(chromedp.WaitVisible(".problems"))
	assert.Contains(t, b.text(), "Pulse oximeter, At least: enter 0 or more")
	assert.Equal(t, "tq red 2 1; mark red 1 1; card lid 3 1; ox lid 1 ", held())
	b.do(chromedp.Click(`button[value="3.up"]`))
	assert.Equal(t, "ox", ask[string](b, `document.querySelector(".bad input[aria-invalid]").closest(".line")
		.querySelector("input").value`), "what is wrong goes along")
	b.do(chromedp.SendKeys("#f-lines-2-minimum", "1"))
	b.press("button.main")
	b.waits("Version 1 saved.")
}
