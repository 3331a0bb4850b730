package web

import (
	"context"

	"stowkeeper/inventory"
	"stowkeeper/inventory/message"
)

type sealCheckPage struct {
	Base
	Bag                     inventory.Bag
	Station                 inventory.Station
	SealSeen, SealSet, Note Field
	Check                   bool // a seal is recorded that can be found otherwise
	Sealed                  bool // the list asks for a seal
	Unset                   bool // it was found broken or different, which a new seal does not settle
	Tick                    bool // the new seal is a temporary one
	Reports                 message.Message
}

// sealCheckForm is for a seal that is not as it should be; one that is takes a single tap on the bag's page.
func (s *server) sealCheckForm(v *visit, f *form, failed error) error {
	c, err := s.checklist(v)
	if err != nil {
		return err
	}
	if !inService(v, c.Bag) {
		return nil
	}
	p := &sealCheckPage{Base: Base{Title: message.M("Seal of {1}", c.Bag.Code)}, Bag: c.Bag, Station: c.Station,
		Check: c.Bag.Seal != "", Sealed: c.KitList.Sealed, Unset: c.Bag.SealUnsettled(), Tick: f.text("temporary") != "",
		Reports: reportTexts(c)}
	p.SealSeen = f.field("seal_seen", message.M("Seal number"))
	p.SealSet = f.field("seal_set", message.M("New seal number")).Need()
	p.Note = f.field("note", message.M("Reason for opening"))
	p.Form.Position = c.Bag.Position
	return s.renderForm(v, f, p, failed)
}

func (s *server) recordSealCheck(v *visit, f *form) error {
	in := inventory.Check{Bag: v.Param("code"), Kind: inventory.SealCheck, SeenPosition: f.id("position"),
		HappenedAt: v.madeAt(), SealSeen: f.text("seal_seen"), SealBroken: f.text("broken") != "", By: v.saidBy()}
	if in.SealSeen == "" && !in.SealBroken {
		f.wrong("seal_seen", message.M("enter the seal number, or report it broken"))
		return s.sealCheckForm(v, f, f.err())
	}
	return v.once(func(ctx context.Context, key string) (string, error) {
		x, err := s.svc.Shift.RecordCheck(ctx, v.actor, in, key)
		return doneAt(x.Bag, "check", x.ID), err
	})
}
