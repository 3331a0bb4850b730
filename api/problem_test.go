package api_test

import (
	"context"
	"errors"
	"fmt"
	"net/http"
	"net/http/httptest"
	"strings"
	"sync/atomic"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stowkeeper/api"
	"stowkeeper/inventory"
	"stowkeeper/inventory/message"
)

// failing is the real store, whose second reading of a request goes wrong: the
// first one finds out who asks.
type failing struct {
	inventory.Store
	err   error
	after atomic.Int32
}

func (f *failing) Read(ctx context.Context, fn func(context.Context, inventory.Reader) error) error {
	if f.after.Add(-1) == 0 {
		if f.err == nil {
			panic("secret of a panic")
		}
		return f.err
	}
	return f.Store.Read(ctx, fn)
}

// TestEveryKindOfError walks the closed list of kinds through a request.
func TestEveryKindOfError(t *testing.T) {
	statuses := map[inventory.ErrorKind]int{
		inventory.Invalid: 422, inventory.NotFound: 404, inventory.Conflict: 409, inventory.Stale: 409,
		inventory.Forbidden: 403,
		inventory.SignedOut: 401, inventory.TooMany: 429, inventory.Unavailable: 503,
		inventory.InDoubt: 503, inventory.StorageFull: 507, inventory.Internal: 500,
	}
	w := newWorld(t)
	f := &failing{Store: w.store}
	w.as(manager, "GET", "/stations").want(200) // notes the day of the token's use
	w.serve(f)
	for _, kind := range inventory.ErrorKinds {
		f.err = &inventory.Error{Kind: kind, Message: message.M("for people"),
			Fields: []inventory.Field{{Path: "lines[0].qty",
				Fix: message.M("enter 1 or more")}}, Cause: errors.New("secret cause")}
		f.after.Store(2)
		a := w.as(manager, "GET", "/stations").want(statuses[kind])
		p := a.problem()
		assert.Equal(t, kind, p.Kind)
		assert.Equal(t, http.StatusText(a.status), p.Title)
		assert.NotContains(t, string(a.body), "secret")
		if kind == inventory.Internal {
			assert.Empty(t, p.Detail)
			assert.Empty(t, p.Errors)
			continue
		}
		want := "for people"
		if kind == inventory.InDoubt {
			want += ": repeat with the same Idempotency-Key"
			assert.Equal(t, "5", a.header.Get("Retry-After"))
		}
		assert.Equal(t, want, p.Detail)
		assert.Equal(t, []api.FieldProblem{{Location: "body.lines[0].qty", Message: "enter 1 or more"}}, p.Errors)
	}
	assert.Equal(t, 1, strings.Count(w.log.String(), "kind=internal"))
	assert.Contains(t, w.log.String(), "secret cause", "what is internal is in the log")
}

func TestErrorsThatAreNotOurs(t *testing.T) {
	w := newWorld(t)
	f := &failing{Store: w.store}
	w.as(manager, "GET", "/stations").want(200)
	w.serve(f)
	for name, err := range map[string]error{"plain": errors.New("secret text"), "panic": nil,
		"new kind": inventory.Refuse("new_kind", "secret message")} {
		f.err = err
		f.after.Store(2)
		a := w.as(manager, "GET", "/stations").want(500)
		p := a.problem()
		assert.Equal(t, inventory.Internal, p.Kind, name)
		assert.Empty(t, p.Detail, name)
		assert.NotContains(t, string(a.body), "secret", name)
	}
	assert.Contains(t, w.log.String(), "secret text")
	assert.Contains(t, w.log.String(), "secret of a panic")
}

func TestNothingThere(t *testing.T) {
	w := newWorld(t)
	for _, path := range []string{"/", "/nothing", "/bags/KD7-442/nothing", "/items/%ff", "/items/%00"} {
		p := w.as(crew, "GET", path).want(404).problem()
		assert.Equal(t, inventory.NotFound, p.Kind, path)
	}
	for _, path := range []string{"/items/NONE", "/products/99", "/kit-lists/NONE", "/bags/NONE", "/bags/NONE/readiness",
		"/bags/NONE/label.svg", "/labels.pdf?bag=NONE",
		"/lots/99", "/checks/99", "/uses/99", "/bags/NONE/seals"} {
		p := w.as(administrator, "GET", path).want(404).problem()
		assert.Equal(t, inventory.NotFound, p.Kind, path)
		assert.NotEmpty(t, p.Detail, path)
	}
	for _, c := range []*call{w.as(crew, "DELETE", "/items"), w.as(crew, "PUT", "/bags/KD7-442"), w.as(crew, "HEAD",
		"/items"), w.with("", "TRACE", "/stations")} {
		a := c.want(405)
		if c.method != "HEAD" {
			a.problem()
		}
		assert.NotEmpty(t, a.header.Get("Allow"))
	}
}

// TestFieldErrors expects one entry for each wrong field, with its path.
func TestFieldErrors(t *testing.T) {
	s := newStocked(t)
	locations := func(a answer) (out []string) {
		for _, e := range a.problem().Errors {
			assert.NotEmpty(t, e.Message)
			out = append(out, e.Location)
		}
		return out
	}
	for _, tt := range []struct {
		name, method, path, body string
		want                     []string
	}{
		{"by the schema", "POST", "/bags/KD7-442/uses", `{"incident":"I","seen_position":-1,"lines":[{"lot_id":1,"qty":0}]}`,
			[]string{"body.seen_position", "body.lines[0].qty"}},
		{"by the rules", "POST", "/items", `{"code":"-X","name":" ","category":"toy","unit":"each","tracked_by":"lot"}`,
			[]string{"body.code", "body.name", "body.category"}},
		{"deep in the rules", "POST", "/movements", fmt.Sprintf(`{"movements":[{"lot_id":%d,"qty":1,"from":"N1-STORE",`+
			`"to":"KD7-442","reason":"stow"},{"lot_id":77,"qty":1,"from":"N1-STORE","to":"KD7-442","reason":"stow"}]}`, s.gauze),
			[]string{"body.movements[1].lot_id"}},
		{"member missing", "POST", "/stations", `{"code":"X1","name":"X"}`, []string{"body.timezone"}},
		{"deep member missing", "POST", "/bags/KD7-442/uses", `{"incident":"I","seen_position":1,"lines":[{"qty":1}]}`,
			[]string{"body.lines[0].lot_id"}},
		{"member unknown", "POST", "/categories", `{"name":"lamp","colour":"red"}`, []string{"body.colour"}},
		{"of the query", "GET", "/bags?as_of=2027-02-30&limit=0&horizon_days=-1", "", []string{"query.as_of",
			"query.horizon_days", "query.limit"}},
		{"year out of range", "GET", "/bags?as_of=0001-01-01", "", []string{"query.as_of"}},
		{"parameter unknown", "GET", "/bags?as_off=2027-01-01", "", []string{"query.as_off"}},
		{"of a cursor", "GET", "/bags?cursor=!", "", []string{"query.cursor"}},
		{"a cursor of another list", "GET", "/lots?cursor=TjEtU1RPUkU", "", []string{"query.cursor"}},
		{"of the path", "GET", "/lots/0", "", []string{"path.id"}},
		{"no number in the path", "GET", "/lots/first", "", []string{"path.id"}},
		{"of a label", "GET", "/labels.pdf?bag=KD7-442&sheet=a9", "", []string{"query.sheet"}},
		{"of a label's place", "GET", "/labels.pdf?bag=KD7-442&start=22", "", []string{"query.start"}},
	} {
		c := s.as(administrator, tt.method, tt.path).key("k-" + strings.ReplaceAll(tt.name, " ", "-"))
		if tt.body != "" {
			c.json(tt.body)
		}
		assert.ElementsMatch(t, tt.want, locations(c.want(422)), tt.name)
	}
}

func TestConflicts(t *testing.T) {
	s := newStocked(t)
	for name, c := range map[string]*call{
		"code taken": s.as(quartermaster, "POST", "/items").json(tourniquetItem),
		"station taken": s.as(administrator, "POST", "/stations").
			json(`{"code":"N1","name":"Again","timezone":"Europe/London"}`),
		"not enough stock": s.as(quartermaster, "POST", "/movements").
			json(fmt.Sprintf(`{"movements":[{"lot_id":%d,"qty":4,"from":"N1-STORE","to":"KD7-442","reason":"stow"}]}`,
				s.tourniquets)),
		"rule broken": s.as(quartermaster, "POST", "/movements").
			json(fmt.Sprintf(`{"movements":[{"lot_id":%d,"qty":1,"from":"N1-STORE","to":"N1-TRAINING","reason":"transfer"}]}`,
				s.tourniquets)),
		"another date": s.as(quartermaster, "POST", "/receipts").
			json(`{"place":"N1-STORE","item":"TQ-ADULT","batch_no":"T-01","end_printed":"2031-05","qty":1}`),
	} {
		p := c.want(409).problem()
		assert.Equal(t, inventory.Conflict, p.Kind, name)
		assert.NotEmpty(t, p.Detail, name)
	}
	stale := s.as(quartermaster, "POST", "/bags/KD7-442/restocks").
		json(fmt.Sprintf(`{"seen_position":%d,"seal_set":"X-1"}`, 9999)).want(409).problem()
	require.Equal(t, inventory.Stale, stale.Kind)
}

// broken is a body whose sender goes away.
type broken struct{}

func (broken) Read([]byte) (int, error) { return 0, errors.New("secret of a connection") }

func TestBrokenBody(t *testing.T) {
	w := newWorld(t)
	r := httptest.NewRequest(http.MethodPost, api.Base+"/items", broken{})
	r.Header.Set("Authorization", "Bearer "+w.tokens[quartermaster])
	rec := httptest.NewRecorder()
	w.engine.ServeHTTP(rec, r)
	p := answer{t, rec.Code, rec.Header(), rec.Body.Bytes()}.problem()
	assert.Equal(t, http.StatusBadRequest, p.Status)
	assert.NotContains(t, rec.Body.String(), "secret")
}

// TestRefusalsAreLogged: what somebody may not do, and a token that is worth
// nothing, stand in the log with who and from where, and without what they
// sent.
func TestRefusalsAreLogged(t *testing.T) {
	w := newWorld(t)
	w.as(manager, "GET", "/people").want(403)
	w.with("sk_canary", "GET", "/stations").want(401)
	log := w.log.String()
	for _, part := range []string{"msg=refused", "cause=forbidden", "operation=listPeople", "address=", "cause=signed_out",
		"operation=listStations"} {
		assert.Contains(t, log, part)
	}
	assert.NotContains(t, log, "canary")
	assert.Contains(t, log, "manager", "who it was")
}
