package web

import (
	"context"
	"encoding/json"
	"errors"
	"maps"
	"net/http"
	"slices"
	"strings"

	"stowkeeper/inventory"
	"stowkeeper/inventory/lists"
	"stowkeeper/inventory/message"
	"stowkeeper/inventory/rests"
	"stowkeeper/inventory/shift"
)

type bagPage struct {
	Base
	inventory.Checklist
	Headline    message.Message
	Now         When
	Stops, Gaps []message.Message
	EndsBefore  []LotView
	Contents    []PouchView
	Confirm     string // number of the seal to confirm with one tap
	Done        *Done
	Training    bool // the bag is for training
	Modules     []ModuleView
	Swap        string // puts a module in that is missing
	Review      []ReviewLink
	Vehicle     string // leads to the page of its vehicle
	Lender      string // the station that it belongs to, where it is lent
	Rests       string // what the verdict rests on, for the script
	Checked     bool   // it was checked a moment ago
	Next        string // the bag of its vehicle to check next, empty for none
	Back        bool   // it must not go out: its seal is not the first thing to do

	MayCheck, MayStop, MayRestock, MayChange, MaySeeHistory, MayLabel bool
}

// noSuchBag words the error about a bag that is not there, keeping the codes that come near.
func noSuchBag(err error) error {
	var e *inventory.Error
	if errors.As(err, &e) && e.Kind == inventory.NotFound {
		return &inventory.Error{Kind: inventory.NotFound, Message: message.M("no bag has this code"), Near: e.Near}
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
	p.Checked = done != nil && strings.HasPrefix(v.Query("done"), "check-")
	on, err := json.Marshal(rests.Of(c, s.texts.Text))
	if err != nil {
		return err
	}
	p.Rests = string(on)
	if p.Yours, err = s.saidToBe(v); err != nil {
		return err
	}
	if p.Checked && p.Vehicle != "" {
		all, err := s.svc.Shift.Vehicles(v.ctx(), v.actor, []string{c.Bag.AtStation})
		if err != nil {
			return err
		}
		for _, x := range all {
			if x.Vehicle == c.Bag.Vehicle {
				p.Next = shift.NextToCheck(x.Bags, c.Bag.Code, c.Station, v.now)
			}
		}
	}
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

func (s *server) checklist(v *visit) (inventory.Checklist, error) {
	c, err := s.svc.Shift.Checklist(v.ctx(), v.actor, v.Param("code"), lists.Outlook{Horizon: -1})
	return c, noSuchBag(err)
}

func bagPageOf(c inventory.Checklist, v *visit) *bagPage {
	p := &bagPage{Base: Base{Title: message.M("{1} {2}", c.Bag.Code, c.Bag.Name), Caution: true}, Checklist: c,
		Headline: inventory.Headline(c.Bag, c.Readiness), Now: whenAt(v.now, c.Station), Contents: actFirst(contentsOf(c)),
		Confirm: c.SealToConfirm(), MayCheck: v.may(inventory.ActCheck), MayStop: v.may(inventory.ActStop),
		MayRestock: v.may(inventory.ActKeepStock), MayChange: v.may(inventory.ActKeepLists),
		MaySeeHistory: v.may(inventory.ActHistory), MayLabel: v.may(inventory.ActLabel)}
	p.Form = Form{Key: newKey(), Position: c.Bag.Position}
	p.Back = c.Readiness.State == inventory.NotReady || c.Readiness.State == inventory.OutOfService
	p.Training = c.Bag.Purpose == inventory.ForTraining
	p.Review = reviewLinks(v, c)
	p.Modules = moduleViews(c, p.MayCheck)
	if p.MayCheck && slices.ContainsFunc(c.Readiness.Findings,
		func(f inventory.Finding) bool { return f.Kind == inventory.FindModuleMissing }) {
		p.Swap = swapPath(c.Bag.Code, "")
	}
	if c.Bag.Vehicle != "" && !p.Training {
		p.Vehicle = vehiclePath(c.Bag.AtStation, c.Bag.Vehicle)
	}
	for _, f := range c.Readiness.Findings {
		if f.Severity == inventory.SeverityStop {
			p.Stops = append(p.Stops, f.Text)
		} else {
			p.Gaps = append(p.Gaps, f.Text)
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

// ReviewLink is a report under review that who looks may decide or withdraw.
type ReviewLink struct {
	Text             message.Message
	Decide, Withdraw string // addresses, empty for what they may not
}

func reviewLinks(v *visit, c inventory.Checklist) (out []ReviewLink) {
	for _, u := range c.Reports {
		x := ReviewLink{Text: u.Text}
		path := "/checks/" + formatID(u.CheckID)
		if u.UseID != 0 {
			path = "/uses/" + formatID(u.UseID)
		}
		if v.may(inventory.ActKeepStock) {
			x.Decide = "/review" + path
		}
		if inventory.MayWithdraw(v.actor, u.By, inventory.StatusToReview) == nil && v.may(inventory.ActCheck) {
			x.Withdraw = path + "/withdraw"
		}
		if x.Decide+x.Withdraw != "" {
			out = append(out, x)
		}
	}
	return out
}

func (s *server) withdrawCheck(v *visit) error {
	return v.once(func(ctx context.Context, _ string) (string, error) {
		x, err := s.svc.Shift.WithdrawCheck(ctx, v.actor, paramID(v, "id"), "")
		return doneAt(x.Bag, "check", x.ID), err
	})
}

func (s *server) withdrawUse(v *visit) error {
	return v.once(func(ctx context.Context, _ string) (string, error) {
		x, err := s.svc.Shift.WithdrawUse(ctx, v.actor, paramID(v, "id"), "")
		return doneAt(x.Bag, "use", x.ID), err
	})
}

// PouchView is a pouch of a bag as a page shows it.
type PouchView struct {
	Name  message.Message
	Lines []LineView
}

// LineView is a line of the list with what lies there.
type LineView struct {
	lists.CountRow
	Name string
	Act  bool // needs somebody now
	Lots []LotView
}

// LotView is a lot as a page shows it.
type LotView struct {
	inventory.LotOnLine
	Name     string
	Label    message.Message   // batch or serial number
	Href     string            // its story, for who reads that
	OpenHref string            // the way to say that units of it were opened
	Notes    []message.Message // what is the matter with it
}

func contentsOf(c inventory.Checklist) []PouchView {
	var out []PouchView
	strip := c.Readiness.Strip()
	for p, g := range lists.ToCount(c) {
		pv := PouchView{Name: pouchName(g)}
		for i, row := range g.Rows {
			lv := LineView{CountRow: row, Name: nameOf(c.Items, row.Item)}
			lv.Act = g.NotOnList || p < len(strip) && i < len(strip[p].Cells) && strip[p].Cells[i].Act()
			for _, l := range row.Lots {
				lv.Lots = append(lv.Lots, lotView(c, l))
			}
			pv.Lines = append(pv.Lines, lv)
		}
		out = append(out, pv)
	}
	return out
}

// Act returns the lines of a pouch that somebody must act on, and Rest the others.
func (p PouchView) Act() []LineView { return p.Lines[:p.acts()] }

// Rest returns the lines that nobody needs to act on.
func (p PouchView) Rest() []LineView { return p.Lines[p.acts():] }

func (p PouchView) acts() int {
	if i := slices.IndexFunc(p.Lines, func(l LineView) bool { return !l.Act }); i >= 0 {
		return i
	}
	return len(p.Lines)
}

// actFirst puts what somebody must act on first in each pouch.
func actFirst(pouches []PouchView) []PouchView {
	for _, p := range pouches {
		slices.SortStableFunc(p.Lines, func(a, b LineView) int {
			if a.Act == b.Act {
				return 0
			}
			return map[bool]int{true: -1, false: 1}[a.Act]
		})
	}
	return pouches
}

// linkLots leads from each device to its page, and from each other lot to its story for who reads that.
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

// linkOpening leads to the form for units that were opened, from each lot of which units can be.
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

func pouchName(g lists.CountGroup) message.Message {
	switch {
	case g.NotOnList:
		return message.M("Not on the list")
	case g.Pouch == "":
		return message.M("No pouch")
	}
	return message.Plain(g.Pouch)
}

func lotView(c inventory.Checklist, l inventory.LotOnLine) LotView {
	v := LotView{LotOnLine: l, Name: nameOf(c.Items, l.Item), Label: lotLabel(l.BatchNo, l.Serial)}
	seen := map[inventory.FindingKind]bool{}
	for _, f := range c.Readiness.Findings {
		if w := findingWords[f.Kind]; f.LotID == l.LotID && w != nil && !seen[f.Kind] {
			v.Notes = append(v.Notes, w)
			seen[f.Kind] = true
		}
	}
	return v
}
