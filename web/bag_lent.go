package web

import (
	"context"
	"net/http"

	"stowkeeper/inventory"
	"stowkeeper/inventory/ledger"
	"stowkeeper/inventory/message"
)

type lentPage struct {
	Base
	Stations []NavLink
	Today    []StationDay
	Key      string
	Out, In  []LentRow // bags of one's own that are elsewhere, and those of others that are here
}

// LentRow is a bag that is not at home.
type LentRow struct {
	inventory.BagSummary
	Href          string // its page, for who may see it where it is
	HomeName, Now string // the stations that it belongs to, and where it is
	MayHome       bool   // this person may say that it came home
}

func (s *server) showLent(v *visit) error {
	only, chosen := v.stationsAsked()
	all, err := s.svc.Lists.Lent(v.ctx(), v.actor, only)
	if err != nil {
		return err
	}
	names, err := s.svc.Lists.StationNames(v.ctx(), v.actor)
	if err != nil {
		return err
	}
	p := &lentPage{Base: Base{Title: message.M("Lent bags")}, Stations: v.allStationLinks("/lent", chosen),
		Today: v.today(only), Key: newKey()}
	for _, b := range all {
		row := LentRow{BagSummary: b, HomeName: names[b.Station], Now: names[b.AtStation],
			MayHome: v.may(inventory.ActKeepLists) && v.actor.At(b.Station)}
		if v.actor.At(b.AtStation) {
			row.Href = bagPath(b.Code)
		}
		if v.actor.At(b.Station) && (chosen == "" || chosen == b.Station) {
			p.Out = append(p.Out, row)
		} else {
			p.In = append(p.In, row)
		}
	}
	return s.render(v, http.StatusOK, p)
}

func (s *server) bringHome(v *visit) error {
	return v.once(func(ctx context.Context, _ string) (string, error) {
		code := v.Param("code")
		home, err := s.homeOf(ctx, v, code)
		if err != nil {
			return "", err
		}
		b, err := s.svc.Lists.UpdateBag(ctx, v.actor, code, 0, ledger.BagChange{AtStation: &home})
		return bagPath(b.Code), err
	})
}

// homeOf returns the station that a bag belongs to. One that is not at one's
// own stations is found on the list of lent bags.
func (s *server) homeOf(ctx context.Context, v *visit, code string) (string, error) {
	lent, err := s.svc.Lists.Lent(ctx, v.actor, nil)
	if err != nil {
		return "", err
	}
	for _, b := range lent {
		if b.Code == inventory.NormalCode(code) {
			return b.Station, nil
		}
	}
	b, err := s.svc.Lists.Bag(ctx, v.actor, code)
	if err == nil {
		err = inventory.Refuse(inventory.Conflict, "bag {1} is at its home station", b.Code)
	}
	return "", noSuchBag(err)
}
