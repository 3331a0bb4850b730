package storeroom

import (
	"context"
	"errors"
	"slices"

	"stowkeeper/inventory"
	"stowkeeper/inventory/account"
	"stowkeeper/inventory/ledger"
)

// Trouble is why a line of a delivery cannot be put away as it stands.
type Trouble string

// The troubles.
const (
	TroubleNone     Trouble = ""
	TroubleUnknown  Trouble = "unknown"  // no product has the code: which item is it?
	TroubleMissing  Trouble = "missing"  // the code leaves something out, or says something odd
	TroublePast     Trouble = "past"     // past its last usable day: it needs a way
	TroubleNotice   Trouble = "notice"   // under a withdrawing notice: into quarantine only
	TroubleConflict Trouble = "conflict" // received before with another date
	TroubleOther    Trouble = "other"    // what else the rules forbid
)

// DeliveryView is a delivery as it would be put away now.
type DeliveryView struct {
	inventory.Delivery
	Store    inventory.Place
	Station  inventory.Station
	Today    inventory.Day
	Rows     []DeliveryRow
	Ready    bool // every line can be put away
	Unsigned bool `json:"unsigned,omitempty" doc:"It holds a controlled item, for which two people sign when it is put away"`
}

// DeliveryRow is a line of a delivery with what is known of it.
type DeliveryRow struct {
	inventory.DeliveryLine
	Is       inventory.Item    // none while the code is unknown
	Pack     inventory.Product // likewise
	InAll    int               // units, 0 where that cannot be told
	Through  inventory.Day     // last usable day of what is printed
	Ways     []inventory.WayIn // where it may go
	Earlier  *inventory.BatchFacts
	Notices  []string // that withdraw it
	Trouble  Trouble
	Problem  string
	Problems []inventory.Field
}

// errRehearsed ends a unit of work that only tried.
var errRehearsed = errors.New("rehearsed")

// Delivery shows a delivery with what would happen if it were put away now, line by line. It changes nothing.
// Refuses: Forbidden without keep_stock at its station; NotFound.
func (s *Service) Delivery(ctx context.Context, by inventory.Actor, id int64) (DeliveryView, error) {
	var view DeliveryView
	err := s.store.Write(ctx, func(ctx context.Context, w inventory.Writer) error {
		d, err := w.Delivery(id)
		if err != nil {
			return err
		}
		if view, err = s.deliveryView(w, by, d); err != nil {
			return err
		}
		if d.Status == inventory.DeliveryOpen {
			if err := s.bookAll(ctx, by, &view); err != nil {
				return err
			}
		}
		return errRehearsed
	})
	if errors.Is(err, errRehearsed) {
		err = nil
	}
	return view, err
}

// deliveryView reads what is known of a delivery's lines.
func (s *Service) deliveryView(r inventory.Reader, by inventory.Actor, d inventory.Delivery) (DeliveryView, error) {
	v := DeliveryView{Delivery: d}
	var err error
	if v.Store, err = r.Place(d.Place); err != nil {
		return v, err
	}
	if err := by.Must(inventory.ActKeepStock, v.Store.Station); err != nil {
		return v, err
	}
	if v.Station, err = r.Station(v.Store.Station); err != nil {
		return v, err
	}
	v.Today = v.Station.Today(s.now())
	for _, l := range d.Lines {
		row := DeliveryRow{DeliveryLine: l}
		if l.Product == 0 && d.Status == inventory.DeliveryOpen {
			if err := row.lookUp(r); err != nil {
				return v, err
			}
		}
		if row.Product != 0 {
			if err := v.know(r, &row); err != nil {
				return v, err
			}
		}
		v.Rows = append(v.Rows, row)
	}
	return v, nil
}

// lookUp finds the product of a code that somebody has named elsewhere since it
// was scanned.
func (row *DeliveryRow) lookUp(r inventory.Reader) error {
	found, err := ledger.ProductsWithCode(r, row.Scheme, row.Code)
	if err != nil || len(found) != 1 {
		return err
	}
	it, err := r.Item(found[0].Item)
	row.DeliveryLine.Know(found[0], it)
	return err
}

// know reads what is known of a line whose product is known.
func (v DeliveryView) know(r inventory.Reader, row *DeliveryRow) error {
	var err error
	if row.Pack, err = r.Product(row.Product); err != nil {
		return err
	}
	if row.Is, err = r.Item(row.Item); err != nil {
		return err
	}
	row.InAll, _ = row.UnitsIn(row.Is, row.Pack)
	b, err := v.receipt(*row).Batch(row.Is, v.Today)
	if err != nil {
		return nil // trying to put it away says what is missing
	}
	row.Through = b.LastUsable
	notices, err := r.Notices(inventory.NoticeFilter{Item: row.Item}, inventory.Page{})
	if err != nil {
		return err
	}
	row.Notices, _ = ledger.RecordUnder(b, notices, 0)
	row.Ways = inventory.WaysIn(row.Is, b, len(row.Notices) > 0, v.Store, v.Today)
	return nil
}

// earlier finds what was recorded of a row's batch before with other dates, also
// by a line above it.
func (s *Service) earlier(ctx context.Context, v DeliveryView, row DeliveryRow) (*inventory.BatchFacts, error) {
	return inventory.Read(ctx, s.store, func(r inventory.Reader) (*inventory.BatchFacts, error) {
		b, err := v.receipt(row).Batch(row.Is, v.Today)
		if err != nil || b.BatchNo == "" || b.Serial != "" {
			return nil, nil
		}
		old, err := r.FindBatch(b.Item, b.Product, b.BatchNo, "")
		if inventory.KindOf(err) == inventory.NotFound || err == nil && old.Facts() == b.Facts() {
			return nil, nil
		}
		facts := old.Facts()
		return &facts, err
	})
}

// receipt is the receipt that a row becomes.
func (v DeliveryView) receipt(row DeliveryRow) inventory.Receipt {
	return inventory.Receipt{Place: v.Store.Code, Item: row.Item, Product: row.Product, BatchNo: row.BatchNo,
		Serial: row.Serial, MadeOn: row.MadeOn,
		EndPrinted: row.EndPrinted, EndWording: row.EndWording, Qty: max(1, row.InAll), Reference: v.Reference,
		OnConflict: row.OnConflict, CorrectionReason: row.Reason}
}

// way is where a row goes: where a person said, if it may go there, else the
// usual one. What is past its day goes nowhere until a person has said where.
func (row DeliveryRow) way() (inventory.WayIn, bool) {
	if slices.Contains(row.Ways, row.Way) {
		return row.Way, true
	}
	if len(row.Ways) == 0 || row.Ways[0] == inventory.InPlace {
		return inventory.InPlace, true
	}
	return "", false
}

// bookAll receives every line that can be, each in a unit of work of its own
// inside the one around, and notes on the others what is in the way.
func (s *Service) bookAll(ctx context.Context, by inventory.Actor, v *DeliveryView) error {
	v.Ready = len(v.Rows) > 0
	for i := range v.Rows {
		row := &v.Rows[i]
		lot, failed := s.bookRow(ctx, by, *v, row)
		if failed != nil {
			if kind := inventory.KindOf(failed); kind == inventory.Internal || kind == inventory.Unavailable {
				return failed
			}
			if errors.Is(failed, account.ErrUnsigned) { // nothing is wrong with the pack
				v.Unsigned = true
				continue
			}
			if row.Product != 0 && inventory.KindOf(failed) == inventory.Conflict {
				var err error
				if row.Earlier, err = s.earlier(ctx, *v, *row); err != nil {
					return err
				}
			}
			row.explain(failed)
			v.Ready = false
			continue
		}
		if v.Status == inventory.DeliveryOpen {
			row.LotID = lot.ID
		}
	}
	return nil
}

// bookRow receives one line where it goes.
func (s *Service) bookRow(ctx context.Context, by inventory.Actor, v DeliveryView, row *DeliveryRow) (inventory.Lot,
	error) {
	if row.Product == 0 {
		row.Trouble = TroubleUnknown
		return inventory.Lot{}, inventory.Errorf(inventory.Conflict, "no product has this code yet")
	}
	if _, err := row.UnitsIn(row.Is, row.Pack); err != nil {
		return inventory.Lot{}, err
	}
	way, said := row.way()
	if !said {
		row.Trouble = TroublePast
		if len(row.Notices) > 0 {
			row.Trouble = TroubleNotice
		}
		return inventory.Lot{}, inventory.Errorf(inventory.Conflict, "it cannot go into %s", v.Store.Name)
	}
	in := v.receipt(*row)
	switch way {
	case inventory.InTraining:
		in.Place = v.Station.TrainingStoreCode()
	case inventory.InQuarantine, inventory.InDisposed:
		in.Place = v.Station.QuarantineCode(v.Store.Purpose)
	}
	row.To = in.Place
	return inventory.Write(ctx, s.store, func(w inventory.Writer) (inventory.Lot, error) {
		p := ledger.NewUnit(w, by, s.now())
		place, err := p.Place(in.Place)
		if err != nil {
			return inventory.Lot{}, inventory.AsField(err, "place", "place")
		}
		lot, err := p.Receive(in, place)
		if err != nil || way != inventory.InDisposed {
			return lot, err
		}
		row.To = string(inventory.KindDisposed)
		_, err = p.Post([]inventory.Movement{{LotID: lot.ID, Qty: in.Qty, From: place.Code,
			To: string(inventory.KindDisposed), Reason: inventory.ReasonDisposed, Cause: inventory.CauseExpired,
			Reference: in.Reference}}, "receipt")
		return lot, err
	})
}

// explain notes why a line could not be received.
func (row *DeliveryRow) explain(err error) {
	var e *inventory.Error
	if errors.As(err, &e) {
		row.Problem, row.Problems = e.Message, e.Fields
	}
	row.LotID, row.To = 0, ""
	switch {
	case row.Trouble != TroubleNone: // known before it was tried
	case inventory.KindOf(err) == inventory.Invalid:
		row.Trouble = TroubleMissing
	case row.Earlier != nil:
		row.Trouble = TroubleConflict
	default:
		row.Trouble = TroubleOther
	}
}
