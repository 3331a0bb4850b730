package web

import (
	"errors"
	"maps"
	"net/http"
	"slices"

	"stowkeeper/inventory"
	"stowkeeper/inventory/lists"
)

type bagPage struct {
	Base
	inventory.Checklist
	Headline   string
	Now        When
	Stops      []string
	Gaps       []string
	EndsBefore []LotView
	NextCheck  When
	Contents   []PouchView
	Confirm    string // number of the seal to confirm with one tap
	Form       Form
	LastSeal   When
	LastFull   When
	LastUse    When
	Restocked  When
	OutSince   When
	Done       *Done
	Training   bool // the bag is for training
	Modules    []ModuleView
	Swap       string // puts a module in that is missing
	Vehicle    string // leads to the page of its vehicle
	Lender     string // the station that it belongs to, where it is lent

	MayCheck, MayStop, MayRestock, MayChange, MaySeeHistory, MayLabel bool
}

// noSuchBag words the error about a bag that is not there, keeping the codes
// that come near.
func noSuchBag(err error) error {
	var e *inventory.Error
	if errors.As(err, &e) && e.Kind == inventory.NotFound {
		return &inventory.Error{Kind: inventory.NotFound, Message: "no bag has this code", Near: e.Near}
	}
	return err
}

// toBag sends an address in another form on to the bag's own.
func (s *server) toBag(v *visit) error {
	b, err := s.svc.Stock.FindBag(v.ctx(), v.actor, v.Param("code"))
	if err != nil {
		return noSuchBag(err)
	}
	to := bagPath(b.Code)
	if q := v.Request.URL.RawQuery; q != "" {
		to += "?" + q
	}
	v.Redirect(http.StatusMovedPermanently, to)
	return nil
}

// showBag is the page behind a bag's label.
func (s *server) showBag(v *visit) error {
	c, err := s.checklist(v)
	if inventory.KindOf(err) == inventory.NotFound && err != nil {
		return s.toBag(v)
	}
	if err != nil {
		return err
	}
	if c.Bag.Code != v.Param("code") {
		return s.toBag(v)
	}
	done, err := s.doneOf(v, c)
	if err != nil {
		return err
	}
	if c.Bag.Retired() {
		return s.showRetired(v, c, done)
	}
	p := bagPageOf(c, v)
	p.Done = done
	if c.Bag.Station != c.Bag.AtStation {
		names, err := s.svc.Lists.StationNames(v.ctx(), v.actor)
		if err != nil {
			return err
		}
		p.Lender = names[c.Bag.Station]
	}
	if err := s.linkOpening(v, c, p.Contents); err != nil {
		return err
	}
	return s.render(v, http.StatusOK, p)
}

// checklist reads the bag that the address names.
func (s *server) checklist(v *visit) (inventory.Checklist, error) {
	c, err := s.svc.Shift.Checklist(v.ctx(), v.actor, v.Param("code"), lists.Outlook{Horizon: -1})
	return c, noSuchBag(err)
}

func bagPageOf(c inventory.Checklist, v *visit) *bagPage {
	p := &bagPage{Base: Base{Title: c.Bag.Code + " " + c.Bag.Name, Caution: true}, Checklist: c,
		Headline: inventory.Headline(c.Bag, c.Readiness), Now: whenAt(v.now, c.Station), NextCheck: whenAt(c.NextCheck,
			c.Station),
		Contents: contentsOf(c), Confirm: c.SealToConfirm(), Form: Form{Key: newKey(), Position: c.Bag.Position},
		LastSeal: whenAt(c.Bag.LastSealCheck, c.Station), LastFull: whenAt(c.Bag.LastFullCheck, c.Station),
		LastUse: whenAt(c.Bag.LastUse, c.Station), Restocked: whenAt(c.Bag.LastRestock, c.Station),
		MayCheck: v.may(inventory.ActCheck), MayStop: v.may(inventory.ActStop), MayRestock: v.may(inventory.ActKeepStock),
		MayChange: v.may(inventory.ActKeepLists), MaySeeHistory: v.may(inventory.ActHistory),
		MayLabel: v.may(inventory.ActLabel)}
	p.Training = c.Bag.Purpose == inventory.ForTraining
	p.Modules = moduleViews(c, p.MayCheck)
	if p.MayCheck && slices.ContainsFunc(c.Readiness.Findings,
		func(f inventory.Finding) bool { return f.Kind == inventory.FindModuleMissing }) {
		p.Swap = swapPath(c.Bag.Code, "")
	}
	if c.Bag.Vehicle != "" && !p.Training {
		p.Vehicle = vehiclePath(c.Bag.AtStation, c.Bag.Vehicle)
	}
	if c.Bag.OutOfService != nil {
		p.OutSince = whenAt(c.Bag.OutOfService.RecordedAt, c.Station)
	}
	for _, f := range c.Readiness.Findings {
		if f.Severity == inventory.SeverityStop {
			p.Stops = append(p.Stops, sentence(f.Text))
		} else {
			p.Gaps = append(p.Gaps, sentence(f.Text))
		}
	}
	if c.Readiness.State == inventory.NotReady && len(p.Stops) > 0 {
		p.Stops = p.Stops[1:] // the headline says the first
	}
	linkLots(p.Contents, p.MaySeeHistory)
	for _, l := range c.EndsBefore {
		p.EndsBefore = append(p.EndsBefore, lotView(c, l))
	}
	return p
}

// PouchView is a pouch of a bag as a page shows it.
type PouchView struct {
	Name  string
	Lines []LineView
}

// LineView is a line of the list with what lies there.
type LineView struct {
	inventory.CountRow
	Name string
	Lots []LotView
}

// LotView is a lot as a page shows it.
type LotView struct {
	inventory.LotOnLine
	Name     string
	Label    string   // batch or serial number
	Href     string   // its story, for who reads that
	OpenHref string   // the way to say that units of it were opened
	Notes    []string // what is the matter with it
}

// contentsOf arranges a bag's contents by pouches.
func contentsOf(c inventory.Checklist) []PouchView {
	var out []PouchView
	for _, g := range c.ToCount() {
		pv := PouchView{Name: pouchName(g)}
		for _, row := range g.Rows {
			lv := LineView{CountRow: row, Name: itemName(c, row.Item)}
			for _, l := range row.Lots {
				lv.Lots = append(lv.Lots, lotView(c, l))
			}
			pv.Lines = append(pv.Lines, lv)
		}
		out = append(out, pv)
	}
	return out
}

// linkLots leads from each device to its page, and from each other lot to its
// story for who reads that.
func linkLots(pouches []PouchView, history bool) {
	eachLot(pouches, func(l *LotView) {
		switch {
		case l.Serial != "":
			l.Href = devicePath(l.LotID)
		case history:
			l.Href = "/lots/" + formatID(l.LotID)
		}
	})
}

// linkOpening leads to the form for units that were opened, from each lot of
// which units can be.
func (s *server) linkOpening(v *visit, c inventory.Checklist, pouches []PouchView) error {
	limited := slices.ContainsFunc(slices.Collect(maps.Values(c.Items)),
		func(it inventory.Item) bool { return it.Life.OpenedDays > 0 })
	if !limited || !v.may(inventory.ActCheck) {
		return nil
	}
	can, err := s.svc.Stock.Openable(v.ctx(), v.actor, c.Bag.Code)
	eachLot(pouches, func(l *LotView) {
		if can[l.LotID] {
			l.OpenHref = openPath(l.LotID, c.Bag.Code)
		}
	})
	return err
}

func eachLot(pouches []PouchView, do func(l *LotView)) {
	for _, p := range pouches {
		for _, line := range p.Lines {
			for i := range line.Lots {
				do(&line.Lots[i])
			}
		}
	}
}

func pouchName(g inventory.CountGroup) string {
	switch {
	case g.NotOnList:
		return "In the bag, but not on its list"
	case g.Pouch == "":
		return "In no pouch"
	}
	return g.Pouch
}

func lotView(c inventory.Checklist, l inventory.LotOnLine) LotView {
	v := LotView{LotOnLine: l, Name: itemName(c, l.Item), Label: lotLabel(l.BatchNo, l.Serial)}
	for _, f := range c.Readiness.Findings {
		if w := findingWords[f.Kind]; f.LotID == l.LotID && w != "" && !slices.Contains(v.Notes, w) {
			v.Notes = append(v.Notes, w)
		}
	}
	return v
}

// itemName is an item's name, or its code where the name is not known.
func itemName(c inventory.Checklist, code string) string {
	if it, ok := c.Items[code]; ok && it.Name != "" {
		return it.Name
	}
	return code
}
