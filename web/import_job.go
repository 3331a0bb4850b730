package web

import (
	"context"
	"crypto/rand"
	"encoding/json"
	"errors"
	"time"

	"stowkeeper/inventory"
	"stowkeeper/inventory/exchange"
	"stowkeeper/inventory/message"
)

// Uploads are kept in the database for so long and so many. Who reads one tells of it each second; one that nobody told
// of for a while was left by a copy of the program that ended.
const (
	keepUpload  = time.Hour
	mostUploads = 4
	tellEvery   = time.Second
	silence     = 30 * time.Second
	waitForStop = time.Second / 10
)

// importJob is a file that was uploaded a while ago, with what became of it.
type importJob struct {
	inventory.Upload `json:"-"`

	Kind   exchange.ImportKind
	Dates  exchange.DayOrder
	Dry    bool
	Far    exchange.Progress
	Report exchange.ImportReport
	Says   []string // of the report, kept so that they can be translated: what is ignored, and the reasons
	Failed string
}

// keepUpload keeps a file for whoever sent it.
func (s *server) keepUpload(v *visit, j *importJob, file []byte) error {
	j.Upload = inventory.Upload{Code: rand.Text(), Owner: v.actor.Principal(), KeptAt: v.now, State: j.state()}
	return s.opt.Uploads.Keep(v.ctx(), j.Upload, file, v.now.Add(-keepUpload), v.now.Add(-silence), mostUploads)
}

// job finds the file that the address names: only who sent it sees it.
func (s *server) job(v *visit) (*importJob, error) {
	u, err := s.opt.Uploads.Upload(v.ctx(), v.Param("job"))
	if err == nil && u.Owner != v.actor.Principal() {
		err = inventory.Refuse(inventory.NotFound, "This file is no longer kept. Upload it again.")
	}
	if err != nil {
		return nil, err
	}
	return jobOf(u)
}

func jobOf(u inventory.Upload) (*importJob, error) {
	j := &importJob{}
	err := json.Unmarshal([]byte(u.State), j)
	j.Upload = u
	for i, n := 0, len(j.Report.Ignored); i < len(j.Says); i++ {
		if said := message.Kept(j.Says[i]); i < n {
			j.Report.Ignored[i] = said
		} else {
			j.Report.Lines[i-n].Reason = said
		}
	}
	return j, err
}

func (j *importJob) state() string {
	j.Says = nil
	for _, n := range j.Report.Ignored {
		j.Says = append(j.Says, n.Keep())
	}
	for _, l := range j.Report.Lines {
		j.Says = append(j.Says, l.Reason.Keep())
	}
	b, _ := json.Marshal(j) // texts and numbers
	return string(b)
}

// follow tells of a job each second, until it is done and what came of it is kept. It is stopped where somebody asks.
func (s *server) follow(ctx context.Context, j *importJob, far func() exchange.Progress, stop, end func(),
	done <-chan struct{}) {
	for tick := time.NewTicker(tellEvery); ; {
		was := j.HeardAt
		select {
		case <-tick.C:
			j.Far, j.HeardAt = far(), s.svc.Now()
		case <-done:
			tick.Stop()
			end()
			j.HeardAt = 0
		}
		j.State = j.state()
		err := s.opt.Uploads.Tell(ctx, j.Upload, was)
		if inventory.KindOf(err) == inventory.Conflict {
			stop()
		} else if err != nil {
			s.opt.Logger.Error("an import could not tell how far it is", "error", err)
		}
		if j.HeardAt == 0 {
			return
		}
		if err != nil {
			j.HeardAt = was
		}
	}
}

// stopImport asks whichever copy reads a file to stop, and waits a little, so that the page says what it came to.
func (s *server) stopImport(v *visit, j *importJob) error {
	err := s.opt.Uploads.Stop(v.ctx(), j.Code)
	for range 3 * tellEvery / waitForStop {
		if j, err = s.job(v); err != nil || j.HeardAt == 0 {
			break
		}
		<-time.After(waitForStop)
	}
	return err
}

func (j *importJob) end(rep exchange.ImportReport, err error) {
	j.Report = rep
	var e *inventory.Error
	switch {
	case err == nil:
	case errors.As(err, &e) && len(e.Fields) > 0:
		j.Failed = e.Fields[0].Fix.Keep()
	case errors.As(err, &e) && e.Message != nil:
		j.Failed = e.Message.Keep()
	case !rep.Stopped:
		j.Failed = message.M("Nothing was changed. Try again; if it persists, tell your administrator.").Keep()
	}
}

func (j *importJob) page(now inventory.Instant) *importPage {
	p := &importPage{Job: j.Code, DryRun: j.Dry, Far: j.Far, Report: j.Report,
		Failed: message.Kept(j.Failed)}
	p.Running = j.HeardAt != 0 && now.Sub(j.HeardAt) < silence
	left := j.HeardAt != 0 && !p.Running
	p.Stopped = !p.Running && (j.Report.Stopped || left && !j.Dry)
	if left && j.Dry {
		p.Failed = message.M("Nothing was changed. Try again in a minute.")
	}
	p.May = p.Stopped || !p.Running && j.Dry && p.Failed == nil && j.Report.Refused == 0 &&
		j.Report.Created+j.Report.Changed > 0
	return p
}
