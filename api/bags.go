package api

import (
	"context"

	"stowkeeper/inventory"
	"stowkeeper/inventory/ledger"
)

// BagFields are what people give of a bag.
type BagFields struct {
	Code           string            `json:"code" doc:"Also the code of its place and of its label"`
	Station        string            `json:"station" doc:"The station that owns it"`
	AtStation      string            `json:"at_station,omitempty" doc:"The station where it is; default: its own"`
	Name           string            `json:"name"`
	KitList        string            `json:"kit_list" doc:"Kit list code"`
	KitListVersion int               `json:"kit_list_version,omitempty" minimum:"0" doc:"Default: 0, the newest"`
	Priority       int               `json:"priority,omitempty" minimum:"1" maximum:"9" doc:"1 first; default: 5"`
	Purpose        inventory.Purpose `json:"purpose,omitempty" enum:"issue,training" doc:"Default: issue"`
	Vehicle        string            `json:"vehicle,omitempty" doc:"The vehicle that it rides on"`
	Inside         string            `json:"inside,omitempty" doc:"The bag that it is a module of"`
}

// BagChange is what people change of a bag; fields left out stay.
type BagChange struct {
	Name           *string        `json:"name,omitempty" maxLength:"120"`
	AtStation      *string        `json:"at_station,omitempty" doc:"Station code"`
	KitList        *string        `json:"kit_list,omitempty" doc:"Kit list code"`
	KitListVersion *int           `json:"kit_list_version,omitempty" minimum:"0" doc:"0 for the newest"`
	Priority       *int           `json:"priority,omitempty" minimum:"1" maximum:"9"`
	Vehicle        *string        `json:"vehicle,omitempty"`
	Inside         *string        `json:"inside,omitempty" doc:"Bag code, or empty for none"`
	OutOfService   *ServiceChange `json:"out_of_service,omitempty" doc:"Takes the bag out of service, or returns it"`
	Retired        *bool          `json:"retired,omitempty" doc:"True retires the bag, which must be empty"`
	Successor      *string        `json:"successor,omitempty" doc:"Code of the bag that replaces a retired one"`
}

// ServiceChange takes a bag out of service with a reason or, with an empty one, returns it.
type ServiceChange struct {
	Reason string `json:"reason" doc:"Why; empty to return it to service"`
}

func (c BagChange) change() ledger.BagChange {
	ch := ledger.BagChange{Name: c.Name, AtStation: normal(c.AtStation), KitList: normal(c.KitList),
		KitListVersion: c.KitListVersion, Priority: c.Priority, Vehicle: c.Vehicle, Inside: normal(c.Inside),
		Retired: c.Retired, Successor: normal(c.Successor)}
	if c.OutOfService != nil {
		ch.OutOfService = &c.OutOfService.Reason
	}
	return ch
}

// normal brings a code that may be left out to its stored form.
func normal(code *string) *string {
	if code == nil {
		return nil
	}
	n := inventory.NormalCode(*code)
	return &n
}

// BagSheet is a bag with its checklist: what the page behind its label shows.
type BagSheet struct {
	inventory.Bag
	KitListName string                    `json:"kit_list_name"`
	Edition     string                    `json:"edition,omitempty" doc:"Of the kit list"`
	Sealed      bool                      `json:"sealed" doc:"Whether its list needs a seal"`
	State       inventory.State           `json:"state" enum:"ready,ready_with_gaps,not_ready,out_of_service"`
	Headline    string                    `json:"headline" doc:"What is true in a few words"`
	AsOf        inventory.Day             `json:"as_of" format:"date" doc:"Day of the state, at the bag's station"`
	HorizonDays int                       `json:"horizon_days"`
	Findings    []inventory.Finding       `json:"findings"`
	Pouches     []inventory.Pouch         `json:"pouches" doc:"The checklist: pouches, their lines, the units on each"`
	Surplus     []inventory.LotOnLine     `json:"surplus,omitempty"`
	NotOnList   []inventory.LotOnLine     `json:"not_on_list,omitempty"`
	Modules     []inventory.ModuleState   `json:"modules,omitempty" doc:"The modules inside it, each as one line"`
	NextChange  *inventory.Change         `json:"next_change,omitempty"`
	EndsBefore  []inventory.LotOnLine     `json:"ends_before_next_check,omitempty" doc:"Ends before the next check"`
	NextCheck   inventory.Instant         `json:"next_check,omitempty" format:"date-time" doc:"Due if checked now"`
	Open        []inventory.Observation   `json:"observations,omitempty" doc:"The open ones"`
	Reports     []inventory.UnderReview   `json:"under_review,omitempty" doc:"Reports under review that are about it"`
	Items       map[string]inventory.Item `json:"items" doc:"Every item that the list names or the bag holds, by code"`
	ClockLeft   bool                      `json:"clock_left_out,omitempty" doc:"Overdue checks not judged: not today"`
}

func sheetOf(c inventory.Checklist) BagSheet {
	r := c.Readiness
	sheet := BagSheet{Bag: c.Bag, KitListName: c.KitList.Name, Edition: c.KitList.Edition, Sealed: c.KitList.Sealed,
		State: r.State, Headline: inventory.Headline(c.Bag, r).String(), AsOf: r.AsOf, HorizonDays: r.HorizonDays,
		Findings: r.Findings, Pouches: c.Pouches, Surplus: r.Surplus, NotOnList: r.NotOnList, Modules: r.Modules,
		NextChange: r.NextChange, EndsBefore: c.EndsBefore, NextCheck: c.NextCheck, Open: c.Open, Reports: c.Reports,
		Items: c.Items, ClockLeft: r.ClockLeft}
	return sheet
}

type bagQuery struct {
	Paging
	Asking
	Station string `query:"station" doc:"Code of the station where the bags are"`
	Purpose string `query:"purpose" enum:"issue,training"`
	KitList string `query:"kit_list" doc:"Kit list code"`
	Inside  string `query:"inside" doc:"Code of the bag that they are modules of"`
	Vehicle string `query:"vehicle"`
	Retired bool   `query:"retired" doc:"Also those that are retired"`
	Lent    bool   `query:"lent" doc:"Only those not at their own station; no other filters"`
}

func (s *server) listBags(ctx context.Context, in *bagQuery) (*listed[inventory.BagSummary], error) {
	ask, err := in.ask()
	if err != nil {
		return nil, err
	}
	if in.Lent {
		return listWhole(in.Paging, func(b inventory.BagSummary) string { return b.Code })(
			s.svc.Lists.Lent(ctx, by(ctx), codes(in.Station)))
	}
	f := inventory.BagFilter{AtStations: codes(in.Station), Purpose: inventory.Purpose(in.Purpose),
		KitList: inventory.NormalCode(in.KitList),
		Inside:  inventory.NormalCode(in.Inside), Vehicle: in.Vehicle, Retired: in.Retired}
	return listByCode(in.Paging, func(b inventory.BagSummary) string { return b.Code },
		func(page inventory.Page) ([]inventory.BagSummary, error) {
			return s.svc.Shift.BagList(ctx, by(ctx), f, page, ask)
		})
}

func (s *server) createBag(ctx context.Context, in *Posted[BagFields]) (inventory.Bag, error) {
	b := in.Body
	return s.svc.Lists.CreateBag(ctx, by(ctx), inventory.Bag{Code: inventory.NormalCode(b.Code),
		Station: inventory.NormalCode(b.Station), AtStation: inventory.NormalCode(b.AtStation), Name: b.Name,
		KitList: inventory.NormalCode(b.KitList), KitListVersion: b.KitListVersion, Priority: b.Priority, Purpose: b.Purpose,
		Vehicle: b.Vehicle, Inside: inventory.NormalCode(b.Inside)})
}

type bagRead struct {
	ByCode
	Asking
}

func (s *server) getBag(ctx context.Context, in *bagRead) (*one[BagSheet], error) {
	ask, err := in.ask()
	if err != nil {
		return nil, err
	}
	c, err := s.svc.Shift.Checklist(ctx, by(ctx), in.code(), ask)
	if err != nil {
		return nil, err
	}
	return oneOf(sheetOf(c), c.Bag.Version, nil)
}

func (s *server) changeBag(ctx context.Context, in *changeOf[BagChange]) (*one[inventory.Bag], error) {
	version, err := in.version(0) // 0: whatever is there
	if err != nil {
		return nil, err
	}
	b, err := s.svc.Lists.UpdateBag(ctx, by(ctx), in.code(), version, in.Body.change())
	return oneOf(b, b.Version, err)
}

func (s *server) getReadiness(ctx context.Context, in *bagRead) (*plain[inventory.Readiness], error) {
	ask, err := in.ask()
	if err != nil {
		return nil, err
	}
	return answer(s.svc.Shift.Readiness(ctx, by(ctx), in.code(), ask))
}
