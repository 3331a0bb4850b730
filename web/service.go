package web

import (
	"cmp"
	"fmt"

	"stowkeeper/inventory"
	"stowkeeper/inventory/account"
	"stowkeeper/inventory/message"
)

// servicePath is the page that opens also while the clock stops all others.
const servicePath = "/service"

// ServiceState is how the program and its database are, for who keeps them running.
type ServiceState struct {
	Version, Database string
	Size, Free        int64 // bytes; 0 where it is not known
	LittleRoom        bool  // is free
	Backups           bool  // are taken by the hour
	BackupOverdue     bool
	BackedUp          inventory.Instant
	Wrote             inventory.Instant // when a write was tried last
	Trouble           error             // what became of it
	Waiting           int               // writes
	Verified          inventory.Instant // when all records were found in order last
}

type servicePage struct {
	Base
	ServiceState
	SizeText, FreeText          string
	Backup, Tried, Says, Newest When
	Checked                     When
	Behind                      bool
	Refused                     message.Message   // why nothing is recorded
	Failed                      message.Message   // of the write that was tried last
	Stopped                     []message.Message // imports
	Terminals                   int
	Silent                      []inventory.Terminal
	Sessions                    []account.SessionView
	Locked                      []HistoryRow
	Own                         Field
}

func (s *server) serviceForm(v *visit, f *form, failed error) error {
	c := s.svc.History.Clock()
	locked, err1 := s.svc.History.Locked(v.ctx(), v.actor)
	sessions, err2 := s.svc.Account.Sessions(v.ctx(), v.actor, "")
	terminals, err3 := s.svc.Account.Terminals(v.ctx(), v.actor)
	uploads, err4 := s.opt.Uploads.All(v.ctx())
	if err := cmp.Or(err1, err2, err3, err4); err != nil {
		return err
	}
	p := &servicePage{Base: Base{Title: message.M("Service")}, Says: whenAt(c.Now, utc), Newest: whenAt(c.Newest, utc),
		Behind: c.Warns(), Own: v.confirmField(f, ""), Sessions: sessions}
	p.Refused = pageOf(c.Err()).Message
	for _, t := range terminals {
		if t.Live() {
			p.Terminals++
		}
		if t.Silent(v.now.InUTC()) {
			p.Silent = append(p.Silent, t)
		}
	}
	for _, d := range locked {
		p.Locked = append(p.Locked, historyRow(d, utc.Timezone))
	}
	for _, u := range uploads {
		if j, err := jobOf(u); err == nil && j.page(v.now).Stopped {
			p.Stopped = append(p.Stopped, importWords[j.Kind])
		}
	}
	if s.opt.State != nil {
		p.ServiceState = s.opt.State()
		p.SizeText, p.FreeText = inBytes(p.Size), inBytes(p.Free)
		p.Backup, p.Tried = whenAt(p.BackedUp, utc), whenAt(p.Wrote, utc)
		p.Checked = whenAt(p.Verified, utc)
		if p.Trouble != nil {
			p.Failed = pageOf(p.Trouble).Message
		}
	}
	return s.renderForm(v, f, p, failed)
}

// inBytes writes a size in the unit that leaves one to four digits.
func inBytes(n int64) string {
	switch {
	case n == 0:
		return ""
	case n < 10_000_000:
		return fmt.Sprintf("%d kB", (n+999)/1000)
	case n < 10_000_000_000:
		return fmt.Sprintf("%d MB", n/1_000_000)
	}
	return fmt.Sprintf("%d GB", n/1_000_000_000)
}

func (s *server) confirmClock(v *visit, f *form) error {
	if err := s.confirm(v, f, ""); err != nil {
		return err
	}
	if err := s.svc.History.ConfirmClock(v.ctx(), v.actor); err != nil {
		return err
	}
	return v.to(servicePath)
}
