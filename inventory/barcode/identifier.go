package barcode

import (
	"strings"

	"stowkeeper/inventory/message"
)

// identifier is the definition of one application identifier.
type identifier struct {
	ai, title string
	parts     []part
	// needs lists alternatives; in each, all patterns must be matched by
	// other identifiers of the item. Empty: it needs none.
	needs [][]string
	// excludes lists patterns that no other identifier of the item may match.
	excludes []string
	// path: may not stand in the query of a Digital Link.
	path bool
	// key: may be the primary key of a Digital Link. Its path may then go on
	// with the qualifiers of one of the sequences, in order, any left out.
	key        bool
	qualifiers [][]string
	// person: names a patient. Refused, as no patient data is kept.
	person bool
}

// part is a stretch of a value with characters and length of its own.
type part struct {
	set      *charset
	min, max int
	optional bool
	checks   []check
}

// predefined gives the value length of the identifiers that need no separator after them, by their first two digits.
// The list is closed: others of fixed length need one all the same (General Specifications s.7.8.5, figure 7.8.5-2).
var predefined = map[string]int{
	"00": 18, "01": 14, "02": 14, "03": 14, "04": 16,
	"11": 6, "12": 6, "13": 6, "14": 6, "15": 6, "16": 6, "17": 6, "18": 6, "19": 6,
	"20": 2, "31": 6, "32": 6, "33": 6, "34": 6, "35": 6, "36": 6, "41": 13,
}

// known finds an identifier by its digits.
var known = index(dictionary)

// identify finds the identifier at the start of s. None begins another, so the first one found is the one.
func identify(s string) (*identifier, bool) {
	for n := 2; n <= 4 && n <= len(s); n++ {
		if id, ok := known[s[:n]]; ok {
			return id, true
		}
	}
	return nil, false
}

// validate returns what is wrong with v, the earliest fault first.
func (id *identifier) validate(v string, today Date) *fault {
	if v == "" {
		return &fault{at: 0, reason: message.M("no data")}
	}
	at := 0
	for _, p := range id.parts {
		piece := v[at:min(at+p.max, len(v))]
		if piece == "" && p.optional {
			continue
		}
		if f := p.validate(piece, today); f != nil {
			f.at += at
			return f
		}
		at += len(piece)
	}
	if at < len(v) {
		return &fault{at: at, reason: message.M("too long"), tooLong: true}
	}
	return nil
}

func (p part) validate(v string, today Date) *fault {
	if i := p.set.outside(v); i >= 0 {
		return &fault{at: i, reason: p.set.only}
	}
	if len(v) < p.min {
		return &fault{at: len(v), reason: message.M("too short")}
	}
	for _, c := range p.checks {
		if f := c(v, today); f != nil {
			return f
		}
	}
	return nil
}

func (id *identifier) longest() int {
	n := 0
	for _, p := range id.parts {
		n += p.max
	}
	return n
}

// entry is a row of the dictionary: one identifier, or with an n for the last digit those from From to To.
type entry struct {
	ai       string
	from, to byte
	title    string
	parts    []part
	// needs: alternatives parted by spaces, identifiers within one by +.
	// In needs and excludes an n stands for any digit.
	needs    string
	excludes string
	path     bool
	// key lists the sequences of qualifiers, parted by |, of a primary key; a key without qualifiers has "-".
	key    string
	person bool
}

func index(rows []entry) map[string]*identifier {
	all := make(map[string]*identifier)
	for _, row := range rows {
		stem, ranged := strings.CutSuffix(row.ai, "n")
		if !ranged {
			all[row.ai] = row.identifier(row.ai)
			continue
		}
		for d := row.from; d <= row.to; d++ {
			ai := stem + string('0'+d)
			all[ai] = row.identifier(ai)
		}
	}
	return all
}

func (row entry) identifier(ai string) *identifier {
	id := &identifier{
		ai: ai, title: row.title, parts: row.parts,
		excludes: strings.Fields(row.excludes),
		path:     row.path, key: row.key != "", person: row.person,
	}
	for _, alternative := range strings.Fields(row.needs) {
		id.needs = append(id.needs, strings.Split(alternative, "+"))
	}
	for _, sequence := range strings.Split(strings.Trim(row.key, "-"), "|") {
		id.qualifiers = append(id.qualifiers, strings.Fields(sequence))
	}
	return id
}
