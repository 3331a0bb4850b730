package web

import (
	"context"
	"net/url"
	"slices"
	"strconv"
	"strings"

	"stowkeeper/inventory"
	"stowkeeper/inventory/message"
	"stowkeeper/inventory/transfer"
)

type transfersPage struct {
	Base
	Stations   []NavLink
	Open, Rest []TransferRow
	From, To   Field
	Rows       []AskFields
	Note       Field
}

// TransferRow is a transfer in a list.
type TransferRow struct {
	Href     string
	N        int64
	From, To string
	Units    int
	Missing  int
	Status   message.Message
	Differs  bool
	LastAt   When
}

// AskFields ask for units of an item.
type AskFields struct{ Item, Lot, Qty Field }

var transferWords = map[transfer.Status]message.Message{transfer.Asked: message.M("to send"),
	transfer.Sent: message.M("in transit"), transfer.Missing: message.M("missing"),
	transfer.Received: message.M("received"), transfer.Cancelled: message.M("cancelled")}

func transferPath(id int64) string { return "/transfers/" + formatID(id) }

const askPrefix, askRows = "ask.", 3

func (s *server) transfersForm(v *visit, f *form, failed error) error {
	only, chosen := v.stationsAsked()
	all, err := s.svc.Transfer.Transfers(v.ctx(), v.actor, inventory.DocumentFilter{Stations: only},
		inventory.Page{Limit: 200})
	if err != nil {
		return err
	}
	p := &transfersPage{Base: Base{Title: message.M("Transfers")}, Stations: v.allStationLinks("/transfers", chosen)}
	for _, t := range all {
		row := TransferRow{Href: transferPath(t.ID), N: t.ID, From: v.station(t.Sender).Name,
			To: v.station(t.Receiver).Name, Units: t.Units(), Status: transferWords[t.Status],
			Differs: t.Status == transfer.Missing, LastAt: whenAt(t.Steps[len(t.Steps)-1].At, v.station(t.Sender))}
		if t.Status == transfer.Missing {
			row.Missing = t.Missing()
		}
		if t.Status.Ended() {
			p.Rest = append(p.Rest, row)
		} else {
			p.Open = append(p.Open, row)
		}
	}
	p.From = f.choice("from", message.M("From"), storeOptions(v, inventory.Place{})).Need()
	p.To = f.choice("to", message.M("To"), storeOptions(v, inventory.Place{})).Need()
	options := []Option{}
	for _, it := range v.items() {
		options = append(options, Option{Value: it.Code, Text: message.Plain(it.Name)})
	}
	for i := range max(askRows, len(rowsWith(f, askPrefix, ".item"))) {
		row := askPrefix + strconv.Itoa(i)
		x := AskFields{f.choice(row+".item", message.M("Item"), options), f.field(row+".lot", message.M("Batch")),
			f.numberField(row+".qty", message.M("Quantity"))}
		x.Item.Required, x.Qty.Required = i == 0, i == 0
		p.Rows = append(p.Rows, x)
	}
	p.Note = f.field("note", message.M("Note"))
	return s.renderForm(v, f, p, failed)
}

// storeOptions are the stores of all stations, or those of others that may be sent to from a place.
func storeOptions(v *visit, from inventory.Place) (options []Option) {
	for _, station := range v.everyStation() {
		for _, p := range station.StationPlaces() {
			if p.Kind == inventory.KindStore && !station.Closed() &&
				(from.Code == "" || p.Station != from.Station && p.Purpose == from.Purpose) {
				options = append(options, Option{Value: p.Code, Text: message.Plain(p.Name)})
			}
		}
	}
	return options
}

func (s *server) askTransfer(v *visit, f *form) error {
	in := transfer.TransferRequest{From: f.text("from"), To: f.text("to"), Note: f.text("note")}
	var rows []string
	for _, row := range rowsWith(f, askPrefix, ".item") {
		if f.text(row+".item")+f.text(row+".qty") != "" {
			in.Lines = append(in.Lines, transfer.AskedLine{Item: f.text(row + ".item"), LotID: f.id(row + ".lot"),
				Qty: f.number(row + ".qty")})
			rows = append(rows, row)
		}
	}
	names := lineNames(rows, "")
	f.names = func(path string) string { return strings.Replace(names(path), ".lot_id", ".lot", 1) }
	return s.record(v, f, func(ctx context.Context, by inventory.Actor, _ string) (string, error) {
		t, err := s.svc.Transfer.Ask(ctx, by, in)
		return transferPath(t.ID), err
	})
}

type transferPage struct {
	Base
	Is              transfer.Transfer
	Status          message.Message
	From, To        string // stations
	Asked           []message.Message
	Send, Got       []AwayFields
	Lines           []TransferLineView
	Steps           []StepView
	Scan, Note      Field
	Reason, Why     Field
	Outcome         Field
	Said            message.Message
	More            bool
	Signing, Second *SigningFields
	Arrived         bool // some of it, or all
	MaySend         bool
	MayTake         bool
	MaySettle       bool
	MayCancel       bool
}

// TransferLineView is units that were sent.
type TransferLineView struct {
	transfer.SentLine
	Name, Href string
	Label      message.Message
}

// StepView is what somebody did with a transfer.
type StepView struct {
	transfer.Stage
	What message.Message
	When When
}

var stageWords = map[string]message.Message{"asked": message.M("Requested"), "sent": message.M("Sent"),
	"received": message.M("Received"), "cancelled": message.M("Cancelled"), "found": message.M("Found"),
	"returned": message.M("Returned"), "lost": message.M("Recorded as lost")}

const sendPrefix, gotPrefix = "send.", "got."

func (s *server) transferForm(v *visit, f *form, failed error) error {
	t, err := s.svc.Transfer.Transfer(v.ctx(), v.actor, paramID(v, "transfer"))
	if err != nil {
		return err
	}
	items, at := v.itemsByCode(), v.station(t.Receiver)
	if t.MaySend {
		at = v.station(t.Sender)
	}
	p := &transferPage{Base: Base{Title: message.M("Transfer {1}", t.ID)}, Is: t.Transfer, Status: transferWords[t.Status],
		From: t.FromName, To: t.ToName, Said: f.said,
		MaySend: t.MaySend && t.May("sent") == nil, MayTake: t.MayTake && t.May("received") == nil,
		MaySettle: t.MaySend && t.May("settled") == nil, MayCancel: t.MaySend && t.May("cancelled") == nil}
	for _, a := range t.Asked {
		p.Asked = append(p.Asked, message.M("{1} × {2}", a.Qty, nameOf(items, a.Item)))
	}
	for _, step := range t.Steps {
		p.Steps = append(p.Steps, StepView{step, stageWords[step.Did], whenAt(step.At, at)})
	}
	if p.MaySend {
		p.Send = sendFields(f, t, items)
	}
	for _, l := range t.Lines {
		p.Arrived = p.Arrived || l.Missing() < l.Sent
		row := TransferLineView{SentLine: l, Name: nameOf(items, l.Item), Label: lotLabel(l.BatchNo, l.Serial),
			Href: "/lots/" + formatID(l.LotID)}
		p.Lines = append(p.Lines, row)
		if p.MayTake && l.Missing() > 0 {
			x := AwayFields{Name: row.Name, Label: row.Label, There: l.Missing()}
			x.Qty = f.numberField(gotPrefix+formatID(l.LotID)+".qty", message.M("Quantity: {1}, {2}", x.Name, x.Label))
			p.Got = append(p.Got, x)
		}
	}
	p.Scan = f.field("scan", message.M("Scan pack"))
	p.Scan.Focus = failed == nil && (p.MaySend || p.MayTake)
	p.Note, p.More = f.field("note", message.M("Note")), f.text("more_to_come") != ""
	p.Reason = f.field("reason", message.M("Reason")).Need()
	p.Why = f.field("why", message.M("Reason")).Need()
	p.Outcome = f.choice("outcome", message.M("What happened to the missing units"), []Option{
		{Value: "found", Text: message.M("found at {1}", t.ToName)},
		{Value: "returned", Text: message.M("returned to {1}", t.FromName)},
		{Value: "lost", Text: message.M("lost")}}).Need()
	p.Signing = f.signing(t.Signs)
	p.Second = p.Signing.sentAgain()
	return s.renderForm(v, f, p, failed)
}

// sendFields are the lots to send, filled in first expired first out.
func sendFields(f *form, t transfer.TransferSheet, items map[string]inventory.Item) (out []AwayFields) {
	lots := slices.Clone(t.Stock)
	slices.SortStableFunc(lots, func(a, b inventory.Lot) int {
		return strings.Compare(nameOf(items, a.Item), nameOf(items, b.Item))
	})
	for _, l := range lots {
		x := AwayFields{Name: nameOf(items, l.Item), Label: lotLabel(l.BatchNo, l.Serial), There: t.Held[l.ID]}
		x.Qty = f.numberFrom(sendPrefix+formatID(l.ID)+".qty", message.M("Quantity: {1}, {2}", x.Name, x.Label),
			t.Suggest[l.ID])
		out = append(out, x)
	}
	return out
}

// scanUnit adds what was scanned to the field of its lot, and says what came of it. It returns nil where nothing was
// scanned and the form means to be recorded, and no lot where the scan names none, or several.
func (s *server) scanUnit(v *visit, f *form, prefix string, lots []inventory.Pick) (scanned *inventory.PickScan,
	lot int64, err error) {
	text := f.text("scan")
	if text == "" {
		return nil, 0, nil
	}
	what, err := s.scannedAs(v, text)
	if err != nil {
		return nil, 0, err
	}
	var hit []inventory.Pick
	for _, l := range lots {
		if what.Names(l) {
			hit = append(hit, l)
		}
	}
	if len(hit) != 1 {
		f.said = message.M("No match, or several: enter the quantity below.")
		return &what, 0, nil
	}
	f.values.Del("scan")
	for _, row := range rowsWith(f, prefix, ".qty") {
		// Who scans starts from none: not from what is suggested to send, and what was not scanned did not arrive.
		if prefix == sendPrefix && f.text("scanned") == "" || prefix == gotPrefix && f.text(row+".qty") == "" {
			f.values.Set(row+".qty", "0")
		}
	}
	name := prefix + formatID(hit[0].LotID) + ".qty"
	n, _ := strconv.Atoi(f.text(name)) // what is no number starts again
	f.values.Set(name, strconv.Itoa(n+1))
	f.said = message.M("+1 {1}: now {2}", hit[0].Item, n+1)
	return &what, hit[0].LotID, nil
}

// quantities reads how many units of each lot a form says.
func (f *form) quantities(prefix string) (out []transfer.LotQuantity) {
	var rows []string
	for _, row := range rowsWith(f, prefix, ".qty") {
		out = append(out, transfer.LotQuantity{LotID: idOf(strings.TrimPrefix(row, prefix)),
			Qty: f.number(row + ".qty")})
		rows = append(rows, row)
	}
	f.names = lineNames(rows, "qty")
	return out
}

func (s *server) sendTransfer(v *visit, f *form) error {
	id := paramID(v, "transfer")
	t, err := s.svc.Transfer.Transfer(v.ctx(), v.actor, id)
	if err != nil {
		return err
	}
	var lots []inventory.Pick
	for _, l := range t.Stock {
		lots = append(lots, inventory.Pick{Item: l.Item, LotID: l.ID, BatchNo: l.BatchNo, Serial: l.Serial})
	}
	if scanned, _, err := s.scanUnit(v, f, sendPrefix, lots); scanned != nil || err != nil {
		return orShow(err, func() error { return s.transferForm(v, f, nil) })
	}
	lines := slices.DeleteFunc(f.quantities(sendPrefix), func(q transfer.LotQuantity) bool { return q.Qty == 0 })
	return s.record(v, f, func(ctx context.Context, by inventory.Actor, _ string) (string, error) {
		_, err := s.svc.Transfer.Send(ctx, by, id, lines, f.text("note"))
		return transferPath(id), err
	})
}

func orShow(err error, show func() error) error {
	if err != nil {
		return err
	}
	return show()
}

func (s *server) receiveTransfer(v *visit, f *form) error {
	id := paramID(v, "transfer")
	t, err := s.svc.Transfer.Transfer(v.ctx(), v.actor, id)
	if err != nil {
		return err
	}
	var lots []inventory.Pick
	for _, l := range t.Lines {
		lots = append(lots, inventory.Pick{Item: l.Item, LotID: l.LotID, BatchNo: l.BatchNo, Serial: l.Serial})
	}
	if scanned, _, err := s.scanUnit(v, f, gotPrefix, lots); scanned != nil || err != nil {
		return orShow(err, func() error { return s.transferForm(v, f, nil) })
	}
	in := transfer.Arrival{MoreToCome: f.text("more_to_come") != "", Note: f.text("note")}
	if f.text("do") == "all" {
		for _, l := range t.Lines {
			in.Lines = append(in.Lines, transfer.LotQuantity{LotID: l.LotID, Qty: l.Missing()})
		}
	} else {
		for _, row := range rowsWith(f, gotPrefix, ".qty") {
			if f.text(row+".qty") == "" && !in.MoreToCome {
				f.wrong(row+".qty", message.M("enter a count, 0 for none"))
			}
		}
		in.Lines = f.quantities(gotPrefix)
	}
	return s.record(v, f, func(ctx context.Context, by inventory.Actor, _ string) (string, error) {
		_, err := s.svc.Transfer.Receive(ctx, by, id, in)
		return transferPath(id), err
	})
}

func (s *server) cancelTransfer(v *visit, f *form) error {
	id := paramID(v, "transfer")
	return s.record(v, f, func(ctx context.Context, by inventory.Actor, _ string) (string, error) {
		_, err := s.svc.Transfer.Cancel(ctx, by, id, f.text("reason"))
		return transferPath(id), err
	})
}

func (s *server) resolveTransfer(v *visit, f *form) error {
	id := paramID(v, "transfer")
	in := transfer.Settlement{Outcome: transfer.Outcome(f.text("outcome")), Reason: f.text("why")}
	f.names = func(path string) string { return strings.Replace(path, "reason", "why", 1) }
	return s.record(v, f, func(ctx context.Context, by inventory.Actor, _ string) (string, error) {
		_, err := s.svc.Transfer.Settle(ctx, by, id, in)
		return transferPath(id), err
	})
}

// TransferOffer is what the shortage report would have one station send another, as a form.
type TransferOffer struct {
	From, To string // stores
	Name     string // of the sender's
	Lines    []inventory.Fill
}

// transferOffers gathers what is to come from other stations' stores, by store.
func transferOffers(fill []FillRow, to inventory.Station) (out []TransferOffer) {
	for _, x := range fill {
		if !x.Transfer || x.LotID == 0 {
			continue
		}
		i := slices.IndexFunc(out, func(o TransferOffer) bool { return o.From == x.From })
		if i < 0 {
			i = len(out)
			out = append(out, TransferOffer{From: x.From, To: to.StoreCode(), Name: x.From})
		}
		out[i].Lines = append(out[i].Lines, x.Fill)
	}
	return out
}

func countsPath(place string) string { return "/counts?" + url.Values{"place": {place}}.Encode() }
