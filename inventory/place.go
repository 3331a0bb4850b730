package inventory

import "slices"

// PlaceKind is the kind of a place.
type PlaceKind string

// The kinds of place. The last five lie outside the service: one of each,
// bookkeeping only, never shown as places on a page; their code is their kind.
const (
	KindStore PlaceKind = "store"
	KindBag   PlaceKind = "bag"
	// a belt, vest or mount where an item rides exposed, or what one person signed out
	KindCarrier    PlaceKind = "carrier"
	KindQuarantine PlaceKind = "quarantine" // set apart, never counted
	KindAway       PlaceKind = "away"       // left at a hospital, in cleaning, in repair, on loan
	// on the way between two stations: one for each transfer, the sender's; nobody counts what is in it as stock
	KindTransit PlaceKind = "transit"

	KindSupplier PlaceKind = "supplier"
	KindUsed     PlaceKind = "used"
	KindDisposed PlaceKind = "disposed"
	KindLost     PlaceKind = "lost"
	KindFound    PlaceKind = "found"
)

// InsideKinds and OutsideKinds list the kinds of place.
var (
	InsideKinds  = []PlaceKind{KindStore, KindBag, KindCarrier, KindQuarantine, KindAway, KindTransit}
	OutsideKinds = []PlaceKind{KindSupplier, KindUsed, KindDisposed, KindLost, KindFound}
)

// Purpose tells issue stock, fit for patients, from training stock.
type Purpose string

// The two purposes.
const (
	ForIssue    Purpose = "issue"
	ForTraining Purpose = "training"
)

// Place is where stock is; every unit is in exactly one place.
type Place struct {
	Code    string    `json:"code"`
	Station string    `json:"station,omitempty" doc:"Station code; none for a place outside the service"`
	Kind    PlaceKind `json:"kind" enum:"store,bag,carrier,quarantine,away,transit"`
	Purpose Purpose   `json:"purpose" enum:"issue,training"`
	Name    string    `json:"name"`
	Holder  string    `json:"holder,omitempty" doc:"Who has it; never a patient"`
	DueBack Day       `json:"due_back,omitempty" format:"date" doc:"When stock that is away is due back"`
	Vehicle string    `json:"vehicle,omitempty" doc:"For a carrier: the vehicle that it rides on"`
	Version int64     `json:"version" doc:"Goes up with each change; the ETag"`
}

// Outside tells whether the place lies outside the service.
func (p Place) Outside() bool {
	switch p.Kind {
	case KindSupplier, KindUsed, KindDisposed, KindLost, KindFound:
		return true
	}
	return false
}

// OutsidePlace returns the one place of an outside kind.
func OutsidePlace(k PlaceKind) Place { return Place{Code: string(k), Kind: k, Name: string(k)} }

// Check refuses a place that cannot be made by hand: bags come with a kit list, and the places outside exist
// already. Refuses: Invalid by field. Refuses: Invalid by field, Conflict.
func (p Place) Check() error {
	var ps Problems
	CheckCode(&ps, "code", p.Code)
	CheckCode(&ps, "station", p.Station)
	switch p.Kind {
	case KindStore, KindCarrier, KindQuarantine, KindAway:
	case KindBag:
		ps.Add("kind", "add it as a bag, not as a place")
	default:
		ps.Add("kind", "choose one of {1}", "store, carrier, quarantine, away")
	}
	checkPurpose(&ps, p.Purpose)
	CheckText(&ps, "name", p.Name, true, MaxName)
	CheckText(&ps, "holder", p.Holder, false, MaxName)
	CheckText(&ps, "vehicle", p.Vehicle, false, MaxName)
	ps.When(p.Vehicle != "" && p.Kind != KindCarrier, "vehicle", "only for bags and carriers")
	return ps.Err()
}

func checkPurpose(p *Problems, v Purpose) {
	p.When(v != ForIssue && v != ForTraining, "purpose", "choose one of {1}", "issue, training")
}

// OutsideCode tells whether a place code is one of the places outside the service.
func OutsideCode(code string) bool { return slices.Contains(OutsideKinds, PlaceKind(code)) }

// PlaceMove tells that a place stood in the chain of a station until a movement.
type PlaceMove struct {
	Place, Station string
	Until          int64
	At             Instant // when it went on, 0 where a former program kept none
}

// StationThen is the station whose the place was when a movement was recorded, of the moves of all places in order.
func (p Place) StationThen(movement int64, moves []PlaceMove) string {
	for _, m := range moves {
		if m.Place == p.Code && movement <= m.Until {
			return m.Station
		}
	}
	return p.Station
}
