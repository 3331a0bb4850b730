package api_test

import (
	"encoding/json"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"stowkeeper/inventory"
	"stowkeeper/inventory/account"
	"stowkeeper/inventory/lists"
	"stowkeeper/inventory/store"
	"stowkeeper/inventory/store/storetest"
)

// storyRunner runs stories: texts in which several people act on one service, each
// through the API with a token of their own. A story stops at its first error
// and names the file and line. A line is one of
//
//	who METHOD path {body} -> status
//	    member.0.member = value      of the answer, in JSON; # counts a list
//	    member ~ part of a text
//	    member -> name               kept; $name stands for it from then on
//	pass 25h                         time goes by
//	state BAG = ready                the bag's state, and its findings' kinds
//	findings BAG = below_par, seal
//	held PLACE = 3 of $lot, 1 of $other
//	verify                           the books are in order
//
// $two stands for the signatures of two people, the members of a body.
//
// @BAG stands for the position of a bag, as somebody sees it who looks now.
// Lines that begin with # are remarks, and every story says in one of them how
// few touches its page should need.
type storyRunner struct {
	*world
	people map[string]string // name → token
	vars   map[string]string // name → JSON
	last   any               // the last answer
	sent   int
}

func newStoryRunner(t *testing.T, db string) *storyRunner {
	w := newWorldOn(t, db)
	s := &storyRunner{world: w, vars: map[string]string{}, people: map[string]string{}}
	for name, who := range map[string]inventory.Token{
		"crew": {Role: crew, Stations: []string{"N1"}}, "night": {Role: crew, Stations: []string{"N1"}}, "south": {Role: crew,
			Stations: []string{"S2"}},
		"keeper": {Role: quartermaster, Stations: []string{"N1"}}, "south-keeper": {Role: quartermaster,
			Stations: []string{"S2"}},
		"both": {Role: quartermaster, Stations: []string{"N1", "S2"}}, "manager": {Role: manager, Stations: []string{"N1",
			"S2"}}, "admin": {Role: administrator},
	} {
		who.Name, who.EndsAt = name, w.clock().Add(account.LongestToken)
		text, err := w.svc.Account.CreateToken(t.Context(), setup, who)
		require.NoError(t, err)
		s.people[name] = text
	}
	for secret, p := range map[string]inventory.Person{"ten lamps by day": {Name: "Ann", Role: quartermaster,
		Stations: []string{"N1"}}, "7093": {Name: "Ben", Role: crew, Stations: []string{"N1"}}} {
		_, err := w.svc.Account.CreatePerson(t.Context(), setup, p, secret, plainSecrets{})
		require.NoError(t, err)
	}
	s.vars["two"] = ` "signature":{"person":"Ann","pin":"ten lamps by day"},"witness":{"person":"Ben","pin":"7093"}`
	return s
}

// plainSecrets keeps secrets as they are, since hashing them takes time.
type plainSecrets struct{}

func (plainSecrets) Hash(secret string) (string, error) { return secret, nil }
func (plainSecrets) Match(hash, secret string) bool     { return hash == secret }

// tell runs one story.
func (s *storyRunner) tell(file string) {
	s.t.Helper()
	text, err := os.ReadFile(file)
	require.NoError(s.t, err)
	n := 0
	for line := range strings.Lines(string(text)) {
		n++
		if err := s.line(strings.TrimRight(line, "\n")); err != nil {
			s.t.Fatalf("%s:%d: %s\n%v", filepath.Base(file), n, strings.TrimSpace(line), err)
		}
	}
}

var (
	request  = regexp.MustCompile(`^([a-z-]+) (GET|POST|PATCH|PUT) (\S+)(?: (\{.*\}))? -> (\d{3})$`)
	variable = regexp.MustCompile(`\$[a-z_0-9]+`)
	position = regexp.MustCompile(`@[A-Z0-9.-]+`)
)

func (s *storyRunner) line(line string) error {
	word, rest, _ := strings.Cut(strings.TrimSpace(line), " ")
	switch {
	case word == "" || strings.HasPrefix(word, "#"):
		return nil
	case strings.HasPrefix(line, " "):
		return s.expect(strings.TrimSpace(line))
	case word == "pass":
		d, err := time.ParseDuration(rest)
		s.pass(d)
		return err
	case word == "state":
		return s.compare(rest, func(r inventory.Readiness) string { return string(r.State) })
	case word == "findings":
		return s.compare(rest, kindsOf)
	case word == "held":
		return s.held(rest)
	case word == "verify":
		return s.verify()
	}
	m := request.FindStringSubmatch(line)
	if m == nil {
		return fmt.Errorf("this is no line of a story")
	}
	return s.request(m[1], m[2], m[3], m[4], m[5])
}

// fill puts variables and positions in.
func (s *storyRunner) fill(text string) (string, error) {
	var wrong error
	text = variable.ReplaceAllStringFunc(text, func(v string) string {
		value, ok := s.vars[v[1:]]
		if !ok {
			wrong = fmt.Errorf("nothing is kept as %s", v)
		}
		return strings.Trim(value, `"`)
	})
	return position.ReplaceAllStringFunc(text, func(at string) string {
		b, err := s.svc.Lists.Bag(s.t.Context(), setup, at[1:])
		if err != nil {
			wrong = err
		}
		return strconv.FormatInt(b.Position, 10)
	}), wrong
}

func (s *storyRunner) request(who, method, path, body, status string) error {
	token, ok := s.people[who]
	if !ok {
		return fmt.Errorf("nobody is called %s", who)
	}
	path, err := s.fill(path)
	if err != nil {
		return err
	}
	if body, err = s.fill(body); err != nil {
		return err
	}
	s.sent++
	c := s.with(token, method, path)
	switch method {
	case "POST":
		c.key("k" + strconv.Itoa(s.sent)).json(body)
	case "PATCH", "PUT":
		c.set("If-Match", "*").json(body)
	}
	a := c.do()
	if strconv.Itoa(a.status) != status {
		return fmt.Errorf("answered %d: %s", a.status, a.body)
	}
	s.last = nil
	return json.Unmarshal(a.body, &s.last)
}

// expect looks at a member of the last answer, or keeps it.
func (s *storyRunner) expect(line string) error {
	path, how, rest := words(line)
	got, err := member(s.last, strings.Split(path, "."))
	if err != nil {
		return err
	}
	text, err := json.Marshal(got)
	if err != nil {
		return err
	}
	if how == "->" {
		s.vars[rest] = string(text)
		return nil
	}
	if rest, err = s.fill(rest); err != nil {
		return err
	}
	switch {
	case how == "=" && string(text) != rest:
		return fmt.Errorf("it is %s", text)
	case how == "~" && !strings.Contains(string(text), rest):
		return fmt.Errorf("it is %s", text)
	case how != "=" && how != "~":
		return fmt.Errorf("compare by = or ~, or keep by ->")
	}
	return nil
}

func words(line string) (first, second, rest string) {
	first, rest, _ = strings.Cut(line, " ")
	second, rest, _ = strings.Cut(rest, " ")
	return first, second, rest
}

// member follows a path into JSON. What is left out is null.
func member(v any, path []string) (any, error) {
	for _, name := range path {
		switch x := v.(type) {
		case map[string]any:
			v = x[name]
		case []any:
			n, err := strconv.Atoi(name)
			if name == "#" {
				v = len(x)
			} else if err != nil || n >= len(x) {
				return nil, fmt.Errorf("the list has %d entries", len(x))
			} else {
				v = x[n]
			}
		case nil:
			if name == "#" {
				return 0, nil
			}
			return nil, nil
		default:
			return nil, fmt.Errorf("there is no member %s", name)
		}
	}
	return v, nil
}

func (s *storyRunner) compare(line string, of func(inventory.Readiness) string) error {
	bag, _, want := words(line)
	r, err := s.svc.Shift.Readiness(s.t.Context(), setup, bag, lists.Outlook{Horizon: -1})
	if err != nil {
		return err
	}
	if got := of(r); got != want {
		return fmt.Errorf("it is %q: %v", got, r.Findings)
	}
	return nil
}

func kindsOf(r inventory.Readiness) string {
	kinds := []string{}
	for _, f := range r.Findings {
		kinds = append(kinds, string(f.Kind))
	}
	if len(kinds) == 0 {
		return "none"
	}
	return strings.Join(kinds, ", ")
}

// held compares what lies in a place, by batch.
func (s *storyRunner) held(line string) error {
	place, _, want := words(line)
	want, err := s.fill(want)
	if err != nil {
		return err
	}
	lots, err := s.svc.Stock.StockAt(s.t.Context(), setup, place)
	if err != nil {
		return err
	}
	parts := []string{}
	for _, l := range lots {
		for _, w := range l.Where {
			parts = append(parts, fmt.Sprintf("%d of %d", w.Qty, l.ID))
		}
	}
	if got := strings.Join(parts, ", "); got != want && (len(parts) > 0 || want != "nothing") {
		return fmt.Errorf("it is %q", got)
	}
	return nil
}

func (s *storyRunner) verify() error {
	rep, err := s.svc.Verify.Verify(s.t.Context())
	if err == nil && len(rep.Faults) > 0 {
		err = fmt.Errorf("%v", rep.Faults)
	}
	return err
}

// TestBelt tells of days on a belt.
func TestBelt(t *testing.T) {
	for _, engine := range []string{store.SQLite, store.Postgres} {
		t.Run(engine, func(t *testing.T) {
			s := newStoryRunner(t, storetest.Empty(t, engine))
			s.tell("testdata/stories/00-station.txt")
			s.tell("testdata/belt.txt")
			require.NoError(t, s.verify())
		})
	}
}

// TestStories tells every story on both engines, each on a fresh service that
// the first of them, 00, has filled.
func TestStories(t *testing.T) {
	files, err := fs.Glob(os.DirFS("testdata/stories"), "*.txt")
	require.NoError(t, err)
	require.Greater(t, len(files), 1)
	for _, file := range files[1:] {
		for _, engine := range []string{store.SQLite, store.Postgres} {
			t.Run(strings.TrimSuffix(file, ".txt")+"/"+engine, func(t *testing.T) {
				s := newStoryRunner(t, storetest.Empty(t, engine))
				s.tell("testdata/stories/" + files[0])
				s.tell("testdata/stories/" + file)
				require.NoError(t, s.verify())
			})
		}
	}
}
