package main

import (
	"cmp"
	"context"
	"fmt"
	"text/tabwriter"
	"time"

	"stowkeeper/inventory"
	"stowkeeper/inventory/services"
)

// tokenCommand keeps the tokens of programs.
type tokenCommand struct {
	database
	Create tokenCreate `cmd:"" help:"Create a token and print it. It is shown only once."`
	List   tokenList   `cmd:"" help:"List tokens with last use and end."`
	Revoke tokenRevoke `cmd:"" help:"End a token for good."`
}

type tokenCreate struct {
	Name    string   `required:"" help:"Name of the program, shown in the history." placeholder:"NAME"`
	Role    string   `required:"" enum:"${roles}" help:"${roles}." placeholder:"ROLE"`
	Station []string `field:"stations" help:"Station codes. Default: all (crew tokens need one)." placeholder:"CODE"`
	Scope   []string `help:"Allow only these actions, like see or check. Default: all of the role." placeholder:"ACTION"`
	Expires string   `field:"ends_at" help:"Last day (UTC). Default: in a year; at most five." placeholder:"YYYY-MM-DD"`
}

func (c *tokenCreate) Run(ctx context.Context, std streams, of *tokenCommand) error {
	in := inventory.Token{Name: c.Name, Role: inventory.Role(c.Role), Stations: c.Station}
	for _, a := range c.Scope {
		in.Scope = append(in.Scope, inventory.Action(a))
	}
	if c.Expires != "" {
		day, err := inventory.ParseDay(c.Expires)
		if err != nil {
			return inventory.InvalidField("expires", "enter a day as YYYY-MM-DD")
		}
		in.EndsAt = day.AddDays(1).Start(time.UTC)
	}
	return of.toWrite(ctx, std, func(svc *services.All) error {
		text, err := svc.Account.CreateToken(ctx, operator, in)
		if err == nil {
			fmt.Fprintln(std.out, text)
		}
		return err
	})
}

type tokenList struct{}

func (c *tokenList) Run(ctx context.Context, std streams, of *tokenCommand) error {
	return of.with(ctx, std, func(svc *services.All) error {
		tokens, err := svc.Account.Tokens(ctx, operator)
		if err != nil {
			return err
		}
		w := tabwriter.NewWriter(std.out, 0, 0, 2, ' ', 0)
		fmt.Fprintln(w, "NAME\tROLE\tSTATIONS\tLAST USED\tENDS (UTC)\tSTATE")
		for _, t := range tokens {
			state, ends := "active", "never" // as tokens from before there was an end do
			if t.EndsAt != 0 {
				ends = t.EndsAt.Time().Format("2006-01-02 15:04")
			}
			switch {
			case t.RevokedAt != 0:
				state = "revoked"
			case !t.Live(clock()):
				state = "ended"
			}
			fmt.Fprintf(w, "%s\t%s\t%s\t%s\t%s\t%s\n", t.Name, t.Role, stationsOrAll(t.Stations),
				cmp.Or(t.LastUsed.String(), "never"), ends, state)
		}
		return w.Flush()
	})
}

type tokenRevoke struct {
	Name string `arg:"" help:"Name of the program."`
}

func (c *tokenRevoke) Run(ctx context.Context, std streams, of *tokenCommand) error {
	return of.toWrite(ctx, std, func(svc *services.All) error {
		t, err := svc.Account.TokenNamed(ctx, operator, c.Name)
		if err == nil {
			_, err = svc.Account.RevokeToken(ctx, operator, t.ID)
		}
		return known("token", err)
	})
}
