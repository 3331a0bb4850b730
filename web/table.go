package web

import (
	"bytes"
	"cmp"
	"fmt"
	"html"
	"maps"
	"net/url"
	"regexp"
	"slices"
	"strings"
	"unicode"
)

// A table of more than fewRows rows is sorted by its heads and narrowed to what is typed, whichever page it stands on,
// by what a person reads in it. So it is done to the page as it was written, in one place: a column needs no code. The
// address says how, ?sort=units or ?sort=-units and ?q=words, so that no script is needed, and a link can be kept.
// What has to stay in the order in which it is written has the class asis; a table of which the page shows a part, and
// all where it is sorted or narrowed, the class part. A phone shows the first screens of it before it is asked for all,
// by a link, ?rows=all, and of each further table the fewest rows; paper and a desk show all.
const fewRows, phoneRows, fewestRows = 10, 15, 4

// As our templates write them, with all that people typed escaped. A body's row is followed by those that open from it.
var (
	tableText = regexp.MustCompile(`(?s)<table class="([^"]*)">(.*?)<thead>(.*?)</thead>` +
		`(.*?)(<tfoot>.*?</tfoot>)?</table>`)
	bodyRow       = regexp.MustCompile(`(?s)<tr[ >].*?</tr>(?:\s*<tr class="inner".*?</tr>)*`)
	headCell      = regexp.MustCompile(`(?s)<th scope="col"([^>]*)>(.*?)</th>`)
	rowCell       = regexp.MustCompile(`(?s)<t[dh]([^>]*)>(.*?)</t[dh]>`)
	sortValue     = regexp.MustCompile(` data-v="([^"]*)"`)
	dayOf         = regexp.MustCompile(` datetime="([^"]*)"`)
	anyTag        = regexp.MustCompile(`<[^>]*>`)
	leadingDigits = regexp.MustCompile(`^\d+`)
)

// RowFilter is the field above the first table of a page, with how many rows of all it leaves.
type RowFilter struct {
	Q, Path     string
	Shown, Rows int
	Kept        url.Values // what else the address says
}

// withTables puts onto a page that was asked for what sorts and narrows its tables, where one is long.
func (s *server) withTables(v *visit, p page, body []byte) ([]byte, error) {
	q := v.Request.URL.Query()
	f := RowFilter{Q: strings.TrimSpace(q.Get("q")), Path: v.Request.URL.EscapedPath(), Kept: q}
	if !v.reads() || !someLong(body) {
		return body, nil
	}
	at := -1
	var out bytes.Buffer
	end := 0
	for _, m := range tableText.FindAllSubmatchIndex(body, -1) {
		t := tableOf(body, m)
		if t.asis() {
			continue
		}
		out.Write(body[end:m[0]])
		above := out.Len()
		if fold := foldAround(out.Bytes()); fold >= 0 {
			above = fold
			if q.Get("sort")+f.Q != "" { // whoever sorts it looks into it
				opened := slices.Insert(bytes.Clone(out.Bytes()), fold+len(foldTag), []byte(" open")...)
				out.Reset()
				out.Write(opened)
			}
		}
		if at < 0 {
			at = above
		}
		f.Rows += len(t.rows)
		f.Shown += t.arrange(q, strings.Fields(strings.ToLower(f.Q)))
		cut := q.Get("rows")+f.Q == "" && t.cut(max(fewestRows, phoneRows-f.Rows+len(t.rows)))
		t.write(&out, f.Path, q)
		if end = m[1]; cut {
			if err := s.pages[templateOf(p)].ExecuteTemplate(&out, "allrows", allOf(f.Path, q, len(t.rows))); err != nil {
				return nil, err
			}
		}
	}
	out.Write(body[end:])
	field, form, err := s.pages.rowFilter(p, f)
	if err != nil {
		return nil, err
	}
	done := slices.Insert(out.Bytes(), at, field...)
	return bytes.Replace(done, []byte("</main>"), append(form, "</main>"...), 1), nil
}

const foldTag = "<details"

// foldAround is where the fold begins that is still open where the page was written to, -1 for none.
func foldAround(written []byte) int {
	if i := bytes.LastIndex(written, []byte(foldTag)); bytes.LastIndex(written, []byte("</details>")) < i {
		return i
	}
	return -1
}

func someLong(body []byte) bool {
	return slices.ContainsFunc(tableText.FindAllSubmatchIndex(body, -1), func(m []int) bool {
		t := tableOf(body, m)
		return !t.asis() && len(t.rows) > fewRows
	})
}

// rowFilter writes the field, and its form, which must not stand within another.
func (ts templates) rowFilter(p page, f RowFilter) (field, form []byte, err error) {
	f.Kept.Del("q")
	var a, b bytes.Buffer
	t := ts[templateOf(p)]
	err = cmp.Or(t.ExecuteTemplate(&a, "rowfield", f), t.ExecuteTemplate(&b, "rowform", f))
	return a.Bytes(), b.Bytes(), err
}

// longTable is a table in its parts.
type longTable struct {
	class, before, head, foot string
	rows                      []string
}

func tableOf(page []byte, m []int) longTable {
	part := func(n int) string {
		if m[2*n] < 0 {
			return ""
		}
		return string(page[m[2*n]:m[2*n+1]])
	}
	return longTable{part(1), part(2), part(3), part(5), bodyRow.FindAllString(part(4), -1)}
}

func (t longTable) asis() bool { return slices.Contains(strings.Fields(t.class), "asis") }

// arrange sorts the rows as the address says, if it names one of the columns, and hides those without all the words.
func (t longTable) arrange(q url.Values, words []string) (shown int) {
	name, down := strings.CutPrefix(q.Get("sort"), "-")
	for i, h := range headCell.FindAllStringSubmatch(t.head, -1) {
		if name == "" || columnName(h[2]) != name {
			continue
		}
		values := map[string]string{}
		for _, row := range t.rows {
			values[row] = valueOf(row, i)
		}
		slices.SortStableFunc(t.rows, func(a, b string) int { return compareValues(values[a], values[b], down) })
	}
	for i, row := range t.rows {
		text := strings.ToLower(cellText(row))
		if slices.ContainsFunc(words, func(w string) bool { return !strings.Contains(text, w) }) {
			t.rows[i] = strings.ReplaceAll(row, "<tr", "<tr hidden")
		} else {
			shown++
		}
	}
	return shown
}

// cut marks what a phone does not show at first: what comes after the first rows and is not open, or asks for a press.
func (t longTable) cut(first int) (some bool) {
	for i := first; i < len(t.rows); i++ {
		if !strings.Contains(t.rows[i], `aria-expanded="true"`) && !strings.Contains(t.rows[i], "<form") {
			t.rows[i], some = strings.Replace(t.rows[i], "<tr", `<tr class="rest"`, 1), true
		}
	}
	return some
}

// allOf is the link to all rows of a table.
func allOf(path string, q url.Values, rows int) RowFilter {
	all := maps.Clone(q)
	all.Set("rows", "all")
	all.Del("done")
	return RowFilter{Path: path + "?" + all.Encode(), Rows: rows}
}

// write puts the table back, with links for heads.
func (t longTable) write(out *bytes.Buffer, path string, q url.Values) {
	head := headCell.ReplaceAllStringFunc(t.head, func(th string) string {
		m := headCell.FindStringSubmatch(th)
		name := columnName(m[2])
		if name == "" {
			return th
		}
		to, sorted := name, ""
		switch by := q.Get("sort"); {
		case by == "-"+name:
			sorted = ` aria-sort="descending"`
		case by == name:
			to, sorted = "-"+name, ` aria-sort="ascending"`
		case strings.Contains(m[1], `class="n"`): // of numbers, what is most is asked first
			to = "-" + name
		}
		kept := maps.Clone(q)
		kept.Set("sort", to)
		return fmt.Sprintf(`<th scope="col"%s%s><a href="%s">%s</a></th>`, m[1], sorted,
			html.EscapeString(path+"?"+kept.Encode()), m[2])
	})
	fmt.Fprintf(out, `<table class="%s long">%s<thead>%s</thead><tbody>%s</tbody>%s</table>`, t.class, t.before, head,
		strings.Join(t.rows, "\n"), t.foot)
}

// columnName is what the address calls a column: its head in small letters. Heads that only say what buttons beneath
// them do are none.
func columnName(head string) string {
	if strings.Contains(head, `class="vh"`) {
		return ""
	}
	plain := strings.Map(func(r rune) rune {
		if unicode.Is(unicode.Mn, r) {
			return -1 // accents are hard to type into an address
		}
		return unicode.ToLower(r)
	}, cellText(head))
	return strings.Join(strings.FieldsFunc(plain,
		func(r rune) bool { return !unicode.IsLetter(r) && !unicode.IsDigit(r) }), "-")
}

func cellText(markup string) string {
	return strings.Join(strings.Fields(html.UnescapeString(anyTag.ReplaceAllString(markup, " "))), " ")
}

// valueOf is what a row is sorted by: what the cell says it is, its day, or its text.
func valueOf(row string, column int) string {
	cells := rowCell.FindAllStringSubmatch(row, column+1)
	if len(cells) <= column {
		return ""
	}
	c := cells[column]
	if m := sortValue.FindStringSubmatch(c[1]); m != nil {
		return strings.ToLower(html.UnescapeString(m[1]))
	}
	if m := dayOf.FindStringSubmatch(c[2]); m != nil {
		return m[1]
	}
	return strings.ToLower(cellText(c[2]))
}

// compareValues compares as people count: FM-2 stands before FM-10. What is empty stands last, both ways.
func compareValues(a, b string, down bool) int {
	if a == "" || b == "" {
		return cmp.Compare(b, a)
	}
	way := 1
	if down {
		way = -1
	}
	for a != "" && b != "" {
		x, y := leadingDigits.FindString(a), leadingDigits.FindString(b)
		if x == "" || y == "" {
			if a[0] != b[0] {
				return way * cmp.Compare(a[0], b[0])
			}
			a, b = a[1:], b[1:]
			continue
		}
		long, short := strings.TrimLeft(x, "0"), strings.TrimLeft(y, "0")
		if c := cmp.Or(cmp.Compare(len(long), len(short)), cmp.Compare(long, short)); c != 0 {
			return way * c
		}
		a, b = a[len(x):], b[len(y):]
	}
	return way * cmp.Compare(a, b)
}
