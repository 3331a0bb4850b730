package inventory

// Bag is a place with a kit list, a printed label, a seal and checks.
type Bag struct {
	Code           string        `json:"code" doc:"Also the code of its place and of its label"`
	Station        string        `json:"station" doc:"The station that owns it"`
	AtStation      string        `json:"at_station" doc:"The station where it is and whose crews check it"`
	Name           string        `json:"name"`
	KitList        string        `json:"kit_list"`
	KitListVersion int           `json:"kit_list_version" doc:"Kept until a restock or a quartermaster moves it"`
	Priority       int           `json:"priority" minimum:"1" maximum:"9" doc:"1 is filled first"`
	Purpose        Purpose       `json:"purpose" enum:"issue,training"`
	Vehicle        string        `json:"vehicle,omitempty" doc:"The vehicle that it rides on"`
	Inside         string        `json:"inside,omitempty" doc:"The bag that it is a module of"`
	OutOfService   *ServicePause `json:"out_of_service,omitempty" doc:"By a person, with a reason"`
	RetiredAt      Instant       `json:"retired_at,omitempty" format:"date-time" doc:"When it was retired"`
	RetiredBy      string        `json:"retired_by,omitempty"`
	Successor      string        `json:"successor,omitempty" doc:"Code of the bag that took its place"`
	Version        int64         `json:"version" doc:"Goes up with each change; the ETag"`

	BagRecord
}

// ServicePause says who took a bag or vehicle out of service, when and why.
type ServicePause struct {
	Reason     string  `json:"reason"`
	By         string  `json:"by"`
	RecordedAt Instant `json:"recorded_at" format:"date-time"`
}

// BagRecord is what the ledger, the checks and the seal log say of a bag. Only use cases change it.
type BagRecord struct {
	Position      int64     `json:"position" doc:"Goes up with each change of stock, seal or list"`
	Seal          string    `json:"seal,omitempty" doc:"Number of the seal that should be on it"`
	SealState     SealState `json:"seal_state,omitempty" enum:"intact,broken,different"`
	SealSeenAt    Instant   `json:"seal_seen_at,omitempty" format:"date-time" doc:"When the seal was last set or seen"`
	LastSealCheck Instant   `json:"last_seal_check,omitempty" format:"date-time"`
	LastFullCheck Instant   `json:"last_full_check,omitempty" format:"date-time"`
	LastUse       Instant   `json:"last_use,omitempty" format:"date-time"`
	LastRestock   Instant   `json:"last_restock,omitempty" format:"date-time"`
}

// Check refuses a bag whose fields do not make sense. Refuses: Invalid by field.
func (b Bag) Check() error {
	var p Problems
	CheckCode(&p, "code", b.Code)
	CheckCode(&p, "station", b.Station)
	CheckText(&p, "name", b.Name, true, MaxName)
	CheckCode(&p, "kit_list", b.KitList)
	p.When(b.Priority < 1 || b.Priority > 9, "priority", "enter {1} to {2}", 1, 9)
	checkPurpose(&p, b.Purpose)
	CheckText(&p, "vehicle", b.Vehicle, false, MaxName)
	p.When(b.Inside != "" && b.Inside == b.Code, "inside", "choose another bag")
	p.When(b.Successor != "" && !b.Retired(), "successor", "only a retired bag has a successor")
	p.When(b.Successor != "" && b.Successor == b.Code, "successor", "choose another bag")
	if b.OutOfService != nil {
		CheckText(&p, "out_of_service.reason", b.OutOfService.Reason, true, MaxNote)
	}
	return p.Err()
}

// Place returns the bag as a place of the ledger. Its chain is that of the owning station, also while it is lent.
func (b Bag) Place() Place {
	return Place{Code: b.Code, Station: b.Station, Kind: KindBag, Purpose: b.Purpose, Name: b.Name}
}

// Retire takes a bag out of service, or brings it back.
func (b Bag) Retire(out bool, by Actor, now Instant) Bag {
	switch {
	case !out:
		b.RetiredAt, b.RetiredBy, b.Successor = 0, "", ""
	case !b.Retired():
		b.RetiredAt, b.RetiredBy = now, by.Name
	}
	return b
}

// Retired tells whether the bag is out of service. It keeps its code, its label's address and its history, and is
// left out of boards, reports and lists.
func (b Bag) Retired() bool { return b.RetiredAt != 0 }
