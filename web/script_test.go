package web

import (
	"fmt"
	"net/url"
	"os"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stowkeeper/inventory"
)

// TestScripts runs the stories in testdata: each is a person without a script
// in the browser who opens pages and sends the forms on them.
//
//	as Kim Crew            signs in; "stranger" is nobody
//	get /b/CEN-01          opens a page
//	submit /use            sends the form of the page whose action ends so;
//	  incident = INC-1     … with these values changed
//	keep /full-check       leaves a form of the page open for later;
//	late                   … and sends it, as it was, with these values changed
//	post /path             sends values to a path without a form
//	follow                 goes where the last answer leads
//	status 200             what the answer must be
//	to /b/CEN-01           … where it must lead, as a beginning
//	see OK to go out         … what a person must read on it
//	miss <script>          … what must not be in its source
//	holds incident = INC-1 … what a field must hold
//	clock +26h             lets time pass
//	$lot(TQ/A1)            is the id of a lot of the world
func TestScripts(t *testing.T) {
	files, err := filepath.Glob("testdata/*.txt")
	require.NoError(t, err)
	require.NotEmpty(t, files)
	for _, f := range files {
		t.Run(strings.TrimSuffix(filepath.Base(f), ".txt"), func(t *testing.T) {
			t.Parallel()
			text, err := os.ReadFile(f)
			require.NoError(t, err)
			s := &story{t: t, w: newWorld(t)}
			s.c = s.w.stranger()
			s.run(string(text))
		})
	}
}

// story is a script being run.
type story struct {
	t    *testing.T
	w    *world
	c    *client
	line int

	keptTo string // where the form that was kept leads
	kept   url.Values
	by     *client // whose form it is

	counting bool // touches are counted, and stories have words of their own
	touched  int
}

func (s *story) run(text string) {
	lines := strings.Split(text, "\n")
	for i := 0; i < len(lines); i++ {
		s.line = i + 1
		line := strings.TrimSpace(lines[i])
		if line == "" || strings.HasPrefix(line, "#") {
			continue
		}
		values := url.Values{}
		for i+1 < len(lines) && strings.HasPrefix(lines[i+1], "  ") {
			i++
			name, value, ok := strings.Cut(s.expand(strings.TrimSpace(lines[i])), " = ")
			if !ok {
				name, ok = strings.CutSuffix(name, " =")
			}
			require.True(s.t, ok, "line %d: want name = value", i+1)
			values.Add(name, value)
		}
		verb, rest, _ := strings.Cut(line, " ")
		s.step(verb, s.expand(strings.TrimSpace(rest)), values)
	}
}

var lotCall = regexp.MustCompile(`\$lot\(([^)]*)\)`)

// expand puts in the ids of lots.
func (s *story) expand(text string) string {
	return lotCall.ReplaceAllStringFunc(text, func(m string) string {
		id, ok := s.w.lots[lotCall.FindStringSubmatch(m)[1]]
		require.True(s.t, ok, "line %d: no lot %s", s.line, m)
		return strconv.FormatInt(id, 10)
	})
}

func (s *story) step(verb, arg string, values url.Values) {
	s.t.Helper()
	switch verb {
	case "as":
		s.c = s.w.as(arg)
	case "stranger":
		s.c = s.w.stranger()
	case "clock":
		d, err := time.ParseDuration(strings.TrimPrefix(arg, "+"))
		require.NoError(s.t, err, "line %d", s.line)
		s.w.later(d)
	case "get":
		s.c.get(arg)
	case "submit":
		if s.counting {
			s.touch(arg, values)
		}
		s.c.submit(arg, values)
	case "post":
		s.c.post(arg, values)
	case "keep":
		s.keptTo, s.kept = s.c.form(arg)
		s.by = s.c
	case "late":
		for name, v := range values {
			s.kept[name] = v
		}
		s.c = s.by
		s.c.post(s.keptTo, s.kept)
	case "follow":
		s.c.follow()
	default:
		if !s.counting || !s.tell(verb, arg) {
			s.check(verb, arg)
		}
	}
}

func (s *story) check(verb, arg string) {
	s.t.Helper()
	switch verb {
	case "status":
		assert.Equal(s.t, arg, strconv.Itoa(s.c.res.Code), "line %d: %s", s.line, s.c.text())
	case "to":
		assert.True(s.t, strings.HasPrefix(s.c.location(), arg), "line %d: leads to %q, want %q: %s", s.line, s.c.location(),
			arg, s.c.text())
	case "see":
		assert.Contains(s.t, s.c.text(), asRead(arg), "line %d", s.line)
	case "miss":
		assert.NotContains(s.t, s.c.res.Body.String(), arg, "line %d", s.line)
	case "holds":
		name, want, _ := strings.Cut(strings.TrimSuffix(arg, " ="), " = ")
		var all []string
		forms := 0
		for _, action := range s.actions() {
			_, values := s.c.form(action)
			if values.Has(name) {
				forms++
				all = append(all, values.Get(name))
			}
		}
		require.Positive(s.t, forms, "line %d: no field %s: %s", s.line, name, s.c.text())
		assert.Contains(s.t, all, want, "line %d: field %s", s.line, name)
	default:
		s.t.Fatalf("line %d: no such word %q", s.line, verb)
	}
}

var actionAttr = regexp.MustCompile(`<form[^>]* action="([^"]+)"`)

// actions lists where the forms of the page lead.
func (s *story) actions() []string {
	var out []string
	for _, m := range actionAttr.FindAllStringSubmatch(s.c.res.Body.String(), -1) {
		out = append(out, m[1])
	}
	return out
}

var dayInScript = regexp.MustCompile(`\b\d{4}-\d\d-\d\d\b`)

// asRead writes the days of a line as pages write them.
func asRead(line string) string {
	return dayInScript.ReplaceAllStringFunc(line, func(iso string) string { return dayText(inventory.MustDay(iso)) })
}

func dayText(d inventory.Day) string {
	y, m, day := d.Date()
	return fmt.Sprintf("%d %.3s %d", day, m, y)
}
