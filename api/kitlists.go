package api

import (
	"context"

	"stowkeeper/inventory"
	"stowkeeper/inventory/lists"
)

// KitListFields are what people give of a version of a kit list.
type KitListFields struct {
	Name             string              `json:"name"`
	Edition          string              `json:"edition,omitempty" doc:"As its publisher or owner calls it"`
	Source           string              `json:"source,omitempty" doc:"Where published; claims no compliance"`
	ValidFrom        inventory.Day       `json:"valid_from,omitempty" format:"date" doc:"First day of use"`
	ValidTo          inventory.Day       `json:"valid_to,omitempty" format:"date" doc:"Last day on which it may be used"`
	Sealed           bool                `json:"sealed,omitempty" doc:"Whether bags on this list carry a seal"`
	SealWarns        bool                `json:"seal_warns,omitempty" doc:"A broken or different seal only warns"`
	SealCheckHours   int                 `json:"seal_check_hours,omitempty" minimum:"0" maximum:"8784" doc:"0: never due"`
	FullCheckDays    int                 `json:"full_check_days,omitempty" minimum:"0" maximum:"3660" doc:"0: never due"`
	MinRemainingDays int                 `json:"min_remaining_days,omitempty" minimum:"0" maximum:"3660"`
	Lines            []inventory.Line    `json:"lines"`
	Modules          []inventory.Module  `json:"modules,omitempty" doc:"Bags on other lists that must be inside it"`
	Rules            []inventory.KitRule `json:"rules,omitempty"`
}

// NewKitList is a kit list to be made.
type NewKitList struct {
	Code string `json:"code" doc:"Code given by people"`
	KitListFields
}

func (f KitListFields) list(code string) inventory.KitList {
	k := inventory.KitList{Code: inventory.NormalCode(code), Name: f.Name, Edition: f.Edition, Source: f.Source,
		ValidFrom: f.ValidFrom, ValidTo: f.ValidTo,
		Sealed: f.Sealed, SealWarns: f.SealWarns, SealCheckHours: f.SealCheckHours, FullCheckDays: f.FullCheckDays,
		MinRemainingDays: f.MinRemainingDays, Lines: make([]inventory.Line, 0, len(f.Lines)), Rules: f.Rules}
	for _, l := range f.Lines {
		l.Item, l.Accepts = inventory.NormalCode(l.Item), codes(l.Accepts...)
		k.Lines = append(k.Lines, l)
	}
	for _, m := range f.Modules {
		k.Modules = append(k.Modules, inventory.Module{KitList: inventory.NormalCode(m.KitList), Count: m.Count})
	}
	return k
}

func (s *server) listKitLists(ctx context.Context, in *Paging) (*listed[inventory.KitList], error) {
	return listByCode(*in, func(k inventory.KitList) string { return k.Code },
		func(page inventory.Page) ([]inventory.KitList, error) {
			return s.svc.Lists.KitLists(ctx, by(ctx), page)
		})
}

func (s *server) createKitList(ctx context.Context, in *Posted[NewKitList]) (inventory.KitList, error) {
	return s.svc.Lists.CreateKitList(ctx, by(ctx), in.Body.list(in.Body.Code))
}

type kitListQuery struct {
	ByCode
	Version int `query:"version" minimum:"0" doc:"A version; default: 0, the newest"`
}

func (s *server) getKitList(ctx context.Context, in *kitListQuery) (*one[inventory.KitList], error) {
	k, err := s.svc.Lists.KitList(ctx, by(ctx), in.code(), in.Version)
	return oneOf(k, int64(k.Version), err)
}

// changeKitList makes the next version; bags keep theirs until somebody moves them.
func (s *server) changeKitList(ctx context.Context, in *changeOf[KitListFields]) (*one[inventory.KitList], error) {
	version, err := in.version(0) // 0: whatever is the newest
	if err != nil {
		return nil, err
	}
	k, err := s.svc.Lists.NextKitList(ctx, by(ctx), in.Body.list(in.code()), int(version))
	return oneOf(k, int64(k.Version), err)
}

type kitListMove struct {
	ByCode
	Posted[struct{}]
}

// BagsMoved are the bags that came to a newer version of their kit list.
type BagsMoved struct {
	Moved []lists.BagMoved `json:"moved"`
}

func (s *server) moveBags(ctx context.Context, in *kitListMove) (BagsMoved, error) {
	moved, err := s.svc.Lists.MoveBags(ctx, by(ctx), in.code())
	return BagsMoved{moved}, err
}
