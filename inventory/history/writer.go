package history

import (
	"cmp"
	"strconv"

	"stowkeeper/inventory"
)

// store is a store that writes the history: each unit of work stores, beside what it changes, who did it and from
// where, without the use cases doing anything for it. The history is a list of its own, rather than a column on each
// record, since one list answers all that the history is asked, and most of what people change has no record that could
// hold the column.
type store struct {
	inventory.Store
	now inventory.Clock
}

// Recording returns a store that keeps the history of what is written through it.
func Recording(s inventory.Store, now inventory.Clock) inventory.Store {
	if already, ok := s.(store); ok {
		s = already.Store
	}
	return store{s, now}
}

// writer is a store's writer that keeps the history of what it writes. Methods that are not here write nothing that a
// person did, or something that another method or the use case records; a test names each with the reason.
type writer struct {
	*entries
	who inventory.Actor
	now inventory.Clock
}

// keep adds entries after what they tell of was written. A record that says who made it is believed.
func (r writer) keep(written error, ds ...inventory.HistoryEntry) error {
	if written != nil || len(ds) == 0 {
		return written
	}
	now := r.now()
	for i := range ds {
		ds[i].RecordedAt = cmp.Or(ds[i].RecordedAt, now)
		ds[i].By = cmp.Or(ds[i].By, r.who.Name)
		ds[i].From = r.who.From
	}
	return r.AddHistory(ds)
}

// of is a history entry about a bag or place, where that is now.
func (r writer) of(kind inventory.HistoryKind, code string, d inventory.HistoryEntry) inventory.HistoryEntry {
	d.Kind, d.Place, d.Station = kind, code, r.stationOf(code)
	return d
}

func (r writer) AppendMovements(ms []inventory.Movement) ([]inventory.Movement, error) {
	out, err := r.Writer.AppendMovements(ms)
	var ds []inventory.HistoryEntry
	for _, m := range out {
		detail := strconv.Itoa(m.Qty) + ", " + string(m.Reason)
		if m.Cause != "" {
			detail += ", " + string(m.Cause)
		}
		ds = append(ds, inventory.HistoryEntry{RecordedAt: m.RecordedAt, By: m.By, Kind: inventory.HistoryMovement,
			Station: m.Station, Place: m.From, OtherPlace: m.To, LotID: m.IntoLotID, Person: m.Witness, Detail: detail})
	}
	return out, r.keep(err, ds...)
}

func (r writer) AddCheck(c inventory.Check, key string) (inventory.Check, error) {
	out, err := r.Writer.AddCheck(c, key)
	kind := inventory.HistoryFullCheck
	if c.Kind == inventory.SealCheck {
		kind = inventory.HistorySealCheck
	}
	return out, r.keep(err, r.of(kind, c.Bag, inventory.HistoryEntry{RecordedAt: c.RecordedAt,
		By: cmp.Or(c.SentBy, c.By), Detail: string(c.Status) + saidToBe(c.By, c.SentBy)}))
}

// saidToBe says whose a record is that somebody else sent.
func saidToBe(by, sentBy string) string {
	if sentBy == "" {
		return ""
	}
	return ", " + inventory.SaidToBe(by).String()
}

func (r writer) AddUse(u inventory.Use, key string) (inventory.Use, error) {
	out, err := r.Writer.AddUse(u, key)
	return out, r.keep(err, r.of(inventory.HistoryUse, u.Bag, inventory.HistoryEntry{RecordedAt: u.RecordedAt,
		By: cmp.Or(u.SentBy, u.By), Detail: string(u.Status) + saidToBe(u.By, u.SentBy)}))
}

func (r writer) SetCheckOutcome(c inventory.Check) error {
	return r.decided(r.Writer.SetCheckOutcome(c), inventory.HistoryCheckDecided, c.Bag, c.Decision)
}

func (r writer) SetUseOutcome(u inventory.Use) error {
	return r.decided(r.Writer.SetUseOutcome(u), inventory.HistoryUseDecided, u.Bag, u.Decision)
}

func (r writer) decided(written error, kind inventory.HistoryKind, bag string, d *inventory.Decision) error {
	if written != nil || d == nil {
		return written
	}
	return r.keep(nil, r.of(kind, bag, inventory.HistoryEntry{RecordedAt: d.RecordedAt, By: d.By,
		Detail: string(d.Decision) + ": " + d.Reason}))
}

func (r writer) AddRestock(x inventory.Restock) (inventory.Restock, error) {
	out, err := r.Writer.AddRestock(x)
	return out, r.keep(err, r.of(inventory.HistoryRestock, x.Bag, inventory.HistoryEntry{RecordedAt: x.RecordedAt,
		By: x.By}))
}

// AddSeal keeps seals that were set, opened or seen otherwise: that one was seen in order is what the check says.
func (r writer) AddSeal(e inventory.SealEntry) error {
	err := r.Writer.AddSeal(e)
	if e.Event == inventory.SealSeen {
		return err
	}
	return r.keep(err, r.of(inventory.HistorySeal, e.Bag, inventory.HistoryEntry{RecordedAt: e.HappenedAt, By: e.By,
		Detail: string(e.Event) + " " + e.Number}))
}

func (r writer) AddBagLog(e inventory.BagLogEntry) error {
	return r.keep(r.Writer.AddBagLog(e), r.of(inventory.HistoryBagChanged, e.Bag,
		inventory.HistoryEntry{RecordedAt: e.RecordedAt, By: e.By, Detail: string(e.Kind) + change(e)}))
}

// change says what a bag's log holds besides its kind.
func change(e inventory.BagLogEntry) string {
	text := ""
	if e.Old != "" || e.New != "" {
		text = ": " + e.Old + " → " + e.New
	}
	if e.Reason != "" {
		text += ": " + e.Reason
	}
	return text
}

// UpdateBag keeps what the bag's log does not: a name, a priority, the end of its service.
func (r writer) UpdateBag(b inventory.Bag) (inventory.Bag, error) {
	old, err := r.Bag(b.Code)
	if err != nil {
		return b, err
	}
	out, err := r.entries.UpdateBag(b)
	if err != nil || len(ChangesOf(old, out)) > 0 {
		return out, err
	}
	detail := ""
	if out.Retired() && !old.Retired() {
		detail = "retired"
	}
	return out, r.keep(nil, r.of(inventory.HistoryBagChanged, b.Code, inventory.HistoryEntry{Detail: detail}))
}

func (r writer) AddVehicleOutOfService(v inventory.VehicleOutOfService) (inventory.VehicleOutOfService, error) {
	out, err := r.Writer.AddVehicleOutOfService(v)
	return out, r.keep(err, inventory.HistoryEntry{RecordedAt: v.RecordedAt, By: v.By, Kind: inventory.HistoryVehicle,
		Station: v.Station, Detail: v.Vehicle + ", taken off: " + v.Reason})
}

func (r writer) EndVehicleOutOfService(v inventory.VehicleOutOfService) error {
	return r.keep(r.Writer.EndVehicleOutOfService(v), inventory.HistoryEntry{RecordedAt: v.BackAt, By: v.BackBy,
		Kind: inventory.HistoryVehicle, Station: v.Station, Detail: v.Vehicle + ", put back"})
}

func (r writer) AddObservation(o inventory.Observation) (inventory.Observation, error) {
	out, err := r.Writer.AddObservation(o)
	return out, r.keep(err, r.of(inventory.HistoryObservation, o.Bag, inventory.HistoryEntry{RecordedAt: o.OpenedAt,
		By: o.OpenedBy, LotID: o.LotID, Detail: o.Text.String()}))
}

func (r writer) CloseObservation(o inventory.Observation) error {
	return r.keep(r.Writer.CloseObservation(o), r.of(inventory.HistoryObservationClosed, o.Bag,
		inventory.HistoryEntry{RecordedAt: o.ClosedAt, By: o.ClosedBy, LotID: o.LotID, Detail: o.CloseReason}))
}

func (r writer) AddInspection(i inventory.Inspection) (inventory.Inspection, error) {
	out, err := r.Writer.AddInspection(i)
	detail := "passed"
	if !i.Passed {
		detail = "failed"
	}
	return out, r.keep(err, r.of(inventory.HistoryInspection, i.Place, inventory.HistoryEntry{RecordedAt: i.RecordedAt,
		By: i.By, LotID: i.LotID, BatchID: i.BatchID, Detail: detail}))
}

func (r writer) AddTrainingUse(t inventory.TrainingUse) (inventory.TrainingUse, error) {
	out, err := r.Writer.AddTrainingUse(t)
	return out, r.keep(err, inventory.HistoryEntry{RecordedAt: t.RecordedAt, By: t.By, Kind: inventory.HistoryTrainingUse,
		LotID: t.LotID, BatchID: t.BatchID, Detail: strconv.Itoa(t.Cycles)})
}

func (r writer) CorrectBatch(b inventory.Batch, c inventory.BatchCorrection) (inventory.BatchCorrection, error) {
	out, err := r.Writer.CorrectBatch(b, c)
	return out, r.keep(err, inventory.HistoryEntry{RecordedAt: c.RecordedAt, By: c.By,
		Kind: inventory.HistoryBatchCorrected, BatchID: b.ID, Detail: c.Reason})
}

func (r writer) AddNotice(n inventory.Notice) (inventory.Notice, error) {
	out, err := r.Writer.AddNotice(n)
	return out, r.keep(err, inventory.HistoryEntry{RecordedAt: n.IssuedAt, By: n.IssuedBy, Kind: inventory.HistoryNotice,
		Detail: n.Reference + ", issued"})
}

// SetNoticeSteps keeps the step that was added, which is the last.
func (r writer) SetNoticeSteps(n inventory.Notice) error {
	s := n.Steps[len(n.Steps)-1]
	return r.keep(r.Writer.SetNoticeSteps(n), inventory.HistoryEntry{RecordedAt: s.RecordedAt, By: s.By,
		Kind: inventory.HistoryNotice, Station: s.Station, BatchID: s.BatchID,
		Detail: n.Reference + ", " + string(s.Kind) + ": " + cmp.Or(s.Text, strconv.Itoa(s.Held))})
}

func (r writer) SetNoticeOutcome(n inventory.Notice) error {
	return r.keep(r.Writer.SetNoticeOutcome(n), inventory.HistoryEntry{RecordedAt: n.EndedAt, By: n.EndedBy,
		Kind: inventory.HistoryNotice, Detail: n.Reference + ", " + string(n.Status)})
}

func (r writer) AddDelivery(d inventory.Delivery) (inventory.Delivery, error) {
	out, err := r.Writer.AddDelivery(d)
	return out, r.keep(err, r.of(inventory.HistoryDelivery, d.Place, inventory.HistoryEntry{RecordedAt: d.StartedAt,
		By: d.StartedBy, Detail: "begun"}))
}

// SetDelivery keeps the end of a delivery: the scans in between are a list
// being made, and what comes of it is movements.
func (r writer) SetDelivery(d inventory.Delivery) error {
	err := r.Writer.SetDelivery(d)
	if d.EndedAt == 0 {
		return err
	}
	return r.keep(err, r.of(inventory.HistoryDelivery, d.Place, inventory.HistoryEntry{RecordedAt: d.EndedAt,
		By: d.EndedBy, Detail: string(d.Status)}))
}

func (r writer) AddDocument(d inventory.Document) (inventory.Document, error) {
	out, err := r.Writer.AddDocument(d)
	return out, r.keep(err, documentEntry(out, out.OpenedAt, out.OpenedBy))
}

// SetDocument keeps each step of a transfer, and the end of a count: what is counted in between is a list being made,
// and what comes of it is movements.
func (r writer) SetDocument(d inventory.Document) error {
	err := r.Writer.SetDocument(d)
	if d.Kind == inventory.DocCount && d.EndedAt == 0 {
		return err
	}
	return r.keep(err, documentEntry(d, d.EndedAt, d.EndedBy))
}

func documentEntry(d inventory.Document, at inventory.Instant, by string) inventory.HistoryEntry {
	return inventory.HistoryEntry{RecordedAt: at, By: by, Kind: inventory.HistoryKind(d.Kind), Station: d.Station,
		Place: d.Place, Detail: strconv.FormatInt(cmp.Or(d.Of, d.ID), 10) + ", " + d.Status}
}

func (r writer) AddBalanceCheck(c inventory.BalanceCheck) (inventory.BalanceCheck, error) {
	out, err := r.Writer.AddBalanceCheck(c)
	return out, r.keep(err, r.of(inventory.HistoryBalance, c.Place, BalanceEntry(c)))
}

// BalanceEntry is what the history tells of a balance check, where it is apart.
func BalanceEntry(c inventory.BalanceCheck) inventory.HistoryEntry {
	detail := c.Item + ", " + strconv.Itoa(c.Counted) + " counted, " + strconv.Itoa(c.Expected) + " expected"
	return inventory.HistoryEntry{Kind: inventory.HistoryBalance, Place: c.Place, RecordedAt: c.RecordedAt, By: c.By,
		Person: c.Witness, Detail: detail}
}

func (r writer) AddDiscrepancy(d inventory.Discrepancy) (inventory.Discrepancy, error) {
	out, err := r.Writer.AddDiscrepancy(d)
	return out, r.keep(err, r.of(inventory.HistoryDiscrepancy, d.Place, inventory.HistoryEntry{RecordedAt: d.OpenedAt,
		By: d.OpenedBy, Detail: d.Item + ", " + d.Text.String()}))
}

func (r writer) CloseDiscrepancy(d inventory.Discrepancy) error {
	return r.keep(r.Writer.CloseDiscrepancy(d), r.of(inventory.HistoryDiscrepancyClosed, d.Place,
		inventory.HistoryEntry{RecordedAt: d.ClosedAt, By: d.ClosedBy, Person: d.Witness,
			Detail: d.Item + ", " + d.Outcome}))
}

func (r writer) AddEntrySignature(x inventory.EntrySignature) error {
	d := inventory.HistoryEntry{RecordedAt: x.RecordedAt, By: x.Person, Kind: inventory.HistorySigned}
	if m, err := r.Movement(x.Movement); err == nil {
		d = SignedEntry(x, m)
	}
	return r.keep(r.Writer.AddEntrySignature(x), d)
}

// SignedEntry is what the history tells of a signature for a movement.
func SignedEntry(x inventory.EntrySignature, m inventory.Movement) inventory.HistoryEntry {
	return inventory.HistoryEntry{Kind: inventory.HistorySigned, RecordedAt: x.RecordedAt, By: x.Person,
		Station: m.Station, Place: m.From, OtherPlace: m.To, LotID: m.IntoLotID}
}
