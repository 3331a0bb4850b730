package inventory

import "slices"

// Action is something that a role may or may not do. Every route of the API and every page names one.
type Action string

// The actions.
const (
	ActOpen    Action = "open"    // answered without sign-in: health, sign-in, one-time links, styles
	ActAccount Action = "account" // one's own PIN or password and sessions; people only
	// bags, checklists, readiness, lots, lists and what lies on a shelf of one's stations
	ActSee          Action = "see"
	ActCheck        Action = "check"          // record checks and uses
	ActStop         Action = "out_of_service" // take a bag or vehicle out of service
	ActKeepStock    Action = "keep_stock"     // receive, move, restock, decide, close observations
	ActKeepLists    Action = "keep_lists"     // items, products, kit lists, places, bags
	ActKeepStations Action = "keep_stations"  // stations and categories
	ActOrder        Action = "order"          // draft, send and close orders
	ActReport       Action = "report"         // shortage report and its exports
	ActHistory      Action = "history"        // movements, traces, who did what
	ActLabel        Action = "label"          // print labels
	ActKeepPeople   Action = "keep_people"    // people, tokens and terminals
)

// Reach is where a role may do an action.
type Reach int

// The reaches. A quartermaster or manager who belongs to no station by name belongs to all of them; crew never do.
// What belongs to no station, such as an item, is within both.
const (
	Nowhere    Reach = iota
	OwnStation       // at the stations that one belongs to
	AnyStation
)

// access is the table of who may do what and where: crew, quartermaster, manager, administrator. What is not in it is
// refused, and a program whose routes name anything else does not start.
var access = map[Action][4]Reach{
	ActOpen:         {AnyStation, AnyStation, AnyStation, AnyStation},
	ActAccount:      {AnyStation, AnyStation, AnyStation, AnyStation},
	ActSee:          {OwnStation, OwnStation, OwnStation, AnyStation},
	ActCheck:        {OwnStation, OwnStation, Nowhere, AnyStation},
	ActStop:         {OwnStation, OwnStation, Nowhere, AnyStation},
	ActKeepStock:    {Nowhere, OwnStation, Nowhere, AnyStation},
	ActKeepLists:    {Nowhere, OwnStation, Nowhere, AnyStation},
	ActKeepStations: {Nowhere, Nowhere, Nowhere, AnyStation},
	ActOrder:        {Nowhere, OwnStation, OwnStation, AnyStation},
	ActReport:       {Nowhere, OwnStation, OwnStation, AnyStation},
	ActHistory:      {Nowhere, OwnStation, OwnStation, AnyStation},
	ActLabel:        {Nowhere, OwnStation, OwnStation, AnyStation},
	ActKeepPeople:   {Nowhere, Nowhere, Nowhere, AnyStation},
}

// Actions lists every action, for tests that walk the table.
var Actions = []Action{ActOpen, ActAccount, ActSee, ActCheck, ActStop, ActKeepStock, ActKeepLists, ActKeepStations,
	ActOrder, ActReport, ActHistory, ActLabel, ActKeepPeople}

// ReachOf tells where a role may do an action.
func ReachOf(r Role, a Action) Reach {
	if i := slices.Index(Roles, r); i >= 0 {
		return access[a][i]
	}
	if a == ActOpen { // a stranger
		return AnyStation
	}
	return Nowhere
}

// May tells whether a role may do an action somewhere.
func May(r Role, a Action) bool { return ReachOf(r, a) != Nowhere }

// May tells whether the actor may do an action somewhere: the role may, and
// the token, where it is narrowed, names the action.
func (a Actor) May(act Action) bool {
	return May(a.Role, act) && (len(a.Scope) == 0 || act == ActOpen || slices.Contains(a.Scope, act))
}

// WithoutScope returns the actor without what keeps a token to some actions: what a
// write answers with belongs to it, also for a program that may only write.
func (a Actor) WithoutScope() Actor {
	a.Scope = nil
	return a
}

// At tells whether the actor belongs to a station. Stations that are named narrow
// everybody, so that a token can be kept to a station.
func (a Actor) At(station string) bool {
	if len(a.Stations) > 0 {
		return slices.Contains(a.Stations, station)
	}
	return a.Role == Administrator || a.Role == Manager || a.Role == Quartermaster
}

// Admit refuses who may not do an action anywhere: the one door of API, pages and use cases. Refuses: SignedOut,
// Forbidden.
func Admit(a Actor, act Action) error {
	switch {
	case act == ActOpen:
		return nil
	case a.Name == "":
		return Refuse(SignedOut, "sign in first")
	case a.Program && act == ActAccount:
		return Refuse(Forbidden, "sign in first")
	case !May(a.Role, act):
		return Refuse(Forbidden, "not allowed for your role")
	case !a.May(act):
		return Refuse(Forbidden, "not allowed for this token")
	}
	return nil
}

// Must refuses an action at a station; no station for what belongs to none. Refuses: SignedOut, Forbidden.
func (a Actor) Must(act Action, station string) error {
	if err := Admit(a, act); err != nil {
		return err
	}
	if station != "" && !a.At(station) {
		return ErrNotYours()
	}
	return nil
}

// ErrNotYours is the Forbidden error about what belongs to a station that is not the actor's.
func ErrNotYours() error { return Refuse(Forbidden, "not one of your stations") }

// SharesStation tells whether a person belongs to a station of the actor's.
func (a Actor) SharesStation(p Person) bool {
	seen := a.StationsSeen()
	return len(seen) == 0 || len(p.Stations) == 0 || slices.ContainsFunc(p.Stations,
		func(s string) bool { return slices.Contains(seen, s) })
}

// Narrow keeps a filter on stations within the actor's own. Refuses: Forbidden.
func (a Actor) Narrow(stations []string) ([]string, error) {
	if len(stations) == 0 {
		return a.StationsSeen(), nil
	}
	for _, station := range stations {
		if !a.At(station) {
			return nil, ErrNotYours()
		}
	}
	return stations, nil
}

// StationsSeen narrows a list to the actor's stations; nil means every station. Who
// must belong to a station and belongs to none sees none.
func (a Actor) StationsSeen() []string {
	if len(a.Stations) == 0 && !a.At("") {
		return []string{""} // no station has this code
	}
	return a.Stations
}
