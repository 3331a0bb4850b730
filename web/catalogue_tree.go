package web

import (
	"html/template"
	"regexp"
	"slices"
	"strings"
	"text/template/parse"
	"unicode"
)

// treeText walks the parsed templates of a page as a browser would read them.
// Each run of text between block-level tags is one text of the catalogue; what
// is worked out stands in it as {1}, what is inline markup as <1>…</1>. With a
// catalogue the runs are put together again in its words, before the page is
// first executed, so that the escaping of html/template still sees it all.
type treeText struct {
	trees map[string]*parse.Tree
	done  map[string]bool
	cat   *catalogue        // nil: only note what is said
	said  func(text string) // called with each text
}

// translate puts the texts of a page's templates into the catalogue's words.
func translate(t *template.Template, c *catalogue, said func(string)) {
	w := &treeText{trees: map[string]*parse.Tree{}, done: map[string]bool{}, cat: c, said: said}
	for _, d := range t.Templates() {
		if d.Tree != nil {
			w.trees[d.Name()] = d.Tree
		}
	}
	w.call("layout", spot{})
}

// spot is where in the markup a template stands.
type spot struct {
	tag   string // the name of the tag that is open, with / for one that closes
	attr  string // the attribute read last
	quote byte   // of the value that is open
}

func (s spot) inText() bool { return s.tag == "" }

// readable tells whether people read what stands here.
func (s spot) readable() bool {
	return s.inText() || s.quote != 0 && slices.Contains(readAttrs, s.attr)
}

// readAttrs are the attributes that people read or hear. A script shows
// data-keep, the stylesheet data-l.
var readAttrs = []string{"aria-label", "title", "placeholder", "alt", "data-keep", "data-l"}

var inlineTags = []string{"a", "abbr", "b", "code", "em", "i", "kbd", "small", "span", "strong", "sub", "sup", "time"}

// call walks a template from where it is used. It is walked once: a template
// that stood in text here and in a tag there would not be escaped rightly either.
func (w *treeText) call(name string, at spot) {
	tree := w.trees[name]
	if tree == nil || w.done[name] {
		return
	}
	w.done[name] = true
	w.list(tree.Root, at)
}

// list walks a list of nodes and returns where its end stands.
func (w *treeText) list(l *parse.ListNode, at spot) spot {
	if l == nil {
		return at
	}
	r := &reader{w: w, at: at}
	for _, n := range l.Nodes {
		if text, ok := n.(*parse.TextNode); ok {
			r.text(string(text.Text))
		} else {
			r.node(n)
		}
	}
	r.endTag()
	r.endRun()
	l.Nodes = r.out
	return r.at
}

// reader reads one list.
type reader struct {
	w       *treeText
	at      spot
	out     []parse.Node
	run     []piece
	value   []piece      // of the attribute that people read, as far as it was read
	tag     []parse.Node // of the tag that is open, as far as it was read
	tagName string
}

// text reads markup, byte by byte: names of tags and attributes are ASCII.
func (r *reader) text(s string) {
	from := 0
	for i := 0; i < len(s); i++ {
		c, was := s[i], r.at
		switch {
		case was.inText() && c == '<':
			r.keep(s[from:i])
			from = i
			r.at = spot{tag: tagName(s[i+1:])}
			r.tagName = r.at.tag
		case was.inText():
		case was.quote == c:
			r.keep(s[from:i])
			r.endValue()
			from, r.at.quote, r.at.attr = i, 0, ""
		case was.quote != 0:
		case c == '"' || c == '\'':
			r.keep(s[from : i+1])
			from, r.at.quote = i+1, c
		case c == '>':
			r.keep(s[from : i+1])
			from, r.at = i+1, spot{}
			r.endTag()
		case c == ' ' || c == '\n' || c == '/':
			r.at.attr = ""
		case c != '=':
			r.at.attr += string(c)
		}
	}
	r.keep(s[from:])
}

var leadingName = regexp.MustCompile(`^/?[A-Za-z0-9!-]+`)

func tagName(s string) string { return strings.ToLower(leadingName.FindString(s)) + " " }

// keep adds text where it stands.
func (r *reader) keep(s string) {
	switch {
	case s == "":
	case r.at.inText():
		r.run = append(r.run, piece{text: s})
	case r.at.readable():
		r.value = append(r.value, piece{text: s})
	default:
		r.tag = append(r.tag, textNode(s))
	}
}

// endValue ends an attribute.
func (r *reader) endValue() {
	r.tag = append(r.tag, r.w.put(r.value)...)
	r.value = nil
}

// endTag ends a tag: an inline one stays in its run, any other ends the run.
func (r *reader) endTag() {
	r.endValue() // which a list may begin or end in
	if len(r.tag) == 0 {
		return
	}
	name := strings.TrimSpace(r.tagName)
	if r.at.inText() && slices.Contains(inlineTags, strings.TrimPrefix(name, "/")) {
		r.run = append(r.run, piece{tag: name, nodes: r.tag})
	} else {
		r.endRun()
		r.out = append(r.out, r.tag...)
	}
	r.tag, r.tagName = nil, ""
}

func (r *reader) endRun() {
	r.out = append(r.out, r.w.put(r.run)...)
	r.run = nil
}

// node reads what is no text.
func (r *reader) node(n parse.Node) {
	end := r.w.inside(n, r.at)
	block := r.at.inText() && r.w.hasBlock(n, 0)
	switch at := r.at; {
	case at.inText() && !block:
		r.run = append(r.run, piece{nodes: []parse.Node{n}})
	case at.readable() && !at.inText():
		r.value = append(r.value, piece{nodes: []parse.Node{n}})
	case at.inText():
		r.endRun()
		r.out = append(r.out, n)
	default:
		r.tag = append(r.tag, n)
	}
	r.at = end
}

// inside walks what a node holds.
func (w *treeText) inside(n parse.Node, at spot) spot {
	switch n := n.(type) {
	case *parse.ActionNode:
		if at.readable() && len(n.Pipe.Decl) == 0 {
			w.worked(n.Pipe)
		}
	case *parse.IfNode:
		w.list(n.ElseList, at)
		return w.list(n.List, at)
	case *parse.RangeNode:
		w.list(n.ElseList, at)
		return w.list(n.List, at)
	case *parse.WithNode:
		w.list(n.ElseList, at)
		return w.list(n.List, at)
	case *parse.TemplateNode:
		w.call(n.Name, at)
	}
	return at
}

// worked notes the words in what is worked out, and has the result translated.
func (w *treeText) worked(p *parse.PipeNode) {
	for _, c := range p.Cmds {
		first, _ := c.Args[0].(*parse.IdentifierNode)
		for _, a := range c.Args {
			switch a := a.(type) {
			case *parse.PipeNode:
				w.worked(a)
			case *parse.StringNode:
				w.word(first, a.Text)
			}
		}
	}
	if w.cat != nil {
		name := "tr"
		if isData(p) {
			name = "trword"
		}
		tr := parse.NewIdentifier(name).SetPos(p.Pos)
		p.Cmds = append(p.Cmds, &parse.CommandNode{NodeType: parse.NodeCommand, Pos: p.Pos, Args: []parse.Node{tr}})
	}
}

// word notes a text that an action gives to a function.
func (w *treeText) word(function *parse.IdentifierNode, text string) {
	switch {
	case !hasLetter(text) || function != nil && (function.Ident == "eq" || function.Ident == "ne" ||
		function.Ident == "asset"):
	case function != nil && function.Ident == "count":
		w.said("{1} " + text)
		w.said("{1} " + plurals(text))
	default:
		w.said(text)
	}
}

// dataFields mostly hold what people typed in or what was printed on a pack:
// only as a whole may they be a text of ours, such as "All stations".
var dataFields = []string{"Name", "Code", "Person", "Serial", "BatchNo", "Incident", "Value", "By", "Item", "Place",
	"Bag", "Station", "Note", "Pouch"}

// isData tells whether an action only writes such a field.
func isData(p *parse.PipeNode) bool {
	if len(p.Cmds) != 1 || len(p.Cmds[0].Args) != 1 {
		return false
	}
	var path []string
	switch a := p.Cmds[0].Args[0].(type) {
	case *parse.FieldNode:
		path = a.Ident
	case *parse.VariableNode:
		path = a.Ident
	}
	return len(path) > 0 && slices.Contains(dataFields, path[len(path)-1])
}

// hasBlock tells whether a node brings tags that end a run.
func (w *treeText) hasBlock(n parse.Node, depth int) bool {
	lists := func(ls ...*parse.ListNode) bool {
		return slices.ContainsFunc(ls, func(l *parse.ListNode) bool {
			return l != nil && slices.ContainsFunc(l.Nodes, func(n parse.Node) bool { return w.hasBlock(n, depth+1) })
		})
	}
	switch n := n.(type) {
	case *parse.TextNode:
		return slices.ContainsFunc(anyTag.FindAllString(string(n.Text), -1), func(t string) bool {
			return !slices.Contains(inlineTags, strings.ToLower(strings.TrimLeft(t, "</")))
		})
	case *parse.IfNode:
		return lists(n.List, n.ElseList)
	case *parse.RangeNode:
		return lists(n.List, n.ElseList)
	case *parse.WithNode:
		return lists(n.List, n.ElseList)
	case *parse.TemplateNode:
		return depth < 20 && w.trees[n.Name] != nil && lists(w.trees[n.Name].Root)
	case *parse.ActionNode:
		return len(n.Pipe.Decl) > 0
	}
	return true
}

var anyTag = regexp.MustCompile(`</?[A-Za-z][A-Za-z0-9]*`)

func textNode(s string) *parse.TextNode {
	return &parse.TextNode{NodeType: parse.NodeText, Text: []byte(s)}
}

func hasLetter(s string) bool { return strings.IndexFunc(s, unicode.IsLetter) >= 0 }
