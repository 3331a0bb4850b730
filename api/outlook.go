package api

import (
	"stowkeeper/inventory"
	"stowkeeper/inventory/lists"
)

// Asking says what day a reading is about.
type Asking struct {
	AsOf        string `query:"as_of" format:"date" doc:"Judge today's stock on this day; default: today"`
	HorizonDays int    `query:"horizon_days" minimum:"0" maximum:"3660" default:"30" doc:"How many days ahead to look"`
}

func (a Asking) ask() (lists.Outlook, error) {
	day, err := queryDay("as_of", a.AsOf)
	return lists.Outlook{AsOf: day, Horizon: a.HorizonDays}, err
}

// queryDay reads a day of the query; empty is none.
func queryDay(name, text string) (inventory.Day, error) {
	var d inventory.Day
	if d.UnmarshalText([]byte(text)) != nil {
		return 0, invalid("query", name, "give a day that exists as YYYY-MM-DD, years 1900 to 2199")
	}
	return d, nil
}
