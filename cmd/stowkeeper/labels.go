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

	"stowkeeper/inventory"
	"stowkeeper/inventory/message"
	"stowkeeper/inventory/services"
	"stowkeeper/inventory/storeroom"
	"stowkeeper/labels"
	"stowkeeper/labels/labelof"
)

// labelsCommand prints labels of every kind, and the page that a printer's offsets are found with.
type labelsCommand struct {
	database
	BaseURL     string   `name:"base-url" env:"STOWKEEPER_BASE_URL" help:"Address of the service." placeholder:"URL"`
	Kind        string   `default:"bag" enum:"bag,card,shelf,device" help:"bag, card (its contents), shelf or device."`
	Sheet       string   `default:"a4-3x7" enum:"${sheets}" help:"Label sheet: ${sheets}."`
	Start       int      `default:"1" help:"First position, on a part-used sheet."`
	OffsetX     *float64 `placeholder:"MM" help:"Shift right by mm, -5 to 5. Default: remembered."`
	OffsetY     *float64 `placeholder:"MM" help:"Shift down by mm, -5 to 5. Default: remembered."`
	Outline     bool     `help:"Draw label edges, for plain paper."`
	Station     string   `help:"Print everything at this station." placeholder:"CODE"`
	Place       string   `help:"Store, for --kind shelf." placeholder:"CODE"`
	Printer     string   `placeholder:"STATION" help:"Station whose offsets to use. Default: that of the first label."`
	Remember    bool     `help:"Remember these offsets for the station and sheet."`
	Calibration bool     `help:"Print a calibration page instead."`
	Out         string   `required:"" help:"PDF file to write." placeholder:"FILE"`
	Names       []string `arg:"" optional:"" help:"Codes of bags or items, serial numbers of devices. Default: all."`
}

// Validate refuses labels without the address that they are to hold.
func (c *labelsCommand) Validate() error {
	if c.BaseURL == "" && !c.Calibration {
		return errors.New("missing flags: --base-url=URL")
	}
	return nil
}

func (c *labelsCommand) Run(ctx context.Context, std streams) error {
	if u, err := url.Parse(c.BaseURL); !c.Calibration && (err != nil || u.Host == "" || u.Scheme != "http" &&
		u.Scheme != "https") {
		return inventory.InvalidField("base-url", "enter it as https://host or http://host:port; labels keep it for good")
	}
	return c.with(ctx, std, func(svc *services.All) error { return c.print(ctx, std, svc) })
}

func (c *labelsCommand) print(ctx context.Context, std streams, svc *services.All) error {
	sheet, err := labels.SheetByName(c.Sheet)
	if err != nil {
		return err
	}
	var facts []storeroom.LabelFacts
	if !c.Calibration {
		if facts, err = c.facts(ctx, svc); err == nil && len(facts) == 0 {
			err = errors.New("nothing to print: no bags, items or devices match")
		}
		if err != nil {
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
	if err := os.WriteFile(c.Out, pdf.Bytes(), 0o644); err != nil { // #nosec G306 -- labels hang in the open
		return err
	}
	fmt.Fprint(std.out, says)
	if c.Remember {
		_, err = svc.Storeroom.KeepSheetOffset(ctx, operator, inventory.SheetOffset{Station: printer, Sheet: sheet.Name,
			X: opt.OffsetX, Y: opt.OffsetY})
	}
	return err
}

// write prints the labels, or the calibration page, and returns what to say of them.
func (c *labelsCommand) write(pdf io.Writer, std streams, sheet labels.Sheet, facts []storeroom.LabelFacts,
	opt labels.Options) (string, error) {
	if c.Calibration {
		return fmt.Sprintf("calibration page of %s: print at 100 %%\n", sheet), labels.WriteCalibration(pdf, sheet, opt)
	}
	var printed []labels.Label
	for _, f := range facts {
		printed = append(printed, labelof.Facts(f, c.BaseURL))
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

// options are those given, and for offsets that are left out the remembered ones of the station that prints.
func (c *labelsCommand) options(ctx context.Context, svc *services.All, sheet labels.Sheet,
	facts []storeroom.LabelFacts) (printer string, opt labels.Options, err error) {
	printer = inventory.NormalCode(c.Printer)
	if printer == "" && len(facts) > 0 {
		printer = facts[0].Station
	}
	if printer == "" && c.Remember {
		return "", opt, inventory.InvalidField("printer", "add --printer STATION to remember offsets for it")
	}
	kept, err := svc.Storeroom.SheetOffset(ctx, operator, printer, sheet.Name)
	if c.Printer != "" && inventory.KindOf(err) == inventory.Invalid {
		return "", opt, inventory.InvalidField("printer", "not found")
	}
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
	for _, code := range codes {
		_, err := svc.Lists.Bag(ctx, operator, code)
		var e *inventory.Error
		if errors.As(err, &e) && e.Kind == inventory.NotFound {
			return inventory.InvalidField(printable(code), "{1}", message.Join("; ", message.M("not found"),
				nearest(e.Near)))
		}
		if err != nil {
			return err
		}
	}
	return nil
}

func nearest(near []inventory.Suggestion) message.Message {
	var found []string
	for _, n := range near {
		found = append(found, n.Code)
	}
	if len(found) == 0 {
		return nil
	}
	return message.M("the nearest: {1}", strings.Join(found, ", "))
}

// devices finds devices by serial number, else by lot id.
func (c *labelsCommand) devices(ctx context.Context, svc *services.All, ask storeroom.LabelAsk) ([]storeroom.LabelFacts,
	error) {
	all, err := svc.Storeroom.Labels(ctx, operator, ask)
	if err != nil || len(c.Names) == 0 {
		return all, err
	}
	var out []storeroom.LabelFacts
	for _, name := range c.Names {
		i := slices.IndexFunc(all, func(f storeroom.LabelFacts) bool { return f.Serial == name })
		if i < 0 {
			i = slices.IndexFunc(all, func(f storeroom.LabelFacts) bool { return strconv.FormatInt(f.LotID, 10) == name })
		}
		if i < 0 {
			return nil, inventory.InvalidField(printable(name), "no device has this serial number")
		}
		out = append(out, all[i])
	}
	return out, nil
}
