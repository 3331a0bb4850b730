package ledger

import (
	"cmp"

	"stowkeeper/inventory"
	"stowkeeper/inventory/message"
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
	OutOfService   *string           `json:"out_of_service,omitempty" doc:"Why it is out of service; empty returns it"`
	OutSince       inventory.Instant `json:"-"` // when it was taken off; 0 for now
	Retired        *bool             `json:"retired,omitempty" doc:"True retires an empty bag; false undoes that"`
	Successor      *string           `json:"successor,omitempty" doc:"Code of the bag that takes its place"`
}

// May refuses a change that the actor may not make. A bag goes to a station of one's own from another, or from
// wherever it is where one's own owns it. Refuses: SignedOut, Forbidden.
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
	if ch.OutOfService != nil && *ch.OutOfService == "" {
		acts = append(acts, inventory.ActKeepStock)
	}
	rest := ch
	rest.OutOfService, rest.OutSince = nil, 0
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
		b.Vehicle = inventory.OneLine(*ch.Vehicle)
	}
	inventory.Set(&b.Inside, ch.Inside)
	if ch.KitList != nil && *ch.KitList != b.KitList {
		b.KitList, b.KitListVersion = *ch.KitList, 0
	}
	inventory.Set(&b.KitListVersion, ch.KitListVersion)
	if ch.OutOfService != nil {
		b.OutOfService = nil
		if *ch.OutOfService != "" {
			b.OutOfService = &inventory.ServicePause{Reason: *ch.OutOfService, By: by.Name,
				RecordedAt: min(cmp.Or(ch.OutSince, now), now)}
		}
	}
	if ch.Retired != nil {
		b = b.Retire(*ch.Retired, by, now)
	}
	inventory.Set(&b.Successor, ch.Successor)
	return b
}

// MayRetire refuses to retire a bag that is still part of the work: units lie in it, modules ride in it, or records
// of it wait for a decision. Refuses: Conflict.
func MayRetire(units, modules, waiting int) error {
	switch {
	case units > 0:
		return inventory.Refuse(inventory.Conflict, "empty the bag first: {1} {1|unit|units} in it", units)
	case modules > 0:
		return inventory.Refuse(inventory.Conflict, "take its {1} {1|module|modules} out first", modules)
	case waiting > 0:
		return inventory.Refuse(inventory.Conflict, "review this bag's {1} pending {1|report|reports} first", waiting)
	}
	return nil
}

// JudgeRetiring finds out whether a bag may be retired, and whether what is named as its successor can be one. was
// is the bag before the change. Refuses: Conflict for the bag, Invalid for the successor.
func JudgeRetiring(r inventory.Reader, was, b inventory.Bag, ch BagChange) error {
	if b.Retired() && !was.Retired() {
		if err := mayRetire(r, b.Code); err != nil {
			return err
		}
	}
	if ch.Successor == nil || b.Successor == "" {
		return nil
	}
	next, err := r.Bag(b.Successor)
	switch {
	case err != nil:
		return inventory.AsField(err, "successor", "not found")
	case next.Retired():
		return inventory.InvalidField("successor", "the bag is retired")
	case next.Purpose != b.Purpose:
		return inventory.InvalidField("successor", "choose a bag of the same station and purpose")
	}
	return nil
}

func mayRetire(r inventory.Reader, code string) error {
	units := 0
	stock, err := r.Stock(inventory.StockFilter{Places: []string{code}})
	if err != nil {
		return err
	}
	for _, st := range stock {
		units += st.Qty
	}
	modules, err := r.Bags(inventory.BagFilter{Inside: code}, inventory.Page{})
	if err != nil {
		return err
	}
	waiting := inventory.RecordFilter{Bag: code, Status: inventory.StatusToReview}
	checks, err := r.Checks(waiting, inventory.Page{})
	if err != nil {
		return err
	}
	uses, err := r.Uses(waiting, inventory.Page{})
	if err != nil {
		return err
	}
	return MayRetire(units, len(modules), len(checks)+len(uses))
}

// ErrRetired refuses something about a bag because it is retired.
func ErrRetired(so message.Message) error {
	return inventory.Refuse(inventory.Conflict, "the bag is retired: {1}", so)
}
