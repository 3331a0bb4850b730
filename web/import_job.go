package web

import (
	"crypto/rand"
	"errors"
	"sync"
	"time"

	"stowkeeper/inventory"
	"stowkeeper/inventory/exchange"
	"stowkeeper/inventory/message"
)

// Uploads are kept in memory, in the copy of the program that took them, for so long and so many.
const (
	keepUpload  = time.Hour
	mostUploads = 4
)

// importJobs are the files that were uploaded a while ago.
type importJobs struct {
	mu  sync.Mutex
	all []*importJob
}

type importJob struct {
	id, owner string
	kind      exchange.ImportKind
	dates     exchange.DayOrder
	data      []byte
	since     inventory.Instant

	mu           sync.Mutex
	running, dry bool
	rows, total  int
	report       exchange.ImportReport
	failed       message.Message
}

// add keeps a file. Where there are too many, one that does not run makes room.
func (js *importJobs) add(v *visit, kind exchange.ImportKind, dates exchange.DayOrder,
	data []byte) (*importJob, error) {
	js.mu.Lock()
	defer js.mu.Unlock()
	kept := js.all[:0]
	for _, j := range js.all {
		if j.page().Running || v.now.Sub(j.since) < keepUpload {
			kept = append(kept, j)
		}
	}
	js.all = kept
	for i := 0; len(js.all) >= mostUploads && i < len(js.all); {
		if js.all[i].page().Running {
			i++
			continue
		}
		js.all = append(js.all[:i], js.all[i+1:]...)
	}
	if len(js.all) >= mostUploads {
		return nil, inventory.Refuse(inventory.Conflict, "Busy. Try again in a minute.")
	}
	j := &importJob{id: rand.Text(), owner: v.actor.Principal(), kind: kind, dates: dates, data: data, since: v.now}
	js.all = append(js.all, j)
	return j, nil
}

// of finds the job that the address names: only who sent a file sees it.
func (js *importJobs) of(v *visit) (*importJob, error) {
	js.mu.Lock()
	defer js.mu.Unlock()
	for _, j := range js.all {
		if j.id == v.Param("job") && j.owner == v.actor.Principal() {
			return j, nil
		}
	}
	return nil, inventory.Refuse(inventory.NotFound, "This file is no longer kept. Upload it again.")
}

func (j *importJob) begin(dry bool) {
	j.mu.Lock()
	defer j.mu.Unlock()
	j.running, j.dry, j.rows, j.total, j.failed = true, dry, 0, 0, nil
}

func (j *importJob) tell(rows, total int) {
	j.mu.Lock()
	defer j.mu.Unlock()
	j.rows, j.total = min(rows, total), total
}

func (j *importJob) end(rep exchange.ImportReport, err error) {
	j.mu.Lock()
	defer j.mu.Unlock()
	j.running, j.report = false, rep
	var e *inventory.Error
	switch {
	case err == nil:
	case errors.As(err, &e) && len(e.Fields) > 0:
		j.failed = e.Fields[0].Fix
	case errors.As(err, &e) && e.Message != nil:
		j.failed = e.Message
	default:
		j.failed = message.M("Nothing was changed. Try again; if it persists, tell your administrator.")
	}
}

func (j *importJob) page() *importPage {
	j.mu.Lock()
	defer j.mu.Unlock()
	may := !j.running && j.dry && j.failed == nil && j.report.Refused == 0 && j.report.Created+j.report.Changed > 0
	return &importPage{Job: j.id, Running: j.running, DryRun: j.dry, Rows: j.rows, Total: j.total, Report: j.report,
		May: may, Failed: j.failed}
}
