package inventory

import "stowkeeper/inventory/message"

// Conversion is a change of the unit in which an item is counted, with all that is counted in it, as one step.
type Conversion struct {
	ID         int64   `json:"id"`
	Item       string  `json:"item" doc:"Item code"`
	OldUnit    string  `json:"old_unit"`
	NewUnit    string  `json:"new_unit"`
	Old        int     `json:"old" doc:"So many old units …"`
	New        int     `json:"new" doc:"… are so many new ones"`
	Until      int64   `json:"until" doc:"The last movement before it that counts in the old unit, or its own last one"`
	RecordedAt Instant `json:"recorded_at" format:"date-time"`
	By         string  `json:"by"`
	Witness    string  `json:"witness,omitempty"`
	Reason     string  `json:"reason"`
}

// Renames tells whether the unit is only called otherwise: no number changes.
func (c Conversion) Renames() bool { return c.Old == c.New }

// Of returns how many new units so many old ones are, and whether that is whole.
func (c Conversion) Of(qty int) (int, bool) { return qty * c.New / c.Old, qty*c.New%c.Old == 0 }

// Text says in words what is converted to what.
func (c Conversion) Text() message.Message {
	return message.M("{1} {2} = {3} {4}", c.Old, c.OldUnit, c.New, c.NewUnit)
}

// InOldUnit refuses to correct a movement of an item that was recorded before its unit changed, and to record what
// happened before that: its number would be taken for one of the new unit. now is when it is recorded. Refuses:
// Conflict.
func InOldUnit(all []Conversion, item string, m Movement, at, now Instant) error {
	for _, c := range all {
		if c.Item == item && !c.Renames() && (m.ID != 0 && m.ID <= c.Until || at != 0 && at < now && at < c.RecordedAt) {
			return Refuse(Conflict, "from before the unit changed, {1}: record it as of now instead", c.Text())
		}
	}
	return nil
}

// UsageIn is past usage of an item in the new unit. Months need not come out whole: what one of them lacks goes into
// the next, so that the sum of a station stays right. Rows are by station and period.
func (c Conversion) UsageIn(rows []PastUsage) []PastUsage {
	var out []PastUsage
	old, done := 0, 0
	for i, u := range rows {
		if i == 0 || rows[i-1].Station != u.Station {
			old, done = 0, 0
		}
		old += u.Qty
		u.Qty = (2*old*c.New+c.Old)/(2*c.Old) - done
		done += u.Qty
		out = append(out, u)
	}
	return out
}
