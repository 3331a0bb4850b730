package web

import (
	"context"
	"net/url"
	"slices"
	"strconv"
	"strings"

	"stowkeeper/inventory"
	"stowkeeper/inventory/message"
	"stowkeeper/inventory/money"
	"stowkeeper/inventory/order"
)

type ordersPage struct {
	Base
	Reports, Stations, Statuses []NavLink
	Rows                        []OrderRow
}

// OrderRow is an order in a list.
type OrderRow struct {
	order.Order
	Href   string
	At     string // station
	Status message.Message
	Late   bool
	LastAt When
}

var orderWords = map[order.Status]message.Message{order.Draft: message.M("draft"), order.Sent: message.M("sent"),
	order.PartReceived: message.M("part received"), order.Received: message.M("received"),
	order.Closed: message.M("closed"), order.Cancelled: message.M("cancelled")}

func orderPath(id int64) string { return "/orders/" + formatID(id) }

func (v *visit) orderRow(o order.Order) OrderRow {
	station := v.station(o.Station)
	return OrderRow{o, orderPath(o.ID), station.Name, orderWords[o.Status], o.Late(station.Today(v.now)),
		whenAt(o.Steps[len(o.Steps)-1].At, station)}
}

// ordersForm lists orders; a form that could not draft one is shown again above them.
func (s *server) ordersForm(v *visit, f *form, failed error) error {
	only, chosen := v.stationsAsked()
	all, err := s.svc.Order.Orders(v.ctx(), v.actor, inventory.DocumentFilter{Stations: only}, inventory.Page{Limit: 500})
	if err != nil {
		return err
	}
	asked := v.Query("status")
	p := &ordersPage{Base: Base{Title: message.M("Orders")}, Reports: reportLinks("/orders"),
		Stations: v.allStationLinks("/orders", chosen)}
	link := func(status string, text message.Message) {
		q := url.Values{}
		if chosen != "" {
			q.Set("station", chosen)
		}
		if status != "" {
			q.Set("status", status)
		}
		p.Statuses = append(p.Statuses, NavLink{"/orders?" + q.Encode(), text, status == asked})
	}
	link("", message.M("All"))
	link("late", message.M("late"))
	for _, st := range order.Statuses {
		link(string(st), orderWords[st])
	}
	for _, o := range all {
		row := v.orderRow(o)
		if asked == "" || asked == string(o.Status) || asked == "late" && row.Late {
			p.Rows = append(p.Rows, row)
		}
	}
	return s.renderForm(v, f, p, failed)
}

// draftOrders drafts what is to buy from one supplier, an order for each station. A line says station, product, packs
// and what was on order when it was shown.
func (s *server) draftOrders(v *visit, f *form) error {
	by := map[string]*order.OrderRequest{}
	var stations []string
	for _, line := range f.values["buy"] {
		part := append(strings.Fields(line), "", "", "", "")
		seen, _ := strconv.Atoi(part[3])
		packs, _ := strconv.Atoi(part[2])
		in := by[part[0]]
		if in == nil {
			in = &order.OrderRequest{Supplier: f.text("supplier"), Station: part[0]}
			by[part[0]], stations = in, append(stations, part[0])
		}
		in.Lines = append(in.Lines, order.OrderLineRequest{Product: idOf(part[1]), Packs: packs, Seen: &seen})
	}
	if len(stations) == 0 {
		return inventory.Refuse(inventory.Invalid, "reload the page")
	}
	return s.record(v, f, func(ctx context.Context, actor inventory.Actor, _ string) (string, error) {
		to := "/orders?status=draft"
		for _, code := range stations {
			o, err := s.svc.Order.Draft(ctx, actor, *by[code])
			if err != nil {
				return "", err
			}
			if len(stations) == 1 {
				to = orderPath(o.ID)
			}
		}
		return to, nil
	})
}

type orderPage struct {
	Base
	OrderRow
	PlaceName                          string
	Lines                              []OrderLine
	Steps                              []OrderStepView
	Note, Reason, Why                  Field
	MaySend, MayTake, MayEnd, MayClose bool
}

// OrderLine is a line of an order.
type OrderLine struct {
	order.OrderedLine
	Name, Code, Href string
	Total            money.Amount
	Count            Field
}

// OrderStepView is what somebody did with an order.
type OrderStepView struct {
	order.OrderStep
	What message.Message
	When When
}

const orderPrefix = "packs."

// orderLines are the lines of an order with what its supplier calls them.
func (v *visit) orderLines(o order.Order) (out []OrderLine) {
	products := v.products()
	for _, l := range o.Lines {
		row := OrderLine{OrderedLine: l, Name: nameOf(v.itemsByCode(), l.Item), Total: l.Price.Times(l.Packs),
			Href: "/receive?" + url.Values{"place": {o.Place}, "item": {l.Item}, "reference": {o.Reference()}}.Encode()}
		if i := slices.IndexFunc(products, func(p inventory.Product) bool { return p.ID == l.Product }); i >= 0 {
			for _, code := range []string{products[i].MakerReference, products[i].GTIN, products[i].HIBC} {
				if row.Code = code; code != "" {
					break
				}
			}
		}
		out = append(out, row)
	}
	return out
}

func (s *server) orderForm(v *visit, f *form, failed error) error {
	o, err := s.svc.Order.Order(v.ctx(), v.actor, paramID(v, "order"))
	if err != nil {
		return err
	}
	p := &orderPage{Base: Base{Title: message.M("Order {1}", o.ID)}, OrderRow: v.orderRow(o), Lines: v.orderLines(o),
		PlaceName: o.Place, MaySend: o.May(order.Sent) == nil, MayEnd: o.May(order.Cancelled) == nil,
		MayClose: o.May(order.Closed) == nil,
		MayTake:  o.May(order.Received) == nil && v.may(inventory.ActKeepStock)}
	if pl := s.placeAt(v, o.Place); pl.Code != "" {
		p.PlaceName = pl.Name
	}
	for i, l := range p.Lines {
		p.Lines[i].Count = f.numberFrom(orderPrefix+formatID(l.Product)+".packs", message.M("Packs: {1}", l.Name), l.Packs)
	}
	for _, step := range o.Steps {
		p.Steps = append(p.Steps, OrderStepView{step, orderWords[step.Did], whenAt(step.At, v.station(o.Station))})
	}
	p.Note = f.field("note", message.M("Note"))
	p.Reason = f.field("reason", message.M("Reason")).Need()
	p.Why = f.field("why", message.M("Reason"))
	p.Why.Required = o.Missing() > 0
	return s.renderForm(v, f, p, failed)
}

func (s *server) sendOrder(v *visit, f *form) error {
	id := paramID(v, "order")
	var lines []order.PackCount
	rows := rowsWith(f, orderPrefix, ".packs")
	for _, row := range rows {
		lines = append(lines, order.PackCount{Product: idOf(strings.TrimPrefix(row, orderPrefix)),
			Packs: f.number(row + ".packs")})
	}
	f.names = lineNames(rows, "packs")
	return s.record(v, f, func(ctx context.Context, by inventory.Actor, _ string) (string, error) {
		_, err := s.svc.Order.Send(ctx, by, id, lines, f.text("note"))
		return orderPath(id), err
	})
}

// receiveOrder begins to scan a delivery of an order.
func (s *server) receiveOrder(v *visit, f *form) error {
	o, err := s.svc.Order.Order(v.ctx(), v.actor, paramID(v, "order"))
	if err == nil {
		err = o.May(order.Received)
	}
	if err != nil {
		return err
	}
	return s.record(v, f, func(ctx context.Context, by inventory.Actor, _ string) (string, error) {
		d, err := s.svc.Storeroom.StartDelivery(ctx, by, o.Place, o.Reference())
		return deliveryPath(d.ID), err
	})
}

func (s *server) closeOrder(v *visit, f *form) error {
	id := paramID(v, "order")
	f.names = func(path string) string { return strings.Replace(path, "reason", "why", 1) }
	return s.record(v, f, func(ctx context.Context, by inventory.Actor, _ string) (string, error) {
		_, err := s.svc.Order.Close(ctx, by, id, f.text("why"))
		return orderPath(id), err
	})
}

func (s *server) cancelOrder(v *visit, f *form) error {
	id := paramID(v, "order")
	return s.record(v, f, func(ctx context.Context, by inventory.Actor, _ string) (string, error) {
		_, err := s.svc.Order.Cancel(ctx, by, id, f.text("reason"))
		return orderPath(id), err
	})
}

// orderCSV sends an order for its supplier.
func (s *server) orderCSV(v *visit) error {
	o, err := s.svc.Order.Order(v.ctx(), v.actor, paramID(v, "order"))
	if err != nil {
		return err
	}
	rows := [][]string{{"order", "supplier", "item", "name", "reference", "packs", "pack_size", "units", "price", "total",
		"currency"}}
	for _, l := range v.orderLines(o) {
		row := []string{formatID(o.ID), o.Supplier, l.Item, l.Name, l.Code, strconv.Itoa(l.Packs), strconv.Itoa(l.PackSize),
			strconv.Itoa(l.Units()), "", "", l.Price.Currency}
		if l.Price.Currency != "" {
			row[8], row[9] = l.Price.Number(), l.Total.Number()
		}
		rows = append(rows, row)
	}
	return v.sendCSV("order-"+formatID(o.ID), rows)
}
