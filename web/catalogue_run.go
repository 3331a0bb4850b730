package web

import (
	"html"
	"slices"
	"strconv"
	"strings"
	"text/template/parse"
)

// piece is a part of a run: text, a node, or an inline tag.
type piece struct {
	text  string
	nodes []parse.Node
	tag   string // "b" or "/b"
}

// put returns the nodes of a run in the catalogue's words. A run that says
// nothing outside its inline tags is as many texts as it has tags.
func (w *treeText) put(run []piece) []parse.Node {
	parts := topParts(run)
	if parts == nil { // a tag opens here and closes elsewhere
		parts = make([][]piece, 0, len(run))
		for _, p := range run {
			parts = append(parts, []piece{p})
		}
	}
	says := slices.ContainsFunc(parts, func(p []piece) bool {
		return len(p) == 1 &&
			hasLetter(html.UnescapeString(p[0].text))
	})
	if says && topParts(run) != nil {
		return w.message(run)
	}
	var out []parse.Node
	for _, p := range parts {
		switch {
		case len(p) > 1: // a tag and what it holds
			last := len(p) - 1
			out = append(out, p[0].nodes...)
			out = append(out, w.put(p[1:last])...)
			out = append(out, p[last].nodes...)
		case p[0].text != "":
			out = append(out, w.message(p)...)
		default:
			out = append(out, p[0].nodes...)
		}
	}
	return out
}

// topParts groups a run into single pieces and whole inline elements; nil
// where tags do not match.
func topParts(run []piece) [][]piece {
	out, open, from := [][]piece{}, []string{}, 0
	for i, p := range run {
		name, closes := strings.CutPrefix(p.tag, "/")
		switch {
		case p.tag == "":
		case !closes:
			if len(open) == 0 {
				from = i
			}
			open = append(open, name)
			continue
		case len(open) == 0 || open[len(open)-1] != name:
			return nil
		default:
			open = open[:len(open)-1]
			if len(open) == 0 {
				out = append(out, run[from:i+1])
			}
			continue
		}
		if len(open) == 0 {
			out = append(out, run[i:i+1])
		}
	}
	if len(open) > 0 {
		return nil
	}
	return out
}

const blanks = " \t\r\n"

// message returns a run that is one text.
func (w *treeText) message(run []piece) []parse.Node {
	var id strings.Builder
	at, open, values, tags := map[string][]parse.Node{}, []string{}, 0, 0
	place := func(m string, nodes []parse.Node) { at[m] = nodes; id.WriteString(m) }
	for _, p := range run {
		switch {
		case p.text != "":
			id.WriteString(html.UnescapeString(p.text))
		case p.tag == "":
			values++
			place("{"+strconv.Itoa(values)+"}", p.nodes)
		case p.tag[0] == '/':
			place("</"+open[len(open)-1]+">", p.nodes)
			open = open[:len(open)-1]
		default:
			tags++
			open = append(open, strconv.Itoa(tags))
			place("<"+strconv.Itoa(tags)+">", p.nodes)
		}
	}
	raw := id.String()
	core := strings.Trim(raw, blanks)
	key := strings.Join(strings.FieldsFunc(core, func(r rune) bool { return strings.ContainsRune(blanks, r) }), " ")
	if hasLetter(mark.ReplaceAllString(key, "")) {
		w.said(key)
		if said, ok := w.cat.text(key); ok {
			before, after, _ := strings.Cut(raw, core)
			return compose(before+said+after, at)
		}
	}
	return compose(raw, at)
}

// compose writes a text as nodes, each mark as the nodes that it stands for.
func compose(text string, at map[string][]parse.Node) []parse.Node {
	var out []parse.Node
	write := func(s string) {
		if s != "" {
			out = append(out, textNode(html.EscapeString(s)))
		}
	}
	from := 0
	for _, m := range mark.FindAllStringIndex(text, -1) {
		write(text[from:m[0]])
		out = append(out, at[text[m[0]:m[1]]]...)
		from = m[1]
	}
	write(text[from:])
	return out
}
