package main

import (
	"context"
	"fmt"
)

// verifyCommand recomputes everything that follows from the movements.
type verifyCommand struct{ database }

func (c *verifyCommand) Run(ctx context.Context, std streams) error {
	if err := c.mustExist(); err != nil { // an empty one would verify
		return err
	}
	svc, closeDB, err := c.open(ctx, std)
	if err != nil {
		return err
	}
	defer closeDB()
	r, err := svc.Verify.Verify(ctx)
	if err != nil {
		return err
	}
	for _, f := range r.Faults {
		fmt.Fprintln(std.out, f)
	}
	fmt.Fprintf(std.out, "%d movements, %d balances, %d bags looked at, %d faults\n", r.Movements, r.Balances, r.Bags,
		len(r.Faults))
	if len(r.Faults) > 0 {
		return fmt.Errorf("the ledger does not verify")
	}
	return nil
}
