package api

import (
	"bytes"
	"context"
	"strconv"

	"stowkeeper/inventory"
	"stowkeeper/inventory/message"
	"stowkeeper/inventory/report"
	"stowkeeper/inventory/table"
)

type ShortageQuery struct {
	Asking
	Station []string `query:"station" doc:"Station codes, with commas between; default: all yours"`
}

func (s *server) getShortages(ctx context.Context, in *ShortageQuery) (*plain[inventory.Shortages], error) {
	return answer(s.shortagesFor(ctx, *in))
}

func (s *server) shortagesFor(ctx context.Context, in ShortageQuery) (inventory.Shortages, error) {
	ask, err := in.ask()
	if err != nil {
		return inventory.Shortages{}, err
	}
	return s.svc.Report.Shortages(ctx, by(ctx), codes(in.Station...), ask)
}

type outlookQuery struct {
	HorizonDays int      `query:"horizon_days" minimum:"0" maximum:"365" default:"30" doc:"How many days ahead to look"`
	Station     []string `query:"station" doc:"Station codes, with commas between; default: all yours"`
}

func (s *server) getOutlook(ctx context.Context, in *outlookQuery) (*plain[report.Ahead], error) {
	return answer(s.svc.Report.Ahead(ctx, by(ctx), codes(in.Station...), in.HorizonDays))
}

type reorderQuery struct {
	AsOf    string   `query:"as_of" format:"date" doc:"Default: today"`
	Station []string `query:"station" doc:"Station codes, with commas between; default: all yours"`
}

func (s *server) getReorder(ctx context.Context, in *reorderQuery) (*plain[report.Reorders], error) {
	day, err := queryDay("as_of", in.AsOf)
	if err != nil {
		return nil, err
	}
	return answer(s.svc.Report.Reorder(ctx, by(ctx), codes(in.Station...), day))
}

type flowQuery struct {
	Station []string `query:"station" doc:"Station codes, with commas between; default: all yours"`
	Since   string   `query:"since" format:"date" doc:"First day; default: the beginning"`
	Until   string   `query:"until" format:"date" doc:"Last day; default: now"`
}

func (s *server) getFlows(ctx context.Context, in *flowQuery) (*plain[report.Flows], error) {
	since, err := queryDay("since", in.Since)
	if err != nil {
		return nil, err
	}
	until, err := queryDay("until", in.Until)
	if err != nil {
		return nil, err
	}
	return answer(s.svc.Report.Flows(ctx, by(ctx), codes(in.Station...), since, until))
}

type calendarQuery struct {
	Station string `query:"station" required:"true" doc:"Station code"`
}

func (s *server) getCalendar(ctx context.Context, in *calendarQuery) (*file, error) {
	a, err := s.svc.Agenda.At(ctx, by(ctx), in.Station)
	if err != nil {
		return nil, err
	}
	return &file{Body: whole(a.Calendar(s.opt.BaseURL, message.Message.String))}, nil
}

type shortageFileQuery struct {
	ShortageQuery
	Part string `query:"part" enum:"rows,fill,buy" default:"rows" doc:"Missing, in the stores, or to buy"`
}

func (s *server) getShortagesCSV(ctx context.Context, in *shortageFileQuery) (*file, error) {
	rep, err := s.shortagesFor(ctx, in.ShortageQuery)
	if err != nil {
		return nil, err
	}
	part := map[string]func(inventory.Shortages) [][]string{"rows": rowsTable, "fill": fillTable, "buy": buyTable}[in.Part]
	var out bytes.Buffer
	if err := table.WriteCSV(&out, part(rep)); err != nil {
		return nil, err
	}
	return &file{Disposition: `attachment; filename="shortages-` + in.Part + `.csv"`, Body: whole(out.Bytes())}, nil
}

func rowsTable(rep inventory.Shortages) [][]string {
	out := [][]string{{"station", "bag", "item", "pouch", "par", "minimum", "usable", "shortfall", "below_minimum",
		"critical", "kit_list"}}
	for _, r := range rep.Rows {
		out = append(out, []string{r.Station, r.Bag, r.Item, r.Pouch, strconv.Itoa(r.Par), strconv.Itoa(r.Minimum),
			strconv.Itoa(r.Usable), strconv.Itoa(r.Shortfall), strconv.FormatBool(r.BelowMinimum),
			strconv.FormatBool(r.Critical), r.KitList})
	}
	return out
}

func fillTable(rep inventory.Shortages) [][]string {
	out := [][]string{{"bag", "item", "lot_id", "batch_no", "from", "qty", "kind", "usable_through", "short_dated",
		"kit_list"}}
	for _, f := range rep.Fill {
		out = append(out, []string{f.Bag, f.Item, id(f.LotID), f.BatchNo, f.From, strconv.Itoa(f.Qty), string(f.Kind),
			f.UsableThrough.String(), strconv.FormatBool(f.ShortDated), f.KitList})
	}
	return out
}

func buyTable(rep inventory.Shortages) [][]string {
	out := [][]string{{"station", "item", "qty", "packs", "pack_size", "product", "covered"}}
	for _, b := range rep.Buy {
		out = append(out, []string{b.Station, b.Item, strconv.Itoa(b.Qty), strconv.Itoa(b.Packs), strconv.Itoa(b.PackSize),
			id(b.Product), strconv.Itoa(b.Covered)})
	}
	return out
}
