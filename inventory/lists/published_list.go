package lists

import "stowkeeper/inventory"

// PublishedList is a kit list that somebody published: a starting point for a list of one's own. Its numbers are
// facts; using it claims no compliance with anything. Whether it still holds is for its user to find out.
type PublishedList struct {
	ID       string          `json:"id"`
	Standard string          `json:"standard" doc:"The standard or law"`
	Edition  string          `json:"edition" doc:"Which text of it; undated where it has no date"`
	Title    string          `json:"title"`
	Kit      string          `json:"kit" doc:"Which of its kits"`
	Source   string          `json:"source" doc:"The table or section with the numbers"`
	Read     string          `json:"read" doc:"Where the numbers were read, or: from memory"`
	Validity string          `json:"validity" doc:"What to check before using it"`
	Items    []PublishedItem `json:"items"`
}

// PublishedItem is one line of a published list. Quantity 0 means that it wants the item present and gives no number.
type PublishedItem struct {
	Name string `json:"name"`
	Qty  int    `json:"qty,omitempty" doc:"The least number; absent where the list gives none"`
	Unit string `json:"unit"`
	Note string `json:"note,omitempty"`
}

// Line is a line that needs what a published one needs: the least number is what is wanted and what stops.
func (p PublishedItem) Line(item string) inventory.Line {
	if p.Qty == 0 {
		return inventory.Line{Item: item, PresenceOnly: true}
	}
	return inventory.Line{Item: item, Par: p.Qty, Minimum: p.Qty}
}
