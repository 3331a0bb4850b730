// Package bench makes an invented service of some size, and sets what the program takes for its work beside what the
// same takes by hand. Both sides of each row run in one go, by turns, so that a busy machine slows both.
package bench

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"regexp"
	"slices"
	"time"
)

// Options say what is measured.
type Options struct {
	Program        string // to serve with: this one
	Stations, Bags int    // bags of each station
	Batches        int    // of one item, at the first station
	Short          float64
	Only           *regexp.Regexp // of measures
	Progress       io.Writer
}

// Row is one measure: a ratio, and the limit that it is to keep.
type Row struct {
	Measure string  `json:"measure"`
	Ratio   float64 `json:"ratio"`
	Limit   float64 `json:"limit"`
	Holds   bool    `json:"holds"`
}

// bench is one run.
type bench struct {
	Options
	folder string
	rows   []Row

	large, small *service
	many, few    *served
}

// measures are what is compared, in turn: by name, the limit, whether it is the least, and how.
var measures = []struct {
	name  string
	limit float64
	least bool
	do    func(*bench, context.Context) (float64, error)
}{
	{"report: the whole over HTTP, to a join by sqlite3", 0.5, false, (*bench).report},
	{"bag: its page, to its rows by prepared SQL", 3, false, (*bench).bag},
	{"pick list: of one bag among all, to among 40", 1.3, false, (*bench).pickList},
	{"board: among all stations, to one station", 1.5, false, page("/board")},
	{"desk: among all stations, to one station", 1.5, false, page("/store")},
	{"vehicle: among all stations, to one station", 1.5, false, page("/vehicle?station=S00&name=V00-0")},
	{"search: among all stations, to one station", 1.5, false, page("/search?q=bag+003")},
	{"checks: 64 clients, to a loop of one sync each", 0.7, true, (*bench).checks},
	{"checks: the same with each sync slowed by 4 ms", 3, true, (*bench).slowedChecks},
	{"checks: to one sync", 8, true, (*bench).aSync},
	{"receipts: 64 clients, an item of 5,000 batches to one of 10", 0.9, true, (*bench).receipts},
	{"import: 100,000 rows, to their INSERT by sqlite3", 2.5, false, (*bench).imported},
	{"verify: to reading and hashing the rows", 3, false, (*bench).verify},
	{"start: to the first answer, to an empty database", 1.5, false, (*bench).start},
	{"labels: a thousand as PDF, to their symbols alone", 1.5, false, (*bench).labels},
	{"memory: of the program at most, to 150 MB", 1, false, (*bench).memory},
}

// Run makes the service and measures. What cannot be measured here is told and left out.
func Run(ctx context.Context, o Options) (rows []Row, err error) {
	b := &bench{Options: o}
	if b.folder, err = os.MkdirTemp("", "stowkeeper-bench-"); err != nil {
		return nil, err
	}
	defer func() { err = errors.Join(err, os.RemoveAll(b.folder)) }()
	if err := b.prepare(ctx); err != nil {
		return nil, err
	}
	defer func() { err = errors.Join(err, b.many.stop(), b.few.stop()) }()
	for _, m := range measures {
		if !o.Only.MatchString(m.name) {
			continue
		}
		ratio, err := m.do(b, ctx)
		if errors.Is(err, errCannot) {
			fmt.Fprintf(o.Progress, "%s: %s\n", m.name, err)
			continue
		}
		if err != nil {
			return b.rows, fmt.Errorf("%s: %w", m.name, err)
		}
		row := Row{m.name, ratio, m.limit, ratio <= m.limit}
		if m.least {
			row.Holds = ratio >= m.limit
		}
		b.rows = append(b.rows, row)
		fmt.Fprintf(o.Progress, "%-62s %8.2f  %s %g  %s\n", m.name, ratio, map[bool]string{true: "at least",
			false: "at most "}[m.least], m.limit, map[bool]string{true: "holds", false: "DOES NOT HOLD"}[row.Holds])
	}
	return b.rows, ctx.Err()
}

// errCannot is of what needs a tool that is not here.
var errCannot = errors.New("cannot be measured here")

func (b *bench) prepare(ctx context.Context) (err error) {
	began := time.Now()
	fmt.Fprintf(b.Progress, "Making %d stations with %d bags each …\n", b.Stations, b.Bags)
	if b.large, err = newService(ctx, b.folder, "large", b.Batches, b.Stations, b.Bags, b.Short); err != nil {
		return err
	}
	if b.small, err = newService(ctx, b.folder, "small", 0, 1, 40, b.Short); err != nil {
		return err
	}
	fmt.Fprintf(b.Progress, "made in %s\n", time.Since(began).Round(time.Second))
	if b.many, err = b.served(ctx, b.large); err != nil {
		return err
	}
	b.few, err = b.served(ctx, b.small)
	return err
}

func (b *bench) served(ctx context.Context, s *service, before ...string) (*served, error) {
	p, err := start(ctx, b.Program, s.file, before...)
	if err == nil {
		err = p.signIn(ctx)
	}
	return p, err
}

// JSON writes rows for programs.
func JSON(w io.Writer, rows []Row) error {
	return json.NewEncoder(w).Encode(map[string][]Row{"rows": rows})
}

// against runs two things by turns, and returns how many times the second the first takes, by their medians.
func against(times int, one, other func() (time.Duration, error)) (float64, error) {
	var took [2][]time.Duration
	for range times {
		for side, do := range []func() (time.Duration, error){one, other} {
			d, err := do()
			if err != nil {
				return 0, err
			}
			took[side] = append(took[side], d)
		}
	}
	for side := range took {
		slices.Sort(took[side])
	}
	return float64(took[0][times/2]) / float64(took[1][times/2]), nil
}

func timed(do func() error) func() (time.Duration, error) {
	return func() (time.Duration, error) {
		began := time.Now()
		err := do()
		return time.Since(began), err
	}
}
