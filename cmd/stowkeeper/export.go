package main

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"

	"stowkeeper/inventory/services"
	"stowkeeper/inventory/table"
	"stowkeeper/inventory/workbook"
)

// exportCommand writes everything, to leave with or to keep.
type exportCommand struct {
	database
	Whole  bool   `help:"One file with all records and secrets, for import whole."`
	Folder string `arg:"" help:"A new or empty folder; with --whole, a new file." type:"path"`
}

func (c *exportCommand) Run(ctx context.Context, std streams) error {
	return c.with(ctx, std, func(svc *services.All) error {
		if c.Whole {
			return exportWhole(ctx, std, svc, c.Folder)
		}
		folder, err := table.NewFolder(c.Folder)
		if err != nil {
			return err
		}
		if err := errors.Join(svc.Exchange.Export(ctx, operator, folder), folder.Close()); err != nil {
			return err
		}
		book := filepath.Join(c.Folder, "stowkeeper.xlsx")
		file, err := os.OpenFile(book, os.O_CREATE|os.O_EXCL|os.O_WRONLY, 0o600) // #nosec G304 -- the operator names it
		if err != nil {
			return err
		}
		sink := workbook.New(file)
		if err := errors.Join(svc.Exchange.Export(ctx, operator, sink), sink.Close(), file.Close()); err != nil {
			return err
		}
		fmt.Fprintf(std.out, "CSV files, README.txt and stowkeeper.xlsx are in %s\n", c.Folder)
		return nil
	})
}
