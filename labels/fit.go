package labels

import (
	"slices"
	"strings"
	"unicode/utf8"

	"stowkeeper/inventory/message"
)

// pt is one typographic point in mm.
const pt = inch / 72

// smallest is the least type size for what must be read by eye: 6 pt, common practice for labels on packs.
const smallest = 6 * pt

const (
	ellipsis = "…"
	glue     = "\u00a0" // a space that lines are not broken at
)

// block is a piece of text that wants a size and takes less when it must.
type block struct {
	field    string // for warnings
	text     string
	face     face
	size     float64 // wanted, mm
	least    float64 // the smallest that is still read, mm
	firm     float64 // not made smaller than this for want of height, only of width, mm
	lines    int     // the most lines it may take
	gap      float64 // blank above it, mm, scaled with the size
	band     bool    // white on a black band across the column
	whole    bool    // never shortened
	optional bool    // left out, last one first, when there is no room
}

// set is a block that was given its size and lines.
type set struct {
	block
	lines     []string
	size      float64
	shortened bool
}

// height of the block without its gap, mm.
func (s set) height() float64 {
	h := float64(len(s.lines)) * s.size * leading
	if s.band {
		h += s.size * 2 * bandPad
	}
	return h
}

// bandPad is the black above and below the text of a band, in ems.
const bandPad = 0.12

// setIn gives b at most scale times its wanted size, then less until its lines fit the width, then shortens it.
func (b block) setIn(width, scale float64) set {
	if b.band {
		width -= b.size * 0.6
	}
	parts := words(b.text, b.face)
	top := max(b.least, b.firm, b.size*scale)
	size := top
	for ; ; size *= 0.94 {
		size = max(size, b.least)
		if lines, ok := wrap(parts, width/size, b.lines); ok {
			return set{block: b, lines: lines, size: size}
		}
		if size == b.least {
			break
		}
	}
	if b.whole { // the caller leaves it out or refuses the label
		return set{block: b, lines: []string{b.text}, size: size, shortened: true}
	}
	return set{block: b, lines: shorten(parts, b.face, width/size, b.lines), size: size, shortened: true}
}

// word is a piece of text that is not broken, with its width in ems.
type word struct {
	text  string
	width float64
	space float64 // width of the blank before it in the same line
}

func words(s string, f face) []word {
	fields := split(s)
	out := make([]word, len(fields))
	blank := f.width(" ")
	for i, w := range fields {
		out[i] = word{w, f.width(w), blank}
	}
	return out
}

// wrap fills lines of the given width (ems) one after the other. It reports
// false when the words need more than most lines or one is wider than a line.
func wrap(parts []word, width float64, most int) ([]string, bool) {
	var lines []string
	line, used := "", 0.0
	for _, w := range parts {
		switch {
		case w.width > width:
			return append(lines, strings.TrimSpace(line+" "+w.text)), false
		case line == "":
			line, used = w.text, w.width
		case used+w.space+w.width <= width:
			line, used = line+" "+w.text, used+w.space+w.width
		default:
			lines = append(lines, line)
			line, used = w.text, w.width
		}
	}
	if line != "" {
		lines = append(lines, line)
	}
	return lines, len(lines) <= most
}

// shorten is the rule for a name that is too long: names of one fleet differ at their ends ("… North 2", "… 15 cm"),
// so the end is kept, as many whole words as take up to a third of the room, and words are taken out before it, an
// ellipsis in their place, until the rest fits. When not even the first word, the ellipsis and the end fit, the text
// is cut at its end instead, behind a whole character and before an ellipsis.
func shorten(parts []word, f face, width float64, most int) []string {
	end := ending(parts, width*float64(most)/3)
	for keep := end - 1; keep > 0 && end < len(parts); keep-- {
		kept := slices.Concat(parts[:keep], parts[end:])
		kept[keep-1].text = strings.TrimRight(kept[keep-1].text, ",;:") + ellipsis
		kept[keep-1].width = f.width(kept[keep-1].text)
		if lines, ok := wrap(kept, width, most); ok {
			return lines
		}
	}
	return cut(parts, f, width, most)
}

// ending is the index of the first word of the end that is kept; there is none when it is the number of words.
func ending(parts []word, room float64) int {
	i := len(parts)
	for used := 0.0; i > 1; i-- {
		if used += parts[i-1].width + parts[i-1].space; used > room {
			break
		}
	}
	return i
}

// cut keeps as many characters of the text as fit, with an ellipsis at the end.
func cut(parts []word, f face, width float64, most int) []string {
	texts := make([]string, len(parts))
	for i, w := range parts {
		texts[i] = w.text
	}
	s := strings.Join(texts, " ")
	for s != "" {
		_, size := utf8.DecodeLastRuneInString(s)
		s = strings.TrimRight(s[:len(s)-size], " ,;:"+glue)
		if lines, ok := wrap(words(s+ellipsis, f), width, most); ok {
			return lines
		}
	}
	return []string{ellipsis}
}

// column fits blocks into a rectangle and returns them from the top down, or
// the reason why they cannot all be read there.
func column(blocks []block, box Size) ([]set, error) {
	for {
		sets, height := fitHeight(blocks, box)
		if i := broken(sets); i >= 0 {
			if s := sets[i]; !s.optional {
				return nil, &RefusedError{
					Reason:  message.M("{1} is too long for {2} mm at {3} pt", s.field, whole(box.W), whole(s.size/pt)),
					Nearest: message.M("shorten to fit"),
				}
			}
			blocks = without(blocks, i)
			continue
		}
		if height <= box.H+1e-9 {
			return sets, nil
		}
		i := lastOptional(blocks)
		if i < 0 {
			return nil, &RefusedError{
				Reason:  message.M("text needs {1} mm of height, has {2} mm", tenth(height), tenth(box.H)),
				Nearest: message.M("shorten to fit"),
			}
		}
		blocks = without(blocks, i)
	}
}

// fitHeight scales all blocks down together until they fit the height, or to their least sizes.
func fitHeight(blocks []block, box Size) (sets []set, height float64) {
	for scale := 1.0; ; scale *= 0.9 {
		sets, height = sets[:0], 0
		atLeast := true
		for i, b := range blocks {
			s := b.setIn(box.W, scale)
			sets = append(sets, s)
			height += s.height()
			sets[i].gap *= scale
			if i == 0 {
				sets[i].gap = 0
			}
			height += sets[i].gap
			atLeast = atLeast && s.size <= max(b.least, b.firm)
		}
		if height <= box.H || atLeast || scale < 0.1 {
			return sets, height
		}
	}
}

// broken is the first block that may not be shortened and was, or -1.
func broken(sets []set) int {
	return slices.IndexFunc(sets, func(s set) bool { return s.whole && s.shortened })
}

// lastOptional is the block to leave out next, or -1.
func lastOptional(blocks []block) int {
	for i := len(blocks) - 1; i >= 0; i-- {
		if blocks[i].optional {
			return i
		}
	}
	return -1
}

func without(blocks []block, i int) []block {
	return slices.Concat(blocks[:i], blocks[i+1:])
}
