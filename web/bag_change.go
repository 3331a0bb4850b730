package web

import (
	"context"
	"net/http"
	"strconv"

	"stowkeeper/inventory"
	"stowkeeper/inventory/ledger"
)

type bagChangePage struct {
	Base
	Bag       inventory.Bag
	Form      Form
	Name      Field
	Vehicle   Field
	Priority  Field
	AtStation Field
	Inside    Field
	Newest    int // version of the list that the bag may be moved to, 0 if it has it
	KitName   string
	MoveOn    bool
	Version   string

	Retired   bool
	Successor Field
}

func (s *server) showBagChange(v *visit) error { return s.bagChangeForm(v, openForm(nil), nil) }

func (s *server) recordBagChange(v *visit) error {
	f := openForm(v.Request.PostForm)
	name, vehicle, at, priority, newest := f.text("name"), f.text("vehicle"), f.text("at_station"), f.number("priority"), 0
	inside := inventory.NormalCode(f.text("inside"))
	ch := ledger.BagChange{Name: &name, Vehicle: &vehicle, Priority: &priority, AtStation: &at, Inside: &inside}
	if f.text("newest") != "" {
		ch.KitListVersion = &newest
	}
	retired, successor := f.text("retired") != "", inventory.NormalCode(f.text("successor"))
	if was := f.text("was_retired") != ""; retired != was {
		ch.Retired = &retired
	}
	if (retired || ch.Retired == nil) && successor != f.text("was_successor") {
		ch.Successor = &successor
	}
	version := f.id("version")
	err := f.err()
	if err == nil {
		err = s.changeBag(v, ch, version)
	}
	return f.fix(v, err, nil, s.bagChangeForm)
}

func (s *server) bagChangeForm(v *visit, f *form, failed error) error {
	b, err := s.svc.Lists.Bag(v.ctx(), v.actor, v.Param("code"))
	if err != nil {
		return noSuchBag(err)
	}
	newest, err := s.svc.Lists.KitList(v.ctx(), v.actor, b.KitList, 0)
	if err != nil {
		return err
	}
	if len(f.values) == 0 {
		for name, value := range map[string]string{"name": b.Name, "vehicle": b.Vehicle, "priority": strconv.Itoa(b.Priority),
			"at_station": b.AtStation, "inside": b.Inside, "version": formatID(b.Version),
			"successor": b.Successor, "retired": yes(b.Retired())} {
			f.values.Set(name, value)
		}
	}
	p := &bagChangePage{Base: Base{Title: "Change " + b.Code}, Bag: b, KitName: newest.Name,
		MoveOn: f.text("newest") != "", Version: f.values.Get("version")}
	if newest.Version != b.KitListVersion {
		p.Newest = newest.Version
	}
	if failed != nil && inventory.KindOf(failed) == inventory.Stale {
		p.Version = formatID(b.Version) // what is typed here goes over the newest once the person sends it again
	}
	p.Name = f.field("name", "Name").Need()
	p.Vehicle = f.field("vehicle", "Vehicle")
	p.Priority = f.numberField("priority", "Priority").Need().WithHint("1 is filled first, 9 last.")
	p.Retired = f.text("retired") != ""
	p.Successor = f.field("successor", "Bag that takes its place").
		WithHint("Its code. Whoever scans the old label is led there.")
	p.AtStation = v.stationField(f, "at_station", "Where it is").Need()
	if b.AtStation != b.Station {
		p.AtStation = p.AtStation.WithHint("It is lent: it belongs to " + v.station(b.Station).Name + ".")
	}
	p.Inside = f.field("inside", "Inside which bag, as a module of it").
		WithHint("Its code. A module goes where its bag goes.")
	p.Form = f.state(failed, f.keyOr(newKey), b.Position)
	return s.render(v, statusOf(failed), p)
}

type bagHistoryPage struct {
	Base
	Bag      inventory.Bag
	Checks   []RecordRow
	Uses     []RecordRow
	Restocks []RecordRow
	Seals    []RecordRow
	Today    inventory.Day
}

// RecordRow is one line of a bag's history.
type RecordRow struct {
	At       When
	What, By string
	State    string
}

// historyLimit is how many lines of each kind a bag's history shows.
const historyLimit = 50

func (s *server) showBagHistory(v *visit) error {
	ctx, code := v.ctx(), v.Param("code")
	b, err := s.svc.Lists.Bag(ctx, v.actor, code)
	if err != nil {
		return noSuchBag(err)
	}
	station := v.station(b.AtStation)
	p := &bagHistoryPage{Base: Base{Title: "History of " + b.Code}, Bag: b, Today: station.Today(v.now)}
	if err := s.addRecords(ctx, v, p, station); err != nil {
		return err
	}
	return s.render(v, http.StatusOK, p)
}

func (s *server) addRecords(ctx context.Context, v *visit, p *bagHistoryPage, station inventory.Station) error {
	page, f := inventory.Page{Limit: historyLimit}, inventory.RecordFilter{Bag: p.Bag.Code}
	checks, err := s.svc.Shift.Checks(ctx, v.actor, f, page)
	if err != nil {
		return err
	}
	for _, x := range checks {
		p.Checks = append(p.Checks, RecordRow{whenAt(x.HappenedAt, station), checkWords[x.Kind], x.By, statusWords[x.Status]})
	}
	uses, err := s.svc.Shift.Uses(ctx, v.actor, f, page)
	if err != nil {
		return err
	}
	for _, x := range uses {
		p.Uses = append(p.Uses, RecordRow{whenAt(x.HappenedAt, station), x.Incident + ", " + count(len(x.Lines), "lot"), x.By,
			statusWords[x.Status]})
	}
	restocks, err := s.svc.Storeroom.Restocks(ctx, v.actor, p.Bag.Code, page)
	if err != nil {
		return err
	}
	for _, x := range restocks {
		p.Restocks = append(p.Restocks, RecordRow{whenAt(x.RecordedAt, station), count(len(x.Lines), "lot") + " in, " +
			count(len(x.TakeOut), "lot") + " out", x.By, ""})
	}
	seals, err := s.svc.Storeroom.Seals(ctx, v.actor, p.Bag.Code, page)
	for _, x := range seals {
		p.Seals = append(p.Seals, sealRow(x, station))
	}
	return err
}

var statusWords = map[inventory.RecordStatus]string{
	inventory.StatusAccepted: "accepted", inventory.StatusToReview: "to review", inventory.StatusRejected: "rejected",
}

func sealText(e inventory.SealEntry) string {
	switch e.Event {
	case inventory.SealWasSet:
		return "seal " + e.Number + " set"
	case inventory.SealSeen:
		return "seal " + e.Number + " seen in order"
	case inventory.SealSeenBroken:
		return "seal " + e.Expected + " broken or gone"
	case inventory.SealSeenOther:
		return "seal " + e.Number + " seen instead of " + e.Expected
	}
	return "seal " + e.Number + " opened"
}
