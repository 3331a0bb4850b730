package web

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"net/http"
	"runtime/debug"
	"slices"

	"github.com/gin-gonic/gin"

	"stowkeeper/inventory"
	"stowkeeper/inventory/exchange"
	"stowkeeper/inventory/table"
	"stowkeeper/inventory/workbook"
)

// maxUpload is the largest file that is imported on a page, in bytes: 50,000
// rows of stock are about four million.
const maxUpload = 24 << 20

// uploads tells whether a route takes files. Its handler reads them, once it is
// known who sends them.
func uploads(c *gin.Context) bool { return c.FullPath() == "/imports" }

type importsPage struct {
	Base
	Form    Form
	Kind    Field
	File    Field
	Lists   []ImportedList
	Example string
}

// ImportedList is a kind of list that the visitor may import.
type ImportedList struct {
	Kind, About string
	Columns     []exchange.ImportColumn
}

func (s *server) showImports(v *visit) error { return s.importsForm(v, openForm(nil), nil) }

func (s *server) importsForm(v *visit, f *form, failed error) error {
	p := &importsPage{Base: Base{Title: "Import"}}
	var kinds []Option
	for _, k := range append(slices.Clone(exchange.ImportKinds), exchange.ImportEverything) {
		if !exchange.MayImport(v.actor, k) {
			continue
		}
		about, columns := exchange.ImportColumns(k)
		kinds = append(kinds, Option{Value: string(k), Text: importWords[k]})
		if about != "" {
			p.Lists = append(p.Lists, ImportedList{importWords[k], about, columns})
		}
	}
	p.Kind = f.choice("kind", "What the file lists", kinds).Need()
	p.File = f.field("file", "CSV file or XLSX workbook").Need()
	p.Form = f.state(failed, "", 0)
	return s.render(v, statusOf(failed), p)
}

// importWords are the kinds of list in words.
var importWords = map[exchange.ImportKind]string{
	exchange.ImportCategories: "Categories", exchange.ImportStations: "Stations", exchange.ImportPlaces: "Places",
	exchange.ImportPeople: "People",
	exchange.ImportItems:  "Items", exchange.ImportProducts: "Products", exchange.ImportKitLists: "Kit lists",
	exchange.ImportBags: "Bags", exchange.ImportVehiclesOff: "Vehicles off the run",
	exchange.ImportStock: "Opening stock", exchange.ImportObservations: "Open observations",
	exchange.ImportNotices: "Notices", exchange.ImportUsage: "Past usage",
	exchange.ImportEverything: "Everything, as exported (XLSX)",
}

// upload takes a file and begins its dry run.
func (s *server) upload(v *visit) error {
	data, err := v.uploaded()
	f := openForm(v.Request.PostForm)
	kind := exchange.ImportKind(f.text("kind"))
	if err == nil && !exchange.MayImport(v.actor, kind) {
		err = inventory.Invalidf("kind", "choose what the file lists")
	}
	if err == nil {
		var j *importJob
		if j, err = s.jobs.add(v, kind, data); err == nil {
			s.runImport(v, v.actor, j, true)
			return v.to("/imports/" + j.id)
		}
	}
	return f.fix(v, err, nil, s.importsForm)
}

// uploaded reads the one file that a form sends. Its name is not used.
func (v *visit) uploaded() ([]byte, error) {
	v.Request.Body = http.MaxBytesReader(v.Writer, v.Request.Body, maxUpload+1<<16)
	if err := v.Request.ParseMultipartForm(1 << 20); err != nil {
		return nil, inventory.Invalidf("file", "choose a file of at most %d MB", maxUpload>>20)
	}
	defer v.Request.MultipartForm.RemoveAll()
	file, _, err := v.Request.FormFile("file")
	if err != nil {
		return nil, inventory.Invalidf("file", "choose a file")
	}
	defer file.Close()
	data, err := io.ReadAll(io.LimitReader(file, maxUpload+1))
	if err == nil && (len(data) == 0 || len(data) > maxUpload) {
		err = inventory.Invalidf("file", "choose a file of at most %d MB that holds something", maxUpload>>20)
	}
	return data, err
}

// tables opens what was uploaded by what it is.
func tables(kind exchange.ImportKind, data []byte) (table.Source, func() error, error) {
	in := bytes.NewReader(data)
	if bytes.HasPrefix(data, []byte("PK")) {
		book, err := workbook.Open(in, in.Size())
		if err != nil {
			return nil, nil, inventory.Invalidf("file", "%s", err.Error())
		}
		return book, book.Close, nil
	}
	return table.CSV{Name: string(kind), Data: in, Size: in.Size()}, func() error { return nil }, nil
}

// runImport does an import, or its dry run, while its page tells how far it is.
func (s *server) runImport(v *visit, by inventory.Actor, j *importJob, dry bool) {
	ctx := context.WithoutCancel(v.ctx())
	j.begin(dry)
	go func() {
		defer func() {
			if r := recover(); r != nil {
				s.opt.Logger.Error("import panicked", "panic", r, "stack", string(debug.Stack()))
				j.end(exchange.ImportReport{}, fmt.Errorf("panic"))
			}
		}()
		source, done, err := tables(j.kind, j.data)
		var rep exchange.ImportReport
		if err == nil {
			rep, err = s.svc.Exchange.Import(ctx, by, exchange.Import{Kind: j.kind, Source: source, DryRun: dry,
				Progress: j.tell})
			err = errors.Join(err, done())
		}
		if err != nil && inventory.KindOf(err) == inventory.Internal {
			s.opt.Logger.Error("import failed", "error", err)
		}
		j.end(rep, err)
	}()
}

type importPage struct {
	Base
	What    string
	Job     string
	Running bool
	DryRun  bool
	Rows    int
	Total   int
	Report  exchange.ImportReport
	Lines   []ImportRow
	Cells   bool   // some lines are about a cell
	Several bool   // kinds of list are in it
	See     string // where what came in is shown
	May     bool   // be done now
	Form    Form
	Signing *SigningFields
	Failed  string
}

// ImportRow is a line of a report. Only the first on a row of the file names
// it.
type ImportRow struct {
	exchange.ImportLine
	First bool
}

// importSeen is where each kind of list is shown once it is in.
var importSeen = map[exchange.ImportKind]string{
	exchange.ImportStations: "/stations", exchange.ImportPlaces: "/stock", exchange.ImportPeople: "/people",
	exchange.ImportProducts: "/products",
	exchange.ImportKitLists: "/kit-lists", exchange.ImportBags: "/board", exchange.ImportVehiclesOff: "/board",
	exchange.ImportStock: "/stock", exchange.ImportNotices: "/notices",
}

func (p *importPage) arrange(kind exchange.ImportKind) {
	p.Several = kind == exchange.ImportEverything
	if p.Report.Done {
		p.See = importSeen[kind]
	}
	for i, l := range p.Report.Lines {
		row := ImportRow{l, true}
		if i > 0 {
			before := p.Report.Lines[i-1]
			row.First = before.Row != l.Row || before.Kind != l.Kind || before.Outcome != l.Outcome
		}
		p.Lines = append(p.Lines, row)
		p.Cells = p.Cells || l.Column+l.Reason != ""
	}
}

func (s *server) showImport(v *visit) error {
	j, err := s.jobs.of(v)
	if err != nil {
		return err
	}
	return s.importPage(v, j, openForm(nil), nil)
}

func (s *server) importPage(v *visit, j *importJob, f *form, failed error) error {
	p := j.page()
	p.Base, p.What = Base{Title: "Import"}, importWords[j.kind]
	p.arrange(j.kind)
	if p.Running {
		p.Refresh = 2
	}
	if p.May && p.Report.SigningNeeded {
		p.Signing = f.signing(true).needed()
	}
	p.Form = f.state(failed, "", 0)
	return s.render(v, statusOf(failed), p)
}

// doImport does what the dry run showed.
func (s *server) doImport(v *visit) error {
	j, err := s.jobs.of(v)
	if err != nil {
		return err
	}
	if j.page().May {
		f := openForm(v.Request.PostForm)
		by, err := s.signed(v, f)
		if fixable(err) {
			f.take(err, nil)
			return s.importPage(v, j, f, err)
		}
		if err != nil {
			return err
		}
		s.runImport(v, by, j, false)
	}
	return v.to("/imports/" + j.id)
}
