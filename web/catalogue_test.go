package web

import (
	"encoding/json"
	"flag"
	"go/ast"
	"go/parser"
	"go/token"
	"io/fs"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"
	"text/template/parse"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stowkeeper/inventory/exchange"
	"stowkeeper/web/text"
)

var update = flag.Bool("update", false, "write text/en.txt anew")

// The catalogue lists every text that templates, scripts and Go say, and none
// besides.
func TestCatalogueIsWhole(t *testing.T) {
	texts := map[string]bool{}
	for _, said := range [][]string{textsOfTemplates(t), textsOfScripts(t), textsOfGo(t)} {
		for _, s := range said {
			require.NotContains(t, s, "\n")
			require.False(t, strings.HasPrefix(s, "# ") || strings.HasPrefix(s, "= "), s)
			texts[s] = hasWord(s)
		}
	}
	var lines []string
	for s := range texts {
		if s != "" && text.Capital(s) != s && texts[text.Capital(s)] {
			texts[text.Capital(s)] = false // which is said by the other
		}
	}
	for s, has := range texts {
		if has {
			lines = append(lines, s)
		}
	}
	slices.Sort(lines)
	assert.LessOrEqual(t, len(lines), 2150, "say it with a text that is there")
	want := strings.Join(lines, "\n") + "\n"
	if *update {
		require.NoError(t, os.WriteFile("text/en.txt", []byte(want), 0o644))
	}
	have, err := os.ReadFile("text/en.txt")
	require.NoError(t, err)
	assert.Equal(t, want, string(have), "renew it: go test ./web -run Catalogue -update")
}

var marks = regexp.MustCompile(`##.*|</?\w+>|\{\d\}|\{\d\|`)

// hasWord tells whether there is something to translate in a text: more than
// values and what stands between them.
func hasWord(s string) bool {
	return regexp.MustCompile(`\pL`).MatchString(marks.ReplaceAllString(s, " ")) || strings.Contains(s, "##")
}

// textsOfTemplates are the literals that templates give to t.
func textsOfTemplates(t *testing.T) []string {
	t.Helper()
	var out []string
	var look func(n parse.Node)
	pipe := func(p *parse.PipeNode) {
		for _, c := range p.Cmds {
			f, _ := c.Args[0].(*parse.IdentifierNode)
			for i, a := range c.Args {
				if s, ok := a.(*parse.StringNode); ok && i == 1 && f != nil && f.Ident == "t" {
					out = append(out, s.Text)
				}
				look(a)
			}
		}
	}
	look = func(n parse.Node) {
		switch n := n.(type) {
		case *parse.ListNode:
			for i := 0; n != nil && i < len(n.Nodes); i++ {
				look(n.Nodes[i])
			}
		case *parse.ActionNode:
			pipe(n.Pipe)
		case *parse.PipeNode:
			pipe(n)
		case *parse.TemplateNode:
			if n.Pipe != nil {
				pipe(n.Pipe)
			}
		case *parse.IfNode:
			branch(n.BranchNode, look)
		case *parse.RangeNode:
			branch(n.BranchNode, look)
		case *parse.WithNode:
			branch(n.BranchNode, look)
		}
	}
	for _, ts := range parsed(t) {
		for _, d := range ts.Templates() {
			if d.Tree != nil {
				look(d.Tree.Root)
			}
		}
	}
	return out
}

func branch(n parse.BranchNode, look func(parse.Node)) {
	look(n.Pipe)
	look(n.List)
	look(n.ElseList)
}

// textsOfScripts are the literals that scripts give to t.
func textsOfScripts(t *testing.T) []string {
	t.Helper()
	var out []string
	said := regexp.MustCompile(`\bt\(("(?:[^"\\]|\\.)*")`)
	for _, pattern := range []string{"assets/*.js", "assets/modules/*.js"} {
		files, err := fs.Glob(assetFiles, pattern)
		require.NoError(t, err)
		for _, f := range files {
			body, err := assetFiles.ReadFile(f)
			require.NoError(t, err)
			for _, m := range said.FindAllSubmatch(body, -1) {
				var s string
				require.NoError(t, json.Unmarshal(m[1], &s), f)
				out = append(out, s)
			}
		}
	}
	return out
}

// sayers are the functions that are given a text, with which argument it is.
var sayers = map[string]int{"M": 0, "about": 0, "fromOptions": 0, "warn": 1, "failure": 1,
	"Refuse": 1, "InvalidField": 1, "AsField": 2, "Add": 1, "When": 2}

// handsOn are the other functions in which a text is no literal: of templates,
// of composing, and those of the table above.
var handsOn = map[string]bool{"M": true, "about": true, "fromOptions": true, "funcs": true, "Plain": true, "Join": true}

// textsOfGo are the literals that Go makes messages of.
func textsOfGo(t *testing.T) []string {
	t.Helper()
	var out []string
	for _, root := range []string{".", "../inventory", "../labels"} {
		require.NoError(t, filepath.WalkDir(root, func(path string, d fs.DirEntry, err error) error {
			if err != nil || filepath.Ext(path) != ".go" || strings.HasSuffix(path, "_test.go") {
				return err
			}
			tree, err := parser.ParseFile(token.NewFileSet(), path, nil, 0)
			ast.Inspect(tree, func(n ast.Node) bool {
				if f, ok := n.(*ast.FuncDecl); ok && (sayers[f.Name.Name] > 0 || handsOn[f.Name.Name]) {
					return false // it is given a text and hands it on
				}
				if c, ok := n.(*ast.CallExpr); ok {
					if i, says := sayers[calledName(c)]; says && i < len(c.Args) {
						s, ok := literal(c.Args[i])
						assert.True(t, ok || calledName(c) != "M", "%s: a text is a literal, never what people typed",
							path)
						out = append(out, s)
					}
				}
				return true
			})
			return err
		}))
	}
	for _, k := range append(slices.Clone(exchange.ImportKinds), exchange.ImportEverything) {
		about, columns := exchange.ImportColumns(k)
		out = append(out, about)
		for _, c := range columns {
			out = append(out, c.About)
		}
	}
	return out
}

func calledName(c *ast.CallExpr) string {
	switch f := c.Fun.(type) {
	case *ast.Ident:
		return f.Name
	case *ast.SelectorExpr:
		return f.Sel.Name
	}
	return ""
}

// literal is the text of a literal, or of several that are joined over lines.
func literal(x ast.Expr) (string, bool) {
	if b, ok := x.(*ast.BinaryExpr); ok && b.Op == token.ADD {
		left, isLeft := literal(b.X)
		right, isRight := literal(b.Y)
		return left + right, isLeft && isRight
	}
	l, ok := x.(*ast.BasicLit)
	if !ok || l.Kind != token.STRING {
		return "", false
	}
	s, err := strconv.Unquote(l.Value)
	return s, err == nil
}
