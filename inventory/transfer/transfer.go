// Package transfer is units that go from one station to another: asked for, sent, received.
package transfer

import (
	"cmp"
	"encoding/json"
	"slices"

	"stowkeeper/inventory"
)

// Status is how far a transfer has come.
type Status string

// The statuses. Units are in transit, at neither station, while it is sent or missing.
const (
	Asked     Status = "asked"
	Sent      Status = "sent"
	Missing   Status = "missing" // received, and not all of it arrived: its sender records what became of the rest
	Received  Status = "received"
	Cancelled Status = "cancelled"
)

// Ended tells whether nothing is left to do.
func (s Status) Ended() bool { return s == Received || s == Cancelled }

// Outcome is what became of units that did not arrive.
type Outcome string

// The outcomes.
const (
	Found    Outcome = "found"    // at the station that they were sent to, after all
	Returned Outcome = "returned" // to the store that they were sent from
	Lost     Outcome = "lost"
)

// AskedLine is units that a station asks for.
type AskedLine struct {
	Item  string `json:"item" doc:"Item code"`
	LotID int64  `json:"lot_id,omitempty" doc:"These units rather than others"`
	Qty   int    `json:"qty" minimum:"1" maximum:"1000000"`
}

// SentLine is units of one batch that were sent.
type SentLine struct {
	LotID    int64  `json:"lot_id" doc:"Of the units in transit"`
	Item     string `json:"item"`
	BatchNo  string `json:"batch_no,omitempty"`
	Serial   string `json:"serial,omitempty"`
	Sent     int    `json:"sent"`
	Entry    int64  `json:"entry" doc:"The movement that sent them"`
	Hash     string `json:"hash" doc:"Of that movement, in its station's chain"`
	Received int    `json:"received" doc:"Arrived of what was sent, or found later"`
	More     int    `json:"more,omitempty" doc:"Arrived beyond what was sent: found"`
	Returned int    `json:"returned,omitempty"`
	Lost     int    `json:"lost,omitempty"`
}

// Missing is how many units of a line are in transit.
func (l SentLine) Missing() int { return l.Sent - l.Received - l.Returned - l.Lost }

// Stage is one thing that somebody did with a transfer.
type Stage struct {
	Did  string            `json:"did" enum:"asked,sent,received,cancelled,found,returned,lost"`
	At   inventory.Instant `json:"at" format:"date-time"`
	By   string            `json:"by"`
	Note string            `json:"note,omitempty"`
}

// Transfer is units that one station sends to another. From is a store of the sender and To one of the receiver.
type Transfer struct {
	ID       int64       `json:"id"`
	From     string      `json:"from" doc:"Place code"`
	To       string      `json:"to" doc:"Place code"`
	Sender   string      `json:"sender" doc:"Station code"`
	Receiver string      `json:"receiver" doc:"Station code"`
	Transit  string      `json:"transit,omitempty" doc:"Code of its own place, once it is sent"`
	Status   Status      `json:"status" enum:"asked,sent,missing,received,cancelled"`
	Asked    []AskedLine `json:"asked"`
	Lines    []SentLine  `json:"lines"`
	Steps    []Stage     `json:"steps"`
}

// Missing is how many units are in transit.
func (t Transfer) Missing() int {
	n := 0
	for _, l := range t.Lines {
		n += l.Missing()
	}
	return n
}

// Units is how many units were asked for, or sent once they are.
func (t Transfer) Units() int {
	n := 0
	for _, l := range t.Lines {
		n += l.Sent
	}
	for _, a := range t.Asked {
		if len(t.Lines) == 0 {
			n += a.Qty
		}
	}
	return n
}

// line finds the units of a transfer by their lot.
func (t *Transfer) line(lot int64) *SentLine {
	i := slices.IndexFunc(t.Lines, func(l SentLine) bool { return l.LotID == lot })
	if i < 0 {
		return nil
	}
	return &t.Lines[i]
}

// May refuses a step that a transfer does not allow as it stands: sent once, received by its receiver until all of it
// is there or said to be missing, cancelled before anything arrived, and settled once something is missing. Refuses:
// Conflict.
func (t Transfer) May(did string) error {
	arrived := slices.ContainsFunc(t.Lines, func(l SentLine) bool { return l.Received+l.More > 0 })
	switch {
	case t.Status == Cancelled:
		return inventory.Refuse(inventory.Conflict, "transfer {1} is cancelled", t.ID)
	case t.Status == Received, t.Status == Missing && did == "received":
		return inventory.Refuse(inventory.Conflict, "transfer {1} is received already", t.ID)
	case did == "sent" && t.Status != Asked:
		return inventory.Refuse(inventory.Conflict, "transfer {1} is sent already", t.ID)
	case did == "received" && t.Status == Asked:
		return inventory.Refuse(inventory.Conflict, "transfer {1} is not sent yet", t.ID)
	case did == "cancelled" && (arrived || t.Status == Missing):
		return inventory.Refuse(inventory.Conflict, "transfer {1} is received already", t.ID)
	case did == "settled" && t.Status != Missing:
		return inventory.Refuse(inventory.Conflict, "nothing of transfer {1} is missing", t.ID)
	}
	return nil
}

// document is the transfer as it is kept.
func (t Transfer) document() (inventory.Document, error) {
	body, err := json.Marshal(t)
	first := t.Steps[0]
	d := inventory.Document{ID: t.ID, Kind: inventory.DocTransfer, Station: t.Sender, Other: t.Receiver,
		Place: t.Transit, Status: string(t.Status), OpenedAt: first.At, OpenedBy: first.By, Body: string(body)}
	if last := t.Steps[len(t.Steps)-1]; t.Status.Ended() {
		d.EndedAt, d.EndedBy = last.At, last.By
	}
	return d, err
}

// of reads a transfer. Refuses: NotFound for another document.
func of(d inventory.Document, err error) (Transfer, error) {
	var t Transfer
	if err == nil && d.Kind != inventory.DocTransfer {
		err = inventory.Refuse(inventory.NotFound, "not found")
	}
	if err != nil {
		return t, err
	}
	err = json.Unmarshal([]byte(d.Body), &t)
	t.ID = d.ID
	return t, err
}

// Receipt is what a station received of a transfer, a fact of its own chain: each line with the hash of the entry
// that sent it.
type Receipt struct {
	Lines []ReceiptLine `json:"lines"`
	Note  string        `json:"note,omitempty"`
}

// ReceiptLine is units that arrived.
type ReceiptLine struct {
	LotID   int64  `json:"lot_id"`
	Qty     int    `json:"qty"`
	Sending string `json:"sending" doc:"Hash of the entry that sent them"`
}

// Suggested is how many units of each lot in a store to send for what was asked: the lot that was named first, then
// first expired first out, by lot. day is that of arrival; nothing that is past its date by then or recalled is sent.
func Suggested(asked []AskedLine, held []inventory.Stock, items map[string]inventory.Item, day inventory.Day,
	purpose inventory.Purpose) map[int64]int {
	out := map[int64]int{}
	lots := slices.DeleteFunc(slices.Clone(held), func(st inventory.Stock) bool {
		return !inventory.Usable(items[st.Lot.Item], st.Lot, day, purpose)
	})
	slices.SortFunc(lots, func(a, b inventory.Stock) int {
		return inventory.PickOrder(a.Lot, b.Lot, inventory.UsableThrough(items[a.Lot.Item], a.Lot, day),
			inventory.UsableThrough(items[b.Lot.Item], b.Lot, day))
	})
	for _, named := range []bool{true, false} {
		for _, a := range asked {
			want := a.Qty
			if !named && a.LotID != 0 {
				want -= out[a.LotID]
			}
			if named && a.LotID == 0 {
				continue
			}
			for _, st := range lots {
				if n := min(want, st.Qty-out[st.Lot.ID]); n > 0 && cmp.Or(a.LotID, st.Lot.ID) == st.Lot.ID &&
					st.Lot.Item == a.Item && (named || a.LotID == 0) {
					out[st.Lot.ID] += n
					want -= n
				}
			}
		}
	}
	return out
}
