package main

import (
	"context"
	"errors"
	"fmt"
	"os"

	"stowkeeper/inventory"
	"stowkeeper/inventory/services"
	"stowkeeper/inventory/verify"
)

// verifyCommand compares every row with the chains and recomputes what follows from them.
type verifyCommand struct {
	database
	Heads bool   `help:"Print the heads of the chains, to be kept elsewhere, and do no more."`
	Since string `help:"Heads kept earlier: what --heads printed, or heads.csv of an export." placeholder:"FILE"`
}

// Help says what is found only with heads that were kept elsewhere.
func (c *verifyCommand) Help() string {
	return "Finds every row, balance or entry that was altered, put in or removed carelessly. Somebody who can write to " +
		"the database and makes a whole chain again, or cuts its end together with its head, is found only by heads " +
		"from before that they cannot reach: print them with --heads now and then, keep them on paper or on another " +
		"machine (they are on every export too), and give them with --since. People are in the chains by a number, " +
		"so that a name can be erased where the law asks it: who changes a name everywhere is not found."
}

func (c *verifyCommand) Run(ctx context.Context, std streams) error {
	var kept []inventory.Head
	if c.Since != "" {
		text, err := os.ReadFile(c.Since)
		if err != nil {
			return inventory.InvalidField("since", "no such file: check the path")
		}
		if kept, err = verify.ParseHeads(string(text)); err != nil {
			return err
		}
	}
	return c.with(ctx, std, func(svc *services.All) error {
		if c.Heads {
			heads, err := svc.Verify.Heads(ctx)
			for _, h := range heads {
				fmt.Fprintln(std.out, h)
			}
			return err
		}
		r, err := svc.Verify.Verify(ctx, kept...)
		if err != nil {
			return err
		}
		for _, f := range r.Faults {
			fmt.Fprintln(std.out, f)
		}
		for _, f := range r.OutOfTime {
			fmt.Fprintf(std.out, "not a fault, but check: %s\n", f)
		}
		fmt.Fprintf(std.out, "%d entries, %d rows, %d stock records, %d balances, %d bags, %d faults\n", r.Entries, r.Facts,
			r.Movements, r.Balances, r.Bags, len(r.Faults))
		if len(r.Faults) > 0 {
			return errors.New("the records do not verify: see the faults above")
		}
		noteVerified(c.DB)
		return nil
	})
}
