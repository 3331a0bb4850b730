package web

import (
	"go/ast"
	"go/parser"
	"go/token"
	"go/types"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// goTexts finds what the Go code of a folder says to people. Texts are told
// from names by their form: words with blanks between them, a word with a
// capital, or a word in a table of words.
func goTexts(t *testing.T, folder string, note func(string)) {
	t.Helper()
	files, err := filepath.Glob(filepath.Join(folder, "*.go"))
	require.NoError(t, err)
	for _, f := range files {
		if strings.HasSuffix(f, "_test.go") || slices.Contains(noPages, filepath.Base(f)) {
			continue
		}
		tree, err := parser.ParseFile(token.NewFileSet(), f, nil, 0)
		require.NoError(t, err)
		ast.Inspect(tree, goFinder(note).look)
	}
}

// noPages are files that speak to whoever starts or verifies the service.
var noPages = []string{"mount.go", "catalogue.go", "pack.go", "verify.go"}

// goFinder notes each text that it finds in a syntax tree.
type goFinder func(text string)

// notSaid are calls whose literals people never read: headers, logs, mistakes
// of whoever starts the program, names of fields and templates.
var notSaid = regexp.MustCompile(`^(fmt\.(Errorf|Fprintf)|panic|\w+\.(MustCompile|Header|GetHeader|Set|Get|Query|Error|Warn|Info|Debug|Format|LoadLocation)|.*\.Logger\.\w+|h\.Set|strings\.\w+|template\.HTML)$`)

// saidAlways are calls whose literals are for people, be they ever so short.
var saidAlways = regexp.MustCompile(`^(Errorf|Invalidf|inventory\.(Errorf|Invalidf)|\w+\.(add|when))$`)

func (note goFinder) look(n ast.Node) bool {
	switch n := n.(type) {
	case *ast.ImportSpec:
		return false
	case *ast.Field:
		return n.Tag == nil
	case *ast.IndexExpr:
		ast.Inspect(n.X, note.look)
		return false
	case *ast.BinaryExpr:
		return note.joined(n)
	case *ast.CallExpr:
		return note.call(n)
	case *ast.CompositeLit:
		note.table(n)
	case *ast.BasicLit:
		if s := literal(n); isText.MatchString(s) {
			note.format(s)
		}
	}
	return true
}

// joined notes a text put together with +, each value in it as a mark.
func (note goFinder) joined(n *ast.BinaryExpr) bool {
	if n.Op != token.ADD {
		return n.Op != token.EQL && n.Op != token.NEQ
	}
	text, values := "", 0
	var add func(x ast.Expr)
	add = func(x ast.Expr) {
		if b, ok := x.(*ast.BinaryExpr); ok && b.Op == token.ADD {
			add(b.X)
			add(b.Y)
			return
		}
		if s := literal(x); s != "" {
			text += s
			return
		}
		values++
		text += "{" + strconv.Itoa(values) + "}"
		ast.Inspect(x, note.look)
	}
	add(n)
	if hasLetter(mark.ReplaceAllString(text, "")) {
		note.text(text)
	}
	return false
}

func (note goFinder) call(n *ast.CallExpr) bool {
	name := types.ExprString(n.Fun)
	for i, a := range n.Args {
		s := literal(a)
		switch {
		case s == "":
			ast.Inspect(a, note.look)
		case name == "count" || name == "Count" || name == "inventory.Count":
			note.text("{1} " + s)
			note.text("{1} " + plurals(s))
		case saidAlways.MatchString(name):
			if i == len(n.Args)-1 || i > 0 && strings.Contains(s, " ") {
				note.format(s)
			}
		case !notSaid.MatchString(name):
			ast.Inspect(a, note.look)
		}
	}
	ast.Inspect(n.Fun, note.look)
	return false
}

// table notes the words of a table.
func (note goFinder) table(n *ast.CompositeLit) {
	if _, ok := n.Type.(*ast.MapType); !ok {
		return
	}
	for _, e := range n.Elts {
		if kv, ok := e.(*ast.KeyValueExpr); ok && tableWord.MatchString(literal(kv.Value)) {
			note.text(literal(kv.Value))
		}
	}
}

var (
	tableWord = regexp.MustCompile(`^[a-z][a-z ]*$`)
	isText    = regexp.MustCompile(`^[^<>=\\|^$/_]*[A-Za-z][^<>=\\|^$_]* [^<>=\\|^$_]*[A-Za-z][^<>=\\|^$_]*$|^[A-Z][a-z]+$|^[,;:( ][^<>=\\|^$_]*[a-z]|^[a-z][a-z ]+[ :]$`)
	verb      = regexp.MustCompile(`%[+#]?[\d.]*[sdvgfqcx]`)
)

// format notes a text that may be a format.
func (note goFinder) format(s string) {
	values := 0
	note.text(verb.ReplaceAllStringFunc(s, func(v string) string {
		values++
		m := "{" + strconv.Itoa(values) + "}"
		if strings.HasSuffix(v, "q") {
			return `"` + m + `"`
		}
		return m
	}))
}

// text notes a text without the blanks and commas by which it is joined to
// others.
func (note goFinder) text(s string) {
	s = strings.TrimRight(strings.TrimLeft(s, " ,;:×"), " ,;:×(“")
	words := mark.ReplaceAllString(s, " ")
	if hasLetter(words) && !noText.MatchString(s) && (strings.Contains(strings.TrimSpace(s), " ") || oneWord.MatchString(s)) {
		note(s)
	}
}

var (
	noText  = regexp.MustCompile(`\n|=|<|[a-z]\{|\}[a-z]`)
	oneWord = regexp.MustCompile(`^[A-Za-z]+[.?]?$`)
)

func literal(x ast.Expr) string {
	l, ok := x.(*ast.BasicLit)
	if !ok || l.Kind != token.STRING {
		return ""
	}
	s, _ := strconv.Unquote(l.Value)
	return s
}
