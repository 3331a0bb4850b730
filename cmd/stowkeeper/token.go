package main

import (
	"context"
	"fmt"

	"stowkeeper/inventory"
)

// tokenCommand makes a token for a program.
type tokenCommand struct {
	database
	Role string   `required:"" enum:"crew,quartermaster,manager,administrator" help:"What the program may do: crew, quartermaster, manager or administrator."`
	Site []string `help:"Site codes that it may reach; every site if left out (crew tokens need one)."`
	Name string   `required:"" help:"Name of the program, kept in the ledger as who did it."`
}

func (c *tokenCommand) Run(ctx context.Context, std streams) error {
	svc, closeDB, err := c.open(ctx, std)
	if err != nil {
		return err
	}
	defer closeDB()
	text, err := svc.CreateToken(ctx, operator, inventory.Token{Name: c.Name, Role: inventory.Role(c.Role), Sites: c.Site})
	if err == nil {
		fmt.Fprintln(std.out, text)
	}
	return err
}
