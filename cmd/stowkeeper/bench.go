package main

import (
	"context"
	"errors"
	"fmt"
	"os"
	"regexp"

	"stowkeeper/cmd/stowkeeper/bench"
	"stowkeeper/inventory"
)

// benchCommand is for developers. It makes a service, measures, and removes it.
type benchCommand struct {
	Stations int     `default:"60" help:"How many stations."`
	Bags     int     `default:"42" help:"How many bags each of them has."`
	Short    float64 `default:"0.2" help:"The share of bags that lack something."`
	Batches  int     `default:"5000" help:"How many batches of one item the first station has."`
	Only     string  `default:"" help:"Measures of this name alone, a regular expression."`
	JSON     bool    `name:"json" help:"Write the rows as JSON."`
	Loop     string  `hidden:"" help:"A database to write rows to one by one."`
}

func (c *benchCommand) Run(ctx context.Context, std streams) error {
	if c.Loop != "" {
		rate, err := bench.Loop(ctx, c.Loop)
		fmt.Fprintln(std.out, rate)
		return err
	}
	only, err := regexp.Compile(c.Only)
	if err != nil {
		return inventory.InvalidField("only", "is no regular expression: for example checks")
	}
	var ps inventory.Problems
	ps.When(c.Stations < 1, "stations", "enter 1 or more")
	ps.When(c.Bags < bench.LeastBags, "bags", "enter {1} or more", bench.LeastBags)
	ps.When(c.Short < 0 || c.Short > 1, "short", "enter a share from 0 to 1")
	if err := ps.Err(); err != nil {
		return err
	}
	program, err := os.Executable()
	if err != nil {
		return err
	}
	rows, err := bench.Run(ctx, bench.Options{Program: program, Stations: c.Stations, Bags: c.Bags,
		Batches: c.Batches, Short: c.Short, Only: only, Progress: std.err})
	if c.JSON {
		return errors.Join(err, bench.JSON(std.out, rows))
	}
	return err
}
