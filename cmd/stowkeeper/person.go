package main

import (
	"bufio"
	"context"
	"fmt"
	"io"
	"strings"
	"text/tabwriter"

	"stowkeeper/inventory"
	"stowkeeper/inventory/account"
	"stowkeeper/inventory/secret"
)

// personCommand keeps the people who sign in.
type personCommand struct {
	database
	Add     personAdd     `cmd:"" help:"Add a person. The PIN (crew) or password is read from standard input."`
	List    personList    `cmd:"" help:"List everybody."`
	Disable personDisable `cmd:"" help:"End a person's access; what they did stays."`
	Secret  personSecret  `cmd:"" help:"New PIN or password, from standard input; signs them out."`
}

type personAdd struct {
	Name    string   `arg:"" help:"Full name."`
	Role    string   `required:"" enum:"crew,quartermaster,manager,administrator" help:"What they may do."`
	Station []string `help:"Station codes that the person belongs to."`
}

func (c *personAdd) Run(ctx context.Context, std streams, cli *commands) error {
	svc, closeDB, err := cli.Person.open(ctx, std)
	if err != nil {
		return err
	}
	defer closeDB()
	typed, err := askSecret(std)
	if err != nil {
		return err
	}
	in := inventory.Person{Name: c.Name, Role: inventory.Role(c.Role), Stations: c.Station}
	_, err = svc.Account.CreatePerson(ctx, operator, in, typed, secret.Argon2id{})
	return err
}

// askSecret reads a PIN or password from standard input: never from the command
// line, which others on the machine can see.
func askSecret(std streams) (string, error) {
	fmt.Fprint(std.err, "PIN or password: ")
	line, err := bufio.NewReader(io.LimitReader(std.in, 1024)).ReadString('\n')
	if err == io.EOF {
		err = nil
	}
	return strings.TrimRight(line, "\r\n"), err
}

type personSecret struct {
	Name string `arg:"" help:"Full name."`
}

func (c *personSecret) Run(ctx context.Context, std streams, cli *commands) error {
	svc, closeDB, err := cli.Person.open(ctx, std)
	if err != nil {
		return err
	}
	defer closeDB()
	people, err := svc.Account.People(ctx, operator)
	if err != nil {
		return err
	}
	for _, p := range people {
		if p.Name == c.Name {
			typed, err := askSecret(std)
			if err != nil {
				return err
			}
			if typed == "" {
				return inventory.Invalidf("secret", "give a PIN or password")
			}
			ch := account.PersonChange{Role: p.Role, Stations: p.Stations, Disabled: p.Disabled, Secret: typed}
			_, err = svc.Account.ChangePerson(ctx, operator, p.ID, ch, secret.Argon2id{})
			return err
		}
	}
	return inventory.Errorf(inventory.NotFound, "no such person")
}

type personList struct{}

func (c *personList) Run(ctx context.Context, std streams, cli *commands) error {
	svc, closeDB, err := cli.Person.open(ctx, std)
	if err != nil {
		return err
	}
	defer closeDB()
	people, err := svc.Account.People(ctx, operator)
	w := tabwriter.NewWriter(std.out, 0, 0, 2, ' ', 0)
	for _, p := range people {
		state := "active"
		if p.Disabled {
			state = "disabled"
		}
		fmt.Fprintf(w, "%s\t%s\t%s\t%s\n", p.Name, p.Role, strings.Join(p.Stations, " "), state)
	}
	w.Flush()
	return err
}

type personDisable struct {
	Name string `arg:"" help:"Full name."`
}

func (c *personDisable) Run(ctx context.Context, std streams, cli *commands) error {
	svc, closeDB, err := cli.Person.open(ctx, std)
	if err != nil {
		return err
	}
	defer closeDB()
	return svc.Account.DisablePerson(ctx, operator, c.Name)
}
