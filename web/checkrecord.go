package web

import (
	"strconv"

	"stowkeeper/inventory"
)

type checksPage struct {
	Base
	Reports []NavLink
	Now     []SiteDay
	Days    int
	Site    Field
	Span    Field
	Form    Form
	CSV     string
	Groups  []ChecksGroup
}

func (*checksPage) template() string { return "checks" }

// ChecksGroup is the checks of one station.
type ChecksGroup struct {
	Name         string
	Done, Missed int
	Bags         []ChecksRow
}

// ChecksRow is the checks of one bag.
type ChecksRow struct {
	inventory.BagChecks
	Seal, Full When
}

const (
	checkDays     = 14
	mostCheckDays = 366
)

func (s *server) showChecks(v *visit) error {
	f := openForm(v.Request.URL.Query())
	sites, rec, err := s.checkRecord(v, f)
	if err != nil {
		return err
	}
	failed := f.err()
	only, _ := sitesAsked(v, sites)
	p := &checksPage{Base: Base{Title: "Checks"}, Reports: reportLinks("/checks"), Now: siteDays(sites, only, v.now), Days: rec.Days, CSV: csvHref("/checks.csv", v)}
	p.Site = f.choice("site", "Station", siteOptions(sites))
	p.Site.Empty = "all of them"
	p.Span = f.numberField("days", "Looking back, days")
	p.Span.Empty = strconv.Itoa(checkDays)
	if p.Span.Value == "" {
		p.Span.Value = strconv.Itoa(rec.Days)
	}
	p.Form = f.state(failed, "", 0)
	for _, site := range sites {
		g := ChecksGroup{Name: site.Name}
		for _, b := range rec.Bags {
			if b.Site == site.Code {
				g.Done, g.Missed = g.Done+b.SealDone+b.FullDone, g.Missed+b.Missed()
				g.Bags = append(g.Bags, ChecksRow{b, whenAt(b.LastSeal, site), whenAt(b.LastFull, site)})
			}
		}
		if len(g.Bags) > 0 {
			p.Groups = append(p.Groups, g)
		}
	}
	return s.render(v, statusOf(failed), p)
}

func (s *server) checkRecord(v *visit, f *form) ([]inventory.Site, inventory.CheckRecord, error) {
	sites, err := s.svc.Sites(v.ctx(), v.actor)
	if err != nil {
		return nil, inventory.CheckRecord{}, err
	}
	n := checkDays
	if f.text("days") != "" {
		if n = f.number("days"); n < 1 || n > mostCheckDays {
			f.wrong("days", "give 1 to "+strconv.Itoa(mostCheckDays)+" days")
			n = checkDays
		}
	}
	only, _ := sitesAsked(v, sites)
	rec, err := s.svc.CheckRecord(v.ctx(), v.actor, only, n)
	return sites, rec, err
}

func (s *server) checksCSV(v *visit) error {
	f := openForm(v.Request.URL.Query())
	_, rec, err := s.checkRecord(v, f)
	if err != nil {
		return err
	}
	table := [][]string{{"station", "bag", "days", "seal_check_hours", "seal_done", "seal_missed", "full_check_days", "full_done", "full_missed", "last_seal_check", "last_full_check"}}
	for _, b := range rec.Bags {
		last := func(i inventory.Instant) string {
			if i == 0 {
				return ""
			}
			return i.String()
		}
		table = append(table, []string{b.Site, b.Bag, strconv.Itoa(rec.Days), strconv.Itoa(b.SealEvery), strconv.Itoa(b.SealDone), strconv.Itoa(b.SealMissed),
			strconv.Itoa(b.FullEvery), strconv.Itoa(b.FullDone), strconv.Itoa(b.FullMissed), last(b.LastSeal), last(b.LastFull)})
	}
	return v.sendCSV("checks", table)
}
