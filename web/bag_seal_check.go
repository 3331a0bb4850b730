package web

import (
	"context"

	"stowkeeper/inventory"
)

type sealCheckPage struct {
	Base
	Bag      inventory.Bag
	Station  inventory.Station
	Form     Form
	SealSeen Field
	SealSet  Field
	Note     Field
	Check    bool // a seal is recorded that can be found otherwise
	Sealed   bool // the list asks for a seal
	Unset    bool // it was found broken or different, which a new seal does not settle
	Tick     bool // the new seal is a temporary one
}

// showSealCheck is for a seal that is not as it should be; one that is takes a
// single tap on the bag's page.
func (s *server) showSealCheck(v *visit) error {
	return s.sealCheckForm(v, openForm(nil), nil)
}

func (s *server) sealCheckForm(v *visit, f *form, failed error) error {
	c, err := s.checklist(v)
	if err != nil {
		return err
	}
	if !inService(v, c.Bag) {
		return nil
	}
	p := &sealCheckPage{Base: Base{Title: "Seal of " + c.Bag.Code}, Bag: c.Bag, Station: c.Station,
		Check: c.Bag.Seal != "", Sealed: c.KitList.Sealed, Unset: c.Bag.SealUnsettled(), Tick: f.text("temporary") != ""}
	p.SealSeen = f.field("seal_seen", "Number on the seal").WithHint("As you read it. Case and blanks do not matter.")
	p.SealSet = f.field("seal_set", "Number of the seal that is on now").Need()
	p.Note = f.field("note", "Why it was opened")
	p.Form = f.state(failed, f.keyOr(newKey), c.Bag.Position)
	return s.render(v, statusOf(failed), p)
}

func (s *server) recordSealCheck(v *visit) error {
	f := openForm(v.Request.PostForm)
	in := inventory.Check{Bag: v.Param("code"), Kind: inventory.SealCheck, SeenPosition: f.id("position"),
		HappenedAt: v.madeAt(), SealSeen: f.text("seal_seen"), SealBroken: f.text("broken") != ""}
	if in.SealSeen == "" && !in.SealBroken {
		f.wrong("seal_seen", "type the number, or say below that the seal is broken or gone")
		return s.sealCheckForm(v, f, f.err())
	}
	err := v.once(func(ctx context.Context, key string) (string, error) {
		x, err := s.svc.Shift.RecordCheck(ctx, v.actor, in, key)
		return doneAt(x.Bag, "check", x.ID), err
	})
	return f.fix(v, err, nil, s.sealCheckForm)
}
