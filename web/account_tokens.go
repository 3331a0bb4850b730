package web

import (
	"slices"
	"strconv"
	"strings"
	"time"

	"stowkeeper/inventory"
)

// tokensPage lists the tokens of programs.
type tokensPage struct {
	Base
	Form         Form
	Fresh        string // the text of a token just made, shown this once
	Rows         []TokenRow
	Name, RoleOf Field
	Days, Own    Field
	Stations     []Tick
	Scope        []Tick
}

// TokenRow is one token in the list.
type TokenRow struct {
	ID                          int64
	Name, Role, Stations, Scope string
	By                          string
	LastUsed                    inventory.Day
	Ends                        When
	Live, Revoked               bool
}

func (s *server) showTokens(v *visit) error { return s.tokensForm(v, openForm(nil), "", nil) }

func (s *server) tokensForm(v *visit, f *form, fresh string, failed error) error {
	all, err := s.svc.Account.Tokens(v.ctx(), v.actor)
	if err != nil {
		return err
	}
	stations := v.stations()
	p := &tokensPage{Base: Base{Title: "Tokens"}, Fresh: fresh, Rows: tokenRows(all, v.now)}
	var roles []Option
	for _, r := range inventory.Roles {
		roles = append(roles, Option{Value: string(r), Text: string(r)})
	}
	p.Name = f.field("name", "Name of the program").Need().WithHint("The ledger keeps it as who did it.")
	p.RoleOf = f.choice("role", "Role", roles).Need()
	p.Days = f.numberField("days", "Ends after so many days").WithHint("365 if left out, at most 1826.")
	for _, x := range stations {
		p.Stations = append(p.Stations, Tick{x.Code, x.Name, slices.Contains(f.values["stations"], x.Code)})
	}
	for _, a := range inventory.Actions {
		if a != inventory.ActOpen && a != inventory.ActAccount {
			p.Scope = append(p.Scope, Tick{string(a), strings.ReplaceAll(string(a), "_", " "), slices.Contains(f.values["scope"],
				string(a))})
		}
	}
	p.Own = v.confirmField(f, "")
	p.Form = f.state(failed, "", 0)
	return s.render(v, statusOf(failed), p)
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
			By: t.CreatedBy, LastUsed: t.LastUsed,
			Ends: whenAt(t.EndsAt, inventory.Station{Timezone: "UTC"}), Live: t.Live(now), Revoked: t.RevokedAt != 0}
		for _, a := range t.Scope {
			row.Scope += strings.ReplaceAll(string(a), "_", " ") + ", "
		}
		row.Scope = strings.TrimSuffix(row.Scope, ", ")
		rows = append(rows, row)
	}
	return rows
}

func (s *server) createToken(v *visit) error {
	f := openForm(v.Request.PostForm)
	in := inventory.Token{Name: f.text("name"), Role: inventory.Role(f.text("role")), Stations: f.values["stations"]}
	for _, a := range f.values["scope"] {
		in.Scope = append(in.Scope, inventory.Action(a))
	}
	if days := f.number("days"); days != 0 {
		in.EndsAt = v.now.Add(time.Duration(days) * 24 * time.Hour)
	}
	err := f.err()
	text := ""
	if err == nil {
		err = s.confirm(v, f, "")
	}
	if err == nil {
		text, err = s.svc.Account.CreateToken(v.ctx(), v.actor, in)
	}
	if onForm(err) {
		f.take(err, func(path string) string {
			if path == "ends_at" {
				return "days"
			}
			return path
		})
		return s.tokensForm(v, f, "", err)
	}
	if err != nil {
		return err
	}
	return s.tokensForm(v, openForm(nil), text, nil)
}

func (s *server) revokeToken(v *visit) error {
	id, err := strconv.ParseInt(v.Param("token"), 10, 64)
	if err != nil {
		return inventory.Errorf(inventory.NotFound, "no such token")
	}
	if _, err := s.svc.Account.RevokeToken(v.ctx(), v.actor, id); err != nil {
		return err
	}
	return v.to("/tokens")
}
