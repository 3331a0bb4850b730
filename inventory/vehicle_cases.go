package inventory

import (
	"cmp"
	"context"
	"slices"
)

// vehicleKey names a vehicle at the site where it is.
type vehicleKey struct{ site, vehicle string }

// Vehicles answers, for every vehicle at the actor's sites or at some of them,
// whether it may go.
func (s *Service) Vehicles(ctx context.Context, by Actor, sites []string) ([]VehicleState, error) {
	return read(ctx, s, func(r Reader) ([]VehicleState, error) {
		if err := by.must(ActSee, ""); err != nil {
			return nil, err
		}
		seen, err := by.narrow(sites)
		if err != nil {
			return nil, err
		}
		return s.vehicles(r, seen)
	})
}

func (s *Service) vehicles(r Reader, sites []string) ([]VehicleState, error) {
	items, err := itemsByCode(r, ItemFilter{})
	if err != nil {
		return nil, err
	}
	views, err := viewsOf(r, BagFilter{AtSites: sites, Purpose: ForIssue}, Page{}, items)
	if err != nil {
		return nil, err
	}
	bags := map[vehicleKey][]BagSummary{}
	for _, v := range views {
		if v.Bag.Vehicle != "" && v.Bag.Inside == "" {
			k := vehicleKey{v.Bag.AtSite, v.Bag.Vehicle}
			bags[k] = append(bags[k], summaryOf(v, s.Now(), Ask{Horizon: -1}))
		}
	}
	carriers, err := s.carriers(r, sites, items)
	if err != nil {
		return nil, err
	}
	gone, err := r.VehiclesOff(VehicleFilter{Sites: sites, Now: true})
	if err != nil {
		return nil, err
	}
	off := map[vehicleKey]*TakenOff{}
	for i := range gone {
		off[vehicleKey{gone[i].Site, gone[i].Vehicle}] = &gone[i].TakenOff
	}
	return gatherVehicles(bags, carriers, off), nil
}

func gatherVehicles(bags map[vehicleKey][]BagSummary, carriers map[vehicleKey][]Carrier, off map[vehicleKey]*TakenOff) []VehicleState {
	keys := map[vehicleKey]bool{}
	for k := range bags {
		keys[k] = true
	}
	for k := range carriers {
		keys[k] = true
	}
	out := make([]VehicleState, 0, len(keys))
	for k := range keys {
		// Empty lists rather than none: an answer never holds null.
		out = append(out, JudgeVehicle(k.site, k.vehicle, off[k], append([]BagSummary{}, bags[k]...), append([]Carrier{}, carriers[k]...)))
	}
	slices.SortFunc(out, func(a, b VehicleState) int {
		return cmp.Or(cmp.Compare(a.Site, b.Site), cmp.Compare(a.Vehicle, b.Vehicle))
	})
	return out
}

// carriers judges the carriers of issue stock that ride on vehicles.
func (s *Service) carriers(r Reader, sites []string, items map[string]Item) (map[vehicleKey][]Carrier, error) {
	places, err := r.Places(PlaceFilter{Sites: sites, Kind: KindCarrier}, Page{})
	if err != nil {
		return nil, err
	}
	stock, err := r.Stock(StockFilter{Sites: sites, Kinds: []PlaceKind{KindCarrier}})
	if err != nil {
		return nil, err
	}
	on := map[string][]Stock{}
	for _, st := range stock {
		on[st.Place] = append(on[st.Place], st)
	}
	all, err := sitesByCode(r)
	out := map[vehicleKey][]Carrier{}
	for _, p := range places {
		if p.Vehicle != "" && p.Purpose == ForIssue {
			k := vehicleKey{p.Site, p.Vehicle}
			out[k] = append(out[k], JudgeCarrier(p, on[p.Code], items, all[p.Site].Today(s.Now())))
		}
	}
	return out, err
}

// VehicleChange takes a vehicle off the run or puts it back.
type VehicleChange struct {
	Site    string `json:"site" doc:"Code of the site where it is"`
	Vehicle string `json:"vehicle"`
	Reason  string `json:"reason,omitempty" doc:"Why it is taken off"`
}

// TakeVehicleOff takes a vehicle off the run with a reason.
func (s *Service) TakeVehicleOff(ctx context.Context, by Actor, in VehicleChange) (VehicleOff, error) {
	return write(ctx, s, func(w Writer) (VehicleOff, error) {
		if _, err := vehicleFor(w, by, &in); err != nil {
			return VehicleOff{}, err
		}
		var ps problems
		checkText(&ps, "reason", in.Reason, true, MaxNote)
		if err := ps.err(); err != nil {
			return VehicleOff{}, err
		}
		return w.AddVehicleOff(VehicleOff{Site: in.Site, Vehicle: in.Vehicle, TakenOff: TakenOff{Reason: in.Reason, By: by.Name, At: s.Now()}})
	})
}

// PutVehicleBack puts a vehicle back on the run: a quartermaster, or anybody
// who may take it off once every bag on it had a full check since.
func (s *Service) PutVehicleBack(ctx context.Context, by Actor, in VehicleChange) (VehicleOff, error) {
	return write(ctx, s, func(w Writer) (VehicleOff, error) {
		bags, err := vehicleFor(w, by, &in)
		if err != nil {
			return VehicleOff{}, err
		}
		off, err := w.VehiclesOff(VehicleFilter{Sites: []string{in.Site}, Vehicle: in.Vehicle, Now: true})
		if err != nil {
			return VehicleOff{}, err
		}
		if len(off) == 0 {
			return VehicleOff{}, Errorf(Conflict, "the vehicle is on the run already")
		}
		if !by.May(ActKeepStock) {
			if err := mayPutBack(off[0].TakenOff, bags); err != nil {
				return VehicleOff{}, err
			}
		}
		off[0].BackAt, off[0].BackBy = s.Now(), by.Name
		return off[0], w.EndVehicleOff(off[0])
	})
}

// vehicleFor finds the bags on a vehicle at a site of the actor's. A vehicle
// that nothing rides on does not exist.
func vehicleFor(r Reader, by Actor, in *VehicleChange) ([]Bag, error) {
	in.Site, in.Vehicle = NormalCode(in.Site), spaced(in.Vehicle)
	var ps problems
	checkCode(&ps, "site", in.Site)
	checkText(&ps, "vehicle", in.Vehicle, true, MaxName)
	if err := ps.err(); err != nil {
		return nil, err
	}
	if err := by.must(ActTakeOff, in.Site); err != nil {
		return nil, err
	}
	bags, err := r.Bags(BagFilter{AtSites: []string{in.Site}, Purpose: ForIssue, Vehicle: in.Vehicle}, Page{})
	if err != nil {
		return nil, err
	}
	carriers, err := r.Places(PlaceFilter{Sites: []string{in.Site}, Kind: KindCarrier, Vehicle: in.Vehicle}, Page{Limit: 1})
	if err == nil && len(bags)+len(carriers) == 0 {
		return nil, Invalidf("vehicle", "no bag or carrier rides on a vehicle of this name")
	}
	return bags, err
}
