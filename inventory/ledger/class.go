package ledger

import (
	"context"
	"strconv"

	"stowkeeper/inventory"
)

// Class is what a training class used up and applied. None of it is waste.
type Class struct {
	Place      string            `json:"place" doc:"Code of the training store or training bag that it came from"`
	Class      string            `json:"class" maxLength:"120" doc:"Name or number of the class"`
	HappenedAt inventory.Instant `json:"happened_at,omitempty" format:"date-time" doc:"Default: now"`
	Lines      []ClassLine       `json:"lines,omitempty" doc:"What was used up"`
	Devices    []ClassDevice     `json:"devices,omitempty" doc:"The training devices that were applied"`
	Note       string            `json:"note,omitempty" maxLength:"2000"`
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
	By        string               `json:"by"`
	Movements []inventory.Movement `json:"movements"`
}

// RecordClass books what a class used up, from a training place: it leaves the service as used, under the name of
// the class. Movements are in the order of the lines. Refuses: Forbidden without keep_stock at the place's station;
// Invalid by field, and where a controlled item lacks signatures; Conflict for a place that is for issue, for what
// no class has, and where units are lacking. Locks the items of the devices.
func (s *Service) RecordClass(ctx context.Context, by inventory.Actor, in Class) (ClassRecord, error) {
	return inventory.Write(ctx, s.store, func(w inventory.Writer) (ClassRecord, error) {
		out := ClassRecord{Class: in, By: by.Name, Movements: []inventory.Movement{}}
		if err := by.Must(inventory.ActKeepStock, ""); err != nil {
			return out, err
		}
		u := NewUnit(w, by, s.now(), TwoSign)
		place, err := u.Place(PlaceCode(in.Place))
		if err != nil {
			return out, inventory.AsField(err, "place", "not found")
		}
		if err := u.May(inventory.ActKeepStock, place); err != nil {
			return out, err
		}
		if place.Purpose != inventory.ForTraining {
			return out, inventory.Refuse(inventory.Conflict, "move it to training stock first")
		}
		if err := in.check(); err != nil {
			return out, err
		}
		if out.HappenedAt, err = Happened(in.HappenedAt, u.Now, "happened_at"); err != nil {
			return out, err
		}
		out.Place = place.Code
		return out, u.recordClass(&out)
	})
}

func (in Class) check() error {
	var ps inventory.Problems
	inventory.CheckText(&ps, "class", in.Class, true, inventory.MaxName)
	inventory.CheckText(&ps, "note", in.Note, false, inventory.MaxNote)
	ps.When(len(in.Lines)+len(in.Devices) == 0 || len(in.Lines)+len(in.Devices) > 500, "lines",
		"enter {1} to {2}", 1, 500)
	return ps.Err()
}

func (u *Unit) recordClass(out *ClassRecord) error {
	ms := make([]inventory.Movement, 0, len(out.Lines))
	for _, l := range out.Lines {
		ms = append(ms, inventory.Movement{LotID: l.LotID, Qty: l.Qty, From: out.Place, To: string(inventory.KindUsed),
			Reason: inventory.ReasonUsed, HappenedAt: out.HappenedAt,
			Reference: out.Class.Class, Note: out.Note})
	}
	done, err := u.Post(ms, "lines")
	if err != nil {
		return err
	}
	out.Movements = append(out.Movements, done...)
	for i, d := range out.Devices {
		path := "devices[" + strconv.Itoa(i) + "]"
		if _, err := u.W.Lot(d.LotID); err != nil {
			return inventory.AsField(err, path+".lot_id", "not found")
		}
		if _, err := u.train(d.LotID, inventory.TrainingUse{HappenedAt: out.HappenedAt, Cycles: d.Cycles,
			Class: out.Class.Class}); err != nil {
			return PrefixPaths(err, path)
		}
	}
	return nil
}
