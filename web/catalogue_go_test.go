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
	find := goFinder{note, slices.Contains(errorsSaid, folder)}
	t.Helper()
	files, err := filepath.Glob(filepath.Join(folder, "*.go"))
	require.NoError(t, err)
	for _, f := range files {
		if strings.HasSuffix(f, "_test.go") || slices.Contains(noPages, filepath.ToSlash(f)) {
			continue
		}
		tree, err := parser.ParseFile(token.NewFileSet(), f, nil, 0)
		require.NoError(t, err)
		ast.Inspect(tree, find.look)
	}
}

// noPages are files that speak to whoever starts or verifies the service, or
// hold names that stay as they are: of places kept by them, of columns, of a standard.
var noPages = []string{"mount.go", "catalogue.go", "pack.go", "../inventory/station.go",
	"../inventory/barcode/dictionary.go", "../inventory/exchange/history.go", "../labels/pdf.go"}

// errorsSaid are folders whose plain errors a page shows to people.
var errorsSaid = []string{"../inventory/barcode", "../labels"}

// goFinder notes each text that it finds in a syntax tree.
type goFinder struct {
	note   func(text string)
	errors bool // of fmt.Errorf too
}

// notSaid are calls whose literals people never read: headers, logs, mistakes
// of whoever starts the program, names of fields and templates.
var notSaid = regexp.MustCompile(
	`^(fmt\.(Errorf|Fprintf)|panic|\w+\.(MustCompile|Header|GetHeader|Set|Get|Query|` +
		`Error|Warn|Info|Debug|Format|LoadLocation)|.*\.Logger\.\w+|h\.Set|strings\.\w+|template\.HTML)$`)

// saidAlways are calls whose literals are for people, be they ever so short.
var saidAlways = regexp.MustCompile(`^(Errorf|Invalidf|inventory\.(Errorf|Invalidf)|\w+\.([Aa]dd|[Ww]hen))$`)

// fieldCall are calls that make a form's field: its name, then its label.
var fieldCall = regexp.MustCompile(`^\w+\.(field|choice|number|area)$`)

func (f goFinder) look(n ast.Node) bool {
	switch n := n.(type) {
	case *ast.ImportSpec:
		return false
	case *ast.Field:
		return n.Tag == nil
	case *ast.IndexExpr:
		ast.Inspect(n.X, f.look)
		return false
	case *ast.BinaryExpr:
		return f.joined(n)
	case *ast.CallExpr:
		return f.call(n)
	case *ast.CompositeLit:
		f.table(n)
	case *ast.KeyValueExpr:
		f.field(n.Key, n.Value)
	case *ast.AssignStmt:
		for i := range n.Lhs {
			if sel, ok := n.Lhs[i].(*ast.SelectorExpr); ok && len(n.Lhs) == len(n.Rhs) {
				f.field(sel.Sel, n.Rhs[i])
			}
		}
	case *ast.ValueSpec:
		f.kind(n)
	case *ast.BasicLit:
		f.literal(n)
	}
	return true
}

// literal notes a text that stands in the code as it is.
func (f goFinder) literal(x ast.Expr) {
	if s := literal(x); isText.MatchString(s) {
		f.format(s)
	}
}

// joined notes a text put together with +, each value in it as a mark.
func (f goFinder) joined(n *ast.BinaryExpr) bool {
	if n.Op != token.ADD {
		return n.Op != token.EQL && n.Op != token.NEQ
	}
	if literal(n) != "" {
		f.literal(n)
		return false
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
		ast.Inspect(x, f.look)
	}
	add(n)
	if hasLetter(mark.ReplaceAllString(text, "")) {
		f.text(text)
	}
	return false
}

func (f goFinder) call(n *ast.CallExpr) bool {
	name := types.ExprString(n.Fun)
	for i, a := range n.Args {
		s := literal(a)
		switch {
		case s == "":
			ast.Inspect(a, f.look)
		case slices.Contains([]string{"count", "Plural", "inventory.Plural"}, name):
			f.text("{1} " + s)
			f.text("{1} " + plurals(s))
		case i == 1 && fieldCall.MatchString(name):
			f.text(s)
		case saidAlways.MatchString(name):
			if i == len(n.Args)-1 || i > 0 && strings.Contains(s, " ") {
				f.format(s)
			}
		case f.errors && name == "fmt.Errorf", !notSaid.MatchString(name):
			ast.Inspect(a, f.look)
		}
	}
	ast.Inspect(n.Fun, f.look)
	return false
}

// table notes the words of a table: of a map, or those in a row after its name.
func (f goFinder) table(n *ast.CompositeLit) {
	_, isMap := n.Type.(*ast.MapType)
	for i, e := range n.Elts {
		if kv, ok := e.(*ast.KeyValueExpr); ok {
			e = kv.Value
		}
		if word := literal(e); (isMap || n.Type == nil && i > 0) && tableWord.MatchString(word) {
			f.text(word)
		}
	}
}

// field notes a word that a field of a page is given.
func (f goFinder) field(name, value ast.Expr) {
	if id, ok := name.(*ast.Ident); ok && slices.Contains([]string{"Text", "Empty", "Label", "Hint", "Title", "Word",
		"Fix", "Message"}, id.Name) {
		f.text(literal(value))
	}
}

// kind notes the words of a closed list that pages write as they are.
func (f goFinder) kind(n *ast.ValueSpec) {
	if id, ok := n.Type.(*ast.Ident); ok && slices.Contains([]string{"Role", "Category", "Cause", "Wording"}, id.Name) {
		for _, v := range n.Values {
			f.text(strings.ReplaceAll(literal(v), "_", " "))
		}
	}
}

var (
	tableWord = regexp.MustCompile(`^[a-z][a-z ]*(\([A-Z]+\))?$`)
	isText    = regexp.MustCompile(`^[^<>=\\|^$/_]*[A-Za-z][^<>=\\|^$]* ` +
		`[^<>=\\|^$]*[A-Za-z][^<>=\\|^$]*$|^[A-Z][a-z]+$|^[,;:( ][^<>=\\|^$_]*[a-z]|^[a-z][a-z ]+[ :]$|^[0-9-]+ [a-z]+ ` +
		`[0-9-]+$`)
	verb = regexp.MustCompile(`%[+#]?[\d.]*[sdvgfqcx]`)
)

// format notes a text that may be a format.
func (f goFinder) format(s string) {
	values := 0
	f.text(verb.ReplaceAllStringFunc(s, func(v string) string {
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
func (f goFinder) text(s string) {
	s = strings.TrimRight(strings.TrimLeft(s, " ,;:×"), " ,;:×(“")
	words := mark.ReplaceAllString(s, " ")
	if hasLetter(words) && !noText.MatchString(s) && (strings.ContainsAny(strings.TrimSpace(s), " \u00a0") ||
		oneWord.MatchString(s)) {
		f.note(s)
	}
}

var (
	noText  = regexp.MustCompile(`\n|=|<|[a-z]\{|\}[a-z]`)
	oneWord = regexp.MustCompile(`^[A-Za-z]+[.?]?$`)
)

// literal is the text of a literal, or of several that are joined over lines.
func literal(x ast.Expr) string {
	if b, ok := x.(*ast.BinaryExpr); ok && b.Op == token.ADD {
		if left, right := literal(b.X), literal(b.Y); left != "" && right != "" {
			return left + right
		}
		return ""
	}
	l, ok := x.(*ast.BasicLit)
	if !ok || l.Kind != token.STRING {
		return ""
	}
	s, _ := strconv.Unquote(l.Value)
	return s
}
