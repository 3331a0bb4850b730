package barcode

import (
	"bufio"
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// The differential test asks bwip-js 4.11.4, an independent checker of GS1
// data, whether it accepts or refuses the same generated texts. It needs Node
// and the environment variable STOWKEEPER_NODE_MODULES, the node_modules folder
// that bwip-js is installed in.

// question is a text with what the two checkers said.
type question struct {
	Kind   string `json:"kind"` // gs1, in brackets, or link
	Text   string `json:"text"`
	theirs answer
	facts  Facts
	err    error
}

// answer is what bwip-js raised, without and with mandatory associations;
// empty when it accepted.
type answer struct{ Form, Needs string }

// settlement is a disagreement that stays.
type settlement struct {
	rule    string
	kind    string // of the example
	example string
	applies func(question) bool
}

// settles tells whether the disagreement over q is this one. Rules of element
// strings hold in links as well.
func (s settlement) settles(q question) bool {
	return (s.kind == "gs1" || s.kind == q.Kind) && s.applies(q)
}

// settled are the lasting disagreements, each with the rule that settles it
// for us, and a text of its own that proves it to be one still.
var settled = []settlement{
	{
		rule: "(7250) to (7259) and (8018) name patients; no patient data is read, as with HIBC's provider labels",
		kind: "gs1", example: "(8018)952123456789012345",
		applies: func(q question) bool { return q.ours("identifies a patient") },
	},
	{
		rule: "(8110) and (8112) are coupons, on no stock: their inner structure is not read, and gives no fact",
		kind: "gs1", example: "(8112)0",
		applies: func(q question) bool { return q.err == nil && q.raised("AI 8110:", "AI 8112:") },
	},
	{
		rule: "(7041) is a freight unit's type, on no pack: its list (UN/ECE recommendation 21) is not carried",
		kind: "gs1", example: "(7041)0000",
		applies: func(q question) bool { return q.err == nil && q.raised("GS1unknownPackageType") },
	},
	{
		rule: "currency 924 is in ISO 4217 since 2024; GS1's syntax dictionary has it, the checker's list not yet",
		kind: "gs1", example: "(3910)9241",
		applies: func(q question) bool { return q.err == nil && q.raised("GS1UnknownCurrency") },
	},
	{
		rule: "(03) is company enough for (20), (240), (7003), (8008) … in GS1's syntax dictionary of 2026; the " +
			"checker's table is older",
		kind: "gs1", example: "(03)09521234543213(240)1",
		applies: func(q question) bool {
			return q.err == nil && q.theirs.Form == "" && strings.Contains(q.theirs.Needs, "GS1missingAIs") &&
				q.facts.Elements["03"] != ""
		},
	},
	{
		rule: "a GTIN in a Digital Link has 14 digits (GS1 Digital Link: URI syntax, release 1.1 on)",
		kind: "link", example: "https://example.com/01/9521234543213",
		applies: func(q question) bool { return q.oursIn("01", "too short") },
	},
	{
		rule: "a percent sign in a web address has two hexadecimal digits after it (RFC 3986 s.2.1)",
		kind: "link", example: "https://example.com/01/09521234543213/10/A%2",
		applies: func(q question) bool { return q.ours("character not allowed") && halfEscaped.MatchString(q.Text) },
	},
	{
		rule: "an http address has a host (RFC 9110 s.4.2.1)",
		kind: "link", example: "https:///01/09521234543213",
		applies: func(q question) bool { return q.ours("no host") },
	},
	{
		rule: "the path ends at the first question mark (RFC 3986 s.3.3)",
		kind: "link", example: "https://example.com?/01/09521234543213",
		applies: func(q question) bool { return q.ours("no GS1 key") && strings.Contains(q.Text, "?") },
	},
	{
		rule: "one identifier may stand only once in a Digital Link, the same value or not (GS1's syntax engine 1.4.1)",
		kind: "link", example: "https://example.com/01/09521234543213?17=270630&17=270630",
		applies: func(q question) bool { return q.ours("there twice") },
	},
}

// halfEscaped is a percent sign without two hexadecimal digits after it.
var halfEscaped = regexp.MustCompile(`%([^0-9A-Fa-f]|.[^0-9A-Fa-f]|.?$)`)

// raised tells whether the other checker refused with one of these words.
func (q question) raised(words ...string) bool {
	return slices.ContainsFunc(words, func(w string) bool { return strings.Contains(q.theirs.Form, w) })
}

// ours tells whether we refused for this reason.
func (q question) ours(reason string) bool {
	var e *Error
	return errors.As(q.err, &e) && strings.Contains(e.Reason.String(), reason)
}

// oursIn is ours for one identifier.
func (q question) oursIn(ai, reason string) bool {
	var e *Error
	return q.ours(reason) && errors.As(q.err, &e) && e.AI == ai
}

// agree compares accept and refuse twice: by form, leaving out what other
// identifiers are needed, and with that.
func (q question) agree() bool {
	refused := func(kinds ...WarningKind) bool {
		return q.err != nil || slices.ContainsFunc(q.facts.Warnings, func(w Warning) bool {
			return slices.Contains(kinds, w.Kind)
		})
	}
	return refused(Excludes) == (q.theirs.Form != "") &&
		refused(Excludes, Needs) == (q.theirs.Needs != "")
}

// TestDifferential: on generated texts, half of them spoiled, both checkers
// accept and refuse the same but for what is settled.
func TestDifferential(t *testing.T) {
	all := generated(picker(rand.New(rand.NewPCG(952, 2026)).IntN))
	for _, s := range settled {
		all = append(all, question{Kind: s.kind, Text: s.example})
	}
	ask(t, all)
	used := make([]bool, len(settled))
	accepted := 0
	for _, q := range all {
		if q.theirs.Form == "" {
			accepted++
		}
		if q.agree() {
			continue
		}
		i := slices.IndexFunc(settled, func(s settlement) bool { return s.settles(q) })
		if i < 0 {
			t.Errorf("%s %q\nours: %v %v\ntheirs: %+v", q.Kind, q.Text, q.err, q.facts.Warnings, q.theirs)
			continue
		}
		used[i] = true
	}
	for i, s := range settled {
		assert.True(t, used[i], "no disagreement any more, take it off the list: %s", s.rule)
	}
	t.Logf("%d texts, %d of them accepted", len(all), accepted)
	assert.Greater(t, accepted, len(all)/4, "too few good texts to tell anything")
	assert.Greater(t, len(all)-accepted, len(all)/4, "too few bad texts to tell anything")
}

// TestDifferentialIdentifiers: of all numbers of two to four digits, both know
// the same as application identifiers.
func TestDifferentialIdentifiers(t *testing.T) {
	var all []question
	for size := 2; size <= 4; size++ {
		for n := range int(math.Pow10(size)) {
			all = append(all, question{Kind: "gs1", Text: fmt.Sprintf("(%0*d)1", size, n)})
		}
	}
	ask(t, all)
	for _, q := range all {
		theirs := !strings.Contains(q.theirs.Form, "GS1unknownAI")
		assert.Equal(t, theirs, !q.ours("no such application identifier"), "%s %v", q.Text, q.theirs)
	}
}

// TestDifferentialVectors: the published vectors in bracketed and link form.
func TestDifferentialVectors(t *testing.T) {
	raw, err := os.ReadFile(filepath.Join("..", "..", "testdata", "barcodes", "gs1-vectors.json"))
	require.NoError(t, err)
	var vectors []struct{ ID, Form, Input string }
	require.NoError(t, json.Unmarshal(raw, &vectors))
	var all []question
	for _, v := range vectors {
		if kind := map[string]string{"hri": "gs1", "digital-link": "link"}[v.Form]; kind != "" {
			all = append(all, question{Kind: kind, Text: v.Input})
		}
	}
	all = slices.DeleteFunc(all, question.inexpressible)
	ask(t, all)
	for _, q := range all {
		settled := slices.ContainsFunc(settled, func(s settlement) bool { return s.settles(q) })
		assert.True(t, settled || q.agree(), "%s ours %v, theirs %v", q.Text, q.err, q.theirs)
	}
}

// generated draws element strings and links, each once valid in form and once
// spoiled.
func generated(pick picker) []question {
	var all []question
	for range 4000 {
		pairs := pick.validPairs()
		all = append(all, question{Kind: "gs1", Text: printed(pairs)}, question{Kind: "gs1",
			Text: printed(pick.spoiled(pairs))})
	}
	for range 1500 {
		pairs := append([]pair{{"01", pick.validValue(known["01"])}}, pick.validPairs()...)
		link := linked(pairs)
		all = append(all, question{Kind: "link", Text: link}, question{Kind: "link", Text: pick.changed(link,
			"/?&=%0123456789AZ-+.")})
	}
	return slices.DeleteFunc(all, question.inexpressible)
}

// inexpressible: bwip-js has no way to write a bracket inside a value.
func (q question) inexpressible() bool { return q.Kind == "gs1" && strings.Contains(q.Text, `\(`) }

// spoiled changes something about one of the pairs, or adds one more.
func (pick picker) spoiled(all []pair) []pair {
	all = slices.Clone(all)
	p := &all[pick(len(all))]
	switch pick(5) {
	case 0:
		p.value = pick.changed(p.value, set82+" #$")
	case 1:
		p.value = pick.changed(p.value, digits)
	case 2:
		p.ai = pick.of(allAIs...)
	case 3:
		all = append(all, pair{p.ai, pick.changed(p.value, digits)})
	case 4:
		all = append(all, *p)
	}
	return all
}

// changed replaces, adds or takes away one byte.
func (pick picker) changed(v, set string) string {
	i := pick(len(v))
	switch pick(3) {
	case 0:
		return v[:i] + pick.chars(set, 1) + v[i+1:]
	case 1:
		return v[:i] + pick.chars(set, 1) + v[i:]
	}
	return v[:i] + v[i+1:]
}

// ask fills in both answers to every question.
func ask(t *testing.T, all []question) {
	t.Helper()
	var in, out bytes.Buffer
	for _, q := range all {
		line, err := json.Marshal(q)
		require.NoError(t, err)
		in.Write(append(line, '\n'))
	}
	ctx, cancel := context.WithTimeout(t.Context(), 3*time.Minute)
	defer cancel()
	cmd := exec.CommandContext(ctx, "node", filepath.Join("testdata", "checker.js"))
	cmd.Env = append(os.Environ(), "NODE_PATH="+checkerModules(t))
	cmd.Stdin, cmd.Stdout, cmd.Stderr = &in, &out, os.Stderr
	require.NoError(t, cmd.Run())
	lines := bufio.NewScanner(&out)
	for i := range all {
		require.True(t, lines.Scan(), "answer %d is missing", i)
		require.NoError(t, json.Unmarshal(lines.Bytes(), &all[i].theirs))
		all[i].facts, all[i].err = Parse(all[i].Text, today)
	}
}

// checkerModules is the folder of STOWKEEPER_NODE_MODULES. Without it or without
// Node the test is skipped, or fails where nothing may be skipped.
func checkerModules(t *testing.T) string {
	t.Helper()
	folder := os.Getenv("STOWKEEPER_NODE_MODULES")
	reason := ""
	if _, err := os.Stat(filepath.Join(folder, "bwip-js", "package.json")); folder == "" || err != nil {
		reason = "STOWKEEPER_NODE_MODULES names no node_modules folder with bwip-js in it"
	} else if _, err := exec.LookPath("node"); err != nil {
		reason = "there is no node to run bwip-js with"
	}
	if reason != "" && os.Getenv("STOWKEEPER_NO_SKIP") == "1" {
		t.Fatal(reason)
	}
	if reason != "" {
		t.Skip(reason)
	}
	folder, err := filepath.Abs(folder)
	require.NoError(t, err)
	return folder
}
