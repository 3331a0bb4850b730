package main

import (
	"context"
	"fmt"
	"strings"
	"text/tabwriter"

	"stowkeeper/inventory"
	"stowkeeper/inventory/secret"
	"stowkeeper/inventory/services"
)

// personCommand keeps the people who sign in.
type personCommand struct {
	database
	Add     personAdd     `cmd:"" help:"Add a person with a PIN (crew) or password."`
	List    personList    `cmd:"" help:"List everyone."`
	Disable personDisable `cmd:"" help:"End a person's access; their history stays."`
	Enable  personEnable  `cmd:"" help:"Let a disabled person sign in again."`
	Secret  personSecret  `cmd:"" name:"set-password" help:"Set a new PIN or password and sign the person out."`
}

type personAdd struct {
	Name    string   `arg:"" help:"Full name."`
	Role    string   `required:"" enum:"${roles}" help:"${roles}." placeholder:"ROLE"`
	Station []string `field:"stations" help:"Their stations' codes." placeholder:"CODE"`
}

func (c *personAdd) Run(ctx context.Context, std streams, of *personCommand) error {
	return of.toWrite(ctx, std, func(svc *services.All) error {
		typed, err := newSecret(ctx, std)
		if err != nil {
			return err
		}
		in := inventory.Person{Name: c.Name, Role: inventory.Role(c.Role), Stations: c.Station}
		_, err = svc.Account.CreatePerson(ctx, operator, in, typed, secret.Argon2id{})
		return err
	})
}

// named is a person whom a command is about.
type named struct {
	Name string `arg:"" help:"Full name."`
}

type personSecret struct{ named }

// Run does so also while the clock is wrong: an administrator signs in to say which is right.
func (c *personSecret) Run(ctx context.Context, std streams, of *personCommand) error {
	return of.with(ctx, std, func(svc *services.All) error {
		typed, err := newSecret(ctx, std)
		if err != nil {
			return err
		}
		return known("person", svc.Account.SetSecret(ctx, operator, c.Name, typed, secret.Argon2id{}))
	})
}

type personList struct{}

func (c *personList) Run(ctx context.Context, std streams, of *personCommand) error {
	return of.with(ctx, std, func(svc *services.All) error {
		people, err := svc.Account.People(ctx, operator)
		if err != nil {
			return err
		}
		w := tabwriter.NewWriter(std.out, 0, 0, 2, ' ', 0)
		fmt.Fprintln(w, "NAME\tROLE\tSTATIONS\tSTATE")
		for _, p := range people {
			state := "active"
			if p.Disabled {
				state = "disabled"
			}
			fmt.Fprintf(w, "%s\t%s\t%s\t%s\n", p.Name, p.Role, stationsOrAll(p.Stations), state)
		}
		return w.Flush()
	})
}

// stationsOrAll lists stations, of which none means all.
func stationsOrAll(codes []string) string {
	if len(codes) == 0 {
		return "all"
	}
	return strings.Join(codes, " ")
}

type personDisable struct{ named }

func (c *personDisable) Run(ctx context.Context, std streams, of *personCommand) error {
	return of.toWrite(ctx, std, func(svc *services.All) error {
		return known("person", svc.Account.DisablePerson(ctx, operator, c.Name))
	})
}

type personEnable struct{ named }

func (c *personEnable) Run(ctx context.Context, std streams, of *personCommand) error {
	return of.toWrite(ctx, std, func(svc *services.All) error {
		return known("person", svc.Account.EnablePerson(ctx, operator, c.Name))
	})
}

// known says where to look the name up of what is not there.
func known(what string, err error) error {
	if inventory.KindOf(err) == inventory.NotFound {
		return inventory.InvalidField("name", "no such {1}: run stowkeeper {1} list", what)
	}
	return err
}
