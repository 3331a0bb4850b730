package web

import (
	"cmp"
	"context"
	"net/http"

	"stowkeeper/inventory"
	"stowkeeper/inventory/history"
	"stowkeeper/inventory/message"
	"stowkeeper/inventory/shift"
)

// recordSeal records what was done to a seal alone: the bag was opened and
// sealed again without anything being used, or a seal went on that was missing.
func (s *server) recordSeal(v *visit, f *form) error {
	in := shift.SealReport{HappenedAt: v.madeAt(), SealSet: f.text("seal_set"), Opened: f.text("opened") != "",
		Note: f.text("note")}
	if f.text("temporary") != "" {
		in.Note = cmp.Or(in.Note, "temporary seal")
	}
	in.Note = v.asSaid(in.Note)
	if in.SealSet == "" {
		f.wrong("seal_set", message.M("enter the new seal number"))
	}
	return s.record(v, f, func(ctx context.Context, by inventory.Actor, _ string) (string, error) {
		b, err := s.svc.Shift.ReportSeal(ctx, by, v.Param("code"), in)
		return bagPath(b.Code) + "?done=seal", err
	})
}

type bagLogPage struct {
	Base
	Bag            inventory.Bag
	Today          inventory.Day
	Changes, Seals []RecordRow
	Sealed         bool // seals play a part for this bag
}

// showBagLog shows what people changed of a bag, and what happened to its seals, to whoever stands before it.
func (s *server) showBagLog(v *visit) error {
	c, err := s.checklist(v)
	if err != nil {
		return err
	}
	page := inventory.Page{Limit: historyLimit}
	log, err := s.svc.Lists.BagLog(v.ctx(), v.actor, c.Bag.Code, page)
	if err != nil {
		return err
	}
	seals, err := s.svc.Storeroom.Seals(v.ctx(), v.actor, c.Bag.Code, page)
	if err != nil {
		return err
	}
	p := &bagLogPage{Base: Base{Title: message.M("History of {1}", c.Bag.Code)}, Bag: c.Bag, Today: c.Station.Today(v.now),
		Sealed: c.KitList.Sealed || len(seals) > 0}
	for _, e := range log {
		p.Changes = append(p.Changes, RecordRow{whenAt(e.RecordedAt, c.Station), bagLogText(e), e.By,
			message.Plain(e.Reason)})
	}
	for _, x := range seals {
		p.Seals = append(p.Seals, sealRow(x, c.Station))
	}
	return s.render(v, http.StatusOK, p)
}

func sealRow(x inventory.SealEntry, station inventory.Station) RecordRow {
	return RecordRow{whenAt(x.HappenedAt, station), sealText(x), x.By,
		message.Join(": ", sourceWord(x.Source), message.Plain(x.Note))}
}

func bagLogText(e inventory.BagLogEntry) message.Message {
	switch e.Kind {
	case history.LoggedOutOfService:
		return message.M("out of service")
	case history.LoggedReturned:
		return message.M("returned to service")
	case history.LoggedModule:
		if e.Old == "" {
			return message.M("module {1} put in", e.New)
		}
		return message.M("module {1} put in, {2} taken out", e.New, e.Old)
	case history.LoggedInside:
		return message.Join(", ", about("taken out of bag {1}", e.Old), about("put into bag {1}", e.New))
	}
	what := bagLogWords[e.Kind]
	return message.M("{1}: {2} → {3}", what, orNone(e.Old), orNone(e.New))
}

var bagLogWords = map[inventory.BagLogKind]message.Message{
	history.LoggedVehicle: message.M("vehicle"), history.LoggedStation: message.M("station"),
	history.LoggedKitList: message.M("kit list"),
}
