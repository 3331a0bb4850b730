package web

import (
	"slices"
	"strings"
	"time"

	"stowkeeper/inventory"
	"stowkeeper/inventory/message"
)

type tokensPage struct {
	Base
	Fresh                   string // the text of a token just made, shown this once
	Rows                    []TokenRow
	Name, RoleOf, Days, Own Field
	Stations, Scope         []Tick
}

// TokenRow is one token in the list.
type TokenRow struct {
	ID                              int64
	Name, Role, Stations, Scope, By string
	Made, LastUsed                  inventory.Day // in UTC
	Ends                            When
	Live, Revoked                   bool
}

func (s *server) tokensForm(v *visit, f *form, failed error) error {
	return s.tokensPage(v, f, "", failed)
}

func (s *server) tokensPage(v *visit, f *form, fresh string, failed error) error {
	all, err := s.svc.Account.Tokens(v.ctx(), v.actor)
	if err != nil {
		return err
	}
	p := &tokensPage{Base: Base{Title: message.M("Tokens")}, Fresh: fresh, Rows: tokenRows(all, v.now)}
	p.Name = f.field("name", message.M("Program name")).Need().WithHint(message.M("Shown in history as the user."))
	p.RoleOf = roleField(f)
	p.Days = f.numberField("days", message.M("Valid for days")).WithHint(message.M("Default: 365, at most 1826"))
	p.Stations = v.stationTicks(f)
	for _, a := range inventory.Actions {
		if a != inventory.ActOpen && a != inventory.ActAccount {
			p.Scope = append(p.Scope, Tick{string(a), strings.ReplaceAll(string(a), "_", " "), slices.Contains(f.values["scope"],
				string(a))})
		}
	}
	p.Own = v.confirmField(f, "")
	return s.renderForm(v, f, p, failed)
}

// tokenRows puts those that let a program in first, the newest first.
func tokenRows(all []inventory.Token, now inventory.Instant) []TokenRow {
	slices.Reverse(all)
	slices.SortStableFunc(all, func(a, b inventory.Token) int {
		switch {
		case a.Live(now) == b.Live(now):
			return 0
		case a.Live(now):
			return -1
		}
		return 1
	})
	var rows []TokenRow
	for _, t := range all {
		row := TokenRow{ID: t.ID, Name: t.Name, Role: string(t.Role), Stations: strings.Join(t.Stations, " "),
			By: t.CreatedBy, LastUsed: t.LastUsed, Made: t.CreatedAt.InUTC(), Ends: whenAt(t.EndsAt, utc),
			Live: t.Live(now), Revoked: t.RevokedAt != 0}
		for _, a := range t.Scope {
			row.Scope += strings.ReplaceAll(string(a), "_", " ") + ", "
		}
		row.Scope = strings.TrimSuffix(row.Scope, ", ")
		rows = append(rows, row)
	}
	return rows
}

func (s *server) createToken(v *visit, f *form) error {
	in := inventory.Token{Name: f.text("name"), Role: inventory.Role(f.text("role")), Stations: f.values["stations"]}
	for _, a := range f.values["scope"] {
		in.Scope = append(in.Scope, inventory.Action(a))
	}
	if days := f.number("days"); days != 0 {
		in.EndsAt = v.now.Add(time.Duration(days) * 24 * time.Hour)
	}
	f.names = func(path string) string {
		if path == "ends_at" {
			return "days"
		}
		return path
	}
	if err := f.err(); err != nil {
		return err
	}
	if err := s.confirm(v, f, ""); err != nil {
		return err
	}
	text, err := s.svc.Account.CreateToken(v.ctx(), v.actor, in)
	if err != nil {
		return err
	}
	return s.tokensPage(v, openForm(nil), text, nil)
}

func (s *server) revokeToken(v *visit) error {
	if _, err := s.svc.Account.RevokeToken(v.ctx(), v.actor, paramID(v, "token")); err != nil {
		return err
	}
	return v.to("/tokens")
}
