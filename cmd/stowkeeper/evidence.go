package main

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"os"

	"stowkeeper/inventory"
	"stowkeeper/inventory/services"
)

// evidenceCommand writes what a station recorded, for somebody who trusts neither it nor the program.
type evidenceCommand struct {
	database
	Station string        `help:"Station." required:"" placeholder:"CODE"`
	From    inventory.Day `help:"First day, at the station." required:"" placeholder:"YYYY-MM-DD"`
	To      inventory.Day `help:"Last day." required:"" placeholder:"YYYY-MM-DD"`
	Out     string        `help:"A new file." required:"" placeholder:"FILE"`
}

func (c *evidenceCommand) Run(ctx context.Context, std streams) error {
	return c.with(ctx, std, func(svc *services.All) error {
		file, err := os.OpenFile(c.Out, os.O_CREATE|os.O_EXCL|os.O_WRONLY, 0o600) // #nosec G304 -- the operator names it
		if err != nil {
			return inventory.InvalidField("out", "name a new file in a folder that exists")
		}
		w := bufio.NewWriter(file)
		err = inventory.AsField(svc.Verify.Evidence(ctx, c.Station, c.From, c.To, w), "station", "not found")
		if err := errors.Join(err, w.Flush(), file.Close()); err != nil {
			return errors.Join(err, os.Remove(c.Out))
		}
		fmt.Fprintf(std.out, "%s holds what was recorded, and says how to prove it\n", c.Out)
		return nil
	})
}
