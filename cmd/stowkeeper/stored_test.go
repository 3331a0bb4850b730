package main

import (
	"archive/zip"
	"bytes"
	"context"
	"encoding/csv"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"maps"
	"net/http"
	"net/http/httptest"
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stowkeeper/api"
	"stowkeeper/inventory"
	"stowkeeper/inventory/account"
	"stowkeeper/inventory/exchange"
	argon2 "stowkeeper/inventory/secret"
	"stowkeeper/inventory/store"
	"stowkeeper/inventory/table"
)

// poison is a text that ends an attribute, an element and a string, runs as a
// script, and begins a formula in a spreadsheet: with another sign each time.
// Its number says which field it was put into.
func poison(n int) string {
	return fmt.Sprintf(`%c1+"'><script>zz%d</script>`, "=+-@"[n%4], n)
}

var poisoned = regexp.MustCompile(`zz(\d+)`)

// poisoner fills every text field that the API has.
type poisoner struct {
	*composed
	v       visitor
	schemas map[string]any
	fields  []string // which took the text; a text's number is its place here
}

// TestStoredScripts puts a script and a formula into every text field that
// there is: each field of each body that the API takes, found in its document,
// names of people, terminals and browsers, and, by exporting all of it and
// importing that into an empty service, every column of every list. On no page
// and no label does it run, and in no exported file is it a formula.
func TestStoredScripts(t *testing.T) {
	c := compose(t)
	p := c.poisonAll()
	t.Logf("%d fields", len(p.fields))
	assert.Greater(t, len(p.fields), 60, "%v", p.fields)
	shown := c.harmless(p.v)
	assert.True(t, shown["image/svg+xml; charset=utf-8"], "on a label too")
	var hidden []string
	for i, f := range p.fields {
		if !shown[fmt.Sprint(i)] {
			hidden = append(hidden, f)
		}
	}
	assert.Less(t, len(hidden), len(p.fields)/4, "shown on no page: %v", hidden)
	zipped := c.do(http.MethodGet, "/exports/stowkeeper.zip", "", "Cookie", "__Host-stowkeeper_session="+p.v.session).
		Body.Bytes()
	c.noFormulas(p.v, zipped)
	again := c.imported(zipped)
	shown = again.harmless(visitor{session: again.enter("Reader", inventory.Administrator, nil)})
	assert.Greater(t, len(shown), 20, "what was imported is shown")
}

// poisonAll makes people, a terminal and tokens with such names, and sends each
// request that the API takes with all its texts replaced.
func (c *composed) poisonAll() *poisoner {
	c.Helper()
	p := &poisoner{composed: c}
	p.things["N1"]["items/:code"] = "SPLINT" // whose points of inspection are shown
	name := func(of string) string {
		p.fields = append(p.fields, of)
		return poison(len(p.fields) - 1)
	}
	terminal, err := c.svc.Account.AddTerminal(c.Context(), operator, name("terminal"), "")
	require.NoError(c, err)
	_, err = c.svc.Account.EnrolHere(c.Context(), operator, terminal.ID)
	require.NoError(c, err)
	who := name("person")
	_, err = c.svc.Account.CreatePerson(c.Context(), operator, inventory.Person{Name: who, Role: inventory.Administrator},
		"seven lamps at dusk", argon2.Argon2id{})
	require.NoError(c, err)
	p.v.name = "poisoner"
	p.v.session, err = c.svc.Account.SignIn(c.Context(), who, "seven lamps at dusk",
		account.From{Browser: name("browser")}, argon2.Argon2id{})
	require.NoError(c, err)
	p.v.token, err = c.svc.Account.CreateToken(c.Context(), operator, inventory.Token{Name: name("token"),
		Role: inventory.Administrator})
	require.NoError(c, err)
	var doc map[string]any
	require.NoError(c, json.Unmarshal(c.do(http.MethodGet, api.Base+"/openapi.json", "", "Authorization",
		"Bearer "+p.v.token).Body.Bytes(), &doc))
	p.schemas = doc["components"].(map[string]any)["schemas"].(map[string]any)
	paths := doc["paths"].(map[string]any)
	for _, route := range poisonOrder(paths) {
		method, path, _ := strings.Cut(route, " ")
		content, has := dig(paths[path], strings.ToLower(method), "requestBody", "content", "application/json",
			"schema").(map[string]any)
		if has {
			p.poison(method, api.Base+strings.NewReplacer("{", ":", "}", "").Replace(path), content)
		}
	}
	for of, made := range map[string]string{"kit-lists/:list": "NEW", "items/:item": "NEW", "notices/:notice": "2"} {
		p.things["N1"][of] = made
	}
	return p
}

// poisonOrder lists the routes so that things are there before what asks for
// them: what waits is decided first, then there is something new that waits.
func poisonOrder(paths map[string]any) []string {
	var out []string
	for path, methods := range paths {
		for method := range methods.(map[string]any) {
			out = append(out, strings.ToUpper(method)+" "+path)
		}
	}
	late := func(s string) int {
		return slices.IndexFunc([]string{"/decision", "/close", "/cancel", "/revoke"},
			func(end string) bool { return strings.HasSuffix(s, end) })
	}
	slices.SortFunc(out, func(a, b string) int {
		if d := late(b) - late(a); d != 0 {
			return d
		}
		return strings.Compare(a, b)
	})
	return out
}

func dig(v any, path ...string) any {
	for _, key := range path {
		m, ok := v.(map[string]any)
		if !ok {
			return nil
		}
		v = m[key]
	}
	return v
}

// poison sends one request with its texts replaced: with each on its own first,
// to see whether the field takes it, then with all that do.
func (p *poisoner) poison(method, path string, schema map[string]any) {
	p.Helper()
	base := map[string]any{}
	text := richBodies[method+" "+path]
	if text == "" {
		text = apiBodies[method+" "+path]
	}
	if text != "" {
		require.NoError(p, json.Unmarshal([]byte(p.at("N1").Replace(text)), &base), path)
	}
	var took []string
	for _, field := range p.texts(schema, base, "", 0) {
		trial := p.with(base, map[string]string{field: poison(0)})
		if p.send(method, path, trial, true).Code < 300 {
			took = append(took, field)
		}
	}
	values := map[string]string{}
	for _, field := range took {
		p.fields = append(p.fields, method+" "+strings.TrimPrefix(path, api.Base)+" "+field)
		values[field] = poison(len(p.fields) - 1)
	}
	rec := p.send(method, path, p.with(base, values), false)
	if len(took) > 0 {
		require.Less(p, rec.Code, 300, "%s %s: %s", method, path, rec.Body)
	}
	var made struct{ ID, LotID json.Number }
	if json.Unmarshal(rec.Body.Bytes(), &made) == nil && made.ID != "" {
		switch strings.TrimPrefix(path, api.Base) {
		case "/bags/:code/checks":
			p.things["N1"]["checks/:id"] = made.ID.String()
		case "/bags/:code/uses":
			p.things["N1"]["uses/:id"] = made.ID.String()
		case "/receipts": // what was corrected is of the lot before
		}
	}
}

// texts lists the paths of a body's free texts. Lists that the body has not are
// those of one element.
func (p *poisoner) texts(schema, body any, at string, deep int) []string {
	if ref, ok := dig(schema, "$ref").(string); ok {
		schema = p.schemas[ref[strings.LastIndex(ref, "/")+1:]]
	}
	kind := dig(schema, "type")
	if kinds, ok := kind.([]any); ok && len(kinds) > 0 {
		kind = kinds[0]
	}
	switch {
	case deep > 6:
	case kind == "string" && dig(schema, "enum") == nil && dig(schema, "format") == nil:
		return []string{at}
	case kind == "object":
		var out []string
		properties, _ := dig(schema, "properties").(map[string]any)
		for _, name := range slices.Sorted(maps.Keys(properties)) {
			out = append(out, p.texts(properties[name], dig(body, name), at+"/"+name, deep+1)...)
		}
		return out
	case kind == "array":
		list, _ := body.([]any)
		var out []string
		for i := range max(1, len(list)) {
			var of any
			if i < len(list) {
				of = list[i]
			}
			out = append(out, p.texts(dig(schema, "items"), of, fmt.Sprintf("%s/%d", at, i), deep+1)...)
		}
		return out
	}
	return nil
}

// with is a copy of a body with texts at some paths.
func (p *poisoner) with(body map[string]any, texts map[string]string) []byte {
	var out any
	b, err := json.Marshal(body)
	require.NoError(p, err)
	require.NoError(p, json.Unmarshal(b, &out))
	for path, text := range texts {
		out = put(out, strings.Split(path, "/")[1:], text)
	}
	b, err = json.Marshal(out)
	require.NoError(p, err)
	return b
}

func put(v any, path []string, text string) any {
	if len(path) == 0 {
		return text
	}
	if i := int(path[0][0]) - '0'; i >= 0 && i <= 9 {
		list, _ := v.([]any)
		for len(list) <= i {
			list = append(list, nil)
		}
		list[i] = put(list[i], path[1:], text)
		return list
	}
	m, ok := v.(map[string]any)
	if !ok {
		m = map[string]any{}
	}
	m[path[0]] = put(m[path[0]], path[1:], text)
	return m
}

func (p *poisoner) send(method, route string, body []byte, takeBack bool) (rec *httptest.ResponseRecorder) {
	path, _ := p.pathAt("N1", route)
	undo := errors.New("undo")
	err := p.svc.Ledger.Together(p.Context(), func(ctx context.Context) error {
		rec = p.doIn(ctx, method, path, string(body), "Authorization", "Bearer "+p.v.token, "Content-Type",
			"application/json", "Idempotency-Key", fmt.Sprint(len(p.fields)), "If-Match", "*")
		if takeBack || rec.Code >= 300 {
			return undo
		}
		return nil
	})
	require.True(p, err == nil || errors.Is(err, undo), "%v", err)
	return rec
}

// harmless asks for every page and picture, and returns the numbers of the
// texts that were shown, escaped.
func (c *composed) harmless(v visitor) map[string]bool {
	c.Helper()
	shown := map[string]bool{}
	for _, d := range c.doors() {
		if d.method != http.MethodGet || strings.HasSuffix(d.path, ".zip") || strings.HasSuffix(d.path, ".xlsx") {
			continue
		}
		rec := c.try(v, d, "N1")
		require.Less(c, rec.Code, 500, "%s\n%s", d.path, rec.Body)
		body, kind := rec.Body.String(), rec.Header().Get("Content-Type")
		for _, h := range rec.Header() {
			assert.NotContains(c, strings.Join(h, " "), "<script>", d.path)
		}
		switch {
		case strings.HasPrefix(kind, "text/html"), strings.HasPrefix(kind, "image/svg"):
			for _, m := range poisoned.FindAllStringSubmatch(body, -1) {
				shown[m[1]], shown[kind] = true, true
			}
			assert.NotContains(c, body, "<script>zz", d.path)
			assert.NotContains(c, body, `"'>`, d.path)
		case strings.Contains(body, "<script>zz"): // no browser takes it for a page
			assert.Equal(c, "nosniff", rec.Header().Get("X-Content-Type-Options"), d.path)
			assert.Regexp(c, `^(application/(json|problem\+json|openapi\+json)|text/csv)`, kind, d.path)
		}
	}
	return shown
}

// noFormulas reads every file for spreadsheets that the service sends.
func (c *composed) noFormulas(v visitor, zipped []byte) {
	c.Helper()
	found := 0
	judge := func(name, cell string) {
		if poisoned.MatchString(cell) {
			found++
		}
		assert.NotRegexp(c, "^([=+@\t\r\n]|-[^0-9])", cell, name)
	}
	table := func(name string, r io.Reader) {
		all := csv.NewReader(r)
		all.FieldsPerRecord = -1
		rows, err := all.ReadAll()
		require.NoError(c, err, name)
		for _, cell := range slices.Concat(rows...) {
			judge(name, cell)
		}
	}
	archive := func(data []byte, each func(name string, r io.Reader)) {
		z, err := zip.NewReader(bytes.NewReader(data), int64(len(data)))
		require.NoError(c, err)
		for _, f := range z.File {
			r, err := f.Open()
			require.NoError(c, err)
			each(f.Name, r)
			require.NoError(c, r.Close())
		}
	}
	archive(zipped, func(name string, r io.Reader) {
		if strings.HasSuffix(name, ".csv") {
			table(name, r)
		}
	})
	inZip := found
	assert.Greater(c, inZip, 60)
	for _, d := range c.doors() {
		if strings.HasSuffix(d.path, ".csv") {
			for _, part := range []string{"rows", "fill", "buy"} {
				rec := c.try(v, door{d.method, d.path, d.action, d.api}, "N1")
				if part != "rows" && d.api {
					rec = c.do(http.MethodGet, d.path+"?part="+part, "", "Authorization", "Bearer "+v.token)
				}
				require.Equal(c, http.StatusOK, rec.Code, d.path)
				table(d.path, rec.Body)
			}
		}
	}
	assert.Greater(c, found, inZip, "reports")
	text := regexp.MustCompile(`(?s)<t[ >][^<]*`)
	for _, path := range []string{"/exports/stowkeeper.xlsx", api.Base + "/export.xlsx"} {
		was := found
		rec := c.do(http.MethodGet, path, "", "Cookie", "__Host-stowkeeper_session="+v.session)
		archive(rec.Body.Bytes(), func(name string, r io.Reader) {
			data, err := io.ReadAll(r)
			require.NoError(c, err)
			assert.NotRegexp(c, `<f[ >]`, string(data), name)
			for _, m := range text.FindAllString(string(data), -1) {
				judge(name, m[strings.IndexByte(m, '>')+1:])
			}
		})
		assert.Greater(c, found, was+60, path)
	}
}

// imported brings the lists of an export into an empty service, save stock of
// controlled items, which two people would have to sign for.
func (c *composed) imported(zipped []byte) *composed {
	c.Helper()
	s, err := store.Open(c.Context(), c.TempDir()+"/again.db", store.Options{Logger: slog.New(slog.DiscardHandler)})
	require.NoError(c, err)
	c.Cleanup(func() { assert.NoError(c, s.Close()) })
	again := &composed{T: c.T, things: c.things}
	again.serve(s)
	z, err := zip.NewReader(bytes.NewReader(zipped), int64(len(zipped)))
	require.NoError(c, err)
	for _, kind := range exchange.ImportKinds {
		f, err := z.Open("stowkeeper/" + string(kind) + ".csv")
		require.NoError(c, err)
		data, err := io.ReadAll(f)
		require.NoError(c, err)
		if kind == exchange.ImportStock {
			data = regexp.MustCompile(`(?m)^[^\n]*,AMP,[^\n]*\n`).ReplaceAll(data, nil)
		}
		rep, err := again.svc.Exchange.Import(c.Context(), operator, exchange.Import{Kind: kind,
			Source: table.CSV{Name: string(kind), Data: bytes.NewReader(data), Size: int64(len(data))}})
		require.NoError(c, err, kind)
		require.True(c, rep.Done, "%s %+v", kind, rep.Lines)
	}
	again.enrolTablet()
	return again
}
