package ledger

import (
	"stowkeeper/inventory"
	"stowkeeper/inventory/account"
)

// Convert takes units of an item out of the records where they lie, in its old unit, and puts them back in the new
// one: the same lots, in the same places. The caller holds all stations, and has judged that each comes out whole.
// Refuses: Invalid where a controlled item lacks signatures; where the unit is only renamed, nothing else happens.
func (u *Unit) Convert(it inventory.Item, stock []inventory.Stock, c inventory.Conversion) error {
	switch {
	case it.Controlled && !u.By.BothSigned(u.Now):
		return account.ErrUnsigned
	case c.Renames():
		return nil
	}
	var ms []inventory.Movement
	for _, st := range stock {
		n, _ := c.Of(st.Qty)
		out := inventory.Movement{LotID: st.Lot.ID, IntoLotID: st.Lot.ID, Qty: st.Qty, From: st.Place,
			To: string(inventory.KindFound), Reason: inventory.ReasonConverted, HappenedAt: u.Now, RecordedAt: u.Now,
			Note: short(c.Text().String()+"; "+c.Reason, inventory.MaxNote)}
		in := out
		in.Qty, in.From, in.To = n, out.To, out.From
		for _, m := range []inventory.Movement{out, in} {
			m, err := u.sign(m)
			if err != nil {
				return err
			}
			ms = append(ms, m)
		}
	}
	_, err := u.Append(ms)
	return err
}

// inOldUnit refuses what counts in a unit that its item had before.
func (u *Unit) inOldUnit(m, orig inventory.Movement) error {
	if orig.ID == 0 && m.HappenedAt >= u.Now {
		return nil
	}
	if !u.unitsKnown {
		all, err := u.W.Conversions()
		if err != nil {
			return err
		}
		u.units, u.unitsKnown = all, true
	}
	if len(u.units) == 0 {
		return nil
	}
	lot, err := u.Lot(m.LotID)
	if err != nil {
		return inventory.AsField(err, "lot_id", "not found")
	}
	at := m.HappenedAt
	if orig.ID != 0 {
		at = 0
	}
	return inventory.InOldUnit(u.units, lot.Item, orig, at, u.Now)
}
