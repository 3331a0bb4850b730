package ledger

import (
	"cmp"

	"stowkeeper/inventory"
	"stowkeeper/inventory/account"
)

// Policy is whose signatures the movements of a unit want.
type Policy int

const (
	// TwoSign moves a controlled item only by two different people, each proven at that moment (common practice; of a
	// part that is wasted 21 CFR 1304.27(a) asks for the witness).
	TwoSign Policy = iota
	// AloneUses lets a responder who is alone record a use; the second signature is owed then.
	AloneUses
	// DryRun wants none, since nothing of it stays. Unsigned tells afterwards whether any would have been wanted.
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
		return m, inventory.AsField(err, "lot_id", "not found")
	}
	it, err := u.Item(lot.Item)
	if err != nil || !it.Controlled && !inventory.BackFromUse(it, lot, m) {
		return m, err
	}
	if m, err = u.authorised(m, it); err != nil {
		return m, err
	}
	if !u.Decided {
		m.Doubt = inventory.PartsDoubt(it, m)
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

// authorised puts who authorised the destruction of a controlled item into its note. Whoever decides a report of a
// crew authorises what it says; until then the report goes to review.
func (u *Unit) authorised(m inventory.Movement, it inventory.Item) (inventory.Movement, error) {
	if !inventory.ToAuthorise(it, m) {
		return m, nil
	}
	if u.Decided {
		m.AuthorisedBy = cmp.Or(m.AuthorisedBy, u.By.Proven(u.Now).First, u.By.Name)
	}
	if inventory.OneLine(m.AuthorisedBy) == "" && u.OfCrew {
		return m, inventory.Refuse(inventory.Conflict, "enter who authorised the destruction")
	}
	var ps inventory.Problems
	ps.When(inventory.OneLine(m.AuthorisedBy) == "", "authorised_by", "enter who authorised the destruction")
	inventory.CheckText(&ps, "authorised_by", m.AuthorisedBy, false, inventory.MaxName)
	m.Note = short(inventory.AuthorisedNote(m.AuthorisedBy, m.Note), inventory.MaxNote)
	return m, ps.Err()
}

// Append puts judged movements into the ledger, notes the signatures that are owed for them, and opens a discrepancy
// for what of them does not add up.
func (u *Unit) Append(ms []inventory.Movement) ([]inventory.Movement, error) {
	ms, err := u.write(ms)
	if err != nil {
		return nil, err
	}
	clear(u.lots)
	posted, err := u.W.AppendMovements(ms)
	if err != nil {
		return nil, err
	}
	for i, m := range posted {
		posted[i].AuthorisedBy, posted[i].Doubt = "", nil
		if m.Doubt != nil {
			d := inventory.Discrepancy{Place: m.From, Entry: m.ID, Text: m.Doubt, OpenedAt: u.Now, OpenedBy: m.By}
			if err := u.openDiscrepancy(d, m.LotID); err != nil {
				return nil, err
			}
		}
		if !m.Owed {
			continue
		}
		if err := u.W.AddOwed(m.ID, m.OwnOwed); err != nil {
			return nil, err
		}
		posted[i].Owed, posted[i].OwnOwed = false, false // the store has it now
	}
	return posted, u.leave(posted)
}

func (u *Unit) openDiscrepancy(d inventory.Discrepancy, lot int64) error {
	l, err := u.Lot(lot)
	if err != nil {
		return err
	}
	d.Item = l.Item
	_, err = u.W.AddDiscrepancy(d)
	return err
}
