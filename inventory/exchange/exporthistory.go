package exchange

import (
	"encoding/json"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"stowkeeper/inventory"
)

// history is one table of what happened, written for reading: an import does
// not read it, since the ledger takes nothing that it did not judge itself.
type history struct {
	name, about string
	columns     []column
	write       func(*exporting, func(cells ...any) error) error
}

// columnsOf makes columns of names, those ending in # for numbers.
func columnsOf(names string) []column {
	var out []column
	for _, n := range strings.Fields(names) {
		kind := cellText
		if strings.HasSuffix(n, "#") {
			kind = cellNumber
		}
		out = append(out, column{name: strings.TrimSuffix(n, "#"), kind: kind})
	}
	return out
}

var histories = []history{
	{"lots", "lots by the number that movements name them with; for who belongs to some stations those that lie there",
		columnsOf("id# batch_id# item product batch_no serial made_on end_printed end_wording received_on stowed_on " +
			"opened_on exposed_since exposed_days# exposed_last training unidentified"), (*exporting).lots},
	{"movements", "the ledger: every movement, with the chain of hashes of its station",
		columnsOf("id# station seq# lot_id# into_lot_id# qty# from to reason cause happened_at recorded_at by witness " +
			"reference note corrects# hash"), (*exporting).movements},
	{"checks", "what crews checked; lines and what was found as JSON",
		columnsOf(
			"id# bag kind happened_at recorded_at by status seal_seen seal_broken seal_set note lines found inspections decision"), (*exporting).checks},
	{"uses", "what incidents used; lines as JSON",
		columnsOf("id# bag incident happened_at recorded_at by status lines decision"), (*exporting).uses},
	{"restocks", "what brought bags back to their lists; lines as JSON",
		columnsOf("id# bag at by restock"), (*exporting).restocks},
	{"seals", "the log of seals", columnsOf("id# bag at by event number expected source note"), (*exporting).seals},
	{"bag-log", "what people changed of bags", columnsOf("bag entry"), (*exporting).bagLog},
	{"inspections", "inspections of devices; points as JSON",
		columnsOf("id# lot_id# item place at by passed points source note"), (*exporting).inspections},
	{"training-uses", "applications of devices in classes", columnsOf("id# lot_id# at by cycles# class"),
		(*exporting).trainingUses},
	{"balance-checks", "counts of controlled items in their registers",
		columnsOf("id# item place counted# expected# happened_at recorded_at by witness note"), (*exporting).balanceChecks},
	{"signatures", "signatures that were given after an entry of a register", columnsOf("movement# person at"),
		(*exporting).signatures},
	{"corrections", "dates and numbers of batches that were typed wrongly, and corrected",
		columnsOf("id# batch_id# item at by reason old new"), (*exporting).corrections},
	{"closed-observations", "what was seen of bags and has been closed",
		columnsOf("id# bag kind item lot_id# text opened_at opened_by closed_at closed_by close_reason"),
		(*exporting).closedObservations},
	{"vehicle-log", "vehicles that were taken off the run, and put back",
		columnsOf("id# station vehicle reason by at back_at back_by"), (*exporting).vehiclesOff},
	{"entries", "who did what, in the order that the history page has",
		columnsOf("id# at by terminal kind station place other_place lot_id# batch_id# person detail"), (*exporting).entries},
}

func (x *exporting) history(h history) error {
	if err := x.out.Begin(h.name, tableColumns(h.columns)); err != nil {
		return err
	}
	return h.write(x, func(cells ...any) error {
		out := make([]string, len(cells))
		for i, c := range cells {
			out[i] = cellOf(c)
		}
		return x.out.Add(out)
	})
}

// cellOf writes a value as a cell: lists and records as JSON.
func cellOf(v any) string {
	switch v := v.(type) {
	case string:
		return v
	case bool:
		return inventory.FlagText(v)
	case int:
		return inventory.NumText(v)
	case int64:
		return inventory.NumText(int(v))
	case fmt.Stringer:
		return v.String()
	}
	b, err := json.Marshal(v)
	if err != nil || string(b) == "null" || string(b) == `""` {
		return ""
	}
	return strings.Trim(string(b), `"`)
}

// pages reads a list a thousand at a time.
func pages[T any](read func(inventory.Page) ([]T, error), id func(T) int64, do func(T) error) error {
	for p := (inventory.Page{Limit: 1000}); ; {
		part, err := read(p)
		if err != nil {
			return err
		}
		for _, v := range part {
			if err := do(v); err != nil {
				return err
			}
		}
		if len(part) < p.Limit {
			return nil
		}
		p.After = strconv.FormatInt(id(part[len(part)-1]), 10)
	}
}

type addCells = func(cells ...any) error

func (x *exporting) lots(add addCells) error {
	return pages(func(p inventory.Page) ([]inventory.Lot, error) {
		return x.r.Lots(inventory.LotFilter{Stations: x.stations}, p)
	}, func(l inventory.Lot) int64 { return l.ID }, func(l inventory.Lot) error {
		product, err := x.product(l.Item, l.Product)
		if err != nil {
			return err
		}
		return add(l.ID, l.Batch.ID, l.Item, product, l.BatchNo, l.Serial, l.MadeOn, l.EndPrinted, string(l.EndWording),
			l.ReceivedOn, l.StowedOn, l.OpenedOn, l.ExposedSince,
			l.Clocks.ExposedDays, l.ExposedLast, l.Training, l.Unidentified)
	})
}

func (x *exporting) movements(add addCells) error {
	return pages(func(p inventory.Page) ([]inventory.Movement, error) {
		return x.r.Movements(inventory.MovementFilter{Stations: x.stations}, p)
	}, func(m inventory.Movement) int64 { return m.ID }, func(m inventory.Movement) error {
		return add(m.ID, m.Station, m.Seq, m.LotID, m.IntoLotID, m.Qty, m.From, m.To, string(m.Reason), string(m.Cause),
			m.HappenedAt, m.RecordedAt, m.By, m.Witness,
			m.Reference, m.Note, m.Corrects, m.Hash)
	})
}

func (x *exporting) checks(add addCells) error {
	return pages(func(p inventory.Page) ([]inventory.Check, error) {
		return x.r.Checks(inventory.RecordFilter{AtStations: x.stations}, p)
	}, func(c inventory.Check) int64 { return c.ID }, func(c inventory.Check) error {
		return add(c.ID, c.Bag, string(c.Kind), c.HappenedAt, c.RecordedAt, c.By, string(c.Status), c.SealSeen, c.SealBroken,
			c.SealSet, c.Note, c.Lines, c.Found, c.Inspections, c.Decision)
	})
}

func (x *exporting) uses(add addCells) error {
	return pages(func(p inventory.Page) ([]inventory.Use, error) {
		return x.r.Uses(inventory.RecordFilter{AtStations: x.stations}, p)
	}, func(u inventory.Use) int64 { return u.ID }, func(u inventory.Use) error {
		return add(u.ID, u.Bag, u.Incident, u.HappenedAt, u.RecordedAt, u.By, string(u.Status), u.Lines, u.Decision)
	})
}

func (x *exporting) restocks(add addCells) error {
	return pages(func(p inventory.Page) ([]inventory.Restock, error) {
		return x.r.Restocks(inventory.RecordFilter{AtStations: x.stations}, p)
	}, func(r inventory.Restock) int64 { return r.ID }, func(r inventory.Restock) error {
		return add(r.ID, r.Bag, r.RecordedAt, r.By, r)
	})
}

func (x *exporting) seals(add addCells) error {
	return pages(func(p inventory.Page) ([]inventory.SealEntry, error) {
		return x.r.Seals(inventory.RecordFilter{AtStations: x.stations}, p)
	}, func(e inventory.SealEntry) int64 { return e.ID }, func(e inventory.SealEntry) error {
		return add(e.ID, e.Bag, e.HappenedAt, e.By, string(e.Event), e.Number, e.Expected, e.Source, e.Note)
	})
}

func (x *exporting) bagLog(add addCells) error {
	return pages(func(p inventory.Page) ([]inventory.BagLogEntry, error) {
		return x.r.BagLog(inventory.RecordFilter{AtStations: x.stations}, p)
	}, func(e inventory.BagLogEntry) int64 { return e.ID }, func(e inventory.BagLogEntry) error { return add(e.Bag, e) })
}

func (x *exporting) inspections(add addCells) error {
	return pages(func(p inventory.Page) ([]inventory.Inspection, error) {
		return x.r.Inspections(inventory.BatchFilter{Stations: x.stations}, p)
	}, func(i inventory.Inspection) int64 { return i.ID }, func(i inventory.Inspection) error {
		return add(i.ID, i.LotID, i.Item, i.Place, i.HappenedAt, i.By, i.Passed, i.Points, i.Source, i.Note)
	})
}

func (x *exporting) trainingUses(add addCells) error {
	return pages(func(p inventory.Page) ([]inventory.TrainingUse, error) {
		return x.r.TrainingUses(inventory.BatchFilter{Stations: x.stations}, p)
	}, func(u inventory.TrainingUse) int64 { return u.ID }, func(u inventory.TrainingUse) error {
		return add(u.ID, u.LotID, u.HappenedAt, u.By, u.Cycles, u.Class)
	})
}

// exportReadme explains every table and column.
func exportReadme(now inventory.Instant) string {
	var b strings.Builder
	fmt.Fprintf(&b, `What this is
Everything that Stowkeeper held at %s (UTC), as tables: a CSV file each, or a sheet each.
CSV files are UTF-8 with commas, lines end in CR LF, and cells with commas, quotation marks or lines are quoted (RFC 4180).
Days are YYYY-MM-DD, months YYYY-MM, instants RFC 3339 in UTC. yes stands for yes and nothing for no. Nothing stands for 0 and for none.
A text that a spreadsheet would run as a formula has an apostrophe before it; take one away to have the text.
PINs and passwords are not in it: people who are imported need new ones. Nor are ways in (terminals, tokens, sessions), deliveries that are still being scanned, and the offsets of printers.

Lists that an import reads, in the order in which one rests on another
stowkeeper import everything reads them all into an empty database. Stock is counted in anew there: the ledger begins again.
`, now)
	for _, k := range ImportKinds {
		explainTable(&b, string(k), importers[k].about, importers[k].columns)
	}
	b.WriteString("\nHistory, for reading: an import leaves it out\n")
	for _, h := range histories {
		explainTable(&b, h.name, h.about, h.explained())
	}
	return b.String()
}

func explainTable(b *strings.Builder, name, about string, columns []column) {
	fmt.Fprintf(b, "\n%s: %s\n", name, about)
	for _, c := range columns {
		fmt.Fprintf(b, "  %s (%s%s): %s\n", c.name, c.kind, map[bool]string{true: ", needed"}[c.need], c.doc)
	}
}

// ImportColumn is one column of a list, for people who prepare a file.
type ImportColumn struct {
	Name, Kind, About string
	Needed            bool
}

// ImportColumns lists the columns of a kind of list, none of everything.
func ImportColumns(k ImportKind) (about string, columns []ImportColumn) {
	for _, c := range importers[k].columns {
		columns = append(columns, ImportColumn{c.name, string(c.kind), c.doc, c.need})
	}
	return importers[k].about, columns
}

// MayImport tells whether an actor's role may import a kind of list.
func MayImport(by inventory.Actor, k ImportKind) bool {
	if k == ImportEverything {
		return !slices.ContainsFunc(ImportKinds, func(k ImportKind) bool { return !by.May(importers[k].act) })
	}
	i, ok := importers[k]
	return ok && by.May(i.act)
}
