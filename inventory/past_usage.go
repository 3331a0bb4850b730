package inventory

// PastUsage is what a station used of an item in a month or on a day, as it knows from before it kept its stock here.
// It is history for working out demand and touches no stock.
type PastUsage struct {
	Station string `json:"station"`
	Item    string `json:"item"`
	Period  string `json:"period" doc:"YYYY-MM or YYYY-MM-DD"`
	Qty     int    `json:"qty" minimum:"0" maximum:"1000000"`
}

// UsageFilter narrows a list of past usage; empty fields do not narrow.
type UsageFilter struct {
	Stations []string
	Item     string
}

// Check refuses past usage whose fields do not make sense, or that lies ahead. Refuses: Invalid by field.
func (u PastUsage) Check(today Day) error {
	var p Problems
	CheckCode(&p, "station", u.Station)
	CheckCode(&p, "item", u.Item)
	first, err := ParseMade(u.Period) // a month begins on its first day
	p.When(err != nil, "period", "enter a date like 2027-06 or 2027-06-14")
	p.When(first > today, "period", "enter a past time")
	p.When(u.Qty < 0 || u.Qty > MaxQty, "qty", "enter {1} to {2}", 0, MaxQty)
	return p.Err()
}
