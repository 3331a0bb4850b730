package main

import (
	"bufio"
	"context"
	"fmt"
	"io"
	"strings"
	"text/tabwriter"

	"stowkeeper/inventory"
	"stowkeeper/inventory/secret"
)

// personCommand keeps the people who sign in.
type personCommand struct {
	database
	Add     personAdd     `cmd:"" help:"Add a person. The PIN (crew) or password is read from standard input."`
	List    personList    `cmd:"" help:"List everybody."`
	Disable personDisable `cmd:"" help:"End a person's access; what they did stays."`
}

type personAdd struct {
	Name string   `arg:"" help:"Full name."`
	Role string   `required:"" enum:"crew,quartermaster,manager,administrator" help:"crew, quartermaster, manager or administrator."`
	Site []string `help:"Site codes that the person belongs to."`
}

func (c *personAdd) Run(ctx context.Context, std streams, cli *commands) error {
	svc, closeDB, err := cli.Person.open(ctx, std)
	if err != nil {
		return err
	}
	defer closeDB()
	fmt.Fprint(std.err, "PIN or password: ")
	line, err := bufio.NewReader(io.LimitReader(std.in, 1024)).ReadString('\n')
	if err != nil && err != io.EOF {
		return err
	}
	in := inventory.Person{Name: c.Name, Role: inventory.Role(c.Role), Sites: c.Site}
	_, err = svc.CreatePerson(ctx, operator, in, strings.TrimRight(line, "\r\n"), secret.Argon2id{})
	return err
}

type personList struct{}

func (c *personList) Run(ctx context.Context, std streams, cli *commands) error {
	svc, closeDB, err := cli.Person.open(ctx, std)
	if err != nil {
		return err
	}
	defer closeDB()
	people, err := svc.People(ctx, operator)
	w := tabwriter.NewWriter(std.out, 0, 0, 2, ' ', 0)
	for _, p := range people {
		state := "active"
		if p.Disabled {
			state = "disabled"
		}
		fmt.Fprintf(w, "%s\t%s\t%s\t%s\n", p.Name, p.Role, strings.Join(p.Sites, " "), state)
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
	return svc.DisablePerson(ctx, operator, c.Name)
}
