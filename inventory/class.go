package inventory

import (
	"context"
	"strconv"
)

// Class is what a training class used up and applied. None of it is waste.
type Class struct {
	Place   string        `json:"place" doc:"Code of the training store or training bag that it came from"`
	Class   string        `json:"class" maxLength:"120" doc:"Name or number of the class"`
	At      Instant       `json:"at,omitempty" format:"date-time" doc:"Now if left out"`
	Lines   []ClassLine   `json:"lines,omitempty" doc:"What was used up"`
	Devices []ClassDevice `json:"devices,omitempty" doc:"The training devices that were applied"`
	Note    string        `json:"note,omitempty" maxLength:"2000"`
}

// ClassLine is a quantity of a lot that a class used up.
type ClassLine struct {
	LotID int64 `json:"lot_id"`
	Qty   int   `json:"qty" minimum:"1" maximum:"100000"`
}

// ClassDevice is a class's applications of one training device.
type ClassDevice struct {
	LotID  int64 `json:"lot_id"`
	Cycles int   `json:"cycles" minimum:"1" maximum:"100000" doc:"Applications in this class"`
}

// ClassRecord is a class with the movements that it became.
type ClassRecord struct {
	Class
	By        string     `json:"by"`
	Movements []Movement `json:"movements"`
}

// RecordClass books what a class used up, from a training place: it leaves the
// service as used, under the name of the class.
func (s *Service) RecordClass(ctx context.Context, by Actor, in Class) (ClassRecord, error) {
	return write(ctx, s, func(w Writer) (ClassRecord, error) {
		out := ClassRecord{Class: in, By: by.Name, Movements: []Movement{}}
		if err := by.must(ActKeepStock, ""); err != nil {
			return out, err
		}
		p := newPoster(w, by, s.Now())
		place, err := p.place(placeCode(in.Place))
		if err != nil {
			return out, known(err, "place", "place")
		}
		if err := p.may(ActKeepStock, place); err != nil {
			return out, err
		}
		if place.Purpose != ForTraining {
			return out, Errorf(Conflict, "a class uses training stock; issue stock goes to training first, and there is no way back")
		}
		if err := in.check(); err != nil {
			return out, err
		}
		if out.At, err = happened(in.At, p.now, "at"); err != nil {
			return out, err
		}
		out.Place = place.Code
		return out, p.recordClass(&out)
	})
}

func (in Class) check() error {
	var ps problems
	checkText(&ps, "class", in.Class, true, MaxName)
	checkText(&ps, "note", in.Note, false, MaxNote)
	ps.when(len(in.Lines)+len(in.Devices) == 0 || len(in.Lines)+len(in.Devices) > 500, "lines", "give 1 to 500 lines and devices")
	return ps.err()
}

func (p *poster) recordClass(out *ClassRecord) error {
	ms := make([]Movement, 0, len(out.Lines))
	for _, l := range out.Lines {
		ms = append(ms, Movement{LotID: l.LotID, Qty: l.Qty, From: out.Place, To: string(KindUsed), Reason: ReasonUsed, HappenedAt: out.At,
			Reference: out.Class.Class, Note: out.Note})
	}
	done, err := p.post(ms, "lines")
	if err != nil {
		return err
	}
	out.Movements = append(out.Movements, done...)
	for i, d := range out.Devices {
		path := "devices[" + strconv.Itoa(i) + "]"
		if _, err := p.w.Lot(d.LotID); err != nil {
			return known(err, path+".lot_id", "lot")
		}
		if _, err := p.train(d.LotID, TrainingUse{At: out.At, Cycles: d.Cycles, Class: out.Class.Class}); err != nil {
			return under(err, path)
		}
	}
	return nil
}
