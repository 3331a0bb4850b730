package labels

import (
	"bytes"
	"compress/zlib"
	"io"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// page is what one content stream of a PDF draws, in mm from the top left
// corner of the paper: read back from the bytes, not from our own drawing.
type page struct {
	symbols []placed // one a symbol, in order
	strokes []rect   // rectangles that are stroked
	fills   []rect   // boxes of filled polygons
}

// placed is a symbol's first module corner, its module and its rectangles in
// units of modules.
type placed struct {
	x, y, module float64
	rects        []rect
}

var stream = regexp.MustCompile(`(?s)\nstream\n(.*?)\nendstream`)

// pages inflates the content streams of a PDF and reads their marks.
func pages(t *testing.T, pdf []byte, height float64) []page {
	t.Helper()
	var out []page
	for _, m := range stream.FindAllSubmatch(pdf, -1) {
		r, err := zlib.NewReader(bytes.NewReader(m[1]))
		if err != nil {
			continue // not deflated: no content stream of ours
		}
		data, err := io.ReadAll(r)
		require.NoError(t, err)
		if bytes.HasPrefix(data, []byte("0 J")) || bytes.HasPrefix(data, []byte("2 J")) {
			out = append(out, readPage(string(data), height))
		}
	}
	return out
}

// readPage understands the few operators that we use.
func readPage(data string, height float64) (p page) {
	const k = 72 / inch
	var numbers []float64
	var rects []rect // of the path, page units
	var points []point
	var inSymbol bool
	top := func(y float64) float64 { return height - y/k }
	for _, word := range strings.Fields(data) {
		if n, err := strconv.ParseFloat(word, 64); err == nil {
			numbers = append(numbers, n)
			continue
		}
		n := numbers
		switch word {
		case "cm":
			p.symbols = append(p.symbols, placed{x: n[len(n)-2] / k, y: top(n[len(n)-1]), module: n[len(n)-6] / k})
			inSymbol = true
		case "re":
			n = n[len(n)-4:]
			rects = append(rects, rect{n[0], n[1], n[2], n[3]})
		case "m", "l":
			n = n[len(n)-2:]
			points = append(points, point{n[0] / k, top(n[1])})
		case "S":
			for _, r := range rects {
				p.strokes = append(p.strokes, rect{r.x / k, top(r.y), r.w / k, -r.h / k})
			}
			rects, points = nil, nil
		case "f":
			if inSymbol {
				p.symbols[len(p.symbols)-1].rects = rects
			} else if len(points) > 0 {
				p.fills = append(p.fills, bounds(shape{points: points}))
			}
			rects, points, inSymbol = nil, nil, false
		}
		numbers = numbers[:0]
	}
	return p
}
