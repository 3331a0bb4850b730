package main

import (
	"go/ast"
	"go/parser"
	"go/token"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
	"unicode/utf8"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// source is a Go file of the house, read and parsed.
type source struct {
	path string // from the top of the house
	test bool   // a test, or what only tests use
	text string
	tree *ast.File
	set  *token.FileSet
}

// testOnly are the packages that no binary holds.
var testOnly = regexp.MustCompile(`_test\.go$|/(storetest|labelstest|inventorytest|fixture)/`)

// sources reads every Go file below a folder of the house.
func sources(t *testing.T, top string) []source {
	t.Helper()
	var all []source
	eachFile(t, filepath.Join(root, top), ".go", func(path string) {
		text, err := os.ReadFile(path)
		require.NoError(t, err)
		set := token.NewFileSet()
		tree, err := parser.ParseFile(set, path, text, parser.ParseComments|parser.SkipObjectResolution)
		require.NoError(t, err)
		from, err := filepath.Rel(root, path)
		require.NoError(t, err)
		from = filepath.ToSlash(from)
		all = append(all, source{from, testOnly.MatchString(from), string(text), tree, set})
	})
	require.NotEmpty(t, all)
	return all
}

// dir is the package of a file.
func (s source) dir() string { return filepath.ToSlash(filepath.Dir(s.path)) }

// lines counts the lines of a node.
func (s source) lines(n ast.Node) int {
	return s.set.Position(n.End()).Line - s.set.Position(n.Pos()).Line + 1
}

// TestPackagesStaySmall holds each package of the domain to a size that one
// can read: product lines, comments and blank lines among them.
func TestPackagesStaySmall(t *testing.T) {
	most := map[string]int{"inventory": 9000, "inventory/store": 5000}
	lines := map[string]int{}
	for _, s := range sources(t, "inventory") {
		if !s.test {
			lines[s.dir()] += strings.Count(s.text, "\n")
		}
	}
	for dir, n := range lines {
		limit, ok := most[dir]
		if !ok {
			limit = 3500
		}
		assert.LessOrEqual(t, n, limit, "package %s", dir)
	}
	assert.Greater(t, len(lines), 15)
}

// TestFilesAndFunctionsStayShort: nine files in ten have at most 400 lines, and
// nine functions in ten at most 40; that of the product, and that of the tests.
func TestFilesAndFunctionsStayShort(t *testing.T) {
	files, functions := map[bool][]int{}, map[bool][]int{}
	for _, s := range sources(t, ".") {
		files[s.test] = append(files[s.test], strings.Count(s.text, "\n"))
		for _, d := range s.tree.Decls {
			if f, ok := d.(*ast.FuncDecl); ok {
				functions[s.test] = append(functions[s.test], s.lines(f))
			}
		}
	}
	nineInTen := func(all []int) int {
		slices.Sort(all)
		return all[len(all)*9/10]
	}
	for _, test := range []bool{false, true} {
		assert.LessOrEqual(t, nineInTen(files[test]), 400, "files, of tests: %v", test)
		assert.LessOrEqual(t, nineInTen(functions[test]), 40, "functions, of tests: %v", test)
	}
}

// TestLinesFitTheScreen: no line of Go is longer than 120 columns, a tab being one.
func TestLinesFitTheScreen(t *testing.T) {
	for _, s := range sources(t, ".") {
		for i, line := range strings.Split(s.text, "\n") {
			assert.LessOrEqual(t, utf8.RuneCountInString(line), 120, "%s:%d", s.path, i+1)
		}
	}
}

// errorKinds are the kinds of error as a doc comment names them.
var errorKinds = regexp.MustCompile(
	`\b(Invalid|NotFound|Conflict|Stale|Forbidden|SignedOut|TooMany|Unavailable|StorageFull)\b|\bnever refuses\b`)

// useCases is every exported method of a Service in the domain.
func useCases(t *testing.T) map[*ast.FuncDecl]string {
	t.Helper()
	out := map[*ast.FuncDecl]string{}
	for _, s := range sources(t, "inventory") {
		for _, d := range s.tree.Decls {
			if f, ok := d.(*ast.FuncDecl); ok && !s.test && f.Name.IsExported() && receiver(f) == "Service" {
				out[f] = s.path
			}
		}
	}
	require.Greater(t, len(out), 100)
	return out
}

// TestUseCasesSayWhatTheyRefuse: each has a doc comment that begins with its
// name and names the kinds of error with which it refuses, or says that it
// never does.
func TestUseCasesSayWhatTheyRefuse(t *testing.T) {
	for f, path := range useCases(t) {
		doc := f.Doc.Text()
		assert.True(t, strings.HasPrefix(doc, f.Name.Name+" "), "%s: %s has no doc comment of its own", path, f.Name)
		assert.Regexp(t, errorKinds, doc, "%s: %s does not say what it refuses", path, f.Name)
	}
}

// TestUseCasesAreTested: each is called by a Go test of the domain, and not
// only through the faces.
func TestUseCasesAreTested(t *testing.T) {
	called := map[string]bool{}
	for _, s := range sources(t, "inventory") {
		if !strings.HasSuffix(s.path, "_test.go") {
			continue
		}
		ast.Inspect(s.tree, func(n ast.Node) bool {
			if sel, ok := n.(*ast.SelectorExpr); ok {
				called[sel.Sel.Name] = true
			}
			return true
		})
	}
	for f, path := range useCases(t) {
		assert.True(t, called[f.Name.Name], "%s: no test under inventory calls %s", path, f.Name)
	}
}

// receiver names the type that a method belongs to, without a pointer.
func receiver(f *ast.FuncDecl) string {
	if f.Recv == nil {
		return ""
	}
	of := f.Recv.List[0].Type
	if star, ok := of.(*ast.StarExpr); ok {
		of = star.X
	}
	name, _ := of.(*ast.Ident)
	if name == nil {
		return ""
	}
	return name.Name
}

// TestOnlyAccountProves: a proof of who signs, and the time at which somebody
// confirmed who they are, are made in package account, where secrets are
// compared, and nowhere else.
func TestOnlyAccountProves(t *testing.T) {
	found := map[string]int{}
	for _, s := range sources(t, ".") {
		if s.test {
			continue
		}
		ast.Inspect(s.tree, func(n ast.Node) bool {
			for _, made := range provesIn(n) {
				found[s.dir()+" "+made]++
			}
			return true
		})
	}
	assert.NotZero(t, found["inventory/account Proof{"])
	assert.NotZero(t, found["inventory/account .Proof ="])
	assert.NotZero(t, found["inventory/account .Confirmed ="])
	for what := range found {
		assert.True(t, strings.HasPrefix(what, "inventory/account "), "%s … : only package account may do this", what)
	}
}

// provesIn names what a piece of code makes of a proof: a Proof with something
// in it, or one or a time of confirming put into an actor.
func provesIn(n ast.Node) []string {
	var out []string
	switch n := n.(type) {
	case *ast.CompositeLit:
		if len(n.Elts) > 0 && nameOf(n.Type) == "Proof" {
			out = append(out, "Proof{")
		}
		for _, e := range n.Elts {
			if pair, ok := e.(*ast.KeyValueExpr); ok && nameOf(n.Type) == "Actor" && proving(pair.Key) {
				out = append(out, nameOf(pair.Key)+":")
			}
		}
	case *ast.AssignStmt:
		for _, to := range n.Lhs {
			if _, ok := to.(*ast.SelectorExpr); ok && proving(to) {
				out = append(out, "."+nameOf(to)+" =")
			}
		}
	case *ast.UnaryExpr: // its address, to be written through
		if _, ok := n.X.(*ast.SelectorExpr); ok && n.Op == token.AND && proving(n.X) {
			out = append(out, "&"+nameOf(n.X))
		}
	}
	return out
}

// proving tells whether a name is that of an actor's field that proves, or of a
// part of it.
func proving(e ast.Expr) bool {
	switch nameOf(e) {
	case "Proof", "Confirmed":
		return true
	}
	of, ok := e.(*ast.SelectorExpr)
	return ok && nameOf(of.X) == "Proof"
}

// nameOf is the last part of a name.
func nameOf(e ast.Expr) string {
	switch e := e.(type) {
	case *ast.Ident:
		return e.Name
	case *ast.SelectorExpr:
		return e.Sel.Name
	}
	return ""
}

// TestClock keeps the rules from looking at the time: it is given to them.
func TestClock(t *testing.T) {
	looked := 0
	for _, s := range append(sources(t, "inventory"), sources(t, "labels")...) {
		if s.test || strings.HasPrefix(s.path, "inventory/store/") {
			continue
		}
		looked++
		ast.Inspect(s.tree, func(n ast.Node) bool {
			if s2, ok := n.(*ast.SelectorExpr); ok {
				from, _ := s2.X.(*ast.Ident)
				clock := from != nil && from.Name == "time" && slices.Contains([]string{"Now", "Since", "Until", "Sleep", "After",
					"Tick"}, s2.Sel.Name)
				assert.False(t, clock, "%s uses time.%s", s.path, s2.Sel.Name)
			}
			return true
		})
	}
	assert.Positive(t, looked)
}
