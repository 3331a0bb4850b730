package transfer

import (
	"cmp"
	"context"
	"encoding/json"
	"strconv"

	"stowkeeper/inventory"
	"stowkeeper/inventory/ledger"
	"stowkeeper/inventory/lists"
	"stowkeeper/inventory/scope"
)

// Service keeps transfers between stations.
type Service struct {
	store inventory.Store
	now   inventory.Clock
}

// New returns the service over a store and a clock.
func New(store inventory.Store, now inventory.Clock) *Service {
	return &Service{store: store, now: now}
}

// TransferSheet is a transfer with what its page shows.
type TransferSheet struct {
	Transfer
	FromName string          `json:"from_name"`
	ToName   string          `json:"to_name"`
	MaySend  bool            `json:"-"` // the actor is at its sender's
	MayTake  bool            `json:"-"` // and at its receiver's
	Stock    []inventory.Lot `json:"-"` // of the asked items in the sender's store, while it is asked
	Held     map[int64]int   `json:"-"` // of these
	Suggest  map[int64]int   `json:"-"` // to send, by lot
	Signs    bool            `json:"-"` // it is of a controlled item
}

// TransferRequest asks for units.
type TransferRequest struct {
	From  string      `json:"from" doc:"Code of the store that sends"`
	To    string      `json:"to" doc:"Code of the store that receives"`
	Lines []AskedLine `json:"lines" minItems:"1" maxItems:"100"`
	Note  string      `json:"note,omitempty" maxLength:"2000"`
}

// Ask asks one station's store for units for another's. Refuses: Forbidden without keep_stock at one of the two;
// Invalid by field.
func (s *Service) Ask(ctx context.Context, by inventory.Actor, in TransferRequest) (TransferSheet, error) {
	return inventory.WriteAs(ctx, s.store, by, inventory.ActKeepStock, func(w inventory.Writer) (TransferSheet, error) {
		var ps inventory.Problems
		from, to := storeOf(w, &ps, "from", in.From), storeOf(w, &ps, "to", in.To)
		ps.When(from.Station == to.Station && from.Code != "", "to", "choose another station")
		ps.When(from.Purpose != to.Purpose && from.Code != "" && to.Code != "", "to", "choose stores of one purpose")
		ps.When(len(in.Lines) == 0 || len(in.Lines) > 100, "lines", "enter {1} to {2}", 1, 100)
		inventory.CheckText(&ps, "note", in.Note, false, inventory.MaxNote)
		for i := range in.Lines {
			checkAsked(w, &ps, "lines["+strconv.Itoa(i)+"]", &in.Lines[i])
		}
		if err := ps.Err(); err != nil {
			return TransferSheet{}, err
		}
		if !by.At(from.Station) && !by.At(to.Station) {
			return TransferSheet{}, inventory.ErrNotYours()
		}
		t := Transfer{From: from.Code, To: to.Code, Sender: from.Station, Receiver: to.Station, Status: Asked,
			Asked: in.Lines, Steps: []Stage{{Did: "asked", At: s.now(), By: by.Name, Note: in.Note}}}
		d, err := t.document()
		if err != nil {
			return TransferSheet{}, err
		}
		if d, err = w.AddDocument(d); err != nil {
			return TransferSheet{}, err
		}
		t.ID = d.ID
		return s.viewOf(w, by, t)
	})
}

func storeOf(r inventory.Reader, ps *inventory.Problems, path, code string) inventory.Place {
	pl, err := r.Place(inventory.NormalCode(code))
	if err == nil && pl.Kind == inventory.KindStore {
		station, missing := r.Station(pl.Station)
		if err = cmp.Or(missing, station.MustBeOpen()); err == nil {
			return pl
		}
	}
	ps.Add(path, "choose one of {1}", inventory.KindList(inventory.KindStore))
	return inventory.Place{}
}

func checkAsked(r inventory.Reader, ps *inventory.Problems, path string, a *AskedLine) {
	a.Item = inventory.NormalCode(a.Item)
	if _, err := r.Item(a.Item); err != nil {
		ps.Add(path+".item", "choose the item")
	}
	ps.When(a.Qty < 1 || a.Qty > inventory.MaxQty, path+".qty", "enter {1} to {2}", 1, inventory.MaxQty)
	if lot, err := r.Lot(a.LotID); a.LotID != 0 && (err != nil || lot.Item != a.Item) {
		ps.Add(path+".lot_id", "not found")
	}
}

// change does a step with a transfer that may take it, while others wait. The step is one of its sender's, or of its
// receiver's.
func (s *Service) change(ctx context.Context, by inventory.Actor, id int64, did string, sender bool,
	do func(w inventory.Writer, t *Transfer, u *ledger.Unit) (Stage, error)) (TransferSheet, error) {
	return inventory.WriteAs(ctx, s.store, by, inventory.ActKeepStock, func(w inventory.Writer) (TransferSheet, error) {
		t, err := of(w.LockDocument(id))
		if err != nil {
			return TransferSheet{}, err
		}
		if !by.At(t.Sender) && !by.At(t.Receiver) {
			return TransferSheet{}, inventory.ErrNotYours()
		}
		at := t.Receiver
		if sender {
			at = t.Sender
		}
		if err := cmp.Or(by.Must(inventory.ActKeepStock, at), t.May(did)); err != nil {
			return TransferSheet{}, err
		}
		step, err := do(w, &t, ledger.NewUnit(w, by, s.now(), ledger.TwoSign))
		if err != nil {
			return TransferSheet{}, err
		}
		step.At, step.By = s.now(), by.Name
		t.Steps = append(t.Steps, step)
		d, err := t.document()
		if err == nil {
			err = w.SetDocument(d)
		}
		if err != nil {
			return TransferSheet{}, err
		}
		return s.viewOf(w, by, t)
	})
}

// reference names the transfer in its movements.
func (t Transfer) reference() string { return "transfer " + strconv.FormatInt(t.ID, 10) }

// LotQuantity is a number of units of one lot.
type LotQuantity struct {
	LotID int64 `json:"lot_id"`
	Qty   int   `json:"qty" minimum:"0" maximum:"1000000"`
}

// Send takes units out of the sender's store and puts them on their way, all or none. Refuses: Forbidden without
// keep_stock at the sender's; NotFound; Invalid by field, and where a controlled item lacks signatures; Conflict where
// it is sent already or cancelled, and for what the stock or a rule forbids. Locks the transfer.
func (s *Service) Send(ctx context.Context, by inventory.Actor, id int64, lines []LotQuantity,
	note string) (TransferSheet, error) {
	return s.change(ctx, by, id, "sent", true, func(w inventory.Writer, t *Transfer, u *ledger.Unit) (Stage, error) {
		from, err := w.Place(t.From)
		if err != nil {
			return Stage{}, err
		}
		t.Transit = "TRANSIT-" + strconv.FormatInt(t.ID, 10)
		err = w.AddPlace(inventory.Place{Code: t.Transit, Station: t.Sender, Kind: inventory.KindTransit,
			Purpose: from.Purpose, Name: "Transfer " + strconv.FormatInt(t.ID, 10)})
		if err != nil {
			return Stage{}, err
		}
		var ms []inventory.Movement
		for _, l := range lines {
			if l.Qty != 0 {
				ms = append(ms, inventory.Movement{LotID: l.LotID, Qty: l.Qty, From: t.From, To: t.Transit,
					Reason: inventory.ReasonTransfer, Reference: t.reference()})
			}
		}
		if len(ms) == 0 {
			return Stage{}, inventory.InvalidField("lines", "enter at least one quantity")
		}
		posted, err := u.Post(ms, "lines")
		if err != nil {
			return Stage{}, err
		}
		for _, m := range posted {
			lot, err := w.Lot(m.IntoLotID)
			if err != nil {
				return Stage{}, err
			}
			if t.line(lot.ID) != nil {
				return Stage{}, inventory.InvalidField("lines", "enter each batch once")
			}
			t.Lines = append(t.Lines, SentLine{LotID: lot.ID, Item: lot.Item, BatchNo: lot.BatchNo, Serial: lot.Serial,
				Sent: m.Qty, Entry: m.ID, Hash: m.Hash})
		}
		t.Status = Sent
		return Stage{Did: "sent", Note: note}, checkNote(note, false)
	})
}

func checkNote(note string, required bool) error {
	var ps inventory.Problems
	inventory.CheckText(&ps, "note", note, required, inventory.MaxNote)
	return ps.Err()
}

// Arrival is what a station received.
type Arrival struct {
	Lines      []LotQuantity `json:"lines" maxItems:"1000" doc:"Units that arrived by lot_id; default: none"`
	MoreToCome bool          `json:"more_to_come,omitempty" doc:"The rest is still on its way"`
	Note       string        `json:"note,omitempty" maxLength:"2000" doc:"Required where more arrived than was sent"`
}

// Receive puts what arrived into the receiver's store, what is recalled into its quarantine. What did not arrive stays
// in transit until its sender settles it, or, where more is to come, until it does. What is more than was sent is
// found. Refuses: Forbidden without keep_stock at the receiver's; NotFound; Invalid by field, and where a controlled
// item lacks signatures; Conflict where it is not sent, received already or cancelled. Locks the transfer.
func (s *Service) Receive(ctx context.Context, by inventory.Actor, id int64, in Arrival) (TransferSheet, error) {
	return s.change(ctx, by, id, "received", false, func(w inventory.Writer, t *Transfer, u *ledger.Unit) (Stage, error) {
		receipt := Receipt{Note: in.Note}
		var ms []inventory.Movement
		var ps inventory.Problems
		ps.When(len(in.Lines) == 0, "lines", "enter at least one quantity")
		for i, q := range in.Lines {
			path := "lines[" + strconv.Itoa(i) + "]"
			l := t.line(q.LotID)
			if l == nil {
				ps.Add(path+".lot_id", "not on this transfer")
				continue
			}
			ps.When(q.Qty < 0 || q.Qty > inventory.MaxQty, path+".qty", "enter {1} to {2}", 0, inventory.MaxQty)
			more := max(0, q.Qty-l.Missing())
			ps.When(more > 0 && inventory.OneLine(in.Note) == "", "note", "more than was sent: say why")
			moves, err := arrived(w, *t, q.LotID, min(q.Qty, l.Missing()), more)
			if err != nil {
				return Stage{}, err
			}
			ms = append(ms, moves...)
			l.Received, l.More = l.Received+q.Qty-more, l.More+more
			receipt.Lines = append(receipt.Lines, ReceiptLine{q.LotID, q.Qty, l.Hash})
		}
		ps.Take("", checkNote(in.Note, false))
		if err := ps.Err(); err != nil {
			return Stage{}, err
		}
		if _, err := u.Post(ms, "lines"); err != nil {
			return Stage{}, err
		}
		switch {
		case t.Missing() == 0:
			t.Status = Received
		case !in.MoreToCome:
			t.Status = Missing
		}
		return Stage{Did: "received", Note: in.Note}, s.addReceipt(w, by, *t, receipt)
	})
}

// addReceipt keeps what was received as a fact of the receiver's chain.
func (s *Service) addReceipt(w inventory.Writer, by inventory.Actor, t Transfer, r Receipt) error {
	body, err := json.Marshal(r)
	if err != nil {
		return err
	}
	now := s.now()
	_, err = w.AddDocument(inventory.Document{Kind: inventory.DocTransferReceipt, Of: t.ID, Station: t.Receiver,
		Other: t.Sender, Place: t.To, Status: string(Received), OpenedAt: now, OpenedBy: by.Name, EndedAt: now,
		EndedBy: by.Name, Body: string(body)})
	return err
}

// arrived are the movements of units of a lot into the receiver's store, or its quarantine where they are recalled.
func arrived(r inventory.Reader, t Transfer, lotID int64, qty, more int) ([]inventory.Movement, error) {
	lot, err := r.Lot(lotID)
	if err != nil {
		return nil, err
	}
	to, reason := t.To, inventory.ReasonTransfer
	if len(lot.Withdrawn) > 0 {
		purpose := inventory.ForIssue
		if lot.Training {
			purpose = inventory.ForTraining
		}
		to, reason = inventory.Station{Code: t.Receiver}.QuarantineCode(purpose), inventory.ReasonQuarantine
	}
	var ms []inventory.Movement
	if qty > 0 {
		ms = append(ms, inventory.Movement{LotID: lotID, Qty: qty, From: t.Transit, To: to, Reason: reason,
			Reference: t.reference()})
	}
	if more > 0 {
		ms = append(ms, inventory.Movement{LotID: lotID, Qty: more, From: string(inventory.KindFound), To: to,
			Reason: inventory.ReasonFound, Reference: t.reference()})
	}
	return ms, nil
}

// Cancel takes back a request, or what was sent before any of it arrived, into the sender's store. Refuses: Forbidden
// without keep_stock at the sender's; NotFound; Invalid for the reason, and where a controlled item lacks signatures;
// Conflict where something arrived, or it has ended. Locks the transfer.
func (s *Service) Cancel(ctx context.Context, by inventory.Actor, id int64, reason string) (TransferSheet, error) {
	return s.change(ctx, by, id, "cancelled", true, func(_ inventory.Writer, t *Transfer, u *ledger.Unit) (Stage, error) {
		if err := asReason(checkNote(reason, true)); err != nil {
			return Stage{}, err
		}
		var ms []inventory.Movement
		for i := range t.Lines {
			l := &t.Lines[i]
			ms = append(ms, t.settling(*l, Returned, l.Missing()))
			l.Returned += l.Missing()
		}
		t.Status = Cancelled
		_, err := u.Post(ms, "lines")
		return Stage{Did: "cancelled", Note: reason}, err
	})
}

func asReason(err error) error { return ledger.Renamed(err, "note", "reason") }

// settling is the movement of units that did not arrive to where they turned out to be.
func (t Transfer) settling(l SentLine, o Outcome, qty int) inventory.Movement {
	m := inventory.Movement{LotID: l.LotID, Qty: qty, From: t.Transit, To: t.From, Reason: inventory.ReasonReturn,
		Reference: t.reference()}
	switch o {
	case Found:
		m.To, m.Reason = t.To, inventory.ReasonTransfer
	case Lost:
		m.To, m.Reason, m.Cause = string(inventory.KindLost), inventory.ReasonLost, inventory.CauseMissing
	}
	return m
}

// Settlement is what became of units that did not arrive.
type Settlement struct {
	Outcome Outcome       `json:"outcome" enum:"found,returned,lost" doc:"Found: by the receiver after all"`
	Lines   []LotQuantity `json:"lines,omitempty" maxItems:"1000" doc:"Default: all that is missing"`
	Reason  string        `json:"reason" maxLength:"2000"`
}

// Settle records what became of units that did not arrive: found by the receiver, returned to the sender, or lost.
// Refuses: Forbidden without keep_stock at the sender's; NotFound; Invalid by field, and where a controlled item lacks
// signatures; Conflict where nothing is missing. Locks the transfer.
func (s *Service) Settle(ctx context.Context, by inventory.Actor, id int64, in Settlement) (TransferSheet, error) {
	return s.change(ctx, by, id, "settled", true, func(w inventory.Writer, t *Transfer, u *ledger.Unit) (Stage, error) {
		var ps inventory.Problems
		ps.When(in.Outcome != Found && in.Outcome != Returned && in.Outcome != Lost, "outcome", "choose one of {1}",
			"found, returned, lost")
		ps.Take("", asReason(checkNote(in.Reason, true)))
		if len(in.Lines) == 0 {
			for _, l := range t.Lines {
				in.Lines = append(in.Lines, LotQuantity{l.LotID, l.Missing()})
			}
		}
		var ms []inventory.Movement
		for i, q := range in.Lines {
			path := "lines[" + strconv.Itoa(i) + "]"
			l := t.line(q.LotID)
			if l == nil {
				ps.Add(path+".lot_id", "not on this transfer")
				continue
			}
			ps.When(q.Qty < 0 || q.Qty > l.Missing(), path+".qty", "enter {1} to {2}", 0, l.Missing())
			if q.Qty <= 0 {
				continue
			}
			m := t.settling(*l, in.Outcome, q.Qty)
			m.Note = in.Reason
			if in.Outcome == Found {
				found, err := arrived(w, *t, q.LotID, q.Qty, 0)
				if err != nil {
					return Stage{}, err
				}
				m = found[0]
			}
			ms = append(ms, m)
			count := map[Outcome]*int{Found: &l.Received, Returned: &l.Returned, Lost: &l.Lost}[in.Outcome]
			if count != nil {
				*count += q.Qty
			}
		}
		ps.When(len(ms) == 0 && ps.Err() == nil, "lines", "enter at least one quantity")
		if err := ps.Err(); err != nil {
			return Stage{}, err
		}
		if t.Missing() == 0 {
			t.Status = Received
		}
		_, err := u.Post(ms, "lines")
		return Stage{Did: string(in.Outcome), Note: in.Reason}, err
	})
}

// Transfers lists the transfers from and to the actor's stations, or some of them, newest first: all, or those that
// are open. Refuses: Forbidden without keep_stock, and for a station that is not the actor's; NotFound for a station.
func (s *Service) Transfers(ctx context.Context, by inventory.Actor, f inventory.DocumentFilter,
	p inventory.Page) ([]Transfer, error) {
	return inventory.ReadAs(ctx, s.store, by, inventory.ActKeepStock, func(r inventory.Reader) ([]Transfer, error) {
		seen, err := scope.Narrowed(by, r, f.Stations)
		if err != nil {
			return nil, err
		}
		docs, err := r.Documents(inventory.DocumentFilter{Kind: inventory.DocTransfer, Stations: seen, Open: f.Open}, p)
		out := []Transfer{}
		for _, d := range docs {
			t, wrong := of(d, nil)
			err = cmp.Or(err, wrong)
			out = append(out, t)
		}
		return out, err
	})
}

// Transfer shows one transfer, to its sender and its receiver. Refuses: Forbidden without keep_stock at one of the two;
// NotFound.
func (s *Service) Transfer(ctx context.Context, by inventory.Actor, id int64) (TransferSheet, error) {
	return inventory.ReadAs(ctx, s.store, by, inventory.ActKeepStock, func(r inventory.Reader) (TransferSheet, error) {
		t, err := of(r.Document(id))
		if err == nil && !by.At(t.Sender) && !by.At(t.Receiver) {
			err = inventory.ErrNotYours()
		}
		if err != nil {
			return TransferSheet{}, err
		}
		return s.viewOf(r, by, t)
	})
}

func (s *Service) viewOf(r inventory.Reader, by inventory.Actor, t Transfer) (TransferSheet, error) {
	v := TransferSheet{Transfer: t, MaySend: by.At(t.Sender), MayTake: by.At(t.Receiver), Held: map[int64]int{}}
	if v.Lines == nil {
		v.Lines = []SentLine{}
	}
	from, err := r.Place(t.From)
	to, missing := r.Place(t.To)
	if err := cmp.Or(err, missing); err != nil {
		return v, err
	}
	v.FromName, v.ToName = from.Name, to.Name
	var codes []string
	for _, a := range t.Asked {
		codes = append(codes, a.Item)
	}
	for _, l := range t.Lines {
		codes = append(codes, l.Item)
	}
	items, err := lists.ItemsByCode(r, inventory.ItemFilter{Codes: codes})
	for _, it := range items {
		v.Signs = v.Signs || it.Controlled
	}
	if err != nil || t.Status != Asked || !v.MaySend {
		return v, err
	}
	station, err := r.Station(t.Sender)
	receiver, missing := r.Station(t.Receiver)
	if err := cmp.Or(err, missing); err != nil {
		return v, err
	}
	held, err := r.Stock(inventory.StockFilter{Places: []string{t.From}, Items: codes})
	for _, st := range held {
		v.Held[st.Lot.ID] = st.Qty
		v.Stock = append(v.Stock, st.Lot)
	}
	tomorrow := max(station.Today(s.now()), receiver.Today(s.now())).AddDays(1)
	v.Suggest = Suggested(t.Asked, held, items, tomorrow, from.Purpose)
	return v, err
}
