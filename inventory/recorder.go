package inventory

import (
	"cmp"
	"context"
	"strconv"
)

// recordedStore writes the history: each unit of work keeps, beside what it
// keeps, who did it and from where. The use cases need not think of it, and
// none can forget it. A list of its own, rather than a column on each record,
// since one list answers all that the history is asked and most of what people
// change has no record that could hold the column.
type recordedStore struct {
	Store
	now Clock
}

func recorded(s Store, now Clock) Store {
	if already, ok := s.(recordedStore); ok {
		s = already.Store
	}
	return recordedStore{s, now}
}

// Write runs fn in one unit of work, with a writer that keeps the history.
func (s recordedStore) Write(ctx context.Context, fn func(ctx context.Context, w Writer) error) error {
	return s.Store.Write(ctx, func(ctx context.Context, w Writer) error {
		return fn(ctx, recorder{w, acting(ctx), s.now})
	})
}

// recorder is a writer that keeps the history of what it writes. Methods that
// are not here write nothing that a person did, or something that another
// method or the use case records; a test names each with the reason.
type recorder struct {
	Writer
	who Actor
	now Clock
}

// keep adds deeds after what they tell of was written. A record that says who
// made it is believed.
func (r recorder) keep(written error, ds ...Deed) error {
	if written != nil || len(ds) == 0 {
		return written
	}
	now := r.now()
	for i := range ds {
		ds[i].At = cmp.Or(ds[i].At, now)
		ds[i].By = cmp.Or(ds[i].By, r.who.Name)
		ds[i].From = r.who.From
	}
	return r.AddDeeds(ds)
}

// of is a deed about a bag or place, where that is now.
func (r recorder) of(kind DeedKind, code string, d Deed) Deed {
	d.Kind, d.Place = kind, code
	if b, err := r.Bag(code); err == nil {
		d.Site = b.AtSite
	} else if p, err := r.Place(code); err == nil {
		d.Site = p.Site
	}
	return d
}

func (r recorder) AppendMovements(ms []Movement) ([]Movement, error) {
	out, err := r.Writer.AppendMovements(ms)
	var ds []Deed
	for _, m := range out {
		detail := strconv.Itoa(m.Qty) + ", " + string(m.Reason)
		if m.Cause != "" {
			detail += ", " + string(m.Cause)
		}
		ds = append(ds, Deed{At: m.RecordedAt, By: m.By, Kind: DeedMovement, Site: m.Site, Place: m.From, OtherPlace: m.To, LotID: m.IntoLotID, Person: m.Witness, Detail: detail})
	}
	return out, r.keep(err, ds...)
}

func (r recorder) AddCheck(c Check, key string) (Check, error) {
	out, err := r.Writer.AddCheck(c, key)
	kind := DeedFullCheck
	if c.Kind == SealCheck {
		kind = DeedSealCheck
	}
	return out, r.keep(err, r.of(kind, c.Bag, Deed{At: c.RecordedAt, By: c.By, Detail: string(c.Status)}))
}

func (r recorder) AddUse(u Use, key string) (Use, error) {
	out, err := r.Writer.AddUse(u, key)
	return out, r.keep(err, r.of(DeedUse, u.Bag, Deed{At: u.RecordedAt, By: u.By, Detail: string(u.Status)}))
}

func (r recorder) SetCheckOutcome(c Check) error {
	return r.decided(r.Writer.SetCheckOutcome(c), DeedCheckDecided, c.Bag, c.Decision)
}

func (r recorder) SetUseOutcome(u Use) error {
	return r.decided(r.Writer.SetUseOutcome(u), DeedUseDecided, u.Bag, u.Decision)
}

func (r recorder) decided(written error, kind DeedKind, bag string, d *Decision) error {
	if written != nil || d == nil {
		return written
	}
	return r.keep(nil, r.of(kind, bag, Deed{At: d.At, By: d.By, Detail: string(d.Decision) + ": " + d.Reason}))
}

func (r recorder) AddRestock(x Restock) (Restock, error) {
	out, err := r.Writer.AddRestock(x)
	return out, r.keep(err, r.of(DeedRestock, x.Bag, Deed{At: x.At, By: x.By}))
}

// AddSeal keeps seals that were set, opened or seen otherwise: that one was
// seen in order is what the check says.
func (r recorder) AddSeal(e SealEntry) error {
	err := r.Writer.AddSeal(e)
	if e.Event == SealSeen {
		return err
	}
	return r.keep(err, r.of(DeedSeal, e.Bag, Deed{At: e.At, By: e.By, Detail: string(e.Event) + " " + e.Number}))
}

func (r recorder) AddBagLog(e BagLogEntry) error {
	return r.keep(r.Writer.AddBagLog(e), r.of(DeedBagChanged, e.Bag, Deed{At: e.At, By: e.By, Detail: string(e.Kind) + change(e)}))
}

// change says what a bag's log holds besides its kind.
func change(e BagLogEntry) string {
	text := ""
	if e.Old != "" || e.New != "" {
		text = ": " + e.Old + " → " + e.New
	}
	if e.Reason != "" {
		text += ": " + e.Reason
	}
	return text
}

// UpdateBag keeps what the bag's log does not: a name, a priority, the end of
// its service.
func (r recorder) UpdateBag(b Bag) (Bag, error) {
	old, err := r.Bag(b.Code)
	if err != nil {
		return b, err
	}
	out, err := r.Writer.UpdateBag(b)
	if err != nil || len(changesOf(old, out)) > 0 {
		return out, err
	}
	detail := ""
	if out.Retired() && !old.Retired() {
		detail = "retired"
	}
	return out, r.keep(nil, r.of(DeedBagChanged, b.Code, Deed{Detail: detail}))
}

func (r recorder) AddVehicleOff(v VehicleOff) (VehicleOff, error) {
	out, err := r.Writer.AddVehicleOff(v)
	return out, r.keep(err, Deed{At: v.At, By: v.By, Kind: DeedVehicle, Site: v.Site, Detail: v.Vehicle + ", taken off: " + v.Reason})
}

func (r recorder) EndVehicleOff(v VehicleOff) error {
	return r.keep(r.Writer.EndVehicleOff(v), Deed{At: v.BackAt, By: v.BackBy, Kind: DeedVehicle, Site: v.Site, Detail: v.Vehicle + ", put back"})
}

func (r recorder) AddObservation(o Observation) (Observation, error) {
	out, err := r.Writer.AddObservation(o)
	return out, r.keep(err, r.of(DeedObservation, o.Bag, Deed{At: o.OpenedAt, By: o.OpenedBy, LotID: o.LotID, Detail: o.Text}))
}

func (r recorder) CloseObservation(o Observation) error {
	return r.keep(r.Writer.CloseObservation(o), r.of(DeedObservationClosed, o.Bag, Deed{At: o.ClosedAt, By: o.ClosedBy, LotID: o.LotID, Detail: o.CloseReason}))
}

func (r recorder) AddInspection(i Inspection) (Inspection, error) {
	out, err := r.Writer.AddInspection(i)
	detail := "passed"
	if !i.Passed {
		detail = "failed"
	}
	return out, r.keep(err, r.of(DeedInspection, i.Place, Deed{At: i.RecordedAt, By: i.By, LotID: i.LotID, BatchID: i.BatchID, Detail: detail}))
}

func (r recorder) AddTrainingUse(t TrainingUse) (TrainingUse, error) {
	out, err := r.Writer.AddTrainingUse(t)
	return out, r.keep(err, Deed{At: t.RecordedAt, By: t.By, Kind: DeedTrainingUse, LotID: t.LotID, BatchID: t.BatchID, Detail: strconv.Itoa(t.Cycles)})
}

func (r recorder) CorrectBatch(b Batch, c BatchCorrection) (BatchCorrection, error) {
	out, err := r.Writer.CorrectBatch(b, c)
	return out, r.keep(err, Deed{At: c.At, By: c.By, Kind: DeedBatchCorrected, BatchID: b.ID, Detail: c.Reason})
}

func (r recorder) AddNotice(n Notice) (Notice, error) {
	out, err := r.Writer.AddNotice(n)
	return out, r.keep(err, Deed{At: n.IssuedAt, By: n.IssuedBy, Kind: DeedNotice, Detail: n.Reference + ", issued"})
}

func (r recorder) SetNoticeOutcome(n Notice) error {
	return r.keep(r.Writer.SetNoticeOutcome(n), Deed{At: n.EndedAt, By: n.EndedBy, Kind: DeedNotice, Detail: n.Reference + ", " + string(n.Status)})
}

func (r recorder) AddDelivery(d Delivery) (Delivery, error) {
	out, err := r.Writer.AddDelivery(d)
	return out, r.keep(err, r.of(DeedDelivery, d.Place, Deed{At: d.StartedAt, By: d.StartedBy, Detail: "begun"}))
}

// SetDelivery keeps the end of a delivery: the scans in between are a list
// being made, and what comes of it is movements.
func (r recorder) SetDelivery(d Delivery) error {
	err := r.Writer.SetDelivery(d)
	if d.EndedAt == 0 {
		return err
	}
	return r.keep(err, r.of(DeedDelivery, d.Place, Deed{At: d.EndedAt, By: d.EndedBy, Detail: string(d.Status)}))
}

func (r recorder) AddBalanceCheck(c BalanceCheck) (BalanceCheck, error) {
	out, err := r.Writer.AddBalanceCheck(c)
	return out, r.keep(err, r.of(DeedBalance, c.Place, balanceDeed(c)))
}

// balanceDeed is what the history tells of a balance check, where it is apart.
func balanceDeed(c BalanceCheck) Deed {
	detail := c.Item + ", " + strconv.Itoa(c.Counted) + " counted, " + strconv.Itoa(c.Expected) + " expected"
	return Deed{Kind: DeedBalance, Place: c.Place, At: c.RecordedAt, By: c.By, Person: c.Witness, Detail: detail}
}

func (r recorder) AddEntrySignature(x EntrySignature) error {
	d := Deed{At: x.At, By: x.Person, Kind: DeedSigned}
	if m, err := r.Movement(x.Movement); err == nil {
		d = signedDeed(x, m)
	}
	return r.keep(r.Writer.AddEntrySignature(x), d)
}

// signedDeed is what the history tells of a signature for a movement.
func signedDeed(x EntrySignature, m Movement) Deed {
	return Deed{Kind: DeedSigned, At: x.At, By: x.Person, Site: m.Site, Place: m.From, OtherPlace: m.To, LotID: m.IntoLotID}
}
