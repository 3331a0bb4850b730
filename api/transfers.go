package api

import (
	"context"

	"stowkeeper/inventory"
	"stowkeeper/inventory/account"
	"stowkeeper/inventory/count"
	"stowkeeper/inventory/transfer"
)

type documentsQuery struct {
	Paging
	Station string `query:"station" doc:"Station code"`
	Place   string `query:"place" doc:"Of counts: place code"`
	Open    bool   `query:"open" doc:"Only those that are open"`
}

func (q documentsQuery) filter() inventory.DocumentFilter {
	return inventory.DocumentFilter{Stations: codes(q.Station), Places: codes(q.Place), Open: q.Open}
}

func (s *server) listTransfers(ctx context.Context, in *documentsQuery) (*listed[transfer.Transfer], error) {
	return listByID(ctx, in.Paging, in.filter(), s.svc.Transfer.Transfers,
		func(t transfer.Transfer) int64 { return t.ID })
}

func (s *server) createTransfer(ctx context.Context, in *Posted[transfer.TransferRequest]) (transfer.TransferSheet,
	error) {
	return s.svc.Transfer.Ask(ctx, by(ctx), in.Body)
}

func (s *server) getTransfer(ctx context.Context, in *ByID) (*plain[transfer.TransferSheet], error) {
	return answer(s.svc.Transfer.Transfer(ctx, by(ctx), in.ID))
}

type signedSending struct {
	Lines []transfer.LotQuantity `json:"lines" minItems:"1" maxItems:"1000" doc:"Units by lot_id"`
	Note  string                 `json:"note,omitempty" maxLength:"2000"`
	account.Signing
}

func (s *server) sendTransfer(ctx context.Context, in *toID[signedSending]) (transfer.TransferSheet, error) {
	return s.svc.Transfer.Send(ctx, by(ctx), in.ID, in.Body.Lines, in.Body.Note)
}

type signedArrival struct {
	transfer.Arrival
	account.Signing
}

func (s *server) recordArrival(ctx context.Context, in *toID[signedArrival]) (transfer.TransferSheet, error) {
	return s.svc.Transfer.Receive(ctx, by(ctx), in.ID, in.Body.Arrival)
}

type signedCancelling struct {
	Reason string `json:"reason" maxLength:"2000"`
	account.Signing
}

func (s *server) cancelTransfer(ctx context.Context, in *toID[signedCancelling]) (transfer.TransferSheet, error) {
	return s.svc.Transfer.Cancel(ctx, by(ctx), in.ID, in.Body.Reason)
}

type signedSettlement struct {
	transfer.Settlement
	account.Signing
}

func (s *server) decideMissing(ctx context.Context, in *toID[signedSettlement]) (transfer.TransferSheet, error) {
	return s.svc.Transfer.Settle(ctx, by(ctx), in.ID, in.Body.Settlement)
}

func (s *server) listCounts(ctx context.Context, in *documentsQuery) (*listed[count.Count], error) {
	return listByID(ctx, in.Paging, in.filter(), s.svc.Count.Counts, func(c count.Count) int64 { return c.ID })
}

func (s *server) listDueCounts(ctx context.Context, in *stationQuery) (*listed[count.Shelf], error) {
	return listWhole(in.Paging, func(x count.Shelf) string { return x.Place })(
		s.svc.Count.Due(ctx, by(ctx), codes(in.Station)))
}

// CountStart says which place to count.
type CountStart struct {
	Place string `json:"place" doc:"Place code: a store, a shelf, a quarantine or a carrier"`
	Shown bool   `json:"shown,omitempty" doc:"Show what the records say while counting; blind counts find more"`
}

func (s *server) openCount(ctx context.Context, in *Posted[CountStart]) (count.CountSheet, error) {
	return s.svc.Count.Start(ctx, by(ctx), in.Body.Place, in.Body.Shown)
}

func (s *server) getCount(ctx context.Context, in *ByID) (*plain[count.CountSheet], error) {
	return answer(s.svc.Count.Count(ctx, by(ctx), in.ID))
}

// CountLines are what was counted.
type CountLines struct {
	Lines []count.CountEntry `json:"lines" minItems:"1" maxItems:"2000"`
}

func (s *server) recordCounted(ctx context.Context, in *toID[CountLines]) (count.CountSheet, error) {
	return s.svc.Count.Enter(ctx, by(ctx), in.ID, in.Body.Lines)
}

type signedCount struct {
	Lines []count.Explained `json:"lines,omitempty" maxItems:"2000" doc:"Why counts differ"`
	account.Signing
}

func (s *server) closeCount(ctx context.Context, in *toID[signedCount]) (count.CountSheet, error) {
	return s.svc.Count.Post(ctx, by(ctx), in.ID, in.Body.Lines)
}

// CountDrop says nothing: a count that is given up changes nothing.
type CountDrop struct{}

func (s *server) cancelCount(ctx context.Context, in *toID[CountDrop]) (count.CountSheet, error) {
	return s.svc.Count.Drop(ctx, by(ctx), in.ID)
}
