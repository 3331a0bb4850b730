package api

import (
	"context"

	"stowkeeper/inventory"
	"stowkeeper/inventory/ledger"
	"stowkeeper/inventory/lists"
	"stowkeeper/inventory/stock"
)

// ByLot is a path parameter that names a device by any of its lots.
type ByLot struct {
	Lot int64 `path:"lot_id" minimum:"1" doc:"Any lot_id that the device has had"`
}

type deviceQuery struct {
	Paging
	Item      string `query:"item" doc:"Item code"`
	Serial    string `query:"serial" doc:"As printed; also finds a device that is gone"`
	Place     string `query:"place" doc:"Place code"`
	Station   string `query:"station" doc:"Station code"`
	DueBefore string `query:"due_before" format:"date" doc:"Only devices whose next inspection is due before this day"`
}

func (s *server) listDevices(ctx context.Context, in *deviceQuery) (*listed[stock.DeviceSummary], error) {
	page, err := in.byID()
	if err != nil {
		return nil, err
	}
	before, err := queryDay("due_before", in.DueBefore)
	if err != nil {
		return nil, err
	}
	f := stock.DeviceFilter{Item: inventory.NormalCode(in.Item), Serial: in.Serial, Place: inventory.NormalCode(in.Place),
		Stations: codes(in.Station), DueBefore: before}
	devices, err := s.svc.Stock.Devices(ctx, by(ctx), f, page)
	for i := range devices {
		devices[i].LotSummary = withPlaces(devices[i].LotSummary)
	}
	return list(in.Paging, devices, func(d stock.DeviceSummary) string { return id(d.ID) }), err
}

func (s *server) getDevice(ctx context.Context, in *ByLot) (*plain[stock.DeviceStory], error) {
	d, err := s.svc.Stock.Device(ctx, by(ctx), in.Lot)
	d.LotSummary = withPlaces(d.LotSummary)
	return answer(d, err)
}

func (s *server) inspectDevice(ctx context.Context, in *toLot[ledger.InspectionReport]) (inventory.Inspection, error) {
	return s.svc.Ledger.Inspect(ctx, by(ctx), in.Lot, in.Body)
}

// ClassReport is what a quartermaster sends of a class that trained with a device.
type ClassReport struct {
	Cycles     int               `json:"cycles" minimum:"1" maximum:"100000" doc:"Applications in this class"`
	Class      string            `json:"class,omitempty" maxLength:"120" doc:"Name or number of the class"`
	HappenedAt inventory.Instant `json:"happened_at,omitempty" format:"date-time" doc:"Default: now"`
}

func (s *server) recordTrainingCycles(ctx context.Context, in *toLot[ClassReport]) (inventory.TrainingUse, error) {
	return s.svc.Ledger.Train(ctx, by(ctx), in.Lot, inventory.TrainingUse{Cycles: in.Body.Cycles, Class: in.Body.Class,
		HappenedAt: in.Body.HappenedAt})
}

func (s *server) listInspectionPoints(_ context.Context, in *struct{ Paging }) (*listed[lists.DefaultPoints],
	error) {
	return listWhole(in.Paging, func(p lists.DefaultPoints) string { return p.Kind })(lists.OfferedPoints(), nil)
}

func (s *server) openUnits(ctx context.Context, in *toID[signedOpening]) (stock.LotSummary, error) {
	lot, err := s.svc.Ledger.OpenUnits(ctx, by(ctx), in.ID, in.Body.Opened)
	return s.lotMade(ctx, lot, err)
}
