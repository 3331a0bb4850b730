package main

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"net/url"
	"os"
	"slices"
	"strconv"
	"strings"

	"stowkeeper/api"
	"stowkeeper/inventory"
	"stowkeeper/inventory/services"
	"stowkeeper/inventory/storeroom"
	"stowkeeper/labels"
)

// labelsCommand prints labels of every kind, and the page that a printer's
// offsets are found with.
type labelsCommand struct {
	database
	BaseURL     string   `name:"base-url" help:"Address of the service, for the symbols."`
	Kind        string   `default:"bag" enum:"bag,card,shelf,device" help:"bag, card (its contents), shelf or device."`
	Sheet       string   `default:"a4-3x7" help:"Sheet by its geometry."`
	Start       int      `default:"1" help:"First position to print on, for a sheet used in part."`
	OffsetX     *float64 `placeholder:"MM" help:"Right by so many mm, -5 to 5. Default: remembered."`
	OffsetY     *float64 `placeholder:"MM" help:"Down by so many mm, -5 to 5. Default: remembered."`
	Outline     bool     `help:"Draw the edge of each label, for plain paper."`
	Station     string   `help:"Where nothing is named: print what is at this station."`
	Place       string   `help:"Store whose shelves are labelled, for --kind shelf."`
	Printer     string   `placeholder:"STATION" help:"Station whose offsets to use. Default: that of the first label."`
	Remember    bool     `help:"Keep the offsets of this print for the station that prints and the sheet."`
	Calibration bool     `help:"Print the calibration page of the sheet instead of labels."`
	Out         string   `required:"" help:"PDF file to write." placeholder:"FILE"`
	Names       []string `arg:"" optional:"" help:"Codes of bags or items, serial numbers of devices. Default: all."`
}

// Validate refuses labels without the address that they are to hold.
func (c *labelsCommand) Validate() error {
	if c.BaseURL == "" && !c.Calibration {
		return errors.New("missing flags: --base-url=STRING, the address that the labels hold")
	}
	return nil
}

func (c *labelsCommand) Run(ctx context.Context, std streams) error {
	if err := c.mustExist(); err != nil {
		return err
	}
	if u, err := url.Parse(c.BaseURL); !c.Calibration && (err != nil || u.Host == "" || u.Scheme != "http" &&
		u.Scheme != "https") {
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
	var facts []storeroom.LabelFacts
	if !c.Calibration {
		if facts, err = c.facts(ctx, svc); err != nil {
			return err
		}
	}
	printer, opt, err := c.options(ctx, svc, sheet, facts)
	if err != nil {
		return err
	}
	var pdf bytes.Buffer // a file that is there already stays as it is when this fails
	says, err := c.write(&pdf, std, sheet, facts, opt)
	if err != nil {
		return err
	}
	if err := os.WriteFile(c.Out, pdf.Bytes(), 0o644); err != nil {
		return err
	}
	fmt.Fprint(std.out, says)
	if c.Remember {
		_, err = svc.Storeroom.KeepSheetOffset(ctx, operator, inventory.SheetOffset{Station: printer, Sheet: sheet.Name,
			X: opt.OffsetX, Y: opt.OffsetY})
	}
	return err
}

// write prints the labels, or the calibration page, and returns what to say of
// them.
func (c *labelsCommand) write(pdf io.Writer, std streams, sheet labels.Sheet, facts []storeroom.LabelFacts,
	opt labels.Options) (string, error) {
	if c.Calibration {
		return fmt.Sprintf("calibration page of %s: print at 100 %%\n", sheet), labels.WriteCalibration(pdf, sheet, opt)
	}
	var printed []labels.Label
	for _, f := range facts {
		printed = append(printed, api.LabelOf(f, c.BaseURL))
	}
	report, err := labels.WritePDF(pdf, sheet, printed, opt)
	if err != nil {
		return "", err
	}
	for _, w := range report.Warnings {
		fmt.Fprintln(std.err, w)
	}
	return fmt.Sprintf(
		"%d labels on %s: print at 100 %%\nsmallest module %.2f mm, read from up to %d cm; offsets x %+.2f mm, y %+.2f mm\n",
		len(printed), sheet, report.ModuleMM, report.DistanceCM, opt.OffsetX, opt.OffsetY), nil
}

// options are those given, and for offsets that are left out the remembered
// ones of the station that prints.
func (c *labelsCommand) options(ctx context.Context, svc *services.All, sheet labels.Sheet,
	facts []storeroom.LabelFacts) (printer string, opt labels.Options, err error) {
	printer = inventory.NormalCode(c.Printer)
	if printer == "" && len(facts) > 0 {
		printer = facts[0].Station
	}
	if printer == "" && c.Remember {
		return "", opt, inventory.Invalidf("printer", "name the station that prints, so that its offsets can be kept")
	}
	kept, err := svc.Storeroom.SheetOffset(ctx, operator, printer, sheet.Name)
	for _, o := range []struct{ given, kept *float64 }{{c.OffsetX, &kept.X}, {c.OffsetY, &kept.Y}} {
		if o.given != nil {
			*o.kept = *o.given
		}
	}
	return printer, labels.Options{Start: c.Start, OffsetX: kept.X, OffsetY: kept.Y, Outline: c.Outline}, err
}

// facts reads what the labels say that are named, in that order, or all.
func (c *labelsCommand) facts(ctx context.Context, svc *services.All) ([]storeroom.LabelFacts, error) {
	ask := storeroom.LabelAsk{Kind: storeroom.LabelKind(c.Kind), Place: c.Place}
	if c.Station != "" {
		ask.Stations = []string{inventory.NormalCode(c.Station)}
	}
	switch ask.Kind {
	case storeroom.LabelShelf:
		ask.Items = c.Names
	case storeroom.LabelDevice:
		return c.devices(ctx, svc, ask)
	default:
		ask.Bags = c.Names
		if err := bagsExist(ctx, svc, c.Names); err != nil {
			return nil, err
		}
	}
	return svc.Storeroom.Labels(ctx, operator, ask)
}

// bagsExist tells which of several codes no bag has, and what comes near it.
func bagsExist(ctx context.Context, svc *services.All, codes []string) error {
	for i, code := range codes {
		_, err := svc.Lists.Bag(ctx, operator, code)
		var e *inventory.Error
		if errors.As(err, &e) && e.Kind == inventory.NotFound {
			return inventory.Invalidf(fmt.Sprintf("bags[%d]", i), "no such bag%s", nearest(e.Near))
		}
		if err != nil {
			return err
		}
	}
	return nil
}

func nearest(near []inventory.Suggestion) string {
	var found []string
	for _, n := range near {
		found = append(found, n.Code)
	}
	if len(found) == 0 {
		return ""
	}
	return "; the nearest: " + strings.Join(found, ", ")
}

// devices finds devices by serial number, else by lot id.
func (c *labelsCommand) devices(ctx context.Context, svc *services.All, ask storeroom.LabelAsk) ([]storeroom.LabelFacts,
	error) {
	all, err := svc.Storeroom.Labels(ctx, operator, ask)
	if err != nil || len(c.Names) == 0 {
		return all, err
	}
	var out []storeroom.LabelFacts
	for n, name := range c.Names {
		i := slices.IndexFunc(all, func(f storeroom.LabelFacts) bool { return f.Serial == name })
		if i < 0 {
			i = slices.IndexFunc(all, func(f storeroom.LabelFacts) bool { return strconv.FormatInt(f.LotID, 10) == name })
		}
		if i < 0 {
			return nil, inventory.Invalidf(fmt.Sprintf("devices[%d]", n), "no device has this serial number or lot id")
		}
		out = append(out, all[i])
	}
	return out, nil
}
