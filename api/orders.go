package api

import (
	"context"

	"stowkeeper/inventory"
	"stowkeeper/inventory/account"
	"stowkeeper/inventory/order"
)

type ordersQuery struct {
	Paging
	Station string `query:"station" doc:"Station code"`
	Open    bool   `query:"open" doc:"Only those that are open"`
}

func (s *server) listOrders(ctx context.Context, in *ordersQuery) (*listed[order.Order], error) {
	f := inventory.DocumentFilter{Stations: codes(in.Station), Open: in.Open}
	return listByID(ctx, in.Paging, f, s.svc.Order.Orders, func(o order.Order) int64 { return o.ID })
}

func (s *server) createOrder(ctx context.Context, in *Posted[order.OrderRequest]) (order.Order, error) {
	return s.svc.Order.Draft(ctx, by(ctx), in.Body)
}

func (s *server) getOrder(ctx context.Context, in *ByID) (*plain[order.Order], error) {
	return answer(s.svc.Order.Order(ctx, by(ctx), in.ID))
}

// OrderSending says what was sent where it differs from the draft.
type OrderSending struct {
	Lines []order.PackCount `json:"lines,omitempty" maxItems:"200" doc:"Other numbers of packs than drafted, by product"`
	Note  string            `json:"note,omitempty" maxLength:"2000"`
}

func (s *server) sendOrder(ctx context.Context, in *toID[OrderSending]) (order.Order, error) {
	return s.svc.Order.Send(ctx, by(ctx), in.ID, in.Body.Lines, in.Body.Note)
}

type signedOrderArrival struct {
	order.OrderArrival
	account.Signing
}

func (s *server) receiveOrder(ctx context.Context, in *toID[signedOrderArrival]) (order.Order, error) {
	return s.svc.Order.Receive(ctx, by(ctx), in.ID, in.Body.OrderArrival)
}

// OrderEnd says why an order ends.
type OrderEnd struct {
	Reason string `json:"reason,omitempty" maxLength:"2000" doc:"Needed to cancel, and where something has not come"`
}

func (s *server) closeOrder(ctx context.Context, in *toID[OrderEnd]) (order.Order, error) {
	return s.svc.Order.Close(ctx, by(ctx), in.ID, in.Body.Reason)
}

func (s *server) cancelOrder(ctx context.Context, in *toID[OrderEnd]) (order.Order, error) {
	return s.svc.Order.Cancel(ctx, by(ctx), in.ID, in.Body.Reason)
}
