package web

import (
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"golang.org/x/net/html"

	"stowkeeper/inventory"
)

// A number on a report leads to as many units or rows as it says.
func TestFiguresLeadToTheirRows(t *testing.T) {
	w := newWorld(t)
	w.happen()
	_, err := w.svc.Ledger.Move(t.Context(), admin, []inventory.Movement{
		{LotID: w.lots["PRESS/P1"], Qty: 1, From: "CEN-STORE", To: "disposed", Reason: inventory.ReasonDisposed,
			Cause: inventory.CauseDamaged},
		{LotID: w.lots["GLOVES/"], Qty: 2, From: "CEN-STORE", To: "lost", Reason: inventory.ReasonLost,
			Cause: inventory.CauseMissing}})
	require.NoError(t, err)
	w.later(3 * 24 * time.Hour)
	max := w.as("Max Manager")
	seen := map[string]int{}
	for _, page := range []string{"/flows", "/flows?station=CEN", "/flows?since=" + w.now().Format(time.DateOnly),
		"/checks?days=30"} {
		for href, figure := range figures(max.get(page).doc()) {
			max.get(href)
			require.Equal(t, 200, max.res.Code, href)
			n := 0
			kind, _, _ := strings.Cut(href, "?")
			walk(max.doc(), func(e *html.Node) bool {
				id, _ := attr(e, "id")
				label, _ := attr(e, "data-l")
				switch {
				case kind == "/checks/rows" && (id == "made" || id == "missed"):
					if missed := strings.HasSuffix(href, "#missed"); missed == (id == "missed") {
						n += strings.Count(textOf(e), ":") // each row has a clock time
					}
					return false
				case kind == "/flows/rows" && label == "Units":
					qty, err := strconv.Atoi(textOf(e))
					require.NoError(t, err)
					n += qty
				}
				return true
			})
			assert.Equal(t, figure, n, "%s on %s", href, page)
			seen[kind]++
			for _, what := range []string{"#missed", "kind=before"} {
				if strings.Contains(href, what) {
					seen[what]++
				}
			}
		}
	}
	assert.Greater(t, seen["/flows/rows"], 10)
	assert.Greater(t, seen["/checks/rows"], 3)
	assert.Positive(t, seen["#missed"])
	assert.Positive(t, seen["kind=before"])

	max.get("/report")
	tally, listed := 0, 0
	walk(max.doc(), func(e *html.Node) bool {
		if e.Data == "span" && hasClass(e.Parent, "tally") && !hasClass(e, "mark") {
			n, _ := strconv.Atoi(strings.Fields(textOf(e))[0])
			tally += n
		}
		if e.Data == "li" && hasClass(e, "bag") {
			listed++
		}
		return true
	})
	assert.Positive(t, tally)
	assert.Equal(t, listed, tally, "bags counted and bags listed")
}

// figures finds the links of a page that are worded as a number.
func figures(page *html.Node) map[string]int {
	out := map[string]int{}
	walk(page, func(n *html.Node) bool {
		href, _ := attr(n, "href")
		first, _, _ := strings.Cut(strings.TrimSpace(textOf(n)), " ")
		if qty, err := strconv.Atoi(first); n.Data == "a" && err == nil && (strings.HasPrefix(href, "/flows/rows") ||
			strings.HasPrefix(href, "/checks/rows")) {
			out[href] = qty
		}
		return true
	})
	return out
}

func textOf(n *html.Node) string {
	var b strings.Builder
	walk(n, func(k *html.Node) bool {
		if k.Type == html.TextNode {
			b.WriteString(k.Data)
		}
		return true
	})
	return strings.TrimSpace(b.String())
}
