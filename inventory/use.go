package inventory

import (
	"strconv"

	"stowkeeper/inventory/amount"
	"stowkeeper/inventory/message"
)

// Use is what an incident consumed from a bag.
type Use struct {
	ID            int64           `json:"id"`
	Bag           string          `json:"bag"`
	Incident      string          `json:"incident" doc:"Incident reference; never patient data"`
	HappenedAt    Instant         `json:"happened_at" format:"date-time"`
	RecordedAt    Instant         `json:"recorded_at" format:"date-time"`
	By            string          `json:"by"`
	SentBy        string          `json:"sent_by,omitempty" doc:"Who sent it: by is said to be so, not confirmed"`
	SeenPosition  int64           `json:"seen_position" doc:"The bag's position that the crew saw"`
	SealSeen      string          `json:"seal_seen,omitempty"`
	SealSet       string          `json:"seal_set,omitempty"`
	Lines         []UseLine       `json:"lines"`
	Note          string          `json:"note,omitempty"`
	Status        RecordStatus    `json:"status" enum:"accepted,to_review,rejected,withdrawn"`
	ReviewBecause message.Message `json:"review_because,omitempty"`
	Decision      *Decision       `json:"decision,omitempty"`
}

// Whose says whose it is, or is said to be.
func (u Use) Whose() message.Message { return Whose(u.By, u.SentBy) }

// UseLine is what was used of one lot.
type UseLine struct {
	LotID    int64  `json:"lot_id"`
	Qty      int    `json:"qty" minimum:"1" maximum:"10000"`
	CameFrom string `json:"came_from,omitempty" doc:"The bag that it was taken from, when it was another one"`

	Given  amount.Amount `json:"given,omitempty" minimum:"0" doc:"For controlled items, in the unit of the content"`
	Wasted amount.Amount `json:"wasted,omitempty" minimum:"0" doc:"With given it is all that the units held"`
}

// UseShape refuses a use that no state of the bag could make right. Refuses: Invalid by field.
func UseShape(u Use) error {
	var ps Problems
	CheckText(&ps, "incident", u.Incident, true, MaxName)
	CheckText(&ps, "seal_seen", u.SealSeen, false, 40)
	CheckText(&ps, "seal_set", u.SealSet, false, 40)
	CheckText(&ps, "note", u.Note, false, MaxNote)
	ps.When(len(u.Lines) == 0 || len(u.Lines) > 500, "lines", "enter {1} to {2}", 1, 500)
	for i, l := range u.Lines {
		path := "lines[" + strconv.Itoa(i) + "]"
		ps.When(l.Qty < 1 || l.Qty > MaxLineQty, path+".qty", "enter {1} to {2}", 1, MaxLineQty)
		CheckText(&ps, path+".given", string(l.Given), false, 40)
		CheckText(&ps, path+".wasted", string(l.Wasted), false, 40)
		if l.CameFrom != "" {
			CheckCode(&ps, path+".came_from", l.CameFrom)
		}
	}
	return ps.Err()
}

// UseMovements turns the lines of a use into movements. contents are what units hold, by lot.
func UseMovements(u Use, contents map[int64]amount.Content) []Movement {
	out := make([]Movement, 0, len(u.Lines))
	for _, l := range u.Lines {
		m := Movement{LotID: l.LotID, Qty: l.Qty, From: u.Bag, To: string(KindUsed), Reason: ReasonUsed,
			HappenedAt: u.HappenedAt, Reference: u.Incident,
			Note: amount.Parts{Given: l.Given, Wasted: l.Wasted}.Note(contents[l.LotID].Unit)}
		if l.CameFrom != "" {
			m.From = l.CameFrom
			m.Note = WithNote(m.Note, "taken by the crew of bag "+u.Bag)
		}
		out = append(out, m)
	}
	return out
}
