package inventory

// PublishedList is a kit list that somebody published: a starting point for a
// list of one's own. Its numbers are facts; using it claims no compliance with
// anything. Whether it still holds is for its user to find out.
type PublishedList struct {
	ID       string          `json:"id"`
	Standard string          `json:"standard" doc:"The standard or law that it stands in, with its edition"`
	Title    string          `json:"title"`
	Kit      string          `json:"kit" doc:"Which kit of it"`
	Source   string          `json:"source" doc:"Where it was read"`
	Validity string          `json:"validity" doc:"What is known of how long it holds"`
	Items    []PublishedItem `json:"items"`
}

// PublishedItem is one line of a published list. Quantity 0 means that it asks
// for it to be present and gives no number.
type PublishedItem struct {
	Name string `json:"name"`
	Qty  int    `json:"qty,omitempty" doc:"The least number; left out where the list gives none"`
	Unit string `json:"unit"`
	Note string `json:"note,omitempty"`
}

// Line is a line that asks for what a published one asks for: the least number
// is what is wanted and what stops.
func (p PublishedItem) Line(item string) Line {
	if p.Qty == 0 {
		return Line{Item: item, PresenceOnly: true}
	}
	return Line{Item: item, Par: p.Qty, Minimum: p.Qty}
}
