package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"strings"
	"text/tabwriter"
	"unicode"

	"golang.org/x/term"

	"stowkeeper/inventory"
	"stowkeeper/inventory/account"
	"stowkeeper/inventory/exchange"
	"stowkeeper/inventory/secret"
	"stowkeeper/inventory/services"
	"stowkeeper/inventory/table"
	"stowkeeper/inventory/workbook"
)

// importCommand reads lists from files.
type importCommand struct {
	database
	DryRun   bool   `name:"dry-run" help:"Show what would change; change nothing."`
	Dates    string `enum:",day-first,month-first" default:"" help:"What 05/06/2028 means: day-first or month-first."`
	SignedBy string `name:"signed-by" field:"signature" placeholder:"NAME" help:"Who signs for controlled items."`
	Witness  string `placeholder:"NAME" help:"The second person who signs."`
	Kind     string `arg:"" enum:"everything,whole,${lists}" help:"${lists}; or everything or whole, as exported."`
	File     string `arg:"" help:"CSV or XLSX; for everything, a folder; for whole, what export --whole wrote."`
}

func (c *importCommand) Run(ctx context.Context, std streams) error {
	if c.Kind == kindWhole {
		return c.importWhole(ctx, std)
	}
	source, done, err := openTables(c.File, c.Kind)
	if err != nil {
		return err
	}
	defer done()
	return c.orNew(ctx, std, services.Options{}, func(svc *services.All) error {
		if err := clockIsRight(ctx, svc); err != nil && !c.DryRun {
			return err
		}
		by, err := c.signed(ctx, std, svc)
		if err != nil {
			return err
		}
		bar := newBar(std.err)
		rep, err := svc.Exchange.Import(ctx, by, exchange.Import{Kind: exchange.ImportKind(c.Kind), Source: source,
			Dates: exchange.DayOrder(c.Dates), DryRun: c.DryRun, Progress: bar.tell})
		bar.end()
		if err != nil {
			return err
		}
		printImport(std.out, rep)
		if rep.SigningNeeded {
			fmt.Fprintln(std.out, "Controlled items need two signatures: add --signed-by and --witness. "+
				"First import stations and people, and set PINs for two of them.")
		}
		if rep.Stopped {
			return errors.New("stopped before its end, what came in stays: correct what was refused, and import it again")
		}
		if rep.Refused > 0 {
			return errors.New("nothing was imported: correct what was refused and import again")
		}
		return nil
	})
}

// signed has the two people sign who are named, for controlled items in a file: the command line signs for nobody.
func (c *importCommand) signed(ctx context.Context, std streams, svc *services.All) (inventory.Actor, error) {
	if c.SignedBy == "" && c.Witness == "" {
		return operator, nil
	}
	a := newAsker(std)
	var pins [2]account.PIN
	for i, name := range []string{c.SignedBy, c.Witness} {
		typed, err := a.ask(ctx, "PIN or password of "+printable(name)+": ")
		if err != nil {
			return operator, err
		}
		pins[i] = account.PIN(typed)
	}
	by := operator
	by.Program = true
	return svc.Account.Sign(ctx, by, account.Signing{
		Signature: &account.Signature{Person: c.SignedBy, PIN: pins[0]},
		Witness:   &account.Signature{Person: c.Witness, PIN: pins[1]},
	}, secret.Argon2id{})
}

// openTables opens a file by what it is, or a folder.
func openTables(path, kind string) (table.Source, func() error, error) {
	info, err := os.Stat(path)
	if err != nil {
		return nil, nil, inventory.InvalidField("file", "no such file: check the path")
	}
	if info.IsDir() {
		return table.Folder{Dir: path, Names: exchange.TableNames()}, func() error { return nil }, nil
	}
	file, err := os.Open(path) // #nosec G304 -- the operator names it
	if err != nil {
		return nil, nil, err
	}
	if !strings.HasSuffix(strings.ToLower(path), ".xlsx") {
		return table.CSV{Name: kind, Data: file, Size: info.Size()}, file.Close, nil
	}
	book, err := workbook.Open(file, info.Size())
	if err != nil {
		return nil, nil, errors.Join(err, file.Close())
	}
	return book, func() error { return errors.Join(book.Close(), file.Close()) }, nil
}

// printImport prints a report as a table.
func printImport(out io.Writer, rep exchange.ImportReport) {
	w := tabwriter.NewWriter(out, 0, 0, 2, ' ', 0)
	if len(rep.Lines) > 0 {
		fmt.Fprintln(w, "list\trow\toutcome\twhat\tcolumn\tvalue\treason")
	}
	for _, l := range rep.Lines {
		fmt.Fprintf(w, "%s\t%d\t%s\t%s\t%s\t%s\t%s\n", l.Kind, l.Row, l.Outcome, printable(l.What), printable(l.Column),
			printable(l.Value), l.Reason)
	}
	_ = w.Flush()
	if rep.More > 0 {
		fmt.Fprintf(out, "and %d more\n", rep.More)
	}
	for _, name := range rep.Ignored {
		fmt.Fprintf(out, "not read: %s\n", printable(name.String()))
	}
	said := "imported"
	switch {
	case rep.Stopped:
		said = "stopped before its end"
	case rep.Refused > 0:
		said = "refused, nothing was changed"
	case rep.DryRun:
		said = "dry run, nothing was changed"
	}
	fmt.Fprintf(out, "%s: %d rows, %d created, %d changed, %d unchanged, %d refused\n", said, rep.Rows, rep.Created,
		rep.Changed, rep.Unchanged, rep.Refused)
}

// printable keeps a cell of a file from steering the terminal.
func printable(s string) string {
	return strings.Map(func(r rune) rune {
		if unicode.IsControl(r) || !unicode.IsPrint(r) {
			return ' '
		}
		return r
	}, s)
}

// bar shows how far an import is: on a terminal as a bar that fills, elsewhere as a line for each tenth.
type bar struct {
	out      io.Writer
	terminal bool
	tenth    int
	told     exchange.Progress
}

func newBar(out io.Writer) *bar {
	b := &bar{out: out}
	if f, ok := out.(*os.File); ok {
		b.terminal = term.IsTerminal(int(f.Fd()))
	}
	return b
}

const barWidth = 40

func (b *bar) tell(p exchange.Progress) {
	if p.Total < 1000 { // done before it can be read
		return
	}
	if p.Checks != b.told.Checks && b.told.Total > 0 {
		b.end()
		b.tenth = 0
	}
	b.told = p
	said := fmt.Sprintf("%d of %d rows", p.Rows, p.Total)
	if p.Checks {
		said = "checked " + said
	}
	if p.Rate() > 0 {
		said += fmt.Sprintf(", %d a second, %d s left", p.Rate(), p.Left())
	}
	if b.terminal {
		full := barWidth * p.Rows / p.Total
		fmt.Fprintf(b.out, "\r[%s%s] %s\x1b[K", strings.Repeat("#", full), strings.Repeat(".", barWidth-full), said)
	} else if tenth := 10 * p.Rows / p.Total; tenth > b.tenth {
		b.tenth = tenth
		fmt.Fprintln(b.out, said)
	}
}

func (b *bar) end() {
	if b.terminal && b.told.Total > 0 {
		fmt.Fprintln(b.out)
	}
}
