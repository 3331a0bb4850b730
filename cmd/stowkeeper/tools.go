package main

import (
	"bufio"
	"context"
	"fmt"
	"io"
	"os"
	"strings"
	"text/tabwriter"

	"stowkeeper/inventory"
	"stowkeeper/inventory/secret"
	"stowkeeper/labels"
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

// labelsCommand prints bag labels.
type labelsCommand struct {
	database
	BaseURL string   `name:"base-url" required:"" help:"Address at which people reach the service; the labels hold it."`
	Sheet   string   `default:"a4-3x7" help:"Sheet by its geometry."`
	Start   int      `default:"1" help:"First position to print on, for a sheet used in part."`
	Out     string   `required:"" help:"PDF file to write." placeholder:"FILE"`
	Bags    []string `arg:"" optional:"" help:"Bag codes; every bag if left out."`
}

func (c *labelsCommand) Run(ctx context.Context, std streams) error {
	svc, closeDB, err := c.open(ctx, std)
	if err != nil {
		return err
	}
	defer closeDB()
	sheet, err := labels.SheetByName(c.Sheet)
	if err != nil {
		return err
	}
	bags, err := c.bags(ctx, svc)
	if err != nil {
		return err
	}
	var print []labels.Label
	for _, b := range bags {
		k, err := svc.KitList(ctx, operator, b.KitList, b.KitListVersion)
		if err != nil {
			return err
		}
		print = append(print, labels.Bag{Code: b.Code, Name: b.Name, KitList: k.Name, Edition: k.Edition, Address: labels.Address(c.BaseURL, b.Code)})
	}
	f, err := os.Create(c.Out)
	if err != nil {
		return err
	}
	report, err := labels.WritePDF(f, sheet, print, labels.Options{Start: c.Start})
	if closing := f.Close(); err == nil {
		err = closing
	}
	if err != nil {
		return err
	}
	for _, w := range report.Warnings {
		fmt.Fprintln(std.err, w)
	}
	fmt.Fprintf(std.out, "%d labels on %s: print at 100 %%\n", len(print), sheet)
	return nil
}

func (c *labelsCommand) bags(ctx context.Context, svc *inventory.Service) ([]inventory.Bag, error) {
	var out []inventory.Bag
	for _, code := range c.Bags {
		b, err := svc.Bag(ctx, operator, code)
		if err != nil {
			return nil, fmt.Errorf("bag %s: %w", code, err)
		}
		out = append(out, b)
	}
	if len(c.Bags) > 0 {
		return out, nil
	}
	all, err := svc.BagList(ctx, operator, inventory.BagFilter{}, inventory.Page{}, inventory.Ask{})
	for _, b := range all {
		out = append(out, b.Bag)
	}
	return out, err
}

// verifyCommand recomputes everything that follows from the movements.
type verifyCommand struct{ database }

func (c *verifyCommand) Run(ctx context.Context, std streams) error {
	svc, closeDB, err := c.open(ctx, std)
	if err != nil {
		return err
	}
	defer closeDB()
	r, err := svc.Verify(ctx)
	if err != nil {
		return err
	}
	for _, f := range r.Faults {
		fmt.Fprintln(std.out, f)
	}
	fmt.Fprintf(std.out, "%d movements, %d balances, %d bags looked at, %d faults\n", r.Movements, r.Balances, r.Bags, len(r.Faults))
	if len(r.Faults) > 0 {
		return fmt.Errorf("the ledger does not verify")
	}
	return nil
}
