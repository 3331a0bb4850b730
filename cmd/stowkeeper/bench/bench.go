// Package bench makes an invented service of some size, and sets what the program takes for its work beside what the
// same takes by hand. Both sides of each row run in one go, by turns, so that a busy machine slows both.
package bench

import (
	"context"
	"database/sql"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"time"

	"stowkeeper/inventory/store/prepared"
)

// Options say what is measured.
type Options struct {
	Program        string // to serve with: this one
	Stations, Bags int    // bags of each station, LeastBags or more
	Batches        int    // of one item, at the last station
	Short          float64
	Only           *regexp.Regexp // of measures
	Progress       io.Writer
}

// LeastBags are as many bags of a station as are looked at by their code.
const LeastBags = 4

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

	large, small, huge *service // huge has ten times the bags of large, and is made where it is asked for
	many, few          *served
}

// measures are what is compared, in turn: by name, the limit, whether it is the least, and how.
var measures = []struct {
	name  string
	limit float64
	least bool
	do    func(*bench, context.Context) (float64, error)
}{
	{"report: the whole over HTTP, to a join by sqlite3", 0.5, false, (*bench).report},
	{"report: among ten times the bags, as many short", 1.5, false, (*bench).reportOfMore},
	{"bag: its page, to its rows by prepared SQL", 3, false, (*bench).bag},
	{"pick list: of one bag among all stations, to one station", 1.3, false, (*bench).pickList},
	{"board: among all stations, to one station", 1.5, false, page("/board")},
	{"desk: among all stations, to one station", 1.5, false, page("/store")},
	{"vehicle: among all stations, to one station", 1.5, false, page("/vehicle?station=S00&name=V00-0")},
	{"search: among all stations, to one station", 1.5, false, page("/search?q=bag+003")},
	{"checks: 64 clients, to a loop of one sync each", 0.7, true, (*bench).checks},
	{"checks: the same with each sync slowed by 4 ms", 3, true, (*bench).slowedChecks},
	{"checks: to one sync", 8, true, (*bench).aSync},
	{"receipts: 64 clients, an item of 5,000 batches to one of 10", 0.9, true, (*bench).receipts},
	{"notice: on a batch in all bags, to its rows by prepared SQL", 3, false, (*bench).notice},
	{"import: 100,000 rows, to their INSERT by prepared SQL", 2.5, false, (*bench).imported},
	{"verify: ten times the bags, to reading and hashing the rows", 3, false, (*bench).verify},
	{"start: among ten times the bags, to an empty database", 1.5, false, (*bench).start},
	{"labels: a thousand as PDF, to their symbols alone", 1.5, false, (*bench).labels},
	{"memory: of the program at most, to 150 MB", 1, false, (*bench).memory},
}

// Run makes the service and measures. What cannot be measured here is told and left out; a measure that fails takes
// no other with it.
func Run(ctx context.Context, o Options) (rows []Row, err error) {
	b := &bench{Options: o}
	if b.folder, err = os.MkdirTemp("", "stowkeeper-bench-"); err != nil {
		return nil, err
	}
	defer func() { err = errors.Join(err, b.many.stop(), b.few.stop(), os.RemoveAll(b.folder)) }()
	if err := b.prepare(ctx); err != nil {
		return nil, err
	}
	var failed error
	for _, m := range measures {
		if !o.Only.MatchString(m.name) || ctx.Err() != nil {
			continue
		}
		began := time.Now()
		ratio, err := m.do(b, ctx)
		if err != nil {
			fmt.Fprintf(o.Progress, "%s: %s\n", m.name, err)
			if !errors.Is(err, errCannot) {
				failed = errors.Join(failed, fmt.Errorf("%s: %w", m.name, err))
			}
			continue
		}
		row := Row{m.name, ratio, m.limit, ratio <= m.limit}
		if m.least {
			row.Holds = ratio >= m.limit
		}
		rows = append(rows, row)
		fmt.Fprintf(o.Progress, "%-62s %8.2f  %s %-4g %s (measured in %s)\n", m.name, ratio, map[bool]string{true: "at least",
			false: "at most "}[m.least], m.limit, map[bool]string{true: "holds", false: "DOES NOT HOLD"}[row.Holds],
			time.Since(began).Round(time.Second))
	}
	return rows, errors.Join(failed, ctx.Err())
}

// errCannot is of what needs a tool that is not here.
var errCannot = errors.New("cannot be measured here")

func (b *bench) prepare(ctx context.Context) (err error) {
	short := func(bags int) int { return int(math.Round(b.Short * float64(bags))) }
	all := b.Stations * b.Bags
	b.large, err = b.made(ctx, "large", service{stations: b.Stations, bags: b.Bags, short: short(all), batches: b.Batches})
	if err != nil {
		return err
	}
	if b.small, err = b.made(ctx, "small", service{stations: 1, bags: b.Bags, short: short(b.Bags)}); err != nil {
		return err
	}
	if b.many, err = b.served(ctx, b.large); err != nil {
		return err
	}
	b.few, err = b.served(ctx, b.small)
	return err
}

// made creates a service in the folder of this run.
func (b *bench) made(ctx context.Context, name string, s service) (*service, error) {
	began := time.Now()
	s.file = filepath.Join(b.folder, name+".db")
	if err := s.create(ctx); err != nil {
		return nil, err
	}
	fmt.Fprintf(b.Progress, "made %d stations with %d bags each in %s\n", s.stations, s.bags,
		time.Since(began).Round(time.Second))
	return &s, nil
}

// more is the service with ten times the bags of the large one, of which as many are short.
func (b *bench) more(ctx context.Context) (_ *service, err error) {
	if b.huge == nil {
		s := *b.large
		s.stations *= 10
		b.huge, err = b.made(ctx, "huge", s)
	}
	return b.huge, err
}

// served serves a service and signs in. It leaves nothing running where that fails.
func (b *bench) served(ctx context.Context, s *service, before ...string) (*served, error) {
	p, err := start(ctx, b.Program, s.file, before...)
	if err != nil {
		return nil, err
	}
	if err := p.signIn(ctx); err != nil {
		return nil, errors.Join(err, p.stop())
	}
	return p, nil
}

// copyOf copies a database into the folder of this run.
func (b *bench) copyOf(ctx context.Context, from, name string) (to string, err error) {
	db, err := sql.Open(prepared.Driver, "file:"+from)
	if err != nil {
		return "", err
	}
	to = filepath.Join(b.folder, name)
	_, err = db.ExecContext(ctx, "VACUUM INTO ?", to)
	return to, errors.Join(err, db.Close())
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
