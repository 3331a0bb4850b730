package report

import (
	"context"
	"time"

	"stowkeeper/inventory"
)

// How long a year is shown, and how long a reading waits for one.
const (
	Fresh    = fresh
	Patience = patience
)

// BeginYear says that the year is being computed, until end.
func (s *Service) BeginYear(today inventory.Day) (end func(Outlook)) {
	s.years.begin()
	return func(o Outlook) { s.years.end(&o, today) }
}

// WaitForYear returns how long it waited.
func (s *Service) WaitForYear(ctx context.Context, today inventory.Day) time.Duration {
	began := time.Now()
	s.years.wait(ctx, today)
	return time.Since(began)
}
