package demo

import (
	"io/fs"
	"time"

	"stowkeeper/inventory"
	"stowkeeper/inventory/account"
	"stowkeeper/inventory/amount"
	"stowkeeper/inventory/register"
)

// controlled is the scenario's one controlled item.
var controlled = inventory.Item{Code: "PR-AMP10", Name: "Pain relief ampoule, controlled",
	Category: inventory.CategoryPainRelief, Unit: "ampoule", TrackedBy: inventory.ByLot,
	Dated: true, Controlled: true, Strength: "10 mg in 1 ml", Form: "ampoule", LeadTimeDays: 10,
	Content: amount.Content{Quantity: "10", Unit: "mg"}}

// registerBook writes the small register of the first station.
type registerBook struct {
	*scenario
	secrets account.Secrets
	people  map[string]SignIn // by role, the first of each
	store   string
}

// register gives the first station a controlled item with a small register: a receipt, a balance check, ampoules
// signed out for a shift, and a use by a responder who was alone, whose second signature is still owed.
func (s *scenario) register(fsys fs.FS, secrets account.Secrets) {
	all := must(SignIns(fsys))
	b := registerBook{scenario: s, secrets: secrets, people: map[string]SignIn{}, store: s.stations[0].StoreCode()}
	for _, p := range all {
		if _, known := b.people[p.Role]; !known {
			b.people[p.Role] = p
		}
	}
	s.now = s.end.Add(-50 * time.Minute)
	must(s.svc.Lists.CreateItem(s.ctx, founder, controlled))
	by := b.signed("quartermaster", "crew")
	end := s.stations[0].Today(s.now).AddMonths(14).String()[:7]
	lot := must(s.svc.Ledger.Receive(s.ctx, by, inventory.Receipt{Place: b.store, Item: controlled.Code,
		BatchNo: "PA-2207", EndPrinted: end, EndWording: inventory.WordExpiry, Qty: 10, Reference: "DN-4471"}))
	s.now = s.end.Add(-45 * time.Minute)
	by = b.signed("crew", "quartermaster")
	must(s.svc.Register.RecordBalanceCheck(s.ctx, by, inventory.BalanceCheck{Item: controlled.Code, Place: b.store,
		Counted: 10}))
	out := must(s.svc.Register.RecordEntry(s.ctx, by, register.EntryRequest{Kind: register.RequestSignOut, Place: b.store,
		Lines: []register.EntryRequestLine{{LotID: lot.ID, Qty: 2}}}))
	s.now = s.end.Add(-10 * time.Minute)
	by = b.signed("crew", "")
	must(s.svc.Register.RecordEntry(s.ctx, by, register.EntryRequest{Kind: register.RequestUse, Place: out[0].To,
		Reference: "INC-0925",
		Lines:     []register.EntryRequestLine{{LotID: out[0].IntoLotID, Qty: 1, Given: "6", Wasted: "4"}}}))
}

// signed is a person of a role who signs, with a witness of another where one is named.
func (b *registerBook) signed(role, witness string) inventory.Actor {
	p := b.people[role]
	in := account.Signing{Signature: &account.Signature{PIN: account.PIN(p.Secret)}}
	if witness != "" {
		w := b.people[witness]
		in.Witness = &account.Signature{Person: w.Name, PIN: account.PIN(w.Secret)}
	}
	by := inventory.Actor{Name: p.Name, Role: inventory.Role(role), Stations: row{"stations": p.Stations}.list("stations")}
	return must(b.svc.Account.Sign(b.ctx, by, in, b.secrets))
}
