package main

import (
	"bytes"
	"context"
	"fmt"
	"net/url"
	"os"

	"stowkeeper/inventory"
	"stowkeeper/labels"
)

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
	if err := c.mustExist(); err != nil {
		return err
	}
	if u, err := url.Parse(c.BaseURL); err != nil || u.Host == "" || u.Scheme != "http" && u.Scheme != "https" {
		return inventory.Invalidf("base-url", "give it as https://host or http://host:port: printed labels cannot be mended")
	}
	svc, closeDB, err := c.open(ctx, std)
	if err != nil {
		return err
	}
	defer closeDB()
	sheet, err := labels.SheetByName(c.Sheet)
	if err != nil {
		return err
	}
	printed, err := c.labels(ctx, svc)
	if err != nil {
		return err
	}
	var pdf bytes.Buffer // a file that is there already stays as it is when this fails
	report, err := labels.WritePDF(&pdf, sheet, printed, labels.Options{Start: c.Start})
	if err != nil {
		return err
	}
	if err := os.WriteFile(c.Out, pdf.Bytes(), 0o644); err != nil {
		return err
	}
	for _, w := range report.Warnings {
		fmt.Fprintln(std.err, w)
	}
	fmt.Fprintf(std.out, "%d labels on %s: print at 100 %%\n", len(printed), sheet)
	return nil
}

func (c *labelsCommand) labels(ctx context.Context, svc *inventory.Service) ([]labels.Label, error) {
	bags, err := c.bags(ctx, svc)
	var out []labels.Label
	for _, b := range bags {
		k, err := svc.KitList(ctx, operator, b.KitList, b.KitListVersion)
		if err != nil {
			return nil, err
		}
		out = append(out, labels.Bag{Code: b.Code, Name: b.Name, KitList: k.Name, Edition: k.Edition, Address: labels.Address(c.BaseURL, b.Code)})
	}
	return out, err
}

// bags returns the bags that are named, in that order, or all.
func (c *labelsCommand) bags(ctx context.Context, svc *inventory.Service) ([]inventory.Bag, error) {
	if len(c.Bags) == 0 {
		return svc.Bags(ctx, operator, inventory.BagFilter{}, inventory.Page{})
	}
	var out []inventory.Bag
	for i, code := range c.Bags {
		b, err := svc.Bag(ctx, operator, code)
		if inventory.KindOf(err) == inventory.NotFound {
			err = inventory.Invalidf(fmt.Sprintf("bags[%d]", i), "no such bag")
		}
		if err != nil {
			return nil, err
		}
		out = append(out, b)
	}
	return out, nil
}
