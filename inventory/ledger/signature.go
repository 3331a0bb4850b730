package ledger

import (
	"stowkeeper/inventory"
	"stowkeeper/inventory/account"
)

// sign puts the signatures on a movement: a controlled item moves only by two
// different people, each proven at that moment (common practice; of a part that
// is wasted 21 CFR 1304.27(a) asks for the witness). A responder who is alone may
// record a use; the second signature is owed then. A trial, which is undone,
// needs none. This is the one place where it is judged: whatever moves stock
// comes through here.
func (p *Unit) sign(m inventory.Movement) (inventory.Movement, error) {
	m.By, m.Witness = p.By.Name, ""
	facts, err := Cached(p.Lots, m.LotID, p.FactsOf)
	if err != nil {
		return m, inventory.AsField(err, "lot_id", "lot")
	}
	it, err := p.Item(facts.Item)
	if err != nil || !it.Controlled {
		return m, err
	}
	signed := p.By.Proven(p.Now)
	alone := p.Alone && m.Reason == inventory.ReasonUsed && (signed.First != "" || !p.By.Program)
	switch {
	case signed.First != "" && signed.Second != "":
		m.Witness = signed.Second
	case alone:
		m.Owed, m.OwnOwed = true, signed.First == ""
	case p.Trial:
		p.Wanted = true
		return m, nil
	default:
		return m, account.ErrUnsigned
	}
	if p.By.Program {
		m.By = signed.First
		m.Note = short(inventory.WithNote("sent by "+p.By.Name, m.Note), inventory.MaxNote)
	}
	return m, nil
}

// Append puts judged movements into the ledger, and notes the signatures that
// are owed for them.
func (p *Unit) Append(ms []inventory.Movement) ([]inventory.Movement, error) {
	posted, err := p.W.AppendMovements(ms)
	if err != nil {
		return nil, err
	}
	for i, m := range posted {
		if !m.Owed {
			continue
		}
		if err := p.W.AddOwed(m.ID, m.OwnOwed); err != nil {
			return nil, err
		}
		posted[i].Owed, posted[i].OwnOwed = false, false // the store has it now
	}
	return posted, nil
}
