package exchange

import (
	"cmp"
	"context"
	"errors"
	"io"
	"slices"
	"time"

	"stowkeeper/inventory"
	"stowkeeper/inventory/message"
	"stowkeeper/inventory/table"
)

// Outcome is what an import makes of a row.
type Outcome string

// The outcomes.
const (
	Created   Outcome = "created"
	Changed   Outcome = "changed"
	Unchanged Outcome = "unchanged" // it is so already
	Refused   Outcome = "refused"
)

// ImportLine is one line of what an import does or would do. Where a row is
// refused it names the column, what stands there, and what to do about it.
type ImportLine struct {
	Kind    ImportKind      `json:"kind"`
	Row     int             `json:"row" doc:"As a spreadsheet counts: the header is row 1"`
	Outcome Outcome         `json:"outcome" enum:"created,changed,refused"`
	What    string          `json:"what,omitempty" doc:"What the row is about, or what of it changes"`
	Column  string          `json:"column,omitempty"`
	Value   string          `json:"value,omitempty" doc:"What stands there, shortened"`
	Reason  message.Message `json:"reason,omitempty"`
}

// ImportReport says what an import did, or would do. Where one row is refused, nothing of it happens, save in a long
// one where others recorded meanwhile what stands against the row.
type ImportReport struct {
	Done      bool `json:"done" doc:"It was done; false for a dry run and where a row was refused"`
	DryRun    bool `json:"dry_run"`
	Rows      int  `json:"rows" doc:"Rows read below the headers"`
	Created   int  `json:"created"`
	Changed   int  `json:"changed"`
	Unchanged int  `json:"unchanged"`
	Refused   int  `json:"refused"`
	// SigningNeeded says that the import needs two people, who have not signed.
	SigningNeeded bool `json:"signing_needed,omitempty" doc:"It holds controlled items: two people sign for it"`

	Ignored []message.Message `json:"ignored,omitempty" doc:"Columns and sheets that are not read"`
	Lines   []ImportLine      `json:"lines,omitempty" doc:"The first of them, those refused first"`
	More    int               `json:"more,omitempty" doc:"Lines beyond those shown"`
	// Stopped says that it ended before its end, and that what is created and changed stays: the same file goes on.
	Stopped bool `json:"stopped,omitempty" doc:"It ended before its end: import the file again, and it goes on"`
}

// maxLines is how many lines a report keeps of rows refused, and of others.
const maxLines = 500

// Import is a file to be imported.
type Import struct {
	Kind     ImportKind
	Source   table.Source
	Dates    DayOrder       // how dates in numbers alone are meant; those that depend on it are refused without
	DryRun   bool           // find out what would happen, and change nothing
	Progress func(Progress) // told now and then, in order; may be nil
}

// Progress is how far an import is.
type Progress struct {
	Rows, Total int
	Checks      bool          // the rows are only checked so far
	Took        time.Duration // for the rows so far
}

// Rate is how many rows a second went through, 0 where nobody can tell yet.
func (p Progress) Rate() int {
	if p.Took < time.Second/4 {
		return 0
	}
	return int(float64(p.Rows) / p.Took.Seconds())
}

// Left is how many seconds the rest will take if it goes on like that.
func (p Progress) Left() int {
	if p.Rate() == 0 {
		return 0
	}
	return (p.Total - p.Rows + p.Rate() - 1) / p.Rate()
}

// order is where a kind stands among those that rest on one another.
func (k ImportKind) order() int { return slices.Index(ImportKinds, k) }

// sheet is one table to import, with what it lists.
type sheet struct {
	kind  ImportKind
	table string
}

var errUndo = errors.New("an import that is not to stay")

// Import reads a file row by row by the same rules as what is typed. A short one is one unit of work; a long one is
// tried on a copy and then written in slices, which nobody waits for. A dry run does the same to a copy. Refuses:
// Forbidden without keep_lists and what each list needs besides; Invalid for a kind or file that cannot be read. A row
// that is refused is in the report, and nothing of its unit of work stays then.
func (s *Service) Import(ctx context.Context, by inventory.Actor, in Import) (ImportReport, error) {
	sheets, ignored, err := in.sheets()
	if err != nil {
		return ImportReport{}, err
	}
	if err := by.Must(inventory.ActKeepLists, ""); err != nil {
		return ImportReport{}, err
	}
	for _, sh := range sheets {
		if err := by.Must(kinds[sh.kind].act, ""); err != nil {
			return ImportReport{}, err
		}
	}
	total, err := in.count(sheets)
	if err != nil {
		return ImportReport{}, readable(err)
	}
	im := importing{s: s, outer: ctx, by: by, now: s.now(), in: in, total: total}
	im.report = ImportReport{DryRun: in.DryRun, Ignored: ignored}
	im.long = total > atOnce
	var rep ImportReport
	run := s.store.Write
	im.checks = (in.DryRun || im.long) && len(sheets) == 1 && sheets[0].kind == ImportStock
	switch {
	case im.checks:
		run = s.check
	case in.DryRun || im.long:
		run = s.store.Try
	}
	err = run(ctx, func(ctx context.Context, w inventory.Writer) error {
		one := im
		one.ctx, one.w, one.report.Ignored = ctx, w, slices.Clone(ignored)
		err := one.all(sheets)
		rep = one.finished()
		if err == nil && !rep.Done && !in.DryRun {
			err = errUndo
		}
		return err
	})
	if err == nil && im.long && !in.DryRun && rep.Refused == 0 {
		im.slice, im.checks = firstSlice, false
		err = im.all(sheets)
		rep = im.finished()
		rep.Done = rep.Done && err == nil
		rep.Stopped = !rep.Done && rep.Created+rep.Changed > 0
	}
	if errors.Is(err, errUndo) {
		err = nil
	}
	return rep, readable(err)
}

// sheets finds the tables to read. A single list is the sheet named as it is, or the only or first one.
func (in Import) sheets() (found []sheet, ignored []message.Message, err error) {
	tables := in.Source.Tables()
	if _, ok := kinds[in.Kind]; !ok && in.Kind != ImportEverything {
		return nil, nil, inventory.InvalidField("kind", "choose from the list")
	}
	if in.Dates != "" && in.Dates != DayFirst && in.Dates != MonthFirst {
		return nil, nil, inventory.InvalidField("dates", "choose from the list")
	}
	if len(tables) == 0 {
		return nil, nil, inventory.InvalidField("file", "no table in the file")
	}
	for _, name := range tables {
		if kind, ok := kindOf(name); ok {
			found = append(found, sheet{kind, name})
		} else {
			ignored = append(ignored, message.M("table {1}", shortened(name)))
		}
	}
	if in.Kind != ImportEverything {
		for _, sh := range found {
			if sh.kind == in.Kind {
				return []sheet{sh}, nil, nil
			}
		}
		return []sheet{{in.Kind, tables[0]}}, nil, nil
	}
	if len(found) == 0 {
		return nil, nil, inventory.InvalidField("file", "name its sheets as an export does")
	}
	slices.SortStableFunc(found, func(a, b sheet) int { return a.kind.order() - b.kind.order() })
	return found, ignored, nil
}

func (in Import) count(sheets []sheet) (int, error) {
	total := 0
	for _, sh := range sheets {
		n, err := table.Count(in.Source, sh.table)
		if err != nil {
			return 0, err
		}
		total += n
	}
	return total, nil
}

// readable turns what is wrong with a file itself into a wrong field.
func readable(err error) error {
	var bad *table.BadError
	if errors.As(err, &bad) {
		return inventory.InvalidField("file", "{1}", bad.Error())
	}
	return err
}

// importing is one import under way, in its unit of work or, where it has slices, in one after another.
type importing struct {
	s      *Service
	outer  context.Context // of all units of work
	ctx    context.Context
	w      inventory.Writer
	by     inventory.Actor
	now    inventory.Instant
	in     Import
	total  int
	report ImportReport
	others []ImportLine
	closed []string // stations that it brings, and that are closed: their people come along
	reader rowReader
	queue  []task
	long   bool // what stopped goes on: rows of it that are in are known
	checks bool // it only reads, and nothing comes of it
	done   int  // tasks of slices
	began  inventory.Instant
	slice  int // how many tasks the next unit of work takes; 0 where all is one
}

// all reads every table, one after another.
func (im *importing) all(sheets []sheet) error {
	im.began = im.s.now()
	for _, sh := range sheets {
		if err := im.sheet(sh); err != nil {
			return err
		}
	}
	im.tell(im.report.Rows)
	return nil
}

func (im *importing) sheet(sh sheet) error {
	rows, err := im.in.Source.Open(sh.table)
	if err != nil {
		return err
	}
	defer rows.Close()
	header, err := rows.Next()
	if err == io.EOF {
		return nil
	}
	if err != nil {
		return err
	}
	of := kinds[sh.kind]
	h, ok := im.header(sh.kind, of.columns, header)
	if !ok {
		return nil
	}
	if im.reader, err = of.start(im); err != nil {
		return err
	}
	for {
		row, err := rows.Next()
		if err == io.EOF {
			if err := im.reader.end(); err != nil {
				return err
			}
			return im.flush(0)
		}
		if err != nil {
			return err
		}
		im.report.Rows++
		if im.slice == 0 && im.report.Rows%200 == 0 {
			im.tell(im.report.Rows)
		}
		if err := im.reader.row(&record{im: im, kind: sh.kind, columns: of.columns, header: h, row: row}); err != nil {
			return err
		}
	}
}

func (im *importing) tell(rows int) {
	if im.in.Progress != nil {
		im.in.Progress(Progress{min(rows, im.total), im.total, im.in.DryRun || im.long && im.slice == 0,
			im.s.now().Sub(im.began)})
	}
}

// settled notes what became of a row, or all that is wrong with it. A row with a cell that cannot be read is tried all
// the same where that is safe, so that the rest of it is judged too: nothing of the file stays then. An error that
// whoever imports can do nothing about ends the import.
func (r *record) settled(out Outcome, err error) error {
	if err := inventory.MergeErrors(r.problems.Err(), err); err != nil {
		return r.refuse(err)
	}
	switch out {
	case Created:
		r.im.report.Created++
	case Changed:
		r.im.report.Changed++
	default:
		r.im.report.Unchanged++
		return nil
	}
	r.note(ImportLine{Outcome: out})
	return nil
}

// note keeps a line about the row, as long as there is room.
func (r *record) note(line ImportLine) {
	lines := &r.im.others
	if line.Outcome == Refused {
		lines = &r.im.report.Lines
	}
	if len(*lines) < maxLines {
		line.Kind, line.Row, line.What = r.kind, r.row.Number, shortened(r.what)
		*lines = append(*lines, line)
	}
}

// refuse notes what is wrong with a row, a line for each wrong cell.
func (r *record) refuse(err error) error {
	var e *inventory.Error
	if !errors.As(err, &e) || !e.Kind.Fixable() {
		return err
	}
	r.im.report.Refused++
	fields := e.Fields
	if len(fields) == 0 {
		fields = []inventory.Field{{Fix: e.Message}}
	}
	slices.SortStableFunc(fields, func(a, b inventory.Field) int { return r.position(a.Path) - r.position(b.Path) })
	said := map[string]bool{}
	for _, f := range fields {
		column := r.columnOf(f.Path)
		if key := cmp.Or(column, f.Fix.String()); !said[key] {
			said[key] = true
			r.note(ImportLine{Outcome: Refused, Column: column, Value: shortened(r.cell(column).Text), Reason: f.Fix})
		}
	}
	return nil
}

// finished sums up.
func (im *importing) finished() ImportReport {
	rep := im.report
	rep.More = rep.Created + rep.Changed - rowsIn(im.others) + rep.Refused - rowsIn(rep.Lines)
	for _, lines := range [][]ImportLine{rep.Lines, im.others} { // some rows wait for those that they rest on
		slices.SortStableFunc(lines, func(a, b ImportLine) int {
			return cmp.Or(a.Kind.order()-b.Kind.order(), a.Row-b.Row)
		})
	}
	rep.Lines = append(rep.Lines, im.others...)
	rep.Done = !rep.DryRun && rep.Refused == 0
	return rep
}

// rowsIn counts the rows that lines are about.
func rowsIn(lines []ImportLine) int {
	type row struct {
		kind ImportKind
		n    int
	}
	seen := map[row]bool{}
	for _, l := range lines {
		seen[row{l.Kind, l.Row}] = true
	}
	return len(seen)
}

// shortened keeps a long cell from filling the page.
func shortened(s string) string {
	const most = 80
	r := []rune(s)
	if len(r) > most {
		return string(r[:most]) + " …"
	}
	return s
}
