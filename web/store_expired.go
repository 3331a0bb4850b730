package web

import (
	"context"
	"fmt"
	"slices"
	"strings"

	"stowkeeper/inventory"
	"stowkeeper/inventory/message"
	"stowkeeper/inventory/stock"
)

type expiredPage struct {
	Base
	Place inventory.Place
	Seen  string // what stands on the page
	Lots  LotTable
}

// expiredIn is what may go to the bin from the place that the address names, with the movements that take it there.
func (s *server) expiredIn(v *visit) (inventory.Place, []stock.LotSummary, []inventory.Movement, error) {
	place := s.placeAt(v, inventory.NormalCode(v.Param("place")))
	if place.Code == "" {
		return place, nil, nil, inventory.Refuse(inventory.NotFound, "not found at your stations")
	}
	held, err := s.svc.Stock.StockAt(v.ctx(), v.actor, place.Code)
	moves := stock.ToTheBin(place, held, v.itemsByCode(), v.station(place.Station).Today(v.now))
	return place, held, moves, err
}

// seenIn writes down which units would go.
func seenIn(moves []inventory.Movement) string {
	var out []string
	for _, m := range moves {
		out = append(out, fmt.Sprint(m.LotID, "x", m.Qty))
	}
	return strings.Join(out, " ")
}

// disposeExpired disposes of a page of expired batches at once, as the page showed them.
func (s *server) disposeExpired(v *visit, f *form) error {
	place, _, moves, err := s.expiredIn(v)
	if err != nil {
		return err
	}
	return s.record(v, f, func(ctx context.Context, by inventory.Actor, _ string) (string, error) {
		if seenIn(moves) != f.text("seen") {
			return "", inventory.Refuse(inventory.Conflict, "changed meanwhile: reload and repeat")
		}
		_, err := s.svc.Ledger.Move(ctx, by, moves)
		return placePath(place) + "?done=apart-1", err
	})
}

func (s *server) expiredForm(v *visit, f *form, failed error) error {
	place, held, moves, err := s.expiredIn(v)
	if err != nil {
		return err
	}
	p := &expiredPage{Base: Base{Title: message.M("Expired here: {1} {1|batch|batches}", len(moves)), Caution: true},
		Place: place, Seen: seenIn(moves)}
	items := v.itemsByCode()
	for _, l := range sortLots(held, items) {
		i := slices.IndexFunc(moves, func(m inventory.Movement) bool { return m.LotID == l.ID })
		if i < 0 {
			continue
		}
		row := lotRow(l, items)
		row.Qty = moves[i].Qty
		p.Lots.Rows = append(p.Lots.Rows, row)
	}
	return s.renderForm(v, f, p, failed)
}
