package api

import (
	"context"

	"stowkeeper/inventory"
	"stowkeeper/inventory/lists"
)

// PlaceFields are what people give of a place. Bags are made under /bags.
type PlaceFields struct {
	Code    string              `json:"code" doc:"Code given by people"`
	Station string              `json:"station" doc:"Station code"`
	Kind    inventory.PlaceKind `json:"kind" enum:"store,carrier,quarantine,away"`
	Purpose inventory.Purpose   `json:"purpose" enum:"issue,training"`
	Name    string              `json:"name"`
	Holder  string              `json:"holder,omitempty" doc:"Who has it; never a patient"`
	DueBack inventory.Day       `json:"due_back,omitempty" format:"date" doc:"When stock that is away is due back"`
	Vehicle string              `json:"vehicle,omitempty" doc:"For a carrier: the vehicle that it rides on"`
}

type placeQuery struct {
	Paging
	Station string `query:"station" doc:"Station code"`
	Kind    string `query:"kind" enum:"store,bag,carrier,quarantine,away"`
}

func (s *server) listPlaces(ctx context.Context, in *placeQuery) (*listed[inventory.Place], error) {
	f := inventory.PlaceFilter{Stations: codes(in.Station), Kind: inventory.PlaceKind(in.Kind)}
	return listByCode(in.Paging, func(p inventory.Place) string { return p.Code },
		func(page inventory.Page) ([]inventory.Place, error) {
			return s.svc.Lists.Places(ctx, by(ctx), f, page)
		})
}

func (s *server) createPlace(ctx context.Context, in *Posted[PlaceFields]) (inventory.Place, error) {
	b := in.Body
	return s.svc.Lists.CreatePlace(ctx, by(ctx), inventory.Place{Code: inventory.NormalCode(b.Code),
		Station: inventory.NormalCode(b.Station),
		Kind:    b.Kind, Purpose: b.Purpose, Name: b.Name, Holder: b.Holder, DueBack: b.DueBack, Vehicle: b.Vehicle})
}

// PlaceChange is what people change of a place that is no bag; fields left out stay.
type PlaceChange struct {
	Name    *string        `json:"name,omitempty" maxLength:"120"`
	Holder  *string        `json:"holder,omitempty" maxLength:"120" doc:"Who has it; never a patient"`
	DueBack *inventory.Day `json:"due_back,omitempty" format:"date" doc:"When stock that is away is due back"`
	Vehicle *string        `json:"vehicle,omitempty" doc:"For a carrier: the vehicle that it rides on, or empty"`
}

func (s *server) changePlace(ctx context.Context, in *changeOf[PlaceChange]) (*one[inventory.Place], error) {
	version, err := in.version(0) // 0: whatever is there
	if err != nil {
		return nil, err
	}
	b := in.Body
	p, err := s.svc.Lists.UpdatePlace(ctx, by(ctx), in.code(), version, lists.PlaceChange{Name: b.Name, Holder: b.Holder,
		DueBack: b.DueBack, Vehicle: b.Vehicle})
	return oneOf(p, p.Version, err)
}

// codes brings the codes that a query names to their stored form; none gives nil.
func codes(typed ...string) []string {
	var out []string
	for _, t := range typed {
		if c := inventory.NormalCode(t); c != "" {
			out = append(out, c)
		}
	}
	return out
}
