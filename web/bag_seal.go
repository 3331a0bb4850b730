package web

import (
	"cmp"
	"context"
	"net/http"

	"stowkeeper/inventory"
	"stowkeeper/inventory/history"
	"stowkeeper/inventory/shift"
)

// recordSeal records what was done to a seal alone: the bag was opened and
// sealed again without anything being used, or a seal went on that was missing.
func (s *server) recordSeal(v *visit) error {
	f := openForm(v.Request.PostForm)
	in := shift.SealReport{HappenedAt: v.madeAt(), SealSet: f.text("seal_set"), Opened: f.text("opened") != "",
		Note: f.text("note")}
	if f.text("temporary") != "" {
		in.Note = cmp.Or(in.Note, "temporary seal")
	}
	if in.SealSet == "" {
		f.wrong("seal_set", "type the number of the seal that is on now")
	}
	err := s.record(v, f, func(ctx context.Context, by inventory.Actor, _ string) (string, error) {
		b, err := s.svc.Shift.ReportSeal(ctx, by, v.Param("code"), in)
		return bagPath(b.Code) + "?done=seal", err
	})
	return f.fix(v, err, nil, s.sealCheckForm)
}

type bagLogPage struct {
	Base
	Bag     inventory.Bag
	Today   inventory.Day
	Changes []RecordRow
	Seals   []RecordRow
	Sealed  bool // seals play a part for this bag
}

// showBagLog shows what people changed of a bag, and what happened to its
// seals, to whoever stands before it.
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
	p := &bagLogPage{Base: Base{Title: "Log of " + c.Bag.Code}, Bag: c.Bag, Today: c.Station.Today(v.now),
		Sealed: c.KitList.Sealed || len(seals) > 0}
	for _, e := range log {
		p.Changes = append(p.Changes, RecordRow{whenAt(e.RecordedAt, c.Station), bagLogText(e), e.By, e.Reason})
	}
	for _, x := range seals {
		p.Seals = append(p.Seals, sealRow(x, c.Station))
	}
	return s.render(v, http.StatusOK, p)
}

func sealRow(x inventory.SealEntry, station inventory.Station) RecordRow {
	row := RecordRow{whenAt(x.HappenedAt, station), sealText(x), x.By, x.Source}
	if x.Note != "" {
		row.State += ": " + x.Note
	}
	return row
}

// bagLogText words one change of a bag.
func bagLogText(e inventory.BagLogEntry) string {
	switch e.Kind {
	case history.LoggedOutOfService:
		return "taken off"
	case history.LoggedReturned:
		return "put back on the run"
	case history.LoggedModule:
		return "module " + e.New + " put in" + ifAny(", in place of ", e.Old)
	case history.LoggedInside:
		return "moved" + ifAny(" out of bag ", e.Old) + ifAny(" into bag ", e.New)
	}
	what := bagLogWords[e.Kind]
	return what + " " + cmp.Or(e.New, "none") + ", before that " + cmp.Or(e.Old, "none")
}

var bagLogWords = map[inventory.BagLogKind]string{
	history.LoggedVehicle: "vehicle", history.LoggedStation: "station", history.LoggedKitList: "kit list",
}

// ifAny writes a text with what it is about, where there is something.
func ifAny(text, what string) string {
	if what == "" {
		return ""
	}
	return text + what
}
