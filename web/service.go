package web

import (
	"fmt"

	"stowkeeper/inventory"
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
}

type servicePage struct {
	Base
	ServiceState
	SizeText, FreeText          string
	Backup, Tried, Says, Newest When
	Behind                      bool
	Failed                      message.Message // of the write that was tried last
	Own                         Field
}

func (s *server) serviceForm(v *visit, f *form, failed error) error {
	c := s.svc.History.Clock()
	p := &servicePage{Base: Base{Title: message.M("Service")}, Says: whenAt(c.Now, utc), Newest: whenAt(c.Newest, utc),
		Behind: c.Warns(), Own: v.confirmField(f, "")}
	if s.opt.State != nil {
		p.ServiceState = s.opt.State()
		p.SizeText, p.FreeText = inBytes(p.Size), inBytes(p.Free)
		p.Backup, p.Tried = whenAt(p.BackedUp, utc), whenAt(p.Wrote, utc)
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
