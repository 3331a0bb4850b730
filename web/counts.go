package web

import (
	"context"
	"slices"
	"strconv"
	"strings"

	"stowkeeper/inventory"
	"stowkeeper/inventory/count"
	"stowkeeper/inventory/message"
)

type countsPage struct {
	Base
	Stations []NavLink
	Due      []ShelfRow
	Open     []ShelfRow
	Place    Field
}

// ShelfRow is a place that is to be counted, or is being counted.
type ShelfRow struct {
	Href, Name string
	Last       When
	Due        inventory.Day
}

func countPath(id int64) string { return "/counts/" + formatID(id) }

func (s *server) countsForm(v *visit, f *form, failed error) error {
	only, chosen := v.stationsAsked()
	due, err := s.svc.Count.Due(v.ctx(), v.actor, only)
	if err != nil {
		return err
	}
	open, err := s.svc.Count.Counts(v.ctx(), v.actor, inventory.DocumentFilter{Stations: only, Open: true},
		inventory.Page{Limit: 200})
	if err != nil {
		return err
	}
	p := &countsPage{Base: Base{Title: message.M("Counts")}, Stations: v.allStationLinks("/counts", chosen)}
	station, names, options := map[string]string{}, map[string]string{}, []Option{}
	for _, pl := range v.places() {
		station[pl.Code], names[pl.Code] = pl.Station, pl.Name
		if slices.Contains(count.Kinds, pl.Kind) {
			options = append(options, Option{Value: pl.Code, Text: message.Plain(pl.Name)})
		}
	}
	for _, x := range due {
		p.Due = append(p.Due, ShelfRow{countsPath(x.Place), x.Name, whenAt(x.Last, v.station(station[x.Place])), x.Due})
	}
	for _, c := range open {
		p.Open = append(p.Open, ShelfRow{Href: countPath(c.ID), Name: names[c.Place],
			Last: whenAt(c.StartedAt, v.station(c.Station))})
	}
	if !f.values.Has("place") {
		f.values.Set("place", inventory.NormalCode(v.Query("place")))
	}
	p.Place = f.choice("place", message.M("Place"), options).Need()
	return s.renderForm(v, f, p, failed)
}

func (s *server) startCount(v *visit, f *form) error {
	return s.record(v, f, func(ctx context.Context, by inventory.Actor, _ string) (string, error) {
		c, err := s.svc.Count.Start(ctx, by, f.text("place"), f.text("shown") != "")
		return countPath(c.ID), err
	})
}

type countPage struct {
	Base
	Is       count.Count
	Name     string // of the place
	Left     int    // batches to count
	Rows     []ShelfFields
	Fold     int // the rows that are folded begin there: what is counted, and more than a few screens
	Again    int
	Open     bool
	Last     When
	EndedAt  When
	Scan     Field
	At       Field // when, of a sheet of paper
	Said     message.Message
	Signing  *SigningFields
	Explains bool
}

// ShelfFields are a batch with the field for how many there are, and for why that differs.
type ShelfFields struct {
	count.CountRow
	Label      message.Message
	Qty        Field
	Why, Note  Field
	Differing  message.Message
	HasCounted bool
}

const shelfPrefix, whyPrefix = "n.", "why."

func (s *server) countForm(v *visit, f *form, failed error) error {
	c, err := s.svc.Count.Count(v.ctx(), v.actor, paramID(v, "count"))
	if err != nil {
		return err
	}
	station := v.station(c.Station)
	p := &countPage{Base: Base{Title: message.M("Count {1}", c.PlaceName)}, Is: c.Count,
		Name: c.PlaceName, Left: c.Left, Open: c.Status == count.Open,
		Last: whenAt(c.Last, station), EndedAt: whenAt(c.EndedAt, station)}
	for _, r := range c.Rows {
		x := ShelfFields{CountRow: r, Label: lotLabel(r.BatchNo, r.Serial), HasCounted: r.Line != nil}
		x.Qty = f.numberField(shelfPrefix+formatID(r.LotID)+".qty", message.M("Quantity: {1}, {2}", r.Name, x.Label))
		if x.Qty.Value == "" && r.Line != nil && len(r.Again) == 0 {
			x.Qty.Value = strconv.Itoa(r.Line.Counted)
		}
		if len(r.Again) > 0 {
			p.Again++
		}
		if r.Line != nil && v.Query("lot") == formatID(r.LotID) && len(p.Said) == 0 {
			p.Said = message.M("+1 {1}: now {2}", r.Name+" "+r.BatchNo+r.Serial, r.Line.Counted)
		}
		if r.Differs != 0 {
			x.Differing = message.M("{1} counted, {2} recorded", r.Line.Counted, *r.Expected)
			if !r.Controlled && len(r.Again) == 0 {
				x.Why, x.Note = s.whyFields(f, r)
				p.Explains = true
			}
		}
		p.Rows = append(p.Rows, x)
	}
	p.fold()
	p.Scan = f.field("scan", message.M("Scan pack"))
	p.Scan.Focus, p.At = failed == nil, f.happenedField(station)
	p.Signing = f.signing(c.Unsigned)
	return s.renderForm(v, f, p, failed)
}

// fold puts what is counted, of a long shelf, behind what is not.
func (p *countPage) fold() {
	done := func(x ShelfFields) int {
		if x.HasCounted && len(x.Again) == 0 && x.Qty.Fix == nil {
			return 1
		}
		return 0
	}
	if p.Fold = len(p.Rows); p.Open && p.Fold > phoneRows {
		slices.SortStableFunc(p.Rows, func(a, b ShelfFields) int { return done(a) - done(b) })
		for p.Fold = 0; p.Fold < phoneRows && done(p.Rows[p.Fold]) == 0; p.Fold++ {
		}
	}
}

// whyFields ask why a count differs.
func (s *server) whyFields(f *form, r count.CountRow) (why, note Field) {
	row := whyPrefix + formatID(r.LotID)
	options := []Option{{Value: "missing", Text: message.M("missing")}, {Value: "damaged", Text: message.M("damaged")},
		{Value: "expired", Text: message.M("expired")}, {Value: "used", Text: message.M("used")}}
	if r.Differs > 0 {
		options = []Option{{Value: "found", Text: message.M("found")}}
		if !f.values.Has(row + ".reason") {
			f.values.Set(row+".reason", "found")
		}
	}
	return f.choice(row+".reason", message.M("Reason"), options).Need(), f.field(row+".note", message.M("Note"))
}

// enterCount keeps what was entered or scanned at once.
func (s *server) enterCount(v *visit, f *form) error {
	id := paramID(v, "count")
	c, err := s.svc.Count.Count(v.ctx(), v.actor, id)
	if err != nil {
		return err
	}
	var lots []inventory.Pick
	for _, r := range c.Rows {
		lots = append(lots, inventory.Pick{Item: r.Item, LotID: r.LotID, BatchNo: r.BatchNo, Serial: r.Serial})
	}
	what, lot, err := s.scanUnit(v, f, shelfPrefix, lots)
	if err != nil {
		return err
	}
	lines, rows := countLines(f, c, lot)
	at := f.localTime("happened_at", v.station(c.Station))
	for i := range lines {
		lines[i].At = at
	}
	qty := lineNames(rows, "qty")
	f.names = func(path string) string {
		if strings.HasSuffix(path, ".at") { // one time for the whole sheet
			return "happened_at"
		}
		return qty(path)
	}
	return s.record(v, f, func(ctx context.Context, by inventory.Actor, _ string) (string, error) {
		if len(lines) > 0 {
			if _, err := s.svc.Count.Enter(ctx, by, id, lines); err != nil {
				return "", err
			}
		}
		var err error
		if what != nil && lot == 0 {
			lot, err = s.svc.Count.Add(ctx, by, id, *what)
		}
		return countPath(id) + "?lot=" + formatID(lot), err
	})
}

// countLines are the numbers of a form that say something new; the one that was scanned is counted one more.
func countLines(f *form, c count.CountSheet, lot int64) (lines []count.CountEntry, rows []string) {
	for _, row := range rowsWith(f, shelfPrefix, ".qty") {
		id := idOf(strings.TrimPrefix(row, shelfPrefix))
		i := slices.IndexFunc(c.Rows, func(r count.CountRow) bool { return r.LotID == id })
		if f.text(row+".qty") == "" || i < 0 {
			continue
		}
		n, was := f.number(row+".qty"), c.Rows[i].Line
		again := len(c.Rows[i].Again) > 0
		if was != nil && was.Counted == n && !again {
			continue
		}
		x := count.CountEntry{LotID: id, Counted: n, Again: again}
		if id == lot && was != nil && !again {
			x = count.CountEntry{LotID: id, Counted: 1, More: true}
		}
		lines, rows = append(lines, x), append(rows, row)
	}
	return lines, rows
}

func (s *server) postCount(v *visit, f *form) error {
	id := paramID(v, "count")
	var lines []count.Explained
	var rows []string
	for _, row := range rowsWith(f, whyPrefix, ".reason") {
		lines = append(lines, count.Explained{LotID: idOf(strings.TrimPrefix(row, whyPrefix)),
			Reason: inventory.CountReason(f.text(row + ".reason")), Note: f.text(row + ".note")})
		rows = append(rows, row)
	}
	f.names = lineNames(rows, "")
	return s.record(v, f, func(ctx context.Context, by inventory.Actor, _ string) (string, error) {
		_, err := s.svc.Count.Post(ctx, by, id, lines)
		return countPath(id), err
	})
}

func (s *server) dropCount(v *visit, f *form) error {
	id := paramID(v, "count")
	return s.record(v, f, func(ctx context.Context, by inventory.Actor, _ string) (string, error) {
		_, err := s.svc.Count.Drop(ctx, by, id)
		return "/counts", err
	})
}
