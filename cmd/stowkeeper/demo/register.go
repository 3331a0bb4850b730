package demo

import (
	"context"
	"fmt"
	"io/fs"
	"time"

	"stowkeeper/inventory"
	"stowkeeper/inventory/account"
	"stowkeeper/inventory/register"
)

// controlled is the scenario's one controlled item.
var controlled = inventory.Item{Code: "PR-AMP10", Name: "Pain relief ampoule, controlled",
	Category: inventory.CategoryPainRelief, Unit: "ampoule", TrackedBy: inventory.ByLot,
	Dated: true, Controlled: true, Strength: "10 mg in 1 ml", Form: "ampoule", LeadTimeDays: 10}

// registerBook writes the small register of the first station.
type registerBook struct {
	*scenario
	secrets account.Secrets
	people  map[string]SignIn // by role, the first of each
	store   string
}

// register gives the first station a controlled item with a small register: a
// receipt, a balance check, ampoules signed out for a shift, and a use by a
// responder who was alone, whose second signature is still owed.
func (s *scenario) register(ctx context.Context, fsys fs.FS, secrets account.Secrets) error {
	all, err := SignIns(fsys)
	if err != nil {
		return err
	}
	b := registerBook{scenario: s, secrets: secrets, people: map[string]SignIn{}, store: s.stations[0].StoreCode()}
	for _, p := range all {
		if _, known := b.people[p.Role]; !known {
			b.people[p.Role] = p
		}
	}
	s.now = s.end.Add(-50 * time.Minute)
	if _, err := s.svc.Lists.CreateItem(ctx, founder, controlled); err != nil {
		return err
	}
	by, err := b.signed(ctx, "quartermaster", "crew")
	if err != nil {
		return err
	}
	end := s.stations[0].Today(s.now).AddMonths(14).String()[:7]
	lot, err := s.svc.Ledger.Receive(ctx, by, inventory.Receipt{Place: b.store, Item: controlled.Code, BatchNo: "PA-2207",
		EndPrinted: end, EndWording: inventory.WordExpiry, Qty: 10, Reference: "DN-4471"})
	if err != nil {
		return err
	}
	s.now = s.end.Add(-45 * time.Minute)
	if by, err = b.signed(ctx, "crew", "quartermaster"); err != nil {
		return err
	}
	if _, err := s.svc.Register.RecordBalanceCheck(ctx, by, inventory.BalanceCheck{Item: controlled.Code, Place: b.store,
		Counted: 10}); err != nil {
		return err
	}
	out, err := s.svc.Register.RecordEntry(ctx, by, register.EntryRequest{Kind: register.RequestSignOut, Place: b.store,
		Lines: []register.EntryRequestLine{{LotID: lot.ID, Qty: 2}}})
	if err != nil {
		return err
	}
	s.now = s.end.Add(-10 * time.Minute)
	if by, err = b.signed(ctx, "crew", ""); err != nil {
		return err
	}
	_, err = s.svc.Register.RecordEntry(ctx, by, register.EntryRequest{Kind: register.RequestUse, Place: out[0].To,
		Reference: "INC-0925",
		Lines:     []register.EntryRequestLine{{LotID: out[0].IntoLotID, Qty: 1, Given: "6 mg", Wasted: "4 mg"}}})
	return err
}

// signed is a person of a role who signs, with a witness of another where one
// is named.
func (b *registerBook) signed(ctx context.Context, role, witness string) (inventory.Actor, error) {
	p := b.people[role]
	in := account.Signing{Signature: &account.Signature{PIN: account.PIN(p.Secret)}}
	if witness != "" {
		w := b.people[witness]
		in.Witness = &account.Signature{Person: w.Name, PIN: account.PIN(w.Secret)}
	}
	by := inventory.Actor{Name: p.Name, Role: inventory.Role(role), Stations: row{"stations": p.Stations}.list("stations")}
	by, err := b.svc.Account.Sign(ctx, by, in, b.secrets)
	if err != nil {
		return by, fmt.Errorf("sign the register: %w", err)
	}
	return by, nil
}
