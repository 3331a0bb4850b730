package web

import (
	"bytes"
	"fmt"
	"io/fs"
	"net/http"
	"net/http/httptest"
	"path"
	"regexp"
	"strings"
	"testing"

	"github.com/gin-gonic/gin"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stowkeeper/inventory"
	"stowkeeper/inventory/count"
)

// asis are the tables that nobody sorts, by the template that they stand in, with the reason.
var asis = map[string]string{
	"register.html":      "each row's balance follows from the row before it",
	"import.html":        "a row of the file takes several rows",
	"convert.html":       "it is shown once, as the answer to what was sent, and sums up",
	"decidecheck.html":   "what is typed into its rows is not sent yet",
	"decideuse.html":     "what is typed into its rows is not sent yet",
	"history.html":       "the database gives a page of it, newest first; its own fields find in the whole",
	"flowrows.html":      "cut, newest first, where it is too long for one page; sorted where it is whole",
	"kitlistchange.html": "it is shown once, as the answer to what was typed beneath",
	"paper.html":         "it is printed, in the order of the walk",
	"signin.html":        "who may sign in to the demo",
	"today.html":         "the first rows by what matters most, under their supplier; sorted in /report and /year",
	"year.html":          "the weeks are in the order of the drawing above them",
	"parts.html":         "the newest records of several lists, newest first, the earlier in a fold",
}

// Every table has the form that withTables knows, and is sorted and narrowed unless a reason is given.
func TestEveryTableSorts(t *testing.T) {
	files, err := fs.Glob(templateFiles, "templates/*.html")
	require.NoError(t, err)
	pages, err := fs.Glob(templateFiles, "templates/pages/*.html")
	require.NoError(t, err)
	tables, reasons := 0, map[string]bool{}
	for _, f := range append(files, pages...) {
		text, err := templateFiles.ReadFile(f)
		require.NoError(t, err)
		for _, m := range regexp.MustCompile(`(?s)<table([^>]*)>(.*?)</table>`).FindAllSubmatch(text, -1) {
			tables++
			if strings.Contains(string(m[1]), "asis") {
				reasons[path.Base(f)] = true
				continue
			}
			assert.Regexp(t, `^ class="stack[^"]*"$`, string(m[1]), f)
			assert.Regexp(t, `(?s)<thead>.*<th scope="col".*</thead>\s*(\{\{range [^}]*\}\})?<tbody>`, string(m[2]), f)
		}
	}
	assert.Greater(t, tables, 30)
	for f := range reasons {
		assert.NotEmpty(t, asis[f], "%s: a table there is in a fixed order, for no reason", f)
	}
	assert.Len(t, reasons, len(asis), "reasons for what is not there")
}

func TestCompareValues(t *testing.T) {
	for _, x := range []struct {
		a, b string
		down bool
		want int
	}{
		{"fm-2", "fm-10", false, -1}, {"fm-2", "fm-10", true, 1}, {"9", "10", false, -1}, {"007", "7", false, 0},
		{"2027-01-13", "2026-12-31", false, 1}, {"", "a", false, 1}, {"", "a", true, 1}, {"a", "", true, -1},
		{"ab", "a", false, 1}, {"a", "a", false, 0}, {"x 3 of 7", "x 3 of 12", false, -1},
	} {
		assert.Equal(t, x.want, compareValues(x.a, x.b, x.down), "%q %q %v", x.a, x.b, x.down)
	}
}

// A manager finds a bag in a part of the report that is folded: the field stands before the fold, which opens.
func TestFoldedTableOpens(t *testing.T) {
	s := server{pages: parsed(t)}
	rows := strings.Repeat(`<tr><td>a</td></tr>`, fewRows+1)
	table := `<table class="stack"><thead><tr><th scope="col">Bag</th></tr></thead><tbody>` + rows + `</tbody></table>`
	page := `<main><details class="x"><summary>done</summary></details><details class="fold"><summary>Gaps</summary>` +
		table + `</details></main>`
	for address, opened := range map[string]bool{"/report": false, "/report?sort=bag": true, "/report?q=a": true} {
		v := &visit{Context: &gin.Context{Request: httptest.NewRequest(http.MethodGet, address, nil)}}
		got, err := s.withTables(v, &reportPage{}, []byte(page))
		require.NoError(t, err)
		field, fold := bytes.Index(got, []byte(`id="f-rows"`)), bytes.Index(got, []byte(`<summary>Gaps`))
		assert.True(t, 0 < field && field < fold, address)
		assert.Equal(t, opened, bytes.Contains(got, []byte(`<details open class="fold">`)), address)
		assert.Contains(t, string(got), `<details class="x">`)
	}
}

// A phone shows the first rows of a long table, and those that ask for a press; the rest at a touch, and what is looked
// for at once.
func TestPhoneShowsTheFirstRows(t *testing.T) {
	s := server{pages: parsed(t)}
	row := func(text string) string { return `<tr><td>` + text + `</td></tr>` }
	page := `<main><table class="stack"><thead><tr><th scope="col">Bag</th></tr></thead><tbody>` +
		strings.Repeat(row("a"), phoneRows+3) + row(`<form>ab</form>`) + `</tbody></table></main>`
	for address, rest := range map[string]int{"/stock": 3, "/stock?sort=bag": 3, "/stock?rows=all": 0, "/stock?q=a": 0} {
		v := &visit{Context: &gin.Context{Request: httptest.NewRequest(http.MethodGet, address, nil)}}
		got, err := s.withTables(v, &stockTablePage{}, []byte(page))
		require.NoError(t, err)
		assert.Equal(t, rest, bytes.Count(got, []byte(`<tr class="rest"><td>a`)), address)
		assert.Contains(t, string(got), `<tr><td><form>`)
		assert.Equal(t, rest > 0, bytes.Contains(got, []byte(`class="more phone"`)), address)
	}
}

// Of a long shelf what is counted, and more than a few screens, is folded; what is to be counted again stands first.
func TestLongCountFolds(t *testing.T) {
	line := &count.CountedLine{}
	p := countPage{Open: true, Rows: []ShelfFields{{HasCounted: true, CountRow: count.CountRow{Line: line}}}}
	for range phoneRows + 1 {
		p.Rows = append(p.Rows, ShelfFields{})
	}
	p.fold()
	assert.Equal(t, phoneRows, p.Fold)
	assert.True(t, p.Rows[phoneRows+1].HasCounted, "last")
	p.Open = false
	p.fold()
	assert.Len(t, p.Rows, p.Fold, "nothing of a count that is over")
}

// A quartermaster has fourteen kit lists, and looks for the one with most lines, and for the two that are for boats.
func TestLongTable(t *testing.T) {
	w := newWorld(t)
	for i := range 12 {
		k := inventory.KitList{Code: fmt.Sprintf("L%d", i+1), Name: fmt.Sprintf("List %d", i+1)}
		if i%6 == 5 {
			k.Name += " <boat>"
		}
		for range i + 8 {
			k.Lines = append(k.Lines, inventory.Line{Item: "TQ", Pouch: fmt.Sprint(len(k.Lines)), Par: 1, Minimum: 1})
		}
		_, err := w.svc.Lists.CreateKitList(t.Context(), admin, k)
		require.NoError(t, err)
	}
	c := w.as("Quinn Master")
	shown := regexp.MustCompile(`<tr><td><a href="/kit-lists/(L\d+)"`)
	names := func(address string) []string {
		c.get(address)
		require.Equal(t, http.StatusOK, c.res.Code)
		var out []string
		for _, m := range shown.FindAllStringSubmatch(c.res.Body.String(), -1) {
			out = append(out, m[1])
		}
		return out
	}
	assert.Equal(t, "L12", names("/kit-lists?sort=-lines")[0])
	assert.Contains(t, c.res.Body.String(), `class="n" aria-sort="descending"><a href="/kit-lists?sort=lines">`)
	assert.Equal(t, []string{"L1", "L2", "L3"}, names("/kit-lists?sort=code")[:3], "as people count")
	assert.Equal(t, names("/kit-lists"), names("/kit-lists?sort=secret"), "a column that is none")
	assert.NotContains(t, c.res.Body.String(), `aria-sort`)

	assert.Equal(t, []string{"L12", "L6"}, names("/kit-lists?sort=-code&q=Boat+list"), "all words, in any order")
	assert.Contains(t, c.text(), "2 of 14")
	assert.Contains(t, c.res.Body.String(), `<a href="/kit-lists?q=Boat+list&amp;sort=code">`, "what was typed is kept")
	assert.Contains(t, c.res.Body.String(), `<input type="hidden" name="sort" value="-code">`)
	assert.Empty(t, names("/kit-lists?q=%22%3E%3Cscript%3E"))
	assert.NotContains(t, c.res.Body.String(), `"><script>`)

	c.get("/transfers")
	assert.NotContains(t, c.res.Body.String(), `id="f-rows"`, "a short table needs no field")
}
