package main

import (
	"cmp"
	"context"
	"fmt"
	"strings"
	"text/tabwriter"
	"time"

	"stowkeeper/inventory"
)

// tokenCommand keeps the tokens of programs; to make one is what it does when
// nothing else is said.
type tokenCommand struct {
	database
	Make   tokenMake   `cmd:"" default:"withargs" help:"Make a token and print it, alone and once. The default."`
	List   tokenList   `cmd:"" help:"List tokens, with when each was used last and when it ends."`
	Revoke tokenRevoke `cmd:"" help:"End a token for good."`
}

type tokenMake struct {
	Role    string   `required:"" enum:"crew,quartermaster,manager,administrator" help:"What the program may do."`
	Station []string `help:"Station codes that it may reach; every station if left out (crew tokens need one)."`
	Scope   []string `help:"Actions that it is kept to, such as see, check, report; all that the role may do if left out."`
	Expires string   `help:"Last day, UTC, as YYYY-MM-DD. Default: in a year; at most five." placeholder:"DAY"`
	Name    string   `required:"" help:"Name of the program, kept in the ledger as who did it."`
}

func (c *tokenMake) Run(ctx context.Context, std streams, cli *commands) error {
	in := inventory.Token{Name: c.Name, Role: inventory.Role(c.Role), Stations: c.Station}
	for _, a := range c.Scope {
		in.Scope = append(in.Scope, inventory.Action(a))
	}
	if c.Expires != "" {
		day, err := inventory.ParseDay(c.Expires)
		if err != nil {
			return inventory.Invalidf("expires", "write the day as YYYY-MM-DD")
		}
		in.EndsAt = day.AddDays(1).Start(time.UTC)
	}
	svc, closeDB, err := cli.Token.open(ctx, std)
	if err != nil {
		return err
	}
	defer closeDB()
	text, err := svc.Account.CreateToken(ctx, operator, in)
	if err == nil {
		fmt.Fprintln(std.out, text)
	}
	return err
}

type tokenList struct{}

func (c *tokenList) Run(ctx context.Context, std streams, cli *commands) error {
	svc, closeDB, err := cli.Token.open(ctx, std)
	if err != nil {
		return err
	}
	defer closeDB()
	tokens, err := svc.Account.Tokens(ctx, operator)
	w := tabwriter.NewWriter(std.out, 0, 0, 2, ' ', 0)
	for _, t := range tokens {
		state := "active"
		switch {
		case t.RevokedAt != 0:
			state = "revoked"
		case !t.Live(clock()):
			state = "ended"
		}
		fmt.Fprintf(w, "%s\t%s\t%s\tlast used %s\tends %s\t%s\n", t.Name, t.Role, strings.Join(t.Stations, " "),
			cmp.Or(t.LastUsed.String(), "never"), cmp.Or(t.EndsAt.String(), "never"), state)
	}
	w.Flush()
	return err
}

type tokenRevoke struct {
	Name string `arg:"" help:"Name of the program."`
}

func (c *tokenRevoke) Run(ctx context.Context, std streams, cli *commands) error {
	svc, closeDB, err := cli.Token.open(ctx, std)
	if err != nil {
		return err
	}
	defer closeDB()
	tokens, err := svc.Account.Tokens(ctx, operator)
	if err != nil {
		return err
	}
	for _, t := range tokens {
		if t.Name == c.Name {
			_, err := svc.Account.RevokeToken(ctx, operator, t.ID)
			return err
		}
	}
	return inventory.Errorf(inventory.NotFound, "no such token")
}
