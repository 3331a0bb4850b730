package inventory_test

import (
	"strings"

	"github.com/stretchr/testify/require"

	"stowkeeper/inventory"
	"stowkeeper/inventory/exchange"
	"stowkeeper/inventory/ledger"
	"stowkeeper/inventory/register"
	"stowkeeper/inventory/shift"
	"stowkeeper/inventory/table"
)

// controlledWrite is a use case that moves controlled units or counts them.
type controlledWrite struct {
	name string
	kept bool // a crew's record: without signatures it waits, and posts nothing
	owed bool // one person alone may record it, and a signature is owed then
	by   inventory.Actor
	do   func(h *house, by inventory.Actor, lot inventory.Lot) error
}

func moves(name, from, to string, reason inventory.Reason) controlledWrite {
	return controlledWrite{name: name, by: keeper, do: func(h *house, by inventory.Actor, lot inventory.Lot) error {
		_, err := h.s.Ledger.Move(h.ctx, by, []inventory.Movement{{LotID: lot.ID, Qty: 1, From: from, To: to, Reason: reason,
			Cause: causeFor(reason)}})
		return err
	}}
}

// controlledWrites is every way in which a unit can move, and the count. 8 units
// lie in the store, 4 in bag N-01, 2 away and 2 on Cleo's carrier.
var controlledWrites = []controlledWrite{
	moves("stow", "NORTH-STORE", "N-01", inventory.ReasonStow), moves("return", "N-01", "NORTH-STORE",
		inventory.ReasonReturn),
	moves("transfer", "NORTH-STORE", "SOUTH-STORE", inventory.ReasonTransfer), moves("to a carrier", "NORTH-STORE",
		"N-BELT", inventory.ReasonStow),
	moves("quarantine", "N-01", "NORTH-QUARANTINE", inventory.ReasonQuarantine), moves("away", "N-01", "N-REPAIR",
		inventory.ReasonAway),
	moves("used at the desk", "N-01", "used", inventory.ReasonUsed), moves("destroyed", "N-01", "disposed",
		inventory.ReasonDisposed),
	moves("lost", "N-01", "lost", inventory.ReasonLost), moves("found", "found", "N-01", inventory.ReasonFound),
	{name: "correction", by: keeper, do: func(h *house, by inventory.Actor, lot inventory.Lot) error {
		ms, err := h.s.Ledger.Movements(h.ctx, keeper, inventory.MovementFilter{Place: "N-01"}, inventory.Page{})
		require.NoError(h.t, err)
		m := ms[0]
		_, err = h.s.Ledger.Move(h.ctx, by, []inventory.Movement{{LotID: m.IntoLotID, Qty: m.Qty, From: m.To, To: m.From,
			Reason: inventory.ReasonCorrection, Corrects: m.ID}})
		return err
	}},
	{name: "receipt", by: keeper, do: func(h *house, by inventory.Actor, lot inventory.Lot) error {
		_, err := h.s.Ledger.Receive(h.ctx, by, inventory.Receipt{Place: "NORTH-STORE", Item: "AMP", BatchNo: "A2",
			EndPrinted: "2029-01", EndWording: "expiry", Qty: 1})
		return err
	}},
	{name: "restock in", by: keeper, do: func(h *house, by inventory.Actor, lot inventory.Lot) error {
		_, err := h.s.Storeroom.RecordRestock(h.ctx, by, inventory.Restock{Bag: "N-01",
			Lines: []inventory.RestockLine{{LotID: lot.ID, Qty: 1}}}, 0)
		return err
	}},
	{name: "restock out", by: keeper, do: func(h *house, by inventory.Actor, lot inventory.Lot) error {
		_, err := h.s.Storeroom.RecordRestock(h.ctx, by, inventory.Restock{Bag: "N-01",
			TakeOut: []inventory.TakeOutLine{{LotID: lot.ID, Qty: 1, To: "disposed", Reason: inventory.ReasonDisposed,
				Cause: inventory.CauseExpired}}}, 0)
		return err
	}},
	{name: "use", by: crew, owed: true, do: func(h *house, by inventory.Actor, lot inventory.Lot) error {
		_, err := h.s.Shift.RecordUse(h.ctx, by, inventory.Use{Bag: "N-01", Incident: "I-1",
			SeenPosition: h.bag("N-01").Position, Lines: []inventory.UseLine{{LotID: lot.ID, Qty: 1}}}, "")
		return err
	}},
	{name: "full check", by: crew, kept: true, do: func(h *house, by inventory.Actor, lot inventory.Lot) error {
		_, err := h.s.Shift.RecordCheck(h.ctx, by, inventory.Check{Bag: "N-01", Kind: inventory.FullCheck,
			SeenPosition: h.bag("N-01").Position,
			Lines:        []inventory.CheckLine{{LotID: lot.ID, Counted: 3, Reason: inventory.CountMissing}}}, "")
		return err
	}},
	{name: "decided use", by: keeper, do: func(h *house, by inventory.Actor, lot inventory.Lot) error {
		u, err := h.s.Shift.RecordUse(h.ctx, crew, inventory.Use{Bag: "N-01", Incident: "I-2", SeenPosition: 0,
			Lines: []inventory.UseLine{{LotID: lot.ID, Qty: 1}}}, "")
		require.NoError(h.t, err)
		require.Equal(h.t, inventory.StatusToReview, u.Status)
		_, err = h.s.Shift.DecideUse(h.ctx, by, u.ID, shift.UseDecision{Decision: inventory.DecideAccept,
			Reason: "so it was"})
		return err
	}},
	{name: "decided check", by: keeper, do: func(h *house, by inventory.Actor, lot inventory.Lot) error {
		c, err := h.s.Shift.RecordCheck(h.ctx, crew, inventory.Check{Bag: "N-01", Kind: inventory.FullCheck, SeenPosition: 0,
			Lines: []inventory.CheckLine{{LotID: lot.ID, Counted: 3, Reason: inventory.CountMissing}}}, "")
		require.NoError(h.t, err)
		require.Equal(h.t, inventory.StatusToReview, c.Status)
		_, err = h.s.Shift.DecideCheck(h.ctx, by, c.ID, shift.CheckDecision{Decision: inventory.DecideEdit,
			Reason: "so it was", Lines: c.Lines})
		return err
	}},
	{name: "left somewhere", by: crew, do: func(h *house, by inventory.Actor, lot inventory.Lot) error {
		_, err := h.s.Shift.SendAway(h.ctx, by, shift.AwayTrip{From: "N-01", Where: "Hospital",
			Lines: []shift.AwayLine{{LotID: lot.ID, Qty: 1}}})
		return err
	}},
	{name: "come back", by: crew, do: func(h *house, by inventory.Actor, lot inventory.Lot) error {
		_, err := h.s.Shift.ComeBack(h.ctx, by, "N-REPAIR", []shift.ReturnLine{{LotID: lot.ID, Qty: 1}})
		return err
	}},
	{name: "opened", by: crew, do: func(h *house, by inventory.Actor, lot inventory.Lot) error {
		_, err := h.s.Ledger.OpenUnits(h.ctx, by, lot.ID, ledger.Opened{Place: "N-01", Qty: 1})
		return err
	}},
	{name: "pulled", by: keeper, do: func(h *house, by inventory.Actor, lot inventory.Lot) error {
		n, err := h.s.Notice.CreateNotice(h.ctx, keeper, inventory.Notice{Reference: "N", Action: inventory.NoticeWithdraw,
			Item: "AMP", BatchNos: []string{"A1"}})
		require.NoError(h.t, err)
		_, err = h.s.Notice.Pull(h.ctx, by, n.ID, "N-01")
		return err
	}},
	{name: "found in a check", by: crew, kept: true, do: func(h *house, by inventory.Actor, lot inventory.Lot) error {
		_, err := h.s.Shift.RecordCheck(h.ctx, by, inventory.Check{Bag: "N-01", Kind: inventory.FullCheck,
			SeenPosition: h.bag("N-01").Position, Lines: []inventory.CheckLine{{LotID: lot.ID, Counted: 4}},
			Found: []inventory.FoundLine{{Item: "AMP", Qty: 1, Unidentified: true}}}, "")
		return err
	}},
	{name: "signed out", by: crew, do: func(h *house, by inventory.Actor, lot inventory.Lot) error {
		_, err := h.s.Register.RecordEntry(h.ctx, by, register.EntryRequest{Kind: register.RequestSignOut,
			Place: "NORTH-STORE", Lines: []register.EntryRequestLine{{LotID: lot.ID, Qty: 1}}})
		return err
	}},
	{name: "signed back", by: crew, do: func(h *house, by inventory.Actor, lot inventory.Lot) error {
		_, err := h.s.Register.RecordEntry(h.ctx, by, register.EntryRequest{Kind: register.RequestBack, Place: "N-CLEO",
			Lines: []register.EntryRequestLine{{LotID: lot.ID, Qty: 1}}})
		return err
	}},
	{name: "used from a carrier", by: crew, owed: true, do: func(h *house, by inventory.Actor, lot inventory.Lot) error {
		_, err := h.s.Register.RecordEntry(h.ctx, by, register.EntryRequest{Kind: register.RequestUse, Place: "N-CLEO",
			Reference: "I-3", Lines: []register.EntryRequestLine{{LotID: lot.ID, Qty: 1, Given: "10 mg"}}})
		return err
	}},
	{name: "broken on a carrier", by: crew, do: func(h *house, by inventory.Actor, lot inventory.Lot) error {
		_, err := h.s.Register.RecordEntry(h.ctx, by, register.EntryRequest{Kind: register.RequestDestroy, Place: "N-CLEO",
			Cause: inventory.CauseDamaged, Lines: []register.EntryRequestLine{{LotID: lot.ID, Qty: 1}}})
		return err
	}},
	{name: "put away", by: keeper, do: func(h *house, by inventory.Actor, lot inventory.Lot) error {
		_, err := h.s.Lists.CreateProduct(h.ctx, admin, inventory.Product{Item: "AMP", GTIN: "09521234543213", PackSize: 1})
		require.NoError(h.t, err)
		d, err := h.s.Storeroom.StartDelivery(h.ctx, keeper, "NORTH-STORE")
		require.NoError(h.t, err)
		_, err = h.s.Storeroom.ScanPack(h.ctx, keeper, d.ID, "010952123454321317290131"+"10A7")
		require.NoError(h.t, err)
		_, err = h.s.Storeroom.PutAway(h.ctx, by, d.ID, "D-1")
		return err
	}},
	{name: "imported", by: admin, do: func(h *house, by inventory.Actor, lot inventory.Lot) error {
		text := "place,item,batch_no,end_printed,end_wording,qty\nNORTH-STORE,AMP,A8,2029-01,expiry,1\n"
		rep, err := h.s.Exchange.Import(h.ctx, by, exchange.Import{Kind: exchange.ImportStock,
			Source: table.CSV{Name: "stock", Data: strings.NewReader(text), Size: int64(len(text))}})
		if err == nil && !rep.Done {
			require.Contains(h.t, rep.Lines[0].Reason, "two people sign")
			err = inventory.Invalidf("witness", "%s", rep.Lines[0].Reason)
		}
		return err
	}},
	{name: "identified", by: keeper, do: func(h *house, by inventory.Actor, lot inventory.Lot) error {
		loose, err := h.s.Ledger.Receive(h.ctx, h.signed(keeper, "Cleo"), inventory.Receipt{Place: "NORTH-QUARANTINE",
			Item: "AMP", Unidentified: true, Qty: 1})
		require.NoError(h.t, err)
		_, err = h.s.Ledger.Identify(h.ctx, by, loose.ID, ledger.Identification{Place: "NORTH-QUARANTINE", Qty: 1,
			BatchNo: "A1", EndPrinted: "2029-01", EndWording: "expiry", Note: "the box was found"})
		return err
	}},
	{name: "an entry corrected", by: keeper, do: func(h *house, by inventory.Actor, lot inventory.Lot) error {
		ms, err := h.s.Ledger.Movements(h.ctx, keeper, inventory.MovementFilter{Place: "N-01"}, inventory.Page{})
		require.NoError(h.t, err)
		_, err = h.s.Register.CorrectEntry(h.ctx, by, ms[0].ID, "it was not so")
		return err
	}},
	{name: "balance check", by: crew, do: func(h *house, by inventory.Actor, lot inventory.Lot) error {
		_, err := h.s.Register.RecordBalanceCheck(h.ctx, by, inventory.BalanceCheck{Item: "AMP", Place: "N-01", Counted: 4})
		return err
	}},
}
