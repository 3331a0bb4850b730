package api

import (
	"context"

	"stowkeeper/inventory"
	"stowkeeper/inventory/account"
	"stowkeeper/inventory/amount"
	"stowkeeper/inventory/lists"
)

// ItemFields are what people give of an item.
type ItemFields struct {
	Code             string             `json:"code" doc:"Code given by people: A to Z, digits, hyphen, full stop"`
	Name             string             `json:"name" doc:"Name as the trade says it"`
	Category         inventory.Category `json:"category" doc:"One of the service's categories"`
	Unit             string             `json:"unit" doc:"What one of it is: each, pair, roll, box, ml …"`
	TrackedBy        inventory.Tracking `json:"tracked_by" enum:"lot,serial" doc:"How units are told apart"`
	Dated            bool               `json:"dated,omitempty" doc:"Packs have a date and batch number to record"`
	SingleUse        bool               `json:"single_use,omitempty" doc:"Used on one patient, then thrown away"`
	Controlled       bool               `json:"controlled,omitempty" doc:"Every movement needs two people"`
	Strength         string             `json:"strength,omitempty" maxLength:"60" doc:"Of a medicine, as 10 mg in 1 ml"`
	Form             string             `json:"form,omitempty" maxLength:"60" doc:"Of a medicine, as ampoule"`
	Content          amount.Content     `json:"content,omitzero" doc:"Of one unit: given and wasted add up to it"`
	Life             inventory.Life     `json:"life,omitzero" doc:"Life rules, the owner's policy"`
	InspectionPoints []string           `json:"inspection_points,omitempty" doc:"One that fails ends fitness"`
	InspectionNotes  []string           `json:"inspection_notes,omitempty" doc:"One that fails is only noted"`
	PreferredProduct int64              `json:"preferred_product,omitempty" minimum:"0" doc:"The product to buy, by id"`
	LeadTimeDays     int                `json:"lead_time_days,omitempty" minimum:"0" maximum:"1000"`
	Reserve          int                `json:"reserve,omitempty" minimum:"0" maximum:"1000000"`
}

func (f ItemFields) item(version int64) inventory.Item {
	return inventory.Item{Code: inventory.NormalCode(f.Code), Name: f.Name, Category: f.Category, Unit: f.Unit,
		TrackedBy: f.TrackedBy, Dated: f.Dated, SingleUse: f.SingleUse, Controlled: f.Controlled, Strength: f.Strength,
		Form: f.Form, Content: f.Content, Life: f.Life,
		InspectionPoints: f.InspectionPoints, InspectionNotes: f.InspectionNotes,
		PreferredProduct: f.PreferredProduct, LeadTimeDays: f.LeadTimeDays, Reserve: f.Reserve,
		Version: version}
}

// ItemChange is what people change of an item; fields left out stay.
type ItemChange struct {
	Name             *string             `json:"name,omitempty"`
	Category         *inventory.Category `json:"category,omitempty"`
	Unit             *string             `json:"unit,omitempty"`
	TrackedBy        *inventory.Tracking `json:"tracked_by,omitempty" enum:"lot,serial" doc:"Fixed once there is stock"`
	Dated            *bool               `json:"dated,omitempty"`
	SingleUse        *bool               `json:"single_use,omitempty"`
	Controlled       *bool               `json:"controlled,omitempty"`
	Strength         *string             `json:"strength,omitempty" maxLength:"60"`
	Form             *string             `json:"form,omitempty" maxLength:"60"`
	Content          *amount.Content     `json:"content,omitempty"`
	Life             *LifeChange         `json:"life,omitempty"`
	InspectionPoints *[]string           `json:"inspection_points,omitempty"`
	InspectionNotes  *[]string           `json:"inspection_notes,omitempty"`
	PreferredProduct *int64              `json:"preferred_product,omitempty" minimum:"0" doc:"0 for none"`
	LeadTimeDays     *int                `json:"lead_time_days,omitempty" minimum:"0" maximum:"1000"`
	Reserve          *int                `json:"reserve,omitempty" minimum:"0" maximum:"1000000"`
}

// LifeChange is what people change of an item's life rules; 0 takes a limit away.
type LifeChange struct {
	MadeMonths     *int `json:"made_months,omitempty" minimum:"0" maximum:"600"`
	StowedMonths   *int `json:"stowed_months,omitempty" minimum:"0" maximum:"600"`
	ExposedDays    *int `json:"exposed_days,omitempty" minimum:"0" maximum:"36500"`
	OpenedDays     *int `json:"opened_days,omitempty" minimum:"0" maximum:"36500"`
	InspectDays    *int `json:"inspect_days,omitempty" minimum:"0" maximum:"36500"`
	TrainingCycles *int `json:"training_cycles,omitempty" minimum:"0" maximum:"1000000"`
}

// ItemConversion is the unit in which an item is counted from now on. Of a controlled item two people sign.
type ItemConversion struct {
	lists.UnitConversion
	account.Signing
}

func (s *server) convertUnit(ctx context.Context, in *toCode[ItemConversion]) (lists.UnitConverted, error) {
	return s.svc.Lists.ConvertUnit(ctx, by(ctx), in.code(), in.Body.UnitConversion)
}

type itemQuery struct {
	Paging
	Category string `query:"category" doc:"Only this category"`
	Text     string `query:"text" doc:"Part of code or name, ignoring case"`
}

func (s *server) listItems(ctx context.Context, in *itemQuery) (*listed[inventory.Item], error) {
	return listByCode(in.Paging, func(it inventory.Item) string { return it.Code },
		func(page inventory.Page) ([]inventory.Item, error) {
			return s.svc.Lists.Items(ctx, by(ctx), inventory.ItemFilter{Category: inventory.Category(in.Category),
				Text: in.Text}, page)
		})
}

func (s *server) createItem(ctx context.Context, in *Posted[ItemFields]) (inventory.Item, error) {
	return s.svc.Lists.CreateItem(ctx, by(ctx), in.Body.item(0))
}

func (s *server) getItem(ctx context.Context, in *ByCode) (*one[inventory.Item], error) {
	it, err := s.svc.Lists.Item(ctx, by(ctx), in.code())
	return oneOf(it, it.Version, err)
}

func (s *server) changeItem(ctx context.Context, in *changeOf[ItemChange]) (*one[inventory.Item], error) {
	it, err := s.svc.Lists.Item(ctx, by(ctx).WithoutScope(), in.code())
	if err != nil {
		return nil, err
	}
	version, err := in.version(it.Version)
	if err != nil {
		return nil, err
	}
	if it, err = merge(it, in.Body); err != nil {
		return nil, err
	}
	it.Version = version
	it, err = s.svc.Lists.UpdateItem(ctx, by(ctx), it)
	return oneOf(it, it.Version, err)
}
