package web

import (
	"encoding/json"
	"fmt"
	"net/url"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"golang.org/x/net/html"

	"stowkeeper/inventory"
	"stowkeeper/inventory/lists"
	"stowkeeper/inventory/report"
	"stowkeeper/inventory/stock"
	"stowkeeper/inventory/store/storetest"
)

// TestPageStories tells the stories of api/testdata/stories again, on the
// pages, on each engine, and counts what they cost a hand. Each is named after its story there
// and has these words besides those of TestScripts:
//
//	scan /b/CEN-01             opens what a label leads to: no touch
//	tap /b/CEN-01/use          follows a link of the page; a * at its end stands for the rest
//	touches 4                  what was done since the last count, and no more
//	find PLAIN/D7              keeps a lot by its batch or serial number, ? for unidentified units
//	state CEN-01 = ready       the bag's state
//	units CEN-01 TQ/A1 = 2     how many of a lot lie in a place
//	flow PLAIN = used 2, lost 0
//	modules                    makes a bag with a module in it, and a spare one
//	verify                     the books are in order
//
// A touch is one thing that a hand does on a page: following a link, filling
// in or ticking one field that is not so already, opening a part that is
// closed (on a desk, where those of the class fold are open), or sending a
// form. Scanning, signing in, and going where an answer leads are none.
// Reasons beside a count open by themselves once it differs.
func TestPageStories(t *testing.T) {
	files, err := filepath.Glob("testdata/stories/*.txt")
	require.NoError(t, err)
	for _, f := range files {
		text, err := os.ReadFile(f)
		require.NoError(t, err)
		require.Contains(t, string(text), "\ntouches ", "a story counts its touches")
		t.Run(strings.TrimSuffix(filepath.Base(f), ".txt"), func(t *testing.T) {
			t.Parallel()
			storetest.Engines(t, func(t *testing.T, st inventory.Store) {
				s := &story{t: t, w: newWorldIn(t, st), counting: true}
				s.c = s.w.stranger()
				s.run(string(text))
				require.Zero(t, s.touched, "touches that are not counted at the end")
				s.verify()
			})
		})
	}
}

// Every story that is told through the API is told on the pages too, and each
// of the two names the other.
func TestEveryStoryHasItsPages(t *testing.T) {
	told, err := filepath.Glob("../api/testdata/stories/*.txt")
	require.NoError(t, err)
	require.Len(t, told, 33, "the station and thirty-two stories")
	for _, file := range told[1:] {
		name := filepath.Base(file)
		for path, other := range map[string]string{file: "web/testdata/stories/" + name,
			"testdata/stories/" + name: "api/testdata/stories/" + name} {
			text, err := os.ReadFile(path)
			require.NoError(t, err)
			assert.Contains(t, string(text), "# See also "+other+".\n", path)
		}
	}
}

// tell does one step of a page story; it tells whether the word is one of them.
func (s *story) tell(verb, arg string) bool {
	s.t.Helper()
	what, want, _ := strings.Cut(arg, " = ")
	switch verb {
	case "scan":
		s.c.get(arg)
		require.Equal(s.t, 200, s.c.res.Code, "line %d: %s", s.line, s.c.text())
	case "tap":
		href := s.link(arg)
		require.NotEmpty(s.t, href, "line %d: no link to %s on %s:\n%s", s.line, arg, s.c.path, s.c.text())
		s.touched++
		path, _, _ := strings.Cut(href, "#") // which a browser keeps to itself
		s.c.get(path)
	case "touches":
		require.Equal(s.t, arg, strconv.Itoa(s.touched), "line %d: touches", s.line)
		s.touched = 0
	case "find":
		s.find(arg)
	case "state":
		r, err := s.w.svc.Shift.Readiness(s.t.Context(), admin, what, lists.Outlook{Horizon: -1})
		require.NoError(s.t, err, "line %d", s.line)
		require.Equal(s.t, want, string(r.State), "line %d: %v", s.line, r.Findings)
	case "units":
		require.Equal(s.t, want, strconv.Itoa(s.units(what)), "line %d: %s", s.line, what)
	case "flow":
		s.flow(what, want)
	case "modules":
		s.w.modules()
	case "verify":
		s.verify()
	default:
		return false
	}
	return true
}

func (s *story) verify() {
	s.t.Helper()
	rep, err := s.w.svc.Verify.Verify(s.t.Context())
	require.NoError(s.t, err)
	require.Empty(s.t, rep.Faults, "line %d", s.line)
}

// link is the page's first link to a path, or to one that goes on where a star stands.
func (s *story) link(path string) (found string) {
	begin, open := strings.CutSuffix(path, "*")
	walk(s.c.doc(), func(n *html.Node) bool {
		href, _ := attr(n, "href")
		if found == "" && n.Data == "a" && (href == path || open && strings.HasPrefix(href, begin)) {
			found = href
		}
		return true
	})
	return found
}

// find keeps the id of a lot.
func (s *story) find(name string) {
	s.t.Helper()
	item, number, _ := strings.Cut(name, "/")
	lots, err := s.w.svc.Stock.Lots(s.t.Context(), admin, inventory.LotFilter{Item: item}, 0, inventory.Page{})
	require.NoError(s.t, err)
	i := slices.IndexFunc(lots, func(l stock.LotSummary) bool {
		return number == "?" && l.Unidentified || number != "?" && !l.Unidentified && l.BatchNo+l.Serial == number &&
			len(l.Where) > 0 && l.Training == strings.HasSuffix(l.Where[0].Place, "-TRAINING")
	})
	require.GreaterOrEqual(s.t, i, 0, "line %d: no lot %s", s.line, name)
	for _, l := range lots[i:] { // the newest of that number: the one that was split off last
		if l.BatchNo+l.Serial == lots[i].BatchNo+lots[i].Serial && l.Unidentified == lots[i].Unidentified {
			s.w.lots[name] = l.ID
		}
	}
}

// units counts the units of a lot, or of all of them, in a place.
func (s *story) units(what string) int {
	s.t.Helper()
	place, lot, _ := strings.Cut(what, " ")
	lots, err := s.w.svc.Stock.StockAt(s.t.Context(), admin, place)
	require.NoError(s.t, err, "line %d", s.line)
	n := 0
	for _, l := range lots {
		for _, w := range l.Where {
			if l.ID == s.w.lots[lot] {
				n += w.Qty
			}
		}
	}
	return n
}

// flow compares what became of an item, by the members of the report.
func (s *story) flow(item, want string) {
	s.t.Helper()
	rep, err := s.w.svc.Report.Flows(s.t.Context(), admin, nil, 0, 0)
	require.NoError(s.t, err)
	i := slices.IndexFunc(rep.Rows, func(f report.Flow) bool { return f.Item == item })
	require.GreaterOrEqual(s.t, i, 0, "line %d: nothing is known of %s", s.line, item)
	text, err := json.Marshal(rep.Rows[i])
	require.NoError(s.t, err)
	var row map[string]any
	require.NoError(s.t, json.Unmarshal(text, &row))
	for _, part := range strings.Split(want, ", ") {
		name, n, _ := strings.Cut(part, " ")
		require.Equal(s.t, n, fmt.Sprint(row[name]), "line %d: %s of %s: %s", s.line, name, item, text)
	}
}

// touch counts what sending a form with some values changed costs.
func (s *story) touch(action string, change url.Values) {
	s.t.Helper()
	s.touched++ // the button
	form := s.c.formNode(action)
	opened := map[*html.Node]bool{}
	for name, values := range change {
		fields := fieldsNamed(form, name)
		require.NotEmpty(s.t, fields, "line %d: the form has no %s", s.line, name)
		kind, _ := attr(fields[0], "type")
		require.NotEqual(s.t, "hidden", kind, "line %d: nobody can touch %s", s.line, name)
		if fields[0].Data != "button" { // which is counted as sending
			held := url.Values{}
			for _, n := range fields {
				addValue(held, n)
			}
			require.NotEqual(s.t, held[name], values, "line %d: %s is so already", s.line, name)
			s.touched++
		}
		for n := fields[0].Parent; n != nil; n = n.Parent {
			if _, open := attr(n, "open"); n.Data == "details" && !open && !opened[n] && !hasClass(n.Parent, "lotrow") &&
				!hasClass(n, "fold") {
				opened[n] = true
				s.touched++
			}
		}
	}
}

func hasClass(n *html.Node, class string) bool {
	if n == nil {
		return false
	}
	c, _ := attr(n, "class")
	return slices.Contains(strings.Fields(c), class)
}

func fieldsNamed(form *html.Node, name string) []*html.Node {
	var out []*html.Node
	walk(form, func(n *html.Node) bool {
		if is, _ := attr(n, "name"); is == name {
			out = append(out, n)
		}
		return true
	})
	return out
}

// modules makes a rucksack with a module in it, a spare module that is ready,
// and one that is empty.
func (w *world) modules() {
	w.t.Helper()
	ctx := w.t.Context()
	do := func(_ any, err error) { w.t.Helper(); require.NoError(w.t, err) }
	do(w.svc.Lists.CreateKitList(ctx, admin, inventory.KitList{Code: "BLEED", Name: "Bleeding module", Sealed: true,
		FullCheckDays: 31, Lines: []inventory.Line{{Item: "TQ", Par: 1, Minimum: 1}, {Item: "PRESS", Par: 2, Minimum: 1}}}))
	do(w.svc.Lists.CreateKitList(ctx, admin, inventory.KitList{Code: "SACK", Name: "Rucksack",
		Lines: []inventory.Line{{Item: "GLOVES", Par: 2}}, Modules: []inventory.Module{{KitList: "BLEED", Count: 1}}}))
	do(w.svc.Lists.CreateBag(ctx, admin, inventory.Bag{Code: "SACK-1", Station: "CEN", Name: "Rucksack 1", KitList: "SACK",
		Vehicle: "Vehicle 09"}))
	for _, code := range []string{"MOD-1", "MOD-2", "MOD-3"} {
		in := inventory.Bag{Code: code, Station: "CEN", Name: "Bleeding module", KitList: "BLEED"}
		if code == "MOD-1" {
			in.Inside = "SACK-1"
		}
		do(w.svc.Lists.CreateBag(ctx, admin, in))
	}
	w.restock("SACK-1", "", "GLOVES/", 2)
	w.restock("MOD-1", "M100", "TQ/A1", 1, "PRESS/P2", 1)
	w.restock("MOD-2", "M200", "TQ/A1", 1, "PRESS/P1", 2)
}
