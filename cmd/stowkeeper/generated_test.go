package main

import (
	"encoding/json"
	"fmt"
	"maps"
	"math/rand/v2"
	"net/http"
	"net/http/httptest"
	"net/url"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stowkeeper/api"
	"stowkeeper/inventory"
	"stowkeeper/inventory/inventorytest"
)

// operation is what the OpenAPI document says of a route.
type operation struct {
	path, method string
	Parameters   []struct {
		Name, In string
		Schema   map[string]any
	}
	RequestBody struct {
		Content map[string]struct{ Schema map[string]any }
	}
}

// generator makes requests from the OpenAPI document, from bodies that are right, and from what it was answered
// before: so they are refused at the door by far less than half, and reach registers and decisions.
type generator struct {
	*controlled
	*rand.Rand
	operations []operation
	schemas    map[string]map[string]any
	seen       map[string][]any // values by the name of their member
	tokens     []string
	entered    int
	asked, ok  map[string]int // by method and path
}

// hostile are values that nothing should be harmed by.
var hostile = []any{"", " ", "\x00", "\u202e", "'; DROP TABLE lot --", "<script>", strings.Repeat("x", 5000), "NaN",
	-1, 0, 1, 2, 999999999, int64(1) << 62, 1.5, nil, true, []any{}, map[string]any{}, "9999-12-31", "2026-02-30", "é",
	"..", "%2f", "N1", "S2", "2026-11-30T10:00:00Z", "0001-01-01T00:00:00Z"}

func newGenerator(t *testing.T, seed uint64) *generator {
	g := &generator{controlled: filled(t), Rand: rand.New(rand.NewPCG(seed, 7)), seen: map[string][]any{}}
	g.asked, g.ok = map[string]int{}, map[string]int{}
	g.enterAll()
	for i := range 8 { // of which some go to classes
		device, err := g.svc.Ledger.Receive(t.Context(), operator, inventory.Receipt{Place: "S2-STORE", Item: "SPLINT",
			Serial: fmt.Sprint("GEN-", i), Qty: 1})
		require.NoError(t, err)
		if i%2 == 0 {
			_, err = g.svc.Ledger.Move(t.Context(), operator, []inventory.Movement{{LotID: device.ID, Qty: 1,
				From: "S2-STORE", To: "S2-TRAINING", Reason: inventory.ReasonToTraining}})
			require.NoError(t, err)
		}
		g.seen["lot_id"] = append(g.seen["lot_id"], device.ID)
	}
	var doc struct {
		Paths      map[string]map[string]operation
		Components struct{ Schemas map[string]map[string]any }
	}
	description := g.send(http.MethodGet, api.Base+"/openapi.json", "", g.tokens[0])
	require.NoError(t, json.Unmarshal(description.Body.Bytes(), &doc))
	g.schemas = doc.Components.Schemas
	for _, path := range slices.Sorted(maps.Keys(doc.Paths)) {
		for _, method := range slices.Sorted(maps.Keys(doc.Paths[path])) {
			op := doc.Paths[path][method]
			op.path, op.method = path, strings.ToUpper(method)
			g.operations = append(g.operations, op)
		}
	}
	require.Greater(t, len(g.operations), 90)
	return g
}

// enterAll makes the programs that send, also anew when one of them has revoked another.
func (g *generator) enterAll() {
	g.tokens = nil
	for _, of := range []inventory.Token{{Role: inventory.Administrator}, {Role: inventory.Administrator},
		{Role: inventory.Administrator, Stations: []string{"N1"}},
		{Role: inventory.Quartermaster, Stations: []string{"S2"}},
		{Role: inventory.Quartermaster}, {Role: inventory.Manager}, {Role: inventory.Crew, Stations: []string{"N1"}},
		{Role: inventory.Crew, Stations: []string{"N1", "S2"}}} {
		g.entered++
		of.Name = fmt.Sprintf("generator %d", g.entered)
		token, err := g.svc.Account.CreateToken(g.Context(), operator, of)
		require.NoError(g, err)
		g.tokens = append(g.tokens, token)
	}
}

func (g *generator) send(method, path, body, token string, header ...string) *httptest.ResponseRecorder {
	header = append(header, "Content-Type", "application/json", "Authorization", "Bearer "+token)
	return g.do(method, path, body, header...)
}

// remember keeps what an answer holds, a few of each name, the newest too.
func (g *generator) remember(name string, v any) {
	switch v := v.(type) {
	case map[string]any:
		for _, k := range slices.Sorted(maps.Keys(v)) {
			g.remember(k, v[k])
		}
	case []any:
		for _, x := range v[:min(len(v), 8)] {
			g.remember(name, x)
		}
	default:
		if old := g.seen[name]; len(old) < 30 {
			g.seen[name] = append(old, v)
		} else {
			old[g.IntN(len(old))] = v
		}
	}
}

func pick[T any](g *generator, all []T) (none T) {
	if len(all) == 0 {
		return none
	}
	return all[g.IntN(len(all))]
}

// value makes a value for a member.
func (g *generator) value(name string, schema map[string]any, depth int) any {
	ref, _ := schema["$ref"].(string)
	if ref != "" {
		schema = g.schemas[strings.TrimPrefix(ref, "#/components/schemas/")]
	}
	enum, _ := schema["enum"].([]any)
	switch {
	case g.IntN(25) == 0:
		return pick(g, hostile)
	case len(enum) > 0:
		return pick(g, enum)
	}
	kind := fmt.Sprint(schema["type"])
	switch {
	case strings.Contains(kind, "object"):
		return g.object(schema, depth)
	case strings.Contains(kind, "array"):
		items, _ := schema["items"].(map[string]any)
		out := []any{}
		for range g.IntN(3) {
			if depth < 4 {
				out = append(out, g.value(name, items, depth+1))
			}
		}
		return out
	case strings.Contains(kind, "boolean"):
		return g.IntN(2) == 0
	}
	if known := g.seen[name]; len(known) > 0 && g.IntN(5) > 0 {
		return pick(g, known)
	}
	if strings.Contains(kind, "integer") || strings.Contains(kind, "number") {
		return g.IntN(6)
	}
	return fmt.Sprintf("%s %d", name, g.IntN(50))
}

func (g *generator) object(schema map[string]any, depth int) map[string]any {
	out := map[string]any{}
	properties, _ := schema["properties"].(map[string]any)
	required, _ := schema["required"].([]any)
	if properties["pin"] != nil && g.IntN(6) > 0 {
		return signature(g.IntN(2) == 0)
	}
	for _, name := range slices.Sorted(maps.Keys(properties)) {
		of, _ := properties[name].(map[string]any)
		if slices.Contains(required, any(name)) && g.IntN(30) > 0 || g.IntN(4) == 0 && depth < 4 {
			out[name] = g.value(name, of, depth+1)
		}
	}
	return out
}

// signature is that of the keeper or of another person.
func signature(keeper bool) map[string]any {
	if keeper {
		return map[string]any{"person": keeperName, "pin": keeperSecret}
	}
	return map[string]any{"person": secondName, "pin": secondSecret}
}

// changed is a right body with a thing or two otherwise.
func (g *generator) changed(v any, schema map[string]any, depth int) any {
	object, ok := v.(map[string]any)
	if !ok || depth > 4 {
		return v
	}
	if ref, _ := schema["$ref"].(string); ref != "" {
		schema = g.schemas[strings.TrimPrefix(ref, "#/components/schemas/")]
	}
	properties, _ := schema["properties"].(map[string]any)
	names := slices.Sorted(maps.Keys(properties))
	if len(names) == 0 {
		return v
	}
	name := pick(g, names)
	of, _ := properties[name].(map[string]any)
	items, _ := of["items"].(map[string]any)
	inner, _ := object[name].([]any)
	switch {
	case len(inner) > 0 && items != nil && g.IntN(3) > 0:
		inner[g.IntN(len(inner))] = g.changed(pick(g, inner), items, depth+1)
	case g.IntN(8) == 0:
		delete(object, name)
	default:
		object[name] = g.value(name, of, depth+1)
	}
	return object
}

// body makes what is sent to an operation.
func (g *generator) body(op operation, station string) string {
	schema := op.RequestBody.Content["application/json"].Schema
	if schema == nil {
		return ""
	}
	route := api.Base + op.path
	for _, p := range op.Parameters {
		route = strings.Replace(route, "{"+p.Name+"}", ":"+p.Name, 1)
	}
	right := g.at(station).Replace(apiBodies[op.method+" "+route])
	var v any
	if right == "" || g.IntN(4) == 0 || json.Unmarshal([]byte(right), &v) != nil {
		v = g.value("", schema, 0)
	} else {
		for range g.IntN(3) {
			v = g.changed(v, schema, 0)
		}
	}
	of := schema
	if ref, _ := schema["$ref"].(string); ref != "" {
		of = g.schemas[strings.TrimPrefix(ref, "#/components/schemas/")]
	}
	properties, _ := of["properties"].(map[string]any)
	if object, ok := v.(map[string]any); ok && properties["witness"] != nil && g.IntN(4) > 0 {
		object["signature"], object["witness"] = signature(true), signature(false)
	}
	b, err := json.Marshal(v)
	require.NoError(g, err)
	return string(b)
}

// next makes and sends one request, and says what is wrong with its answer.
func (g *generator) next() {
	op := pick(g, g.operations)
	if op.method == http.MethodGet && g.IntN(2) == 0 { // most are readings
		op = pick(g, g.operations)
	}
	station := pick(g, []string{"N1", "S2"})
	token := pick(g, g.tokens)
	path, query := api.Base+op.path, url.Values{}
	header := []string{"Idempotency-Key", fmt.Sprint("key-", g.IntN(1_000_000))}
	for _, p := range op.Parameters {
		v := fmt.Sprint(g.value(p.Name, p.Schema, 4))
		switch p.In {
		case "path":
			before, _, _ := strings.Cut(path, "/{"+p.Name+"}")
			of := before[strings.LastIndexByte(before, '/')+1:] + "/:" + p.Name
			if own := g.things[station][of]; own != "" && g.IntN(2) == 0 {
				v = own
			}
			path = strings.Replace(path, "{"+p.Name+"}", url.PathEscape(v), 1)
		case "query":
			if g.IntN(3) == 0 {
				query.Set(p.Name, v)
			}
		case "header":
			if p.Name == "If-Match" {
				header = append(header, "If-Match", pick(g, []string{"*", `"1"`, `"2"`, "x"}))
			}
		}
	}
	body := g.body(op, station)
	if len(query) > 0 {
		path += "?" + query.Encode()
	}
	rec := g.send(op.method, path, body, token, header...)
	what := op.method + " " + op.path
	g.asked[what]++
	if !assert.Less(g, rec.Code, 500, "%s %s: %s\n%s", op.method, path, body, rec.Body) {
		return
	}
	var answer any
	isJSON := strings.Contains(rec.Header().Get("Content-Type"), "json")
	if isJSON {
		assert.NoError(g, json.Unmarshal(rec.Body.Bytes(), &answer), "%s %s", op.method, path)
	}
	if rec.Code == http.StatusUnauthorized {
		g.enterAll()
	}
	if rec.Code >= 400 {
		problem, _ := answer.(map[string]any)
		assert.NotEmpty(g, problem["title"], "%s %s: %d %s", op.method, path, rec.Code, rec.Body)
		return
	}
	g.ok[what]++
	if isJSON && rec.Body.Len() < 200_000 && op.path != "/openapi.json" {
		g.remember("", answer)
	}
}

// TestGeneratedRequests sends requests that nobody wrote, by every role, at things that are there: none is answered
// with an internal error, most operations are reached, and the books hold. The long run sends 200,000.
func TestGeneratedRequests(t *testing.T) {
	requests, seed := 2_000, uint64(1)
	switch {
	case inventorytest.Long:
		requests, seed = 200_000, rand.Uint64()
	case !raced:
		requests = 20_000
	}
	t.Logf("seed %d", seed)
	g := newGenerator(t, seed)
	for i := range requests {
		g.next()
		if t.Failed() {
			t.Fatalf("at request %d", i)
		}
	}
	var never []string
	for _, op := range g.operations {
		if what := op.method + " " + op.path; g.ok[what] == 0 {
			never = append(never, fmt.Sprintf("%s (%d times)", what, g.asked[what]))
		}
	}
	t.Logf("%d of %d operations were done; never: %s", len(g.operations)-len(never), len(g.operations), never)
	assert.LessOrEqual(t, len(never), map[bool]int{false: 13, true: 50}[requests < 20_000])
	r, err := g.svc.Verify.Verify(t.Context())
	require.NoError(t, err)
	assert.Empty(t, r.Faults)
}
