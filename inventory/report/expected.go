package report

import (
	"cmp"
	"context"
	"log/slog"
	"maps"
	"slices"
	"sync"
	"time"

	"stowkeeper/inventory"
	"stowkeeper/inventory/demand"
	"stowkeeper/inventory/reorder"
)

// How the year is simulated: simulatedYears are as many as leave a tenth of them outside a band; what is used is
// estimated from whole months, historyMonths at most, with the factor smoothing, and where little is known from what
// the other stations use, which weighs as much as priorMonths of one's own.
const (
	simulatedYears = 39
	historyMonths  = 24
	smoothing      = 0.15
	priorMonths    = 6
	weeksInMonth   = 365.25 / 12 / 7
)

// Used is units that a station used of an item in a month.
type Used struct {
	Station, Item string
	Month         inventory.Day // its first day
	Qty           int
}

// ExpectedOf estimates what each station will use of each item in a week, from what it used before the month of today.
// A station's months are those since it first recorded any use: before that nobody knows what it used.
func ExpectedOf(used []Used, today inventory.Day) []Expected {
	this := firstOfMonth(today)
	from := this.AddMonths(-historyMonths)
	by, items, first := map[[2]string]map[inventory.Day]int{}, map[string]int{}, map[string]inventory.Day{}
	for _, u := range used {
		if u.Month >= this {
			continue
		}
		if at, known := first[u.Station]; !known || u.Month < at {
			first[u.Station] = max(u.Month, from)
		}
		if u.Month < from {
			continue
		}
		of := [2]string{u.Station, u.Item}
		if by[of] == nil {
			by[of] = map[inventory.Day]int{}
		}
		by[of][u.Month] += u.Qty
		items[u.Item] += u.Qty
	}
	months := 0 // of all stations together
	for _, at := range first {
		months += len(monthsUntil(at, this))
	}
	var out []Expected
	for _, of := range slices.SortedFunc(maps.Keys(by), func(a, b [2]string) int {
		return cmp.Or(cmp.Compare(a[0], b[0]), cmp.Compare(a[1], b[1]))
	}) {
		var series []float64
		for _, m := range monthsUntil(first[of[0]], this) {
			series = append(series, max(0, float64(by[of][m])))
		}
		prior := demand.Prior{Mean: max(0, float64(items[of[1]])) / float64(months), Periods: priorMonths}
		e := demand.Of(series, smoothing, prior)
		out = append(out, Expected{Station: of[0], Item: of[1], Thin: e.Thin,
			Use: reorder.Use{Mean: e.Mean, Variance: e.Variance}.Over(1 / weeksInMonth)})
	}
	return out
}

// monthsUntil lists the first days of months, from one to before another.
func monthsUntil(first, end inventory.Day) (out []inventory.Day) {
	for m := first; m < end; m = m.AddMonths(1) {
		out = append(out, m)
	}
	return out
}

func firstOfMonth(d inventory.Day) inventory.Day {
	_, _, day := d.Date()
	return d.AddDays(1 - day)
}

// usedOf reads what stations used, by month: what was recorded here, without what was corrected, and what they told of
// the time before.
func usedOf(r inventory.Reader, now inventory.Instant) ([]Used, error) {
	var errs [6]error
	var out []Used
	places, err := r.Places(inventory.PlaceFilter{Retired: true}, inventory.Page{})
	errs[0] = err
	at := map[string]inventory.Place{}
	for _, p := range places {
		at[p.Code] = p
	}
	since := now.Add(-(historyMonths + 1) * 31 * 24 * time.Hour)
	moves, err := r.Movements(inventory.MovementFilter{Reason: inventory.ReasonUsed, Since: since}, inventory.Page{})
	errs[1] = err
	undone, err := r.Movements(inventory.MovementFilter{Reason: inventory.ReasonCorrection, Since: since},
		inventory.Page{})
	errs[2] = err
	wrong := map[int64]bool{}
	for _, m := range undone {
		wrong[m.Corrects] = true
	}
	lots, err := r.Lots(inventory.LotFilter{}, inventory.Page{})
	errs[3] = err
	item := map[int64]string{}
	for _, l := range lots {
		item[l.ID] = l.Item
	}
	stations, err := r.Stations()
	errs[4] = err
	zone := map[string]inventory.Station{}
	for _, s := range stations {
		zone[s.Code] = s
	}
	for _, m := range moves {
		if p := at[m.From]; !wrong[m.ID] && p.Purpose == inventory.ForIssue {
			out = append(out, Used{p.Station, item[m.LotID], firstOfMonth(zone[p.Station].Today(m.HappenedAt)), m.Qty})
		}
	}
	past, err := r.PastUsage(inventory.UsageFilter{})
	errs[5] = err
	for _, u := range past {
		if first, err := inventory.ParseMade(u.Period); err == nil {
			out = append(out, Used{u.Station, u.Item, firstOfMonth(first), u.Qty})
		}
	}
	return out, cmp.Or(errs[:]...)
}

// patience is how long a reading waits for a year that is being computed. What takes longer is shown when it is there.
const patience = 2 * time.Second

// yearBook holds the last year computed. It is the one thing that outlives a reading, and says its time: living through
// so many years takes minutes where there are thousands of bags.
type yearBook struct {
	sync.Mutex
	last    *Outlook
	day     inventory.Day
	running chan struct{} // closed when the year that is being computed is there
}

// fresh is how old a year may be that is shown without computing another.
const fresh = time.Hour

// due tells whether another year has to be computed.
func (b *yearBook) due(now inventory.Instant, today inventory.Day) bool {
	b.Lock()
	defer b.Unlock()
	return b.running == nil && (b.last == nil || b.day != today || now > b.last.At.Add(fresh) || now < b.last.At)
}

// begin tells whether to compute it: nobody else does. Who begins ends.
func (b *yearBook) begin() bool {
	b.Lock()
	defer b.Unlock()
	if b.running != nil {
		return false
	}
	b.running = make(chan struct{})
	return true
}

func (b *yearBook) end(o *Outlook, day inventory.Day) {
	b.Lock()
	defer b.Unlock()
	close(b.running)
	b.last, b.day, b.running = o, day, nil
}

// wait returns the last year computed, nil for none of that day. It gives one that is being computed a moment, in which
// nobody who waits holds a snapshot.
func (b *yearBook) wait(ctx context.Context, today inventory.Day) *Outlook {
	b.Lock()
	running := b.running
	b.Unlock()
	if running != nil {
		if look, _ := inventory.OnlyLooks(ctx); look != nil {
			look.Drop()
		}
		ctx, stop := context.WithTimeout(ctx, patience)
		defer stop()
		select {
		case <-running:
		case <-ctx.Done():
		}
	}
	b.Lock()
	defer b.Unlock()
	if b.day != today {
		return nil
	}
	return b.last
}

// beginYear has another year computed where the last is old.
func (s *Service) beginYear(r inventory.Reader, g inventory.ReportInput, today inventory.Day,
	now inventory.Instant) error {
	if !s.years.due(now, today) {
		return nil
	}
	used, err := usedOf(r, now)
	if err != nil || !s.years.begin() {
		return err
	}
	go func() {
		o := Outlook{At: now}
		defer func() { // a year that cannot be computed takes nobody with it, and is not tried at every reading
			if r := recover(); r != nil {
				slog.Error("the year ahead could not be computed", "error", r)
			}
			s.years.end(&o, today)
		}()
		o = OutlookOf(g, now, ExpectedOf(used, today), simulatedYears, uint64(max(0, today))) // #nosec G115 -- a seed
	}()
	return nil
}
