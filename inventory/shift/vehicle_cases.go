package shift

import (
	"cmp"
	"context"
	"slices"

	"stowkeeper/inventory"
	"stowkeeper/inventory/lists"
)

// vehicleKey names a vehicle at the site where it is.
type vehicleKey struct{ site, vehicle string }

// Vehicles answers, for every vehicle at the actor's sites or at some of them,
// whether it may go.
func (s *Service) Vehicles(ctx context.Context, by inventory.Actor, sites []string) ([]inventory.VehicleState, error) {
	return inventory.Read(ctx, s.store, func(r inventory.Reader) ([]inventory.VehicleState, error) {
		if err := by.Must(inventory.ActSee, ""); err != nil {
			return nil, err
		}
		seen, err := by.Narrow(sites)
		if err != nil {
			return nil, err
		}
		return s.vehicles(r, seen)
	})
}

func (s *Service) vehicles(r inventory.Reader, sites []string) ([]inventory.VehicleState, error) {
	items, err := lists.ItemsByCode(r, inventory.ItemFilter{})
	if err != nil {
		return nil, err
	}
	views, err := lists.LoadBags(r, inventory.BagFilter{AtSites: sites, Purpose: inventory.ForIssue}, inventory.Page{}, items)
	if err != nil {
		return nil, err
	}
	bags := map[vehicleKey][]inventory.BagSummary{}
	for _, v := range views {
		if v.Bag.Vehicle != "" && v.Bag.Inside == "" {
			k := vehicleKey{v.Bag.AtSite, v.Bag.Vehicle}
			bags[k] = append(bags[k], lists.SummaryOf(v, s.now(), lists.Outlook{Horizon: -1}))
		}
	}
	carriers, err := s.carriers(r, sites, items)
	if err != nil {
		return nil, err
	}
	gone, err := r.VehiclesOff(inventory.VehicleFilter{Sites: sites, Now: true})
	if err != nil {
		return nil, err
	}
	off := map[vehicleKey]*inventory.ServicePause{}
	for i := range gone {
		off[vehicleKey{gone[i].Site, gone[i].Vehicle}] = &gone[i].ServicePause
	}
	return gatherVehicles(bags, carriers, off), nil
}

func gatherVehicles(bags map[vehicleKey][]inventory.BagSummary, carriers map[vehicleKey][]inventory.Carrier, off map[vehicleKey]*inventory.ServicePause) []inventory.VehicleState {
	keys := map[vehicleKey]bool{}
	for k := range bags {
		keys[k] = true
	}
	for k := range carriers {
		keys[k] = true
	}
	out := make([]inventory.VehicleState, 0, len(keys))
	for k := range keys {
		// Empty lists rather than none: an answer never holds null.
		out = append(out, inventory.JudgeVehicle(k.site, k.vehicle, off[k], append([]inventory.BagSummary{}, bags[k]...), append([]inventory.Carrier{}, carriers[k]...)))
	}
	slices.SortFunc(out, func(a, b inventory.VehicleState) int {
		return cmp.Or(cmp.Compare(a.Site, b.Site), cmp.Compare(a.Vehicle, b.Vehicle))
	})
	return out
}

// carriers judges the carriers of issue stock that ride on vehicles.
func (s *Service) carriers(r inventory.Reader, sites []string, items map[string]inventory.Item) (map[vehicleKey][]inventory.Carrier, error) {
	places, err := r.Places(inventory.PlaceFilter{Sites: sites, Kind: inventory.KindCarrier}, inventory.Page{})
	if err != nil {
		return nil, err
	}
	stock, err := r.Stock(inventory.StockFilter{Sites: sites, Kinds: []inventory.PlaceKind{inventory.KindCarrier}})
	if err != nil {
		return nil, err
	}
	on := map[string][]inventory.Stock{}
	for _, st := range stock {
		on[st.Place] = append(on[st.Place], st)
	}
	all, err := lists.SitesByCode(r)
	out := map[vehicleKey][]inventory.Carrier{}
	for _, p := range places {
		if p.Vehicle != "" && p.Purpose == inventory.ForIssue {
			k := vehicleKey{p.Site, p.Vehicle}
			out[k] = append(out[k], inventory.JudgeCarrier(p, on[p.Code], items, all[p.Site].Today(s.now())))
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
func (s *Service) StopVehicle(ctx context.Context, by inventory.Actor, in VehicleChange) (inventory.VehicleOutOfService, error) {
	return inventory.Write(ctx, s.store, func(w inventory.Writer) (inventory.VehicleOutOfService, error) {
		if _, err := VehicleFor(w, by, &in); err != nil {
			return inventory.VehicleOutOfService{}, err
		}
		var ps inventory.Problems
		inventory.CheckText(&ps, "reason", in.Reason, true, inventory.MaxNote)
		if err := ps.Err(); err != nil {
			return inventory.VehicleOutOfService{}, err
		}
		return w.AddVehicleOff(inventory.VehicleOutOfService{Site: in.Site, Vehicle: in.Vehicle, ServicePause: inventory.ServicePause{Reason: in.Reason, By: by.Name, RecordedAt: s.now()}})
	})
}

// PutVehicleBack puts a vehicle back on the run: a quartermaster, or anybody
// who may take it off once every bag on it had a full check since.
func (s *Service) ReturnVehicle(ctx context.Context, by inventory.Actor, in VehicleChange) (inventory.VehicleOutOfService, error) {
	return inventory.Write(ctx, s.store, func(w inventory.Writer) (inventory.VehicleOutOfService, error) {
		bags, err := VehicleFor(w, by, &in)
		if err != nil {
			return inventory.VehicleOutOfService{}, err
		}
		off, err := w.VehiclesOff(inventory.VehicleFilter{Sites: []string{in.Site}, Vehicle: in.Vehicle, Now: true})
		if err != nil {
			return inventory.VehicleOutOfService{}, err
		}
		if len(off) == 0 {
			return inventory.VehicleOutOfService{}, inventory.Errorf(inventory.Conflict, "the vehicle is on the run already")
		}
		if !by.May(inventory.ActKeepStock) {
			if err := inventory.MayReturnToService(off[0].ServicePause, bags); err != nil {
				return inventory.VehicleOutOfService{}, err
			}
		}
		off[0].BackAt, off[0].BackBy = s.now(), by.Name
		return off[0], w.EndVehicleOff(off[0])
	})
}

// VehicleFor finds the bags on a vehicle at a site of the actor's. A vehicle
// that nothing rides on does not exist.
func VehicleFor(r inventory.Reader, by inventory.Actor, in *VehicleChange) ([]inventory.Bag, error) {
	in.Site, in.Vehicle = inventory.NormalCode(in.Site), inventory.Spaced(in.Vehicle)
	var ps inventory.Problems
	inventory.CheckCode(&ps, "site", in.Site)
	inventory.CheckText(&ps, "vehicle", in.Vehicle, true, inventory.MaxName)
	if err := ps.Err(); err != nil {
		return nil, err
	}
	if err := by.Must(inventory.ActStop, in.Site); err != nil {
		return nil, err
	}
	bags, err := r.Bags(inventory.BagFilter{AtSites: []string{in.Site}, Purpose: inventory.ForIssue, Vehicle: in.Vehicle}, inventory.Page{})
	if err != nil {
		return nil, err
	}
	carriers, err := r.Places(inventory.PlaceFilter{Sites: []string{in.Site}, Kind: inventory.KindCarrier, Vehicle: in.Vehicle}, inventory.Page{Limit: 1})
	if err == nil && len(bags)+len(carriers) == 0 {
		return nil, inventory.Invalidf("vehicle", "no bag or carrier rides on a vehicle of this name")
	}
	return bags, err
}
