package api

import (
	"context"

	"stowkeeper/inventory"
	"stowkeeper/inventory/stock"
)

func (s *server) recordReceipt(ctx context.Context, in *Posted[signedReceipt]) (stock.LotSummary, error) {
	lot, err := s.svc.Order.Book(ctx, by(ctx), in.Body.Receipt)
	return s.lotMade(ctx, lot, err)
}

func (s *server) correctReceipt(ctx context.Context, in *toID[signedReceiptCorrection]) (listOf[inventory.Movement],
	error) {
	done, err := s.svc.Ledger.CorrectReceipt(ctx, by(ctx), in.ID, in.Body.ReceiptCorrection)
	return listOf[inventory.Movement]{Data: done}, err
}

// lotMade answers with a lot as lists show it, after a write that made it.
func (s *server) lotMade(ctx context.Context, lot inventory.Lot, err error) (stock.LotSummary, error) {
	if err != nil {
		return stock.LotSummary{}, err
	}
	story, err := s.svc.Stock.Lot(ctx, by(ctx).WithoutScope(), lot.ID)
	return withPlaces(story.LotSummary), err
}

type lotQuery struct {
	Paging
	Item       string `query:"item" doc:"Item code"`
	BatchNo    string `query:"batch_no" doc:"Batch number as printed"`
	Serial     string `query:"serial" doc:"Serial number as printed"`
	Place      string `query:"place" doc:"Place code: what is there now"`
	Station    string `query:"station" doc:"Station code: what is there now"`
	AsOf       string `query:"as_of" format:"date" doc:"The day to work dates out for; default: today"`
	EndsBefore string `query:"ends_before" format:"date" doc:"Only stock to use by a day before this one"`
}

func (s *server) listLots(ctx context.Context, in *lotQuery) (*listed[stock.LotSummary], error) {
	page, err := in.byID()
	if err != nil {
		return nil, err
	}
	before, err := queryDay("ends_before", in.EndsBefore)
	if err != nil {
		return nil, err
	}
	asOf, err := queryDay("as_of", in.AsOf)
	if err != nil {
		return nil, err
	}
	f := inventory.LotFilter{AsOf: asOf, Item: inventory.NormalCode(in.Item), BatchNo: in.BatchNo, Serial: in.Serial,
		Place: inventory.NormalCode(in.Place), Stations: codes(in.Station)}
	lots, err := s.svc.Stock.Lots(ctx, by(ctx), f, before, page)
	for i := range lots {
		lots[i] = withPlaces(lots[i])
	}
	return list(in.Paging, lots, func(l stock.LotSummary) string { return id(l.ID) }), err
}

type lotRead struct {
	ByID
	AsOf string `query:"as_of" format:"date" doc:"The day to work dates out for; default: today"`
}

func (s *server) getLot(ctx context.Context, in *lotRead) (*plain[stock.LotStory], error) {
	asOf, err := queryDay("as_of", in.AsOf)
	if err != nil {
		return nil, err
	}
	story, err := s.svc.Stock.LotAsOf(ctx, by(ctx), in.ID, asOf)
	story.LotSummary = withPlaces(story.LotSummary)
	for i := range story.SameBatch {
		story.SameBatch[i] = withPlaces(story.SameBatch[i])
	}
	return answer(story, err)
}

func (s *server) correctLot(ctx context.Context, in *toID[inventory.LotCorrection]) (inventory.BatchCorrection, error) {
	return s.svc.Ledger.CorrectLot(ctx, by(ctx), in.ID, in.Body)
}

func (s *server) identifyUnits(ctx context.Context, in *toID[signedIdentification]) (stock.LotSummary, error) {
	lot, err := s.svc.Ledger.Identify(ctx, by(ctx), in.ID, in.Body.Identification)
	return s.lotMade(ctx, lot, err)
}

// withPlaces writes empty lists where there are none, since the answer never holds null.
func withPlaces(l stock.LotSummary) stock.LotSummary {
	if l.Ends == nil {
		l.Ends = []inventory.End{}
	}
	if l.Where == nil {
		l.Where = []stock.AtPlace{}
	}
	return l
}
