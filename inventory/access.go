package inventory

import "slices"

// Action is something that a role may or may not do. Every route of the API
// and every page names one.
type Action string

// The actions.
const (
	ActOpen       Action = "open"        // answered without sign-in: health, sign-in, styles
	ActSee        Action = "see"         // bags, checklists, readiness, lots, lists and what lies on a shelf of one's sites
	ActCheck      Action = "check"       // record checks and uses
	ActTakeOff    Action = "take_off"    // take a bag off the run
	ActKeepStock  Action = "keep_stock"  // receive, move, restock, decide, close observations
	ActKeepLists  Action = "keep_lists"  // items, products, kit lists, places, bags
	ActKeepSites  Action = "keep_sites"  // sites and categories
	ActReport     Action = "report"      // shortage report and its exports
	ActHistory    Action = "history"     // movements, traces
	ActLabel      Action = "label"       // print labels
	ActKeepPeople Action = "keep_people" // people and tokens
)

// access is the table of who may do what. What is not in it is refused.
var access = map[Action][]Role{
	ActSee:        {Crew, Quartermaster, Manager, Administrator},
	ActCheck:      {Crew, Quartermaster, Administrator},
	ActTakeOff:    {Crew, Quartermaster, Administrator},
	ActKeepStock:  {Quartermaster, Administrator},
	ActKeepLists:  {Quartermaster, Administrator},
	ActKeepSites:  {Administrator},
	ActReport:     {Quartermaster, Manager, Administrator},
	ActHistory:    {Quartermaster, Manager, Administrator},
	ActLabel:      {Quartermaster, Manager, Administrator},
	ActKeepPeople: {Administrator},
}

// Actions lists every action, for tests that walk the table.
var Actions = []Action{ActOpen, ActSee, ActCheck, ActTakeOff, ActKeepStock, ActKeepLists, ActKeepSites, ActReport, ActHistory, ActLabel, ActKeepPeople}

// May tells whether a role may do an action.
func May(r Role, a Action) bool { return a == ActOpen || slices.Contains(access[a], r) }

// must refuses an action at a site.
func (a Actor) must(act Action, site string) error {
	if a.Name == "" {
		return Errorf(SignedOut, "sign in first")
	}
	if !May(a.Role, act) {
		return Errorf(Forbidden, "your role may not do this")
	}
	if site != "" && !a.At(site) {
		return Errorf(Forbidden, "this belongs to a station that is not yours")
	}
	return nil
}
