package web

import (
	"cmp"
	"context"
	"strings"

	"stowkeeper/inventory"
	"stowkeeper/inventory/message"
	"stowkeeper/inventory/stock"
)

type toTrainingPage struct {
	Base
	Lot     stock.LotSummary
	Name    string
	Label   message.Message
	From    inventory.Place
	There   int
	Qty, To Field
}

// toTrainingPath leads to the page that asks before units of a lot in a place are given to training.
func toTrainingPath(lot int64, place string) string {
	return "/lots/" + formatID(lot) + "/training?place=" + place
}

// giveToTraining gives units to training, for good. The page that asks is the confirmation.
func (s *server) giveToTraining(v *visit, f *form) error {
	id := paramID(v, "id")
	m := inventory.Movement{LotID: id, Qty: f.number("qty"), From: f.text("place"), To: f.text("to"),
		Reason: inventory.ReasonToTraining}
	f.names = func(path string) string { return strings.TrimPrefix(path, "movements[0].") }
	return s.record(v, f, func(ctx context.Context, by inventory.Actor, _ string) (string, error) {
		done, err := s.svc.Ledger.Move(ctx, by, []inventory.Movement{m})
		if err != nil {
			return "", err
		}
		return "/lots/" + formatID(done[0].IntoLotID) + "?done=training-" + formatID(done[0].ID), nil
	})
}

func (s *server) toTrainingForm(v *visit, f *form, failed error) error {
	x, err := s.lotAt(v, f)
	if err != nil {
		return err
	}
	if failed == nil && !stock.MayGoToTraining(x.item, x.lot.Lot, x.place) {
		return inventory.Refuse(inventory.Conflict, "cannot go to training")
	}
	p := &toTrainingPage{Base: Base{Title: message.M("Give to training"), Caution: true}, Lot: x.lot.LotSummary,
		Name: x.item.Name, Label: lotLabel(x.lot.BatchNo, x.lot.Serial), From: x.place, There: x.there}
	p.Qty = f.numberFrom("qty", message.M("Units of {1}", x.there), x.there).Need()
	to := allowedOptions(v, x.place, inventory.ReasonToTraining)
	p.To = f.choice("to", message.M("Training store or bag"), to).Need()
	if !f.values.Has("to") {
		p.To = p.To.choose(inventory.Station{Code: x.place.Station}.TrainingStoreCode())
	}
	return s.renderForm(v, f, p, failed)
}

// allowedOptions lists where units may go from a place for a reason.
func allowedOptions(v *visit, from inventory.Place, why inventory.Reason) []Option {
	return placeOptions(v.places(), from.Station, func(p inventory.Place) bool {
		return inventory.Allowed(from, p, why, "") == nil
	})
}

// lotThere is a lot in one of the places where it lies.
type lotThere struct {
	lot   stock.LotStory
	item  inventory.Item
	place inventory.Place
	there int
}

// lotAt reads the lot that the address names, in the place that the form or the address names.
func (s *server) lotAt(v *visit, f *form) (lotThere, error) {
	var x lotThere
	var err error
	if x.lot, err = s.svc.Stock.Lot(v.ctx(), v.actor, paramID(v, "id")); err != nil {
		return x, notFound(err)
	}
	if x.item, err = s.svc.Lists.Item(v.ctx(), v.actor, x.lot.Item); err != nil {
		return x, err
	}
	code := inventory.NormalCode(cmp.Or(f.text("place"), v.Query("place")))
	for _, w := range x.lot.Where {
		if w.Place == code {
			x.there = w.Qty
			x.place = s.placeAt(v, w.Place)
		}
	}
	if x.place.Code == "" {
		return x, inventory.Refuse(inventory.NotFound, "not found")
	}
	return x, nil
}
