package ledger

import (
	"cmp"

	"stowkeeper/inventory"
)

// BagChange is what people may change of a bag; nil fields stay as they are.
type BagChange struct {
	Name           *string           `json:"name,omitempty" maxLength:"120"`
	AtStation      *string           `json:"at_station,omitempty" doc:"Station code"`
	KitList        *string           `json:"kit_list,omitempty" doc:"Kit list code"`
	KitListVersion *int              `json:"kit_list_version,omitempty" doc:"0 for the newest"`
	Priority       *int              `json:"priority,omitempty" minimum:"1" maximum:"9"`
	Vehicle        *string           `json:"vehicle,omitempty"`
	Inside         *string           `json:"inside,omitempty" doc:"Bag code, or empty for none"`
	TakenOff       *string           `json:"out_of_service,omitempty" doc:"The reason for taking it off the run, or empty to put it back"`
	OffSince       inventory.Instant `json:"-"` // when it was taken off; 0 for now
	Retired        *bool             `json:"retired,omitempty" doc:"True takes the bag out of service, which it must be empty for; false brings it back"`
	Successor      *string           `json:"successor,omitempty" doc:"Code of the bag that takes its place, or empty for none"`
}

// May refuses a change that the actor may not make. A bag goes to a station
// of one's own from another, or from wherever it is where one's own owns it.
func (ch BagChange) May(by inventory.Actor, b inventory.Bag) error {
	if to := ch.AtStation; to != nil && *to != b.AtStation {
		if err := by.Must(inventory.ActKeepLists, *to); err != nil {
			return err
		}
		if ch == (BagChange{AtStation: to}) && by.At(b.Station) {
			return nil
		}
	}
	for _, act := range ch.actions() {
		if err := by.Must(act, b.AtStation); err != nil {
			return err
		}
	}
	return nil
}

// actions lists what a change asks of the actor's role.
func (ch BagChange) actions() []inventory.Action {
	acts := []inventory.Action{inventory.ActStop}
	if ch.TakenOff != nil && *ch.TakenOff == "" {
		acts = append(acts, inventory.ActKeepStock)
	}
	rest := ch
	rest.TakenOff, rest.OffSince = nil, 0
	if rest != (BagChange{}) {
		acts = append(acts, inventory.ActKeepLists)
	}
	return acts
}

func (ch BagChange) Apply(b inventory.Bag, by inventory.Actor, now inventory.Instant) inventory.Bag {
	inventory.Set(&b.Name, ch.Name)
	inventory.Set(&b.AtStation, ch.AtStation)
	inventory.Set(&b.Priority, ch.Priority)
	if ch.Vehicle != nil {
		b.Vehicle = inventory.Spaced(*ch.Vehicle)
	}
	inventory.Set(&b.Inside, ch.Inside)
	if ch.KitList != nil && *ch.KitList != b.KitList {
		b.KitList, b.KitListVersion = *ch.KitList, 0
	}
	inventory.Set(&b.KitListVersion, ch.KitListVersion)
	if ch.TakenOff != nil {
		b.OutOfService = nil
		if *ch.TakenOff != "" {
			b.OutOfService = &inventory.ServicePause{Reason: *ch.TakenOff, By: by.Name, RecordedAt: min(cmp.Or(ch.OffSince, now),
				now)}
		}
	}
	if ch.Retired != nil {
		b = b.Retire(*ch.Retired, by, now)
	}
	inventory.Set(&b.Successor, ch.Successor)
	return b
}
