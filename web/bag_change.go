package web

import (
	"context"
	"net/http"
	"strconv"

	"stowkeeper/inventory"
	"stowkeeper/inventory/ledger"
	"stowkeeper/inventory/message"
)

type bagChangePage struct {
	Base
	Bag                                        inventory.Bag
	Name, Vehicle, Priority, AtStation, Inside Field
	Newest                                     int // version of the list that the bag may be moved to, 0 if it has it
	KitName                                    string
	MoveOn                                     bool
	Version                                    string

	Retired   bool
	Successor Field
}

func (s *server) recordBagChange(v *visit, f *form) error {
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
	return err
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
	p := &bagChangePage{Base: Base{Title: message.M("Edit {1}", b.Code)}, Bag: b, KitName: newest.Name,
		MoveOn: f.text("newest") != "", Version: f.values.Get("version")}
	if newest.Version != b.KitListVersion {
		p.Newest = newest.Version
	}
	if failed != nil && inventory.KindOf(failed) == inventory.Stale {
		p.Version = formatID(b.Version) // what is typed here goes over the newest once the person sends it again
	}
	p.Name = f.field("name", message.M("Name")).Need()
	p.Vehicle = f.field("vehicle", message.M("Vehicle"))
	p.Priority = f.numberField("priority", message.M("Priority")).Need().WithHint(message.M("1 first, 9 last"))
	p.Retired = f.text("retired") != ""
	p.Successor = f.field("successor", message.M("Successor's code")).
		WithHint(message.M("Scanning the old label leads there."))
	p.AtStation = v.stationField(f, "at_station", message.M("Location")).Need()
	if b.AtStation != b.Station {
		p.AtStation = p.AtStation.WithHint(message.M("Lent by {1}", v.station(b.Station).Name))
	}
	p.Inside = f.field("inside", message.M("Inside bag")).WithHint(message.M("Bag code"))
	p.Form.Position = b.Position
	return s.renderForm(v, f, p, failed)
}

type bagHistoryPage struct {
	Base
	Bag                           inventory.Bag
	Checks, Uses, Restocks, Seals []RecordRow
	Today                         inventory.Day
}

// RecordRow is one line of a bag's history.
type RecordRow struct {
	At    When
	What  message.Message
	By    string
	State message.Message
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
	p := &bagHistoryPage{Base: Base{Title: message.M("Records of {1}", b.Code)}, Bag: b, Today: station.Today(v.now)}
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
		p.Checks = append(p.Checks, RecordRow{whenAt(x.HappenedAt, station), checkText(x), s.texts.Text(x.Whose()),
			statusWords[x.Status]})
	}
	uses, err := s.svc.Shift.Uses(ctx, v.actor, f, page)
	if err != nil {
		return err
	}
	for _, x := range uses {
		p.Uses = append(p.Uses, RecordRow{whenAt(x.HappenedAt, station), message.M("{1}, {2} {2|batch|batches}", x.Incident,
			len(x.Lines)), s.texts.Text(x.Whose()), statusWords[x.Status]})
	}
	restocks, err := s.svc.Storeroom.Restocks(ctx, v.actor, p.Bag.Code, page)
	if err != nil {
		return err
	}
	for _, x := range restocks {
		p.Restocks = append(p.Restocks, RecordRow{whenAt(x.RecordedAt, station),
			message.M("{1} {1|batch|batches} in, {2} {2|batch|batches} out", len(x.Lines), len(x.TakeOut)), x.By, nil})
	}
	seals, err := s.svc.Storeroom.Seals(ctx, v.actor, p.Bag.Code, page)
	for _, x := range seals {
		p.Seals = append(p.Seals, sealRow(x, station))
	}
	return err
}

var statusWords = map[inventory.RecordStatus]message.Message{
	inventory.StatusAccepted: message.M("accepted"), inventory.StatusToReview: message.M("to review"),
	inventory.StatusRejected: message.M("rejected"), inventory.StatusWithdrawn: message.M("withdrawn"),
}

func sealText(e inventory.SealEntry) message.Message {
	switch e.Event {
	case inventory.SealWasSet:
		return message.M("seal {1} set", e.Number)
	case inventory.SealSeen:
		return message.M("seal {1} confirmed", e.Number)
	case inventory.SealSeenBroken:
		return message.M("seal {1} broken or missing", e.Expected)
	case inventory.SealSeenOther:
		return message.M("seal {1} found, not {2}", e.Number, e.Expected)
	}
	return message.M("seal {1} opened", e.Number)
}
