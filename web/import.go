package web

import (
	"bytes"
	"context"
	"errors"
	"io"
	"net/http"
	"runtime/debug"
	"slices"
	"sync/atomic"

	"github.com/gin-gonic/gin"

	"stowkeeper/inventory"
	"stowkeeper/inventory/exchange"
	"stowkeeper/inventory/message"
	"stowkeeper/inventory/table"
	"stowkeeper/inventory/workbook"
)

// maxUpload is the largest file that is imported on a page, in bytes: 50,000 rows of stock are about four million.
const maxUpload = 24 << 20

// uploads tells whether a route takes files. Its handler reads them, once it is known who sends them.
func uploads(c *gin.Context) bool { return c.FullPath() == "/imports" }

type importsPage struct {
	Base
	Kind, File, Dates Field
	Lists             []ImportedList
	Example           string
}

// ImportedList is a kind of list that the visitor may import.
type ImportedList struct {
	About   string
	Columns []exchange.ImportColumn
}

func (s *server) importsForm(v *visit, f *form, failed error) error {
	p := &importsPage{Base: Base{Title: message.M("Import")}}
	var kinds []Option
	for _, k := range append(slices.Clone(exchange.ImportKinds), exchange.ImportEverything) {
		if !exchange.MayImport(v.actor, k) {
			continue
		}
		about, columns := exchange.ImportColumns(k)
		kinds = append(kinds, Option{Value: string(k), Text: importWords[k]})
		if about != "" {
			p.Lists = append(p.Lists, ImportedList{about, columns})
		}
	}
	p.Kind = f.choice("kind", message.M("File contents"), kinds).Need()
	p.File = f.field("file", message.M("CSV or XLSX file")).Need()
	p.Dates = f.choice("dates", message.M("05/06/2028 means"), []Option{
		{Value: string(exchange.DayFirst), Text: message.M("{1}", inventory.MustDay("2028-06-05"))},
		{Value: string(exchange.MonthFirst), Text: message.M("{1}", inventory.MustDay("2028-05-06"))}})
	return s.renderForm(v, f, p, failed)
}

var importWords = map[exchange.ImportKind]message.Message{
	exchange.ImportCategories: message.M("Categories"), exchange.ImportStations: message.M("Stations"),
	exchange.ImportPlaces: message.M("Places"), exchange.ImportPeople: message.M("People"),
	exchange.ImportItems: message.M("Items"), exchange.ImportProducts: message.M("Products"),
	exchange.ImportKitLists: message.M("Kit lists"), exchange.ImportBags: message.M("Bags"),
	exchange.ImportVehiclesOff: message.M("Vehicles out of service"),
	exchange.ImportStock:       message.M("Opening stock"), exchange.ImportObservations: message.M("Observations"),
	exchange.ImportNotices: message.M("Recalls and notices"), exchange.ImportUsage: message.M("Past usage"),
	exchange.ImportEverything: message.M("Full export (XLSX)"),
}

func (s *server) upload(v *visit, f *form) error {
	data, err := v.uploaded()
	kind := exchange.ImportKind(v.Request.PostForm.Get("kind")) // which is read only now
	f.values.Set("kind", string(kind))
	f.values.Set("dates", v.Request.PostForm.Get("dates"))
	if err != nil {
		return err
	}
	if !exchange.MayImport(v.actor, kind) {
		return inventory.InvalidField("kind", "choose from the list")
	}
	j := &importJob{Kind: kind, Dates: exchange.DayOrder(f.text("dates")), Dry: true}
	if err := s.keepUpload(v, j, data); err != nil {
		return err
	}
	if err := s.runImport(v, v.actor, j); err != nil {
		return err
	}
	return v.to("/imports/" + j.Code)
}

// uploaded reads the one file that a form sends. Its name is not used.
func (v *visit) uploaded() ([]byte, error) {
	v.Request.Body = http.MaxBytesReader(v.Writer, v.Request.Body, maxUpload+1<<16)
	if err := v.Request.ParseMultipartForm(1 << 20); err != nil {
		return nil, inventory.InvalidField("file", "choose a file of at most {1} MB", maxUpload>>20)
	}
	defer v.Request.MultipartForm.RemoveAll()
	file, _, err := v.Request.FormFile("file")
	if err != nil {
		return nil, inventory.InvalidField("file", "choose a file")
	}
	defer file.Close()
	data, err := io.ReadAll(io.LimitReader(file, maxUpload+1))
	if err == nil && (len(data) == 0 || len(data) > maxUpload) {
		err = inventory.InvalidField("file", "choose a file of at most {1} MB", maxUpload>>20)
	}
	return data, err
}

// tables opens what was uploaded by what it is.
func tables(kind exchange.ImportKind, data []byte) (table.Source, func() error, error) {
	in := bytes.NewReader(data)
	if bytes.HasPrefix(data, []byte("PK")) {
		book, err := workbook.Open(in, in.Size())
		if err != nil {
			return nil, nil, inventory.InvalidField("file", "{1}", err.Error())
		}
		return book, book.Close, nil
	}
	return table.CSV{Name: string(kind), Data: in, Size: in.Size()}, func() error { return nil }, nil
}

// runImport does an import, or its dry run, while its page tells how far it is.
func (s *server) runImport(v *visit, by inventory.Actor, j *importJob) error {
	ctx := context.WithoutCancel(v.ctx())
	j.Far, j.Report, j.Failed, j.HeardAt = exchange.Progress{}, exchange.ImportReport{}, "", v.now
	j.State = j.state()
	data, err := s.opt.Uploads.Take(ctx, j.Upload, v.now.Add(-silence))
	if err != nil {
		return err
	}
	var far atomic.Pointer[exchange.Progress]
	far.Store(&exchange.Progress{})
	running, stop := context.WithCancel(ctx)
	run := *j
	var rep exchange.ImportReport
	done := make(chan struct{})
	go func() {
		defer close(done)
		defer func() {
			if r := recover(); r != nil {
				s.opt.Logger.Error("import panicked", "panic", r, "stack", string(debug.Stack()))
				err = errors.New("panic")
			}
		}()
		var source table.Source
		var closed func() error
		if source, closed, err = tables(run.Kind, data); err != nil {
			return
		}
		rep, err = s.svc.Exchange.Import(running, by, exchange.Import{Kind: run.Kind, Source: source, Dates: run.Dates,
			DryRun: run.Dry, Progress: func(p exchange.Progress) { far.Store(&p) }})
		err = errors.Join(err, closed())
		if err != nil && running.Err() != nil {
			err = inventory.Refuse(inventory.Conflict, "Cancelled")
		} else if err != nil && inventory.KindOf(err) == inventory.Internal {
			s.opt.Logger.Error("import failed", "error", err)
		}
	}()
	go func() {
		defer stop()
		s.follow(ctx, &run, func() exchange.Progress { return *far.Load() }, stop, func() { run.end(rep, err) }, done)
	}()
	return nil
}

type importPage struct {
	Base
	What            message.Message
	Job             string
	Running, DryRun bool
	Far             exchange.Progress
	Report          exchange.ImportReport
	Lines           []ImportRow
	Cells           bool   // some lines are about a cell
	Several         bool   // kinds of list are in it
	See             string // where what came in is shown
	May, Stopped    bool   // be done now; it came to no end
	Signing         *SigningFields
	Failed          message.Message
}

// ImportRow is a line of a report. Only the first on a row of the file names it.
type ImportRow struct {
	exchange.ImportLine
	First bool
}

// importSeen is where each kind of list is shown once it is in.
var importSeen = map[exchange.ImportKind]string{
	exchange.ImportStations: "/stations", exchange.ImportPlaces: "/places", exchange.ImportPeople: "/people",
	exchange.ImportProducts: "/products", exchange.ImportKitLists: "/kit-lists", exchange.ImportBags: "/board",
	exchange.ImportVehiclesOff: "/board", exchange.ImportStock: "/stock", exchange.ImportNotices: "/notices",
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
		p.Cells = p.Cells || l.Column != "" || l.Reason != nil
	}
}

func (s *server) importForm(v *visit, f *form, failed error) error {
	j, err := s.job(v)
	if err != nil {
		return err
	}
	p := j.page(v.now)
	p.Base, p.What = Base{Title: message.M("Import")}, importWords[j.Kind]
	p.arrange(j.Kind)
	if p.Running {
		p.Refresh = 2
	}
	if p.May && p.Report.SigningNeeded {
		p.Signing = f.signing(true).needed()
	}
	return s.renderForm(v, f, p, failed)
}

// doImport does what the dry run showed.
func (s *server) doImport(v *visit, f *form) error {
	j, err := s.job(v)
	if err != nil {
		return err
	}
	if f.text("do") == "stop" {
		if err := s.stopImport(v, j); err != nil {
			return err
		}
	} else if j.page(v.now).May {
		by, err := s.signed(v, f)
		if err != nil {
			return err
		}
		j.Dry = false
		if err := s.runImport(v, by, j); err != nil {
			return err
		}
	}
	return v.to("/imports/" + j.Code)
}
