package web

import (
	"html/template"
	"reflect"
	"slices"
	"strings"
	"testing"
	"text/template/parse"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"golang.org/x/net/html"

	"stowkeeper/inventory/message"
	"stowkeeper/web/text"
)

// allPages is one of each page.
func allPages() []page {
	return []page{
		&boardPage{}, &bagPage{}, &sealCheckPage{}, &fullCheckPage{}, &usePage{},
		&outOfServicePage{}, &deskPage{}, &reviewPage{},
		&decideCheckPage{}, &decideUsePage{}, &restockPage{}, &receivePage{}, &placesPage{}, &placePage{}, &stockPage{},
		&stockTablePage{}, &lotPage{},
		&labelsPage{},
		&retiredPage{}, &bagChangePage{}, &bagNewPage{},
		&bagHistoryPage{}, &reportPage{}, &errorPage{}, &devicesPage{}, &devicePage{},
		&inspectPage{}, &classPage{}, &toTrainingPage{}, &openPage{},
		&importsPage{}, &importPage{}, &exportsPage{}, &publishedPage{}, &publishedListPage{}, &kitListsPage{},
		&kitListPage{}, &kitListChangePage{},
		&deliveryPage{}, &scannerPage{}, &productsPage{}, &productPage{},
		&noticesPage{}, &noticePage{}, &noticeNewPage{}, &signInPage{}, &resendPage{}, &servicePage{},
		&bagLogPage{}, &swapPage{}, &scanPage{}, &vehiclePage{}, &lentPage{}, &awayPage{}, &awaySendPage{},
		&awayBackPage{}, &transfersPage{}, &ordersPage{}, &orderPage{},
		&transferPage{}, &countsPage{}, &countPage{}, &paperPage{},
		&correctPage{}, &receiptCorrectPage{}, &convertPage{}, &quarantinePage{}, &expiredPage{},
		&unsentPage{}, &noSignalPage{}, &saidPage{},
		&accountPage{}, &peoplePage{}, &personPage{}, &stationsPage{}, &stationPage{}, &terminalsPage{}, &enrolLinkPage{},
		&enrolPage{}, &welcomePage{}, &tokensPage{}, &historyPage{},
		&searchPage{}, &itemPage{}, &itemFormPage{}, &recordedPage{}, &yearPage{}, &todayPage{},
		&checksPage{}, &checkRowsPage{},
		&flowsPage{}, &flowRowsPage{},
		&registersPage{}, &registerPage{}, &balancePage{}, &postingPage{}, &entryPage{},
		&discrepanciesPage{}, &discrepancyPage{},
	}
}

func parsed(t *testing.T) templates {
	t.Helper()
	a, err := loadAssets(english(t))
	require.NoError(t, err)
	ts, err := parseTemplates(a, english(t))
	require.NoError(t, err)
	return ts
}

// Every template belongs to a page and every page has a template.
func TestEveryTemplateHasAPage(t *testing.T) {
	var ofPages, files []string
	for _, p := range allPages() {
		ofPages = append(ofPages, templateOf(p))
	}
	for name := range parsed(t) {
		files = append(files, name)
	}
	slices.Sort(ofPages)
	slices.Sort(files)
	assert.Equal(t, ofPages, files)
}

// What the layout says of its visitor is the visitor: no field of a page stands
// before one of Base with the same name.
func TestTemplatesSeeTheBase(t *testing.T) {
	base := reflect.TypeFor[Base]()
	for _, p := range allPages() {
		of := reflect.TypeOf(p).Elem()
		for i := range base.NumField() {
			name := base.Field(i).Name
			f, ok := of.FieldByName(name)
			assert.True(t, ok && len(f.Index) == 2 && of.Field(f.Index[0]).Type == base, "%T: %s is not the one of Base", p,
				name)
		}
	}
}

// Every template is executed three times: empty, with every field filled, and
// filled with every yes and no turned round, so that a field that a page does
// not have is found on whichever branch it stands.
func TestEveryTemplateExecutes(t *testing.T) {
	ts := parsed(t)
	for _, p := range allPages() {
		_, err := ts.execute(p)
		require.NoError(t, err, "%T empty", p)
		for _, yes := range []bool{true, false} {
			fill(reflect.ValueOf(p).Elem(), yes, 0)
			body, err := ts.execute(p)
			require.NoError(t, err, "%T filled, %v", p, yes)
			checkPage(t, p, string(body))
		}
	}
}

// checkPage looks at what is true of every page: no text runs as markup, no
// id is there twice, every label belongs to a field, every field has a label.
func checkPage(t *testing.T, p page, body string) {
	t.Helper()
	assert.False(t, strings.Contains(body, "<fill"), "%T: text is not escaped", p)
	assert.False(t, strings.Contains(body, "ZgotmplZ"), "%T: a value in a place that does not take it", p)
	doc, err := html.Parse(strings.NewReader(body))
	require.NoError(t, err)
	ids, labels := map[string]int{}, map[string]bool{}
	var fields []string
	walk(doc, func(n *html.Node) bool {
		if n.Type != html.ElementNode {
			return true
		}
		id, hasID := attr(n, "id")
		if hasID {
			ids[id]++
		}
		if to, ok := attr(n, "for"); ok {
			labels[to] = true
		}
		kind, _ := attr(n, "type")
		if n.Data == "select" || n.Data == "textarea" || n.Data == "input" && kind != "hidden" && kind != "checkbox" &&
			kind != "radio" {
			fields = append(fields, id)
		}
		return true
	})
	for _, id := range fields {
		assert.True(t, labels[id], "%T: field %q has no label", p, id)
	}
	for to := range labels {
		assert.Positive(t, ids[to], "%T: a label for %q, which is not there", p, to)
	}
}

// fill puts something into every field: one element into every list, a text
// that must be escaped into every string.
func fill(v reflect.Value, yes bool, depth int) {
	if depth > 12 || !v.CanSet() {
		return
	}
	if m, ok := v.Addr().Interface().(*message.Message); ok {
		*m = message.Plain("<fill>")
		return
	}
	switch v.Kind() {
	case reflect.String:
		v.SetString("<fill>")
	case reflect.Bool:
		v.SetBool(yes)
	case reflect.Int, reflect.Int32, reflect.Int64:
		v.SetInt(740000) // also a day that exists
	case reflect.Pointer:
		v.Set(reflect.New(v.Type().Elem()))
		fill(v.Elem(), yes, depth+1)
	case reflect.Slice:
		v.Set(reflect.MakeSlice(v.Type(), 1, 1))
		fill(v.Index(0), yes, depth+1)
	case reflect.Struct:
		for i := range v.NumField() {
			fill(v.Field(i), yes, depth+1)
		}
		if f, ok := v.Addr().Interface().(*Field); ok {
			f.Name, f.Kind = "fill", map[bool]string{true: "select", false: "text"}[yes]
		}
	}
}

// No page has a field that hides one of the frame around it.
func TestPagesHideNothingOfTheFrame(t *testing.T) {
	for _, p := range allPages() {
		for f := range reflect.TypeOf(p).Elem().Fields() {
			assert.NotContains(t, []string{"Title", "Person", "Role", "Caution"}, f.Name, "%T", p)
		}
	}
}

// Pages are structs: no template is given a map, where a misspelt name would
// only be a blank.
func TestPagesHoldNoMaps(t *testing.T) {
	for _, p := range allPages() {
		for _, path := range mapsIn(reflect.TypeOf(p).Elem(), 0) {
			// What the use cases return may hold one; templates do not reach it.
			if !slices.Contains([]string{"Checklist.Items", "Checklist.View.Items", "Checklist.View.Modules.Items", "Items",
				"Rows.Flow.Wasted", "Still.Flow.Wasted"}, path) {
				t.Errorf("%T.%s is a map", p, path)
			}
		}
	}
}

func mapsIn(t reflect.Type, depth int) []string {
	if depth > 6 {
		return nil
	}
	switch t.Kind() {
	case reflect.Map:
		return []string{""}
	case reflect.Pointer, reflect.Slice:
		return mapsIn(t.Elem(), depth+1)
	case reflect.Struct:
		var out []string
		for f := range t.Fields() {
			for _, p := range mapsIn(f.Type, depth+1) {
				out = append(out, strings.TrimSuffix(f.Name+"."+p, "."))
			}
		}
		return out
	}
	return nil
}

// No template is defined that no other uses.
func TestNoTemplateIsLeftOver(t *testing.T) {
	used := map[string]bool{ // which Go executes
		"layout": true, "main": true, "rowfield": true, "rowform": true, "allrows": true}
	defined := map[string]bool{}
	for _, ts := range parsed(t) {
		for _, d := range ts.Templates() {
			if d.Tree != nil {
				collect(d.Tree.Root, used)
			}
		}
		for _, n := range definedIn(ts) {
			defined[n] = true
		}
	}
	for n := range defined {
		assert.True(t, used[n], "template %q is used nowhere", n)
	}
}

func definedIn(ts *template.Template) []string {
	var out []string
	for _, d := range ts.Templates() {
		if d.Tree != nil && !strings.HasSuffix(d.Name(), ".html") && !strings.Contains(d.Name(), "$") {
			out = append(out, d.Name())
		}
	}
	return out
}

// collect notes the templates that a tree uses.
func collect(n parse.Node, used map[string]bool) {
	list := func(l *parse.ListNode) {
		if l != nil {
			for _, k := range l.Nodes {
				collect(k, used)
			}
		}
	}
	switch n := n.(type) {
	case *parse.ListNode:
		list(n)
	case *parse.IfNode:
		list(n.List)
		list(n.ElseList)
	case *parse.RangeNode:
		list(n.List)
		list(n.ElseList)
	case *parse.WithNode:
		list(n.List)
		list(n.ElseList)
	case *parse.TemplateNode:
		used[n.Name] = true
	}
}

func english(t *testing.T) *text.Catalogue {
	t.Helper()
	c, err := text.Open("")
	require.NoError(t, err)
	return c
}
