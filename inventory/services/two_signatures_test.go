package services_test

import (
	"strings"

	"github.com/stretchr/testify/require"

	"stowkeeper/inventory"
	"stowkeeper/inventory/exchange"
	"stowkeeper/inventory/fixture"
	"stowkeeper/inventory/inventorytest"
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
	do   func(h *fixture.House, by inventory.Actor, lot inventory.Lot) error
}

func moves(name, from, to string, reason inventory.Reason) controlledWrite {
	return controlledWrite{name: name, by: fixture.Keeper, do: func(h *fixture.House, by inventory.Actor,
		lot inventory.Lot) error {
		_, err := h.S.Ledger.Move(h.Ctx, by, []inventory.Movement{{LotID: lot.ID, Qty: 1, From: from, To: to, Reason: reason,
			Cause: inventorytest.CauseFor(reason), AuthorisedBy: "Ada"}})
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
	{name: "correction", by: fixture.Keeper, do: func(h *fixture.House, by inventory.Actor, lot inventory.Lot) error {
		ms, err := h.S.Ledger.Movements(h.Ctx, fixture.Keeper, inventory.MovementFilter{Place: "N-01"}, inventory.Page{})
		require.NoError(h.T, err)
		m := ms[0]
		_, err = h.S.Ledger.Move(h.Ctx, by, []inventory.Movement{{LotID: m.IntoLotID, Qty: m.Qty, From: m.To, To: m.From,
			Reason: inventory.ReasonCorrection, Corrects: m.ID, Note: "counted again"}})
		return err
	}},
	{name: "receipt", by: fixture.Keeper, do: func(h *fixture.House, by inventory.Actor, lot inventory.Lot) error {
		_, err := h.S.Ledger.Receive(h.Ctx, by, inventory.Receipt{Place: "NORTH-STORE", Item: "AMP", BatchNo: "A2",
			EndPrinted: "2029-01", EndWording: "expiry", Qty: 1})
		return err
	}},
	{name: "restock in", by: fixture.Keeper, do: func(h *fixture.House, by inventory.Actor, lot inventory.Lot) error {
		_, err := h.S.Storeroom.RecordRestock(h.Ctx, by, inventory.Restock{Bag: "N-01",
			Lines: []inventory.RestockLine{{LotID: lot.ID, Qty: 1}}}, 0)
		return err
	}},
	{name: "restock out", by: fixture.Keeper, do: func(h *fixture.House, by inventory.Actor, lot inventory.Lot) error {
		_, err := h.S.Storeroom.RecordRestock(h.Ctx, by, inventory.Restock{Bag: "N-01",
			TakeOut: []inventory.TakeOutLine{{LotID: lot.ID, Qty: 1, To: "disposed", Reason: inventory.ReasonDisposed,
				Cause: inventory.CauseExpired, AuthorisedBy: "Ada"}}}, 0)
		return err
	}},
	{name: "use", by: fixture.Crew, owed: true, do: func(h *fixture.House, by inventory.Actor, lot inventory.Lot) error {
		_, err := h.S.Shift.RecordUse(h.Ctx, by, inventory.Use{Bag: "N-01", Incident: "I-1",
			SeenPosition: h.Bag("N-01").Position, Lines: []inventory.UseLine{{LotID: lot.ID, Qty: 1}}}, "")
		return err
	}},
	{name: "full check", by: fixture.Crew, kept: true, do: func(h *fixture.House, by inventory.Actor,
		lot inventory.Lot) error {
		_, err := h.S.Shift.RecordCheck(h.Ctx, by, inventory.Check{Bag: "N-01", Kind: inventory.FullCheck,
			SeenPosition: h.Bag("N-01").Position,
			Lines:        []inventory.CheckLine{{LotID: lot.ID, Counted: 3, Reason: inventory.CountMissing}}}, "")
		return err
	}},
	{name: "decided use", by: fixture.Keeper, do: func(h *fixture.House, by inventory.Actor, lot inventory.Lot) error {
		u, err := h.S.Shift.RecordUse(h.Ctx, fixture.Crew, inventory.Use{Bag: "N-01", Incident: "I-2", SeenPosition: 0,
			Lines: []inventory.UseLine{{LotID: lot.ID, Qty: 1}}}, "")
		require.NoError(h.T, err)
		require.Equal(h.T, inventory.StatusToReview, u.Status)
		_, err = h.S.Shift.DecideUse(h.Ctx, by, u.ID, shift.UseDecision{Decision: inventory.DecideAccept,
			Reason: "so it was"})
		return err
	}},
	{name: "decided check", by: fixture.Keeper, do: func(h *fixture.House, by inventory.Actor, lot inventory.Lot) error {
		c, err := h.S.Shift.RecordCheck(h.Ctx, fixture.Crew, inventory.Check{Bag: "N-01", Kind: inventory.FullCheck,
			SeenPosition: 0,
			Lines:        []inventory.CheckLine{{LotID: lot.ID, Counted: 3, Reason: inventory.CountMissing}}}, "")
		require.NoError(h.T, err)
		require.Equal(h.T, inventory.StatusToReview, c.Status)
		_, err = h.S.Shift.DecideCheck(h.Ctx, by, c.ID, shift.CheckDecision{Decision: inventory.DecideEdit,
			Reason: "so it was", Lines: c.Lines})
		return err
	}},
	{name: "left somewhere", by: fixture.Crew, do: func(h *fixture.House, by inventory.Actor, lot inventory.Lot) error {
		_, err := h.S.Shift.SendAway(h.Ctx, by, shift.AwayTrip{From: "N-01", Where: "Hospital",
			Lines: []shift.AwayLine{{LotID: lot.ID, Qty: 1}}})
		return err
	}},
	{name: "come back", by: fixture.Crew, do: func(h *fixture.House, by inventory.Actor, lot inventory.Lot) error {
		_, err := h.S.Shift.ComeBack(h.Ctx, by, "N-REPAIR", []shift.ReturnLine{{LotID: lot.ID, Qty: 1}})
		return err
	}},
	{name: "opened", by: fixture.Crew, do: func(h *fixture.House, by inventory.Actor, lot inventory.Lot) error {
		_, err := h.S.Ledger.OpenUnits(h.Ctx, by, lot.ID, ledger.Opened{Place: "N-01", Qty: 1})
		return err
	}},
	{name: "pulled", by: fixture.Keeper, do: func(h *fixture.House, by inventory.Actor, lot inventory.Lot) error {
		n, err := h.S.Notice.CreateNotice(h.Ctx, fixture.Keeper, inventory.Notice{Reference: "N",
			Action: inventory.NoticeWithdraw,
			Item:   "AMP", NoticeScope: inventory.NoticeScope{BatchNos: []string{"A1"}}})
		require.NoError(h.T, err)
		_, err = h.S.Notice.Pull(h.Ctx, by, n.ID, "N-01")
		return err
	}},
	{name: "found in a check", by: fixture.Crew, kept: true, do: func(h *fixture.House, by inventory.Actor,
		lot inventory.Lot) error {
		_, err := h.S.Shift.RecordCheck(h.Ctx, by, inventory.Check{Bag: "N-01", Kind: inventory.FullCheck,
			SeenPosition: h.Bag("N-01").Position, Lines: []inventory.CheckLine{{LotID: lot.ID, Counted: 4}},
			Found: []inventory.FoundLine{{Item: "AMP", Qty: 1, Unidentified: true}}}, "")
		return err
	}},
	{name: "signed out", by: fixture.Crew, do: func(h *fixture.House, by inventory.Actor, lot inventory.Lot) error {
		_, err := h.S.Register.RecordEntry(h.Ctx, by, register.EntryRequest{Kind: register.RequestSignOut,
			Place: "NORTH-STORE", Lines: []register.EntryRequestLine{{LotID: lot.ID, Qty: 1}}})
		return err
	}},
	{name: "signed back", by: fixture.Crew, do: func(h *fixture.House, by inventory.Actor, lot inventory.Lot) error {
		_, err := h.S.Register.RecordEntry(h.Ctx, by, register.EntryRequest{Kind: register.RequestBack, Place: "N-CLEO",
			Lines: []register.EntryRequestLine{{LotID: lot.ID, Qty: 1}}})
		return err
	}},
	{name: "used from a carrier", by: fixture.Crew, owed: true, do: func(h *fixture.House, by inventory.Actor,
		lot inventory.Lot) error {
		_, err := h.S.Register.RecordEntry(h.Ctx, by, register.EntryRequest{Kind: register.RequestUse, Place: "N-CLEO",
			Reference: "I-3", Lines: []register.EntryRequestLine{{LotID: lot.ID, Qty: 1, Given: "10 mg"}}})
		return err
	}},
	{name: "broken on a carrier", by: fixture.Crew, do: func(h *fixture.House, by inventory.Actor,
		lot inventory.Lot) error {
		_, err := h.S.Register.RecordEntry(h.Ctx, by, register.EntryRequest{Kind: register.RequestDestroy, Place: "N-CLEO",
			Cause: inventory.CauseDamaged, Authorised: "Ada", Lines: []register.EntryRequestLine{{LotID: lot.ID, Qty: 1}}})
		return err
	}},
	{name: "put away", by: fixture.Keeper, do: func(h *fixture.House, by inventory.Actor, lot inventory.Lot) error {
		_, err := h.S.Lists.CreateProduct(h.Ctx, fixture.Admin, inventory.Product{Item: "AMP", GTIN: "09521234543213",
			PackSize: 1})
		require.NoError(h.T, err)
		d, err := h.S.Storeroom.StartDelivery(h.Ctx, fixture.Keeper, "NORTH-STORE", "")
		require.NoError(h.T, err)
		_, err = h.S.Storeroom.ScanPack(h.Ctx, fixture.Keeper, d.ID, "010952123454321317290131"+"10A7")
		require.NoError(h.T, err)
		_, err = h.S.Storeroom.PutAway(h.Ctx, by, d.ID, "D-1")
		return err
	}},
	{name: "imported", by: fixture.Admin, do: func(h *fixture.House, by inventory.Actor, lot inventory.Lot) error {
		text := "place,item,batch_no,end_printed,end_wording,qty\nNORTH-STORE,AMP,A8,2029-01,expiry,1\n"
		rep, err := h.S.Exchange.Import(h.Ctx, by, exchange.Import{Kind: exchange.ImportStock,
			Source: table.CSV{Name: "stock", Data: strings.NewReader(text), Size: int64(len(text))}})
		if err == nil && !rep.Done {
			require.Contains(h.T, rep.Lines[0].Reason.String(), "two signatures required")
			err = inventory.InvalidField("witness", "{1}", rep.Lines[0].Reason)
		}
		return err
	}},
	{name: "identified", by: fixture.Keeper, do: func(h *fixture.House, by inventory.Actor, lot inventory.Lot) error {
		loose, err := h.S.Ledger.Receive(h.Ctx, h.Signed(fixture.Keeper, "Cleo"), inventory.Receipt{Place: "NORTH-QUARANTINE",
			Item: "AMP", Unidentified: true, Qty: 1})
		require.NoError(h.T, err)
		_, err = h.S.Ledger.Identify(h.Ctx, by, loose.ID, ledger.Identification{Place: "NORTH-QUARANTINE", Qty: 1,
			BatchNo: "A1", EndPrinted: "2029-01", EndWording: "expiry", Note: "the box was found"})
		return err
	}},
	{name: "an entry corrected", by: fixture.Keeper, do: func(h *fixture.House, by inventory.Actor,
		lot inventory.Lot) error {
		ms, err := h.S.Ledger.Movements(h.Ctx, fixture.Keeper, inventory.MovementFilter{Place: "N-01"}, inventory.Page{})
		require.NoError(h.T, err)
		_, err = h.S.Register.CorrectEntry(h.Ctx, by, ms[0].ID, "it was not so")
		return err
	}},
	{name: "balance check", by: fixture.Crew, do: func(h *fixture.House, by inventory.Actor, lot inventory.Lot) error {
		_, err := h.S.Register.RecordBalanceCheck(h.Ctx, by, inventory.BalanceCheck{Item: "AMP", Place: "N-01", Counted: 4})
		return err
	}},
}
