package ledger

import (
	"stowkeeper/inventory"
	"stowkeeper/inventory/account"
)

// Policy is whose signatures the movements of a unit want.
type Policy int

const (
	// TwoSign moves a controlled item only by two different people, each proven
	// at that moment (common practice; of a part that is wasted 21 CFR 1304.27(a)
	// asks for the witness).
	TwoSign Policy = iota
	// AloneUses lets a responder who is alone record a use; the second signature
	// is owed then.
	AloneUses
	// DryRun wants none, since nothing of it stays. Unsigned tells afterwards
	// whether any would have been wanted.
	DryRun
)

// Unsigned tells whether a dry run moved what two would have had to sign for.
func (u *Unit) Unsigned() bool { return u.unsigned }

// sign puts the signatures on a movement. This is the one place where it is
// judged: whatever moves stock comes through here.
func (u *Unit) sign(m inventory.Movement) (inventory.Movement, error) {
	m.By, m.Witness = u.By.Name, ""
	lot, err := u.Lot(m.LotID)
	if err != nil {
		return m, inventory.AsField(err, "lot_id", "lot")
	}
	it, err := u.Item(lot.Item)
	if err != nil || !it.Controlled {
		return m, err
	}
	signed := u.By.Proven(u.Now)
	alone := u.policy == AloneUses && m.Reason == inventory.ReasonUsed && (signed.First != "" || !u.By.Program)
	switch {
	case signed.First != "" && signed.Second != "":
		m.Witness = signed.Second
	case alone:
		m.Owed, m.OwnOwed = true, signed.First == ""
	case u.policy == DryRun:
		u.unsigned = true
		return m, nil
	default:
		return m, account.ErrUnsigned
	}
	if u.By.Program {
		m.By = signed.First
		m.Note = short(inventory.WithNote("sent by "+u.By.Name, m.Note), inventory.MaxNote)
	}
	return m, nil
}

// Append puts judged movements into the ledger, and notes the signatures that
// are owed for them.
func (u *Unit) Append(ms []inventory.Movement) ([]inventory.Movement, error) {
	clear(u.lots)
	posted, err := u.W.AppendMovements(ms)
	if err != nil {
		return nil, err
	}
	for i, m := range posted {
		if !m.Owed {
			continue
		}
		if err := u.W.AddOwed(m.ID, m.OwnOwed); err != nil {
			return nil, err
		}
		posted[i].Owed, posted[i].OwnOwed = false, false // the store has it now
	}
	return posted, nil
}
