package lists

import (
	"stowkeeper/inventory"
	"stowkeeper/inventory/message"
)

// StationHolds is what a station still has.
type StationHolds struct {
	Places     map[string]inventory.Place // its own, by code
	Bags       []inventory.Bag            // in service: those that it owns, and those that are there
	Stock      []inventory.Stock          // in its own places
	Vehicles   []string                   // out of service
	Deliveries int                        // being scanned
	Documents  []inventory.Document       // transfers and counts that are open
	Owed       int                        // signatures
	Open       []inventory.Discrepancy    // of its places
}

// MayClose refuses to close a station that still has something, and names it. Where all goes to another station, only
// what cannot go along is in the way. Refuses: Conflict.
func (h StationHolds) MayClose(whole bool) error {
	var left []message.Message
	for _, b := range h.Bags {
		if !whole {
			left = append(left, message.Plain(b.Code))
		}
	}
	held := map[string]int{}
	for _, st := range h.Stock {
		held[st.Place] += st.Qty
	}
	for _, st := range h.Stock {
		if n := held[st.Place]; n > 0 && !whole && h.Places[st.Place].Kind != inventory.KindBag {
			left = append(left, message.M("{1} in {2}", n, st.Place))
		}
		held[st.Place] = 0 // said
	}
	for _, v := range h.Vehicles {
		left = append(left, message.M("{1}: {2}", v, message.M("Out of service")))
	}
	if h.Deliveries > 0 {
		left = append(left, message.M("{1}: {2}", message.M("Delivery"), h.Deliveries))
	}
	for _, d := range h.Documents {
		left = append(left, d.Named())
	}
	if h.Owed > 0 {
		left = append(left, message.M("{1} {1|signature|signatures} owed", h.Owed))
	}
	for _, d := range h.Open {
		if !whole || !goesAlong(h.Places[d.Place]) {
			left = append(left, d.Text)
		}
	}
	if len(left) == 0 {
		return nil
	}
	return inventory.Refuse(inventory.Conflict, "still at this station: {1}", message.Join(", ", left...))
}

// goesAlong tells whether a place goes to another station as it is, with what is in it: a bag, a carrier, or what is
// away. What is in a store or a quarantine goes into that of the other station.
func goesAlong(p inventory.Place) bool {
	return p.Kind == inventory.KindBag || p.Kind == inventory.KindCarrier || p.Kind == inventory.KindAway
}

// MovesTo are the movements of what is in the stores and quarantines of a station to those of another.
func (h StationHolds) MovesTo(other inventory.Station) []inventory.Movement {
	var out []inventory.Movement
	for _, st := range h.Stock {
		from := h.Places[st.Place]
		if goesAlong(from) {
			continue
		}
		to := other.QuarantineCode(from.Purpose)
		switch {
		case from.Kind == inventory.KindStore && from.Purpose == inventory.ForTraining:
			to = other.TrainingStoreCode()
		case from.Kind == inventory.KindStore:
			to = other.StoreCode()
		}
		reason := inventory.ReasonTransfer
		if from.Kind == inventory.KindStore && len(st.Lot.Withdrawn) > 0 { // under a recall
			to, reason = other.QuarantineCode(from.Purpose), inventory.ReasonQuarantine
		}
		out = append(out, inventory.Movement{LotID: st.Lot.ID, Qty: st.Qty, From: from.Code, To: to, Reason: reason})
	}
	return out
}

// StationClosed is what became of a station that was closed.
type StationClosed struct {
	Station   inventory.Station `json:"station"`
	Into      string            `json:"into,omitempty" doc:"The station that all went to"`
	Units     int               `json:"units" doc:"Units that went into the other station's stores and quarantines"`
	Places    []string          `json:"places" doc:"Bags, carriers and places away that went as they are"`
	People    []string          `json:"people" doc:"People who belong there too now"`
	Terminals []string          `json:"terminals" doc:"Terminals that were revoked"`
}
