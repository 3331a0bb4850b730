// Package count is counting a shelf: what lies in a place, batch by batch, beside what the records say.
package count

import (
	"cmp"
	"encoding/json"
	"slices"

	"stowkeeper/inventory"
	"stowkeeper/inventory/message"
)

// Status is how far a count has come.
type Status string

// The statuses.
const (
	Open    Status = "open"
	Posted  Status = "posted"
	Dropped Status = "dropped" // given up: it changed nothing
)

// CountedLine is what somebody counted of one lot, and when. The newest count of a lot counts.
type CountedLine struct {
	LotID   int64                 `json:"lot_id"`
	Counted int                   `json:"counted"`
	At      inventory.Instant     `json:"at" format:"date-time" doc:"When it was counted"`
	By      string                `json:"by"`
	Looks   int                   `json:"looks" doc:"How often it was counted: twice where it needed a second look"`
	Reason  inventory.CountReason `json:"reason,omitempty" enum:"used,missing,damaged,expired,found"`
	Note    string                `json:"note,omitempty"`
	Differs int                   `json:"differs,omitempty" doc:"Once accepted: counted more than recorded, or fewer"`
}

// Count is a shelf being counted, kept from its first line on, or that was counted.
type Count struct {
	ID        int64             `json:"id"`
	Place     string            `json:"place" doc:"Place code"`
	Station   string            `json:"station" doc:"Station code"`
	Status    Status            `json:"status" enum:"open,posted,dropped"`
	Shown     bool              `json:"shown" doc:"Whoever counts sees what the records say"`
	StartedAt inventory.Instant `json:"started_at" format:"date-time"`
	StartedBy string            `json:"started_by"`
	EndedAt   inventory.Instant `json:"ended_at,omitempty" format:"date-time"`
	EndedBy   string            `json:"ended_by,omitempty"`
	Lines     []CountedLine     `json:"lines"`
}

func (c Count) document() (inventory.Document, error) {
	body, err := json.Marshal(struct {
		Shown bool          `json:"shown"`
		Lines []CountedLine `json:"lines"`
	}{c.Shown, c.Lines})
	return inventory.Document{ID: c.ID, Kind: inventory.DocCount, Station: c.Station, Place: c.Place,
		Status: string(c.Status), OpenedAt: c.StartedAt, OpenedBy: c.StartedBy, EndedAt: c.EndedAt, EndedBy: c.EndedBy,
		Body: string(body)}, err
}

// of reads a count. Refuses: NotFound for another document.
func of(d inventory.Document, err error) (Count, error) {
	c := Count{ID: d.ID, Place: d.Place, Station: d.Station, Status: Status(d.Status), StartedAt: d.OpenedAt,
		StartedBy: d.OpenedBy, EndedAt: d.EndedAt, EndedBy: d.EndedBy}
	if err == nil && d.Kind != inventory.DocCount {
		err = inventory.Refuse(inventory.NotFound, "not found")
	}
	if err != nil {
		return c, err
	}
	return c, json.Unmarshal([]byte(d.Body), &c)
}

// Flow is units of a lot that came to a place, or left it.
type Flow struct {
	At, Recorded inventory.Instant
	Qty          int
}

// Judged is what a count of a lot says beside the records.
type Judged struct {
	Expected int             // what the records say lay there at the moment of the count
	Differs  int             // more than that, or fewer
	Result   int             // what lies there once the difference is applied to the balance now
	Again    message.Message // why it is to be counted again
}

// Second looks are asked for from a difference of more than so many units that is also more than this share of what
// the records say, in percent: the owner's policy.
const (
	lookUnits = 2
	lookShare = 10
)

// Judge compares a count with the records at its moment, by when things happened: whatever is recorded by now. now is
// the balance. It is to be counted again, at a later moment, where something that happened before the count was
// recorded after it, and where the balance would fall below zero; and a second time where a critical item or many units
// differ.
func Judge(l CountedLine, now int, flows []Flow, critical bool) Judged {
	j := Judged{}
	late := false
	for _, f := range flows {
		if f.At <= l.At {
			j.Expected += f.Qty
			late = late || f.Recorded > l.At
		}
	}
	j.Differs = l.Counted - j.Expected
	j.Result = now + j.Differs
	off := max(j.Differs, -j.Differs)
	switch {
	case j.Result < 0:
		j.Again = message.M("units left meanwhile")
	case late:
		j.Again = message.M("recorded later, dated earlier")
	case l.Looks > 1 || off == 0:
	case critical:
		j.Again = message.M("critical item")
	case off > lookUnits && off*100 > lookShare*j.Expected:
		j.Again = message.M("large difference")
	}
	return j
}

// Kinds are those of the places that are counted.
var Kinds = []inventory.PlaceKind{inventory.KindStore, inventory.KindQuarantine, inventory.KindCarrier}

// Shelf is a place that is counted now and then.
type Shelf struct {
	Place string            `json:"place" doc:"Place code"`
	Name  string            `json:"name"`
	Often bool              `json:"often" doc:"It holds a critical or controlled item: counted twice as often"`
	Last  inventory.Instant `json:"last,omitempty" format:"date-time" doc:"The end of its last count"`
	Due   inventory.Day     `json:"due,omitempty" format:"date" doc:"The last day by which to count it again"`

	today inventory.Day // at its station
	on    inventory.Day // of the last count
}

// Days is how often a place is counted unless the owner says otherwise: once in so many days. One that holds a critical
// or controlled item is counted twice as often.
const Days = 90

// Proposed says which shelves to count this week: all that are due in it, and beyond them as many as it takes each
// week to count every one within period days, so that not all come due at once; those due first, a shelf that was
// never counted before the others.
func Proposed(shelves []Shelf, period int) []Shelf {
	perWeek, counted := 0.0, 0
	var out []Shelf
	for _, s := range shelves {
		every := period
		if s.Often {
			every = max(1, period/2)
		}
		perWeek += 7 / float64(every)
		if s.Last != 0 {
			s.Due = s.on.AddDays(every)
		}
		if s.Last != 0 && s.on > s.today.AddDays(-7) {
			counted++
		}
		if s.Last == 0 || s.on < s.today {
			out = append(out, s)
		}
	}
	slices.SortFunc(out, func(a, b Shelf) int { return cmp.Or(cmp.Compare(a.Due, b.Due), cmp.Compare(a.Place, b.Place)) })
	few := max(1, int(perWeek+0.999)-counted)
	for i, s := range out {
		if i >= few && (s.Last == 0 || s.Due > s.today.AddDays(6)) {
			return out[:i]
		}
	}
	return out
}
