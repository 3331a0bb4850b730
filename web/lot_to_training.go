package web

import (
	"context"
	"strconv"
	"strings"

	"stowkeeper/inventory"
	"stowkeeper/inventory/stock"
)

type toTrainingPage struct {
	Base
	Lot   stock.LotSummary
	Name  string
	Label string
	From  inventory.Place
	There int
	Qty   Field
	To    Field
	Form  Form
}

// toTrainingPath leads to the page that asks before units of a lot in a place
// are given to training.
func toTrainingPath(lot int64, place string) string {
	return "/lots/" + formatID(lot) + "/training?place=" + place
}

func (s *server) showToTraining(v *visit) error { return s.toTrainingForm(v, openForm(nil), nil) }

// giveToTraining gives units to training, for good. The page that asks is the
// confirmation.
func (s *server) giveToTraining(v *visit) error {
	f := openForm(v.Request.PostForm)
	id := paramID(v, "id")
	m := inventory.Movement{LotID: id, Qty: f.number("qty"), From: f.text("place"), To: f.text("to"),
		Reason: inventory.ReasonToTraining}
	err := s.record(v, f, func(ctx context.Context, by inventory.Actor, _ string) (string, error) {
		done, err := s.svc.Ledger.Move(ctx, by, []inventory.Movement{m})
		if err != nil {
			return "", err
		}
		return "/lots/" + formatID(done[0].IntoLotID) + "?done=training-" + formatID(done[0].ID), nil
	})
	return f.fix(v, err, func(path string) string { return strings.TrimPrefix(path, "movements[0].") }, s.toTrainingForm)
}

func (s *server) toTrainingForm(v *visit, f *form, failed error) error {
	x, err := s.lotAt(v, f)
	if err != nil {
		return err
	}
	if failed == nil && !stock.MayGoToTraining(x.item, x.lot.Lot, x.place) {
		return inventory.Errorf(inventory.Conflict, "these units cannot go to training: medicines never do, and what is "+
			"under notice, unidentified or training stock already stays where it is")
	}
	p := &toTrainingPage{Base: Base{Title: "Give to training", Caution: true}, Lot: x.lot.LotSummary, Name: x.item.Name,
		Label: lotLabel(x.lot.BatchNo, x.lot.Serial), From: x.place, There: x.there}
	p.Qty = f.numberField("qty", "How many of "+strconv.Itoa(x.there)).Need()
	if !f.values.Has("qty") {
		p.Qty.Value = strconv.Itoa(x.there)
	}
	p.To = f.choice("to", "Into", trainingPlaces(v.places(), x.place)).Need()
	if !f.values.Has("to") {
		p.To = p.To.choose(inventory.Station{Code: x.place.Station}.TrainingStoreCode())
	}
	p.Form = f.state(failed, f.keyOr(newKey), 0)
	return s.render(v, statusOf(failed), p)
}

// trainingPlaces lists where stock may be given to training from a place.
func trainingPlaces(places []inventory.Place, from inventory.Place) []Option {
	var out []Option
	for _, p := range places {
		if inventory.Allowed(from, p, inventory.ReasonToTraining, "") == nil {
			out = append(out, Option{Value: p.Code, Text: p.Name + ", " + p.Code})
		}
	}
	return out
}

// lotThere is a lot in one of the places where it lies.
type lotThere struct {
	lot   stock.LotStory
	item  inventory.Item
	place inventory.Place
	there int
}

// lotAt reads the lot that the address names, in the place that the form or
// the address names.
func (s *server) lotAt(v *visit, f *form) (lotThere, error) {
	var x lotThere
	var err error
	if x.lot, err = s.svc.Stock.Lot(v.ctx(), v.actor, paramID(v, "id")); err != nil {
		return x, noSuchLot(err)
	}
	if x.item, err = s.svc.Lists.Item(v.ctx(), v.actor, x.lot.Item); err != nil {
		return x, err
	}
	code := inventory.NormalCode(f.text("place"))
	if code == "" {
		code = inventory.NormalCode(v.Query("place"))
	}
	for _, w := range x.lot.Where {
		if w.Place == code {
			x.there = w.Qty
			x.place = s.placeOf(v, []stock.AtPlace{w})
		}
	}
	if x.place.Code == "" {
		return x, inventory.Errorf(inventory.NotFound, "none of this lot lies in that place any more")
	}
	return x, nil
}

func noSuchLot(err error) error {
	if inventory.KindOf(err) == inventory.NotFound {
		return inventory.Errorf(inventory.NotFound, "no such lot")
	}
	return err
}
