package main

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"log/slog"
	"maps"
	"net/http"
	"net/url"
	"slices"
	"strings"
	"testing"

	"github.com/gin-gonic/gin"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stowkeeper/api"
	"stowkeeper/inventory"
	"stowkeeper/inventory/account"
	"stowkeeper/inventory/count"
	"stowkeeper/inventory/register"
	"stowkeeper/inventory/shift"
	"stowkeeper/inventory/store/upload"
	"stowkeeper/inventory/transfer"
	"stowkeeper/web"
)

// plainly keeps secrets as they are: comparing hashes would take most of the
// time of a walk in which everybody signs.
type plainly struct{}

func (plainly) Hash(secret string) (string, error) { return "plainly:" + secret, nil }
func (plainly) Match(hash, secret string) bool     { return hash == "plainly:"+secret }

const (
	keeperName, keeperSecret = "Quinn", "seven lamps at dusk"
	secondName, secondSecret = "Cleo", "4821"
)

// controlled is a service in which a controlled item lies wherever something can
// be done with it: in the store, a bag, quarantine, a training store, away, in
// records that wait, under a notice, and unidentified.
type controlled struct {
	*composed
	keeper visitor
	last   int64 // newest movement before the walk

	controlled map[string]bool // routes of the API whose body has a place for a witness
}

func newControlled(t *testing.T) *controlled {
	c := &controlled{composed: compose(t)}
	c.router = gin.New()
	quiet := slog.New(slog.DiscardHandler)
	require.NoError(t, api.Mount(c.router, c.svc, api.Options{BaseURL: "https://kit.example.org",
		Cookie: "__Host-stowkeeper_session", Secrets: plainly{}, Logger: quiet}))
	require.NoError(t, web.Mount(c.router, c.svc, web.Options{BaseURL: "https://kit.example.org",
		CookieName: "__Host-stowkeeper_session", Secrets: plainly{}, Logger: quiet, Uploads: upload.In(c.svc.Store)}))
	ctx := t.Context()
	c.keeper = visitor{name: keeperName, token: c.token(inventory.Quartermaster)}
	for _, p := range []inventory.Person{{Name: keeperName, Role: inventory.Quartermaster, Stations: []string{"N1"}},
		{Name: secondName, Role: inventory.Crew, Stations: []string{"N1"}}} {
		_, err := c.svc.Account.CreatePerson(ctx, operator, p, map[string]string{keeperName: keeperSecret,
			secondName: secondSecret}[p.Name], plainly{})
		require.NoError(t, err)
	}
	var err error
	c.keeper.session, err = c.svc.Account.SignIn(ctx, keeperName, keeperSecret, account.From{}, plainly{})
	require.NoError(t, err)
	c.stow()
	return c
}

// signed is the keeper with the signatures of both.
func (c *controlled) signed() inventory.Actor {
	c.Helper()
	by, err := c.svc.Account.Sign(c.Context(), inventory.Actor{Name: keeperName, Role: inventory.Quartermaster,
		Stations: []string{"N1"}},
		account.Signing{Signature: &account.Signature{PIN: keeperSecret}, Witness: &account.Signature{Person: secondName,
			PIN: secondSecret}}, plainly{})
	require.NoError(c, err)
	return by
}

func (c *controlled) stow() {
	ctx, by, things, bag := c.Context(), c.signed(), c.things["N1"], "KD7-442"
	amps := func() int64 {
		l, err := c.svc.Ledger.Receive(ctx, by, inventory.Receipt{Place: "N1-STORE", Item: "AMP", BatchNo: "A-N1", Qty: 20})
		require.NoError(c, err)
		return l.ID
	}()
	_, err := c.svc.Ledger.Move(ctx, by, []inventory.Movement{
		{LotID: amps, Qty: 2, From: "N1-STORE", To: bag, Reason: inventory.ReasonStow},
		{LotID: amps, Qty: 2, From: "N1-STORE", To: "N1-QUARANTINE", Reason: inventory.ReasonQuarantine},
	})
	require.NoError(c, err)
	away, err := c.svc.Shift.SendAway(ctx, by, shift.AwayTrip{From: "N1-STORE", Where: "Hospital",
		Lines: []shift.AwayLine{{LotID: amps, Qty: 2}}})
	require.NoError(c, err)
	// Medicines never go to training; another controlled item may.
	_, err = c.svc.Lists.CreateItem(ctx, operator, inventory.Item{Code: "TRAINER", Name: "Trainer",
		Category: inventory.CategoryOther, Unit: "each", TrackedBy: inventory.ByLot, Controlled: true})
	require.NoError(c, err)
	trainer, err := c.svc.Ledger.Receive(ctx, by, inventory.Receipt{Place: "N1-TRAINING", Item: "TRAINER", BatchNo: "T-N1",
		Qty: 2})
	require.NoError(c, err)
	loose, err := c.svc.Ledger.Receive(ctx, by, inventory.Receipt{Place: "N1-QUARANTINE", Item: "AMP", Unidentified: true,
		Qty: 2})
	require.NoError(c, err)
	use, err := c.svc.Shift.RecordUse(ctx, operator, inventory.Use{Bag: bag, Incident: "I-7",
		Lines: []inventory.UseLine{{LotID: amps, Qty: 1}}}, "")
	require.NoError(c, err)
	b, err := c.svc.Lists.Bag(ctx, operator, bag)
	require.NoError(c, err)
	gauze := things["lots/:id"]
	check, err := c.svc.Shift.RecordCheck(ctx, operator, inventory.Check{Bag: bag, Kind: inventory.FullCheck,
		Lines: []inventory.CheckLine{{LotID: amps, Counted: 1, Reason: inventory.CountMissing}}}, "")
	require.NoError(c, err)
	c.documents(amps, things)
	ms, err := c.svc.Ledger.Movements(ctx, operator, inventory.MovementFilter{Newest: true}, inventory.Page{Limit: 1})
	require.NoError(c, err)
	c.last = ms[0].ID
	maps.Copy(things, map[string]string{"amps": itoa(amps), "gauze": gauze, "training": itoa(trainer.ID),
		"loose": itoa(loose.ID), "position": itoa(b.Position),
		"away/:place": away.Code, "away/:code": away.Code, "uses/:id": itoa(use.ID), "checks/:id": itoa(check.ID),
		"lots/:id": itoa(amps), "receipts/:id": c.receiptOf(amps), "receipts/:receipt": c.receiptOf(amps)})
}

// documents are transfers of ampoules, and a count of them, that are ready for each step.
func (c *controlled) documents(amps int64, things map[string]string) {
	c.Helper()
	ctx, all := c.Context(), c.signed()
	all.Stations = nil // at every station
	lines := []transfer.LotQuantity{{LotID: amps, Qty: 1}}
	asked := func(from, to string) int64 {
		v, err := c.svc.Transfer.Ask(ctx, all, transfer.TransferRequest{From: from, To: to,
			Lines: []transfer.AskedLine{{Item: "AMP", Qty: 1}}})
		require.NoError(c, err)
		return v.ID
	}
	sent := func(from, to string) int64 {
		id := asked(from, to)
		_, err := c.svc.Transfer.Send(ctx, all, id, lines, "")
		require.NoError(c, err)
		return id
	}
	there, back := sent("N1-STORE", "Z9-STORE"), sent("N1-STORE", "Z9-STORE")
	_, err := c.svc.Transfer.Receive(ctx, all, there, transfer.Arrival{Lines: lines})
	require.NoError(c, err)
	none := []transfer.LotQuantity{{LotID: lines[0].LotID}}
	_, err = c.svc.Transfer.Receive(ctx, all, back, transfer.Arrival{Lines: none})
	require.NoError(c, err)
	_, err = c.svc.Lists.CreatePlace(ctx, operator, inventory.Place{Code: "N1-BOX", Station: "N1", Name: "Box",
		Kind: inventory.KindCarrier, Purpose: inventory.ForIssue})
	require.NoError(c, err)
	_, err = c.svc.Ledger.Move(ctx, all, []inventory.Movement{{LotID: amps, Qty: 1, From: "N1-STORE", To: "N1-BOX",
		Reason: inventory.ReasonStow}})
	require.NoError(c, err)
	counting, err := c.svc.Count.Start(ctx, all, "N1-BOX", false)
	require.NoError(c, err)
	_, err = c.svc.Count.Enter(ctx, all, counting.ID, []count.CountEntry{{LotID: amps, Counted: 2}})
	require.NoError(c, err)
	_, waited := c.orders("N1", "AMP", "")
	maps.Copy(things, map[string]string{"orders/receive": itoa(waited), "send": itoa(asked("N1-STORE", "Z9-STORE")),
		"cancel": itoa(sent("N1-STORE", "Z9-STORE")), "resolve": itoa(back), "receive": itoa(sent("Z9-STORE", "N1-STORE")),
		"post": itoa(counting.ID)})
}

// wrongSigners are every way of not being two people, as bodies say it; session
// tells whether it is a person's or a program's.
func wrongSigners(session bool) map[string]account.Signing {
	of := func(name, secret string) *account.Signature {
		return &account.Signature{Person: name, PIN: account.PIN(secret)}
	}
	own := of(keeperName, keeperSecret)
	out := map[string]account.Signing{
		"nobody": {}, "one's own PIN alone": {Signature: own}, "a witness alone": {Witness: of(secondName, secondSecret)},
		"one person twice":                  {Signature: own, Witness: own},
		"one person twice, spelt otherwise": {Signature: own, Witness: of("  qUINN ", keeperSecret)},
		"a witness by another's PIN":        {Signature: own, Witness: of(secondName, keeperSecret)},
		"a witness without a PIN":           {Signature: own, Witness: of(secondName, "")},
		"nobody as witness": {Signature: own,
			Witness: of("Nobody", secondSecret)},
		"another's PIN as one's own": {Signature: of(keeperName, secondSecret), Witness: of(secondName, secondSecret)},
	}
	if session {
		out["somebody else's signature as one's own"] = account.Signing{Signature: of(secondName, secondSecret), Witness: own}
	} else {
		out["the program itself"] = account.Signing{Signature: of("program quartermaster", keeperSecret),
			Witness: of(secondName, secondSecret)}
	}
	return out
}

// TestNoRouteTakesOneSignature sends every route that writes, of the API by
// token and by session and of the pages, with what moves a controlled item, in
// every way of not having two people's signatures: nothing moves or is counted,
// save a use recorded alone, which owes them. Then with two, and the routes that
// take a witness must have moved something, or the walk was worth nothing.
func TestNoRouteTakesOneSignature(t *testing.T) {
	c := newControlled(t)
	moved := map[string]bool{}
	for _, d := range c.writers() {
		takes := d.api && c.takesWitness(d)
		for _, session := range []bool{true, false} {
			if !session && !d.api {
				continue
			}
			for how, signing := range wrongSigners(session) {
				if _, moves := twoSignForms[d.path]; !takes && !moves && how != "nobody" && how != "one person twice" {
					continue // it should move nothing at all
				}
				c.attempt(d, session, signing, func(ctx context.Context, code int, body string) {
					c.judge(ctx, fmt.Sprintf("%s %s, %s (session %v)", d.method, d.path, how, session), code)
				})
			}
			both := account.Signing{Signature: &account.Signature{PIN: keeperSecret},
				Witness: &account.Signature{Person: secondName, PIN: secondSecret}}
			if !session {
				both.Signature.Person = keeperName
			}
			c.attempt(d, session, both, func(ctx context.Context, code int, body string) {
				n := c.judge(ctx, d.path, code)
				moved[d.method+" "+d.path] = moved[d.method+" "+d.path] || n > 0
				if takes {
					assert.Positive(t, n, "%s %s (session %v) moves nothing with two signatures: %d %s", d.method, d.path, session,
						code, body)
				}
			})
		}
	}
	for path := range twoSignForms {
		if path != "/lots/:id/training" { // training stock of it is given through the API
			assert.True(t, moved["POST "+path], "%s moves nothing with two signatures", path)
		}
	}
}

// writers are the routes that may change something, of the keeper's.
func (c *controlled) writers() []door {
	actions := map[string]inventory.Action{}
	for _, rt := range api.Routes() {
		actions[rt.Method+" "+api.Base+strings.NewReplacer("{", ":", "}", "").Replace(rt.Path)] = rt.Action
	}
	for _, rt := range web.Routes() {
		actions[rt.Method+" "+rt.Path] = rt.Action
	}
	var out []door
	for _, name := range slices.Sorted(maps.Keys(actions)) {
		method, path, _ := strings.Cut(name, " ")
		if method != http.MethodGet && actions[name] != inventory.ActOpen && actions[name] != inventory.ActAccount &&
			inventory.May(inventory.Quartermaster, actions[name]) {
			out = append(out, door{method, path, actions[name], strings.HasPrefix(path, api.Base)})
		}
	}
	return out
}

// takesWitness tells whether a body has a place for a second person.
func (c *controlled) takesWitness(d door) bool {
	if c.controlled == nil {
		c.controlled = map[string]bool{}
		var doc struct {
			Paths map[string]map[string]struct {
				RequestBody struct {
					Content map[string]struct {
						Schema struct {
							Ref string `json:"$ref"`
						}
					}
				}
			}
			Components struct {
				Schemas map[string]struct{ Properties map[string]any }
			}
		}
		rec := c.do(http.MethodGet, api.Base+"/openapi.json", "", "Authorization", "Bearer "+c.keeper.token)
		require.NoError(c, json.Unmarshal(rec.Body.Bytes(), &doc))
		doors := map[string]bool{} // what only administrators do has a story of its own
		for _, d := range c.writers() {
			doors[d.method+" "+d.path] = true
		}
		for path, methods := range doc.Paths {
			for method, op := range methods {
				ref := op.RequestBody.Content["application/json"].Schema.Ref
				if doc.Components.Schemas[ref[strings.LastIndex(ref, "/")+1:]].Properties["witness"] != nil {
					name := strings.ToUpper(method) + " " + api.Base + strings.NewReplacer("{", ":", "}", "").Replace(path)
					if doors[name] {
						c.controlled[name] = true
					}
				}
			}
		}
		// Refused while anything of the item is open, as all is here: a story converts with two signatures.
		delete(c.controlled, "POST "+api.Base+"/items/:code/convert")
		require.Len(c, c.controlled, len(twoSign), "say what moves a controlled item at each route that takes a witness: %v",
			c.controlled)
	}
	return c.controlled[d.method+" "+d.path]
}

// attempt sends a route what moves the controlled item, lets look see what came
// of it, and takes it back.
func (c *controlled) attempt(d door, session bool, signing account.Signing, look func(ctx context.Context, code int,
	body string)) {
	c.Helper()
	things := maps.Clone(c.things["N1"])
	if strings.HasSuffix(d.path, "/identify") {
		things["lots/:id"] = things["loose"]
	}
	c.things["N1 controlled"] = things
	path, _ := c.pathAt("N1 controlled", d.path)
	path = strings.Replace(path, "sign-out", "destroy", 1)
	fill := strings.NewReplacer("S2", "N1", otherBag, "KD7-442", "{lot}", things["amps"], "{amps}", things["amps"],
		"{gauze}", things["gauze"], "{training}", things["training"], "{position}", things["position"])
	header := []string{"Content-Type", "application/json", "Idempotency-Key", "k", "If-Match", "*", "Sec-Fetch-Site",
		"same-origin"}
	var body string
	switch {
	case d.api:
		text := fill.Replace(twoSign[d.method+" "+strings.TrimPrefix(d.path, api.Base)])
		if text == "" {
			text = fill.Replace(apiBodies[d.method+" "+d.path])
		}
		body = signedBody(c.T, text, signing)
	default:
		form, err := url.ParseQuery(fill.Replace(anyForm))
		require.NoError(c, err)
		more, err := url.ParseQuery(fill.Replace(twoSignForms[d.path]))
		require.NoError(c, err)
		maps.Copy(form, more)
		form.Set("key", d.path)
		form.Set("position", things["position"])
		if signing.Signature != nil {
			form.Set("own_pin", string(signing.Signature.PIN))
			form.Set("person", signing.Signature.Person)
		}
		if signing.Witness != nil {
			form.Set("witness", signing.Witness.Person)
			form.Set("witness_pin", string(signing.Witness.PIN))
		}
		body = form.Encode()
		header[1] = "application/x-www-form-urlencoded"
	}
	who := []string{"Authorization", "Bearer " + c.keeper.token}
	if session {
		who = []string{"Cookie", "__Host-stowkeeper_session=" + c.keeper.session}
	}
	undo := errors.New("undo")
	require.ErrorIs(c, c.svc.Ledger.Together(c.Context(), func(ctx context.Context) error {
		rec := c.doIn(ctx, d.method, path, body, append(header, who...)...)
		require.Less(c, rec.Code, 500, "%s %s\n%s", d.method, path, rec.Body)
		look(ctx, rec.Code, rec.Body.String())
		return undo
	}), undo)
}

// signedBody puts signatures into a body, PINs and all: they write themselves
// nowhere.
func signedBody(t *testing.T, text string, in account.Signing) string {
	t.Helper()
	if text == "" {
		return ""
	}
	var body map[string]any
	require.NoError(t, json.Unmarshal([]byte(text), &body), text)
	for name, s := range map[string]*account.Signature{"signature": in.Signature, "witness": in.Witness} {
		if s != nil {
			body[name] = map[string]any{"person": s.Person, "pin": string(s.PIN)}
		}
	}
	b, err := json.Marshal(body)
	require.NoError(t, err)
	return string(b)
}

// judge counts the movements and counts of the controlled item that a request
// made, and looks at who signed each.
func (c *controlled) judge(ctx context.Context, what string, code int) int {
	c.Helper()
	n := 0
	ms, err := c.svc.Ledger.Movements(ctx, operator, inventory.MovementFilter{Newest: true}, inventory.Page{Limit: 10})
	require.NoError(c, err)
	for _, m := range ms {
		if m.ID <= c.last {
			break
		}
		l, err := c.svc.Stock.Lot(ctx, operator, m.LotID)
		require.NoError(c, err)
		if l.Item != "AMP" && l.Item != "TRAINER" {
			continue
		}
		if m.Witness == "" {
			rows, err := c.svc.Register.OwedRows(ctx, operator, nil)
			require.NoError(c, err)
			owed := slices.IndexFunc(rows, func(r register.OwedRow) bool { return r.Entry == m.ID && r.SecondOwed })
			assert.True(c, m.Reason == inventory.ReasonUsed && owed >= 0, "%s: moved on one signature: %+v", what, m)
			continue
		}
		n++
		assert.ElementsMatch(c, []string{keeperName, secondName}, []string{m.By, m.Witness}, "%s: %+v", what, m)
	}
	if code >= http.StatusBadRequest {
		return n // a count stands in the register, and is answered
	}
	cases, err := c.svc.Register.Discrepancies(ctx, operator, nil, false)
	require.NoError(c, err)
	for _, d := range cases {
		if d.ClosedAt != 0 {
			n++
			assert.ElementsMatch(c, []string{keeperName, secondName}, []string{d.ClosedBy, d.Witness}, "%s: %+v", what, d)
		}
	}
	for _, place := range []string{"N1-STORE", "N1-BOX"} {
		page, err := c.svc.Register.Register(ctx, operator, "AMP", place, register.Period{})
		require.NoError(c, err)
		for _, e := range page.Entries {
			if e.Kind == register.EntryCheck {
				n++
				assert.ElementsMatch(c, []string{keeperName, secondName}, []string{e.By, e.Witness}, "%s: %+v", what, e)
			}
		}
	}
	return n
}

// TestLateSignatures: of an entry that one person recorded alone, that person
// never gives the other signature, by whichever route, and another never theirs.
func TestLateSignatures(t *testing.T) {
	c := newControlled(t)
	things := c.things["N1"]
	for _, unsigned := range []bool{false, true} { // with one's own PIN, and with none
		body := map[string]any{"kind": "use", "place": "N1-STORE", "reference": "I-5",
			"lines": []any{map[string]any{"lot_id": json.Number(things["amps"]), "qty": 1}}}
		if !unsigned {
			body["signature"] = map[string]string{"pin": keeperSecret}
		}
		text, err := json.Marshal(body)
		require.NoError(t, err)
		cookie := "__Host-stowkeeper_session=" + c.keeper.session
		rec := c.do(http.MethodPost, api.Base+"/register/entries", string(text), "Cookie", cookie, "Content-Type",
			"application/json", "Sec-Fetch-Site", "same-origin")
		require.Equal(t, http.StatusCreated, rec.Code, rec.Body)
		var made struct{ Data []inventory.Movement }
		require.NoError(t, json.Unmarshal(rec.Body.Bytes(), &made))
		id := itoa(made.Data[0].ID)
		// sign gives one signature by each route in turn; accepted tells which took it.
		sign := func(person, pin string) (accepted []bool) {
			path := api.Base + "/register/entries/" + id + "/signature"
			b, err := json.Marshal(map[string]string{"person": person, "pin": pin})
			require.NoError(t, err)
			for _, who := range [][]string{{"Cookie", cookie, "Sec-Fetch-Site", "same-origin"}, {"Authorization",
				"Bearer " + c.keeper.token}} {
				rec := c.do(http.MethodPost, path, string(b), append(who, "Content-Type", "application/json")...)
				accepted = append(accepted, rec.Code == http.StatusOK)
			}
			form := url.Values{"key": {id + person + pin}, "person": {person}, "own_pin": {pin}}
			rec := c.do(http.MethodPost, "/register/N1-STORE/AMP/entries/"+id+"/sign", form.Encode(), "Cookie", cookie,
				"Content-Type", "application/x-www-form-urlencoded", "Sec-Fetch-Site", "same-origin")
			return append(accepted, rec.Code == http.StatusSeeOther)
		}
		first := []bool{unsigned, false, false} // one's own is owed where none was given, and once
		assert.Equal(t, first, sign(keeperName, keeperSecret), "unsigned: %v", unsigned)
		assert.Equal(t, []bool{false, false, false}, sign("  qUINN", keeperSecret))
		assert.Equal(t, []bool{false, false, false}, sign(secondName, keeperSecret))
		assert.Equal(t, []bool{true, false, false}, sign(secondName, secondSecret))
		page, err := c.svc.Register.Register(t.Context(), operator, "AMP", "N1-STORE", register.Period{})
		require.NoError(t, err)
		last := page.Entries[len(page.Entries)-1]
		assert.False(t, last.SecondOwed || last.OwnOwed, "%+v", last)
		assert.Equal(t, keeperName, last.By)
		assert.Equal(t, secondName, last.Signatures[len(last.Signatures)-1].Person)
	}
}
