package web

import (
	"net/http"
	"net/url"
	"slices"
	"strconv"

	"stowkeeper/inventory/message"
	"stowkeeper/inventory/shift"
)

type checksPage struct {
	Base
	Reports       []NavLink
	Now           []StationDay
	Days          int
	Station, Span Field
	CSV           string
	Groups        []ChecksGroup
}

// ChecksGroup is the checks of one station.
type ChecksGroup struct {
	Name         string
	Done, Missed int
	Bags         []ChecksRow
}

// ChecksRow is the checks of one bag.
type ChecksRow struct {
	shift.BagChecks
	Seal, Full         When
	SealHref, FullHref string // to what is behind its numbers
}

// checksPath leads to the looks behind the numbers of a bag.
func checksPath(bag, kind string, days int) string {
	return "/checks/rows?" + url.Values{"bag": {bag}, "kind": {kind}, "days": {strconv.Itoa(days)}}.Encode()
}

type checkRowsPage struct {
	Base
	Reports      []NavLink
	Bag          shift.BagChecks
	Full         bool
	Days         int
	Back         string
	Today        []StationDay
	Made, Missed []When
}

// showCheckRows lists when the checks of a bag were made, and when one was due
// that was not: each number on the page before is so many rows here.
func (s *server) showCheckRows(v *visit) error {
	f := openForm(v.Request.URL.Query())
	rec, err := s.checkRecord(v, f)
	if err != nil {
		return err
	}
	if err := f.err(); err != nil {
		return err
	}
	b, err := s.svc.Lists.Bag(v.ctx(), v.actor, v.Query("bag"))
	if err != nil {
		return noSuchBag(err)
	}
	p := &checkRowsPage{Base: Base{Title: message.M("Checks of {1}", b.Code)}, Reports: reportLinks("/checks"),
		Bag: shift.BagChecks{Bag: b.Code, Station: b.AtStation}, Full: v.Query("kind") == "full",
		Days: rec.Days, Back: "/checks?days=" + strconv.Itoa(rec.Days)}
	if i := slices.IndexFunc(rec.Bags, func(x shift.BagChecks) bool { return x.Bag == b.Code }); i >= 0 {
		p.Bag = rec.Bags[i]
	}
	station := v.station(p.Bag.Station)
	p.Today = v.today([]string{station.Code})
	looks := p.Bag.Seals
	if p.Full {
		looks = p.Bag.Fulls
	}
	for _, at := range looks.Made {
		p.Made = append(p.Made, whenAt(at, station))
	}
	for _, at := range looks.Missed {
		p.Missed = append(p.Missed, whenAt(at, station))
	}
	return s.render(v, http.StatusOK, p)
}

const (
	checkDays     = 14
	mostCheckDays = 366
)

func (s *server) showChecks(v *visit) error {
	f := openForm(v.Request.URL.Query())
	rec, err := s.checkRecord(v, f)
	if err != nil {
		return err
	}
	failed := f.err()
	only, _ := v.stationsAsked()
	p := &checksPage{Base: Base{Title: message.M("Checks")}, Reports: reportLinks("/checks"), Now: v.today(only),
		Days: rec.Days, CSV: csvHref("/checks.csv", v)}
	p.Station = v.anyStation(f)
	p.Span = f.numberField("days", message.M("Days back"))
	p.Span.Empty = message.Plain(strconv.Itoa(checkDays))
	if p.Span.Value == "" {
		p.Span.Value = strconv.Itoa(rec.Days)
	}
	for _, station := range v.stations() {
		g := ChecksGroup{Name: station.Name}
		for _, b := range rec.Bags {
			if b.Station == station.Code {
				g.Done, g.Missed = g.Done+b.SealDone+b.FullDone, g.Missed+b.Missed()
				g.Bags = append(g.Bags, ChecksRow{b, whenAt(b.LastSeal, station), whenAt(b.LastFull, station), checksPath(b.Bag,
					"seal", rec.Days), checksPath(b.Bag, "full", rec.Days)})
			}
		}
		if len(g.Bags) > 0 {
			p.Groups = append(p.Groups, g)
		}
	}
	return s.renderForm(v, f, p, failed)
}

func (s *server) checkRecord(v *visit, f *form) (shift.CheckRecord, error) {
	n := checkDays
	if f.text("days") != "" {
		if n = f.number("days"); n < 1 || n > mostCheckDays {
			f.wrong("days", message.M("enter {1} to {2}", 1, mostCheckDays))
			n = checkDays
		}
	}
	only, _ := v.stationsAsked()
	return s.svc.Shift.CheckRecord(v.ctx(), v.actor, only, n)
}

func (s *server) checksCSV(v *visit) error {
	f := openForm(v.Request.URL.Query())
	rec, err := s.checkRecord(v, f)
	if err != nil {
		return err
	}
	table := [][]string{{"station", "bag", "days", "seal_check_hours", "seal_done", "seal_missed", "full_check_days",
		"full_done", "full_missed", "last_seal_check", "last_full_check"}}
	for _, b := range rec.Bags {
		table = append(table, []string{b.Station, b.Bag, strconv.Itoa(rec.Days), strconv.Itoa(b.SealEvery),
			strconv.Itoa(b.SealDone), strconv.Itoa(b.SealMissed), strconv.Itoa(b.FullEvery), strconv.Itoa(b.FullDone),
			strconv.Itoa(b.FullMissed), b.LastSeal.String(), b.LastFull.String()})
	}
	return v.sendCSV("checks", table)
}
