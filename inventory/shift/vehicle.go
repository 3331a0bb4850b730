package shift

import (
	"cmp"
	"context"
	"slices"

	"stowkeeper/inventory"
	"stowkeeper/inventory/lists"
)

// vehicleKey names a vehicle at the station where it is.
type vehicleKey struct{ station, vehicle string }

// Vehicles answers, for every vehicle at the actor's stations or at some of them, whether it may go: by station,
// then by name. Refuses: Forbidden without see, and for a station that is not the actor's.
func (s *Service) Vehicles(ctx context.Context, by inventory.Actor, stations []string) ([]VehicleState,
	error) {
	return inventory.ReadAs(ctx, s.store, by, inventory.ActSee, func(r inventory.Reader) ([]VehicleState,
		error) {
		seen, err := by.Narrow(stations)
		if err != nil {
			return nil, err
		}
		return s.vehicles(r, seen)
	})
}

func (s *Service) vehicles(r inventory.Reader, stations []string) ([]VehicleState, error) {
	views, err := lists.LoadBags(r, inventory.BagFilter{AtStations: stations, Purpose: inventory.ForIssue},
		inventory.Page{})
	if err != nil {
		return nil, err
	}
	bags := map[vehicleKey][]inventory.BagSummary{}
	for _, v := range views {
		if v.Bag.Vehicle != "" && v.Bag.Inside == "" {
			k := vehicleKey{v.Bag.AtStation, v.Bag.Vehicle}
			bags[k] = append(bags[k], lists.SummaryOf(v, s.now(), lists.Outlook{Horizon: -1}))
		}
	}
	carriers, err := s.carriers(r, stations)
	if err != nil {
		return nil, err
	}
	gone, err := r.VehiclesOutOfService(inventory.VehicleFilter{Stations: stations, Now: true})
	if err != nil {
		return nil, err
	}
	off := map[vehicleKey]*inventory.ServicePause{}
	for i := range gone {
		off[vehicleKey{gone[i].Station, gone[i].Vehicle}] = &gone[i].ServicePause
	}
	return gatherVehicles(bags, carriers, off), nil
}

func gatherVehicles(bags map[vehicleKey][]inventory.BagSummary, carriers map[vehicleKey][]Carrier,
	off map[vehicleKey]*inventory.ServicePause) []VehicleState {
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
		out = append(out, JudgeVehicle(k.station, k.vehicle, off[k], append([]inventory.BagSummary{}, bags[k]...),
			append([]Carrier{}, carriers[k]...)))
	}
	slices.SortFunc(out, func(a, b VehicleState) int {
		return cmp.Or(cmp.Compare(a.Station, b.Station), cmp.Compare(a.Vehicle, b.Vehicle))
	})
	return out
}

// carriers judges the carriers of issue stock that ride on vehicles.
func (s *Service) carriers(r inventory.Reader, stations []string) (map[vehicleKey][]Carrier, error) {
	places, err := r.Places(inventory.PlaceFilter{Stations: stations, Kind: inventory.KindCarrier}, inventory.Page{})
	if err != nil {
		return nil, err
	}
	stock, err := r.Stock(inventory.StockFilter{Stations: stations}) // as it was read for the bags
	if err != nil {
		return nil, err
	}
	on := map[string][]inventory.Stock{}
	for _, st := range stock {
		on[st.Place] = append(on[st.Place], st)
	}
	items, err := lists.ItemsByCode(r, inventory.ItemFilter{})
	if err != nil {
		return nil, err
	}
	all, err := lists.StationsByCode(r)
	out := map[vehicleKey][]Carrier{}
	for _, p := range places {
		if p.Vehicle != "" && p.Purpose == inventory.ForIssue {
			k := vehicleKey{p.Station, p.Vehicle}
			out[k] = append(out[k], JudgeCarrier(p, on[p.Code], items, all[p.Station].Today(s.now())))
		}
	}
	return out, err
}

// VehicleChange takes a vehicle off the run or puts it back.
type VehicleChange struct {
	Station string `json:"station" doc:"Code of the station where it is"`
	Vehicle string `json:"vehicle"`
	Reason  string `json:"reason,omitempty" doc:"Why it is out of service"`
}

// StopVehicle takes a vehicle out of service with a reason. Refuses: Forbidden without out_of_service at the station;
// Invalid by field, also where nothing rides on a vehicle of that name; Conflict where it is out of service.
func (s *Service) StopVehicle(ctx context.Context, by inventory.Actor, in VehicleChange) (inventory.VehicleOutOfService,
	error) {
	return inventory.Write(ctx, s.store, func(w inventory.Writer) (inventory.VehicleOutOfService, error) {
		if _, err := VehicleFor(w, by, &in); err != nil {
			return inventory.VehicleOutOfService{}, err
		}
		var ps inventory.Problems
		inventory.CheckText(&ps, "reason", in.Reason, true, inventory.MaxNote)
		if err := ps.Err(); err != nil {
			return inventory.VehicleOutOfService{}, err
		}
		return w.AddVehicleOutOfService(inventory.VehicleOutOfService{Station: in.Station, Vehicle: in.Vehicle,
			ServicePause: inventory.ServicePause{Reason: in.Reason, By: by.Name, RecordedAt: s.now()}})
	})
}

// ReturnVehicle returns a vehicle to service: a quartermaster, or anybody who may take it off once every bag on it
// had a full check since. Refuses: Forbidden without out_of_service at the station; Invalid by field; Conflict where
// it is in service, and where checks are missing.
func (s *Service) ReturnVehicle(ctx context.Context, by inventory.Actor,
	in VehicleChange) (inventory.VehicleOutOfService, error) {
	return inventory.Write(ctx, s.store, func(w inventory.Writer) (inventory.VehicleOutOfService, error) {
		bags, err := VehicleFor(w, by, &in)
		if err != nil {
			return inventory.VehicleOutOfService{}, err
		}
		off, err := w.VehiclesOutOfService(inventory.VehicleFilter{Stations: []string{in.Station}, Vehicle: in.Vehicle,
			Now: true})
		if err != nil {
			return inventory.VehicleOutOfService{}, err
		}
		if len(off) == 0 {
			return inventory.VehicleOutOfService{}, inventory.Refuse(inventory.Conflict, "in service already")
		}
		if !by.May(inventory.ActKeepStock) {
			if err := mayReturn(off[0].ServicePause, bags); err != nil {
				return inventory.VehicleOutOfService{}, err
			}
		}
		off[0].BackAt, off[0].BackBy = s.now(), by.Name
		return off[0], w.EndVehicleOutOfService(off[0])
	})
}

// VehicleFor finds the bags on a vehicle at a station of the actor's. A vehicle that nothing rides on does not
// exist. Refuses: Invalid by field, Forbidden.
func VehicleFor(r inventory.Reader, by inventory.Actor, in *VehicleChange) ([]inventory.Bag, error) {
	in.Station, in.Vehicle = inventory.NormalCode(in.Station), inventory.OneLine(in.Vehicle)
	var ps inventory.Problems
	inventory.CheckCode(&ps, "station", in.Station)
	inventory.CheckText(&ps, "vehicle", in.Vehicle, true, inventory.MaxName)
	if err := ps.Err(); err != nil {
		return nil, err
	}
	if err := by.Must(inventory.ActStop, in.Station); err != nil {
		return nil, err
	}
	bags, err := r.Bags(inventory.BagFilter{AtStations: []string{in.Station}, Purpose: inventory.ForIssue,
		Vehicle: in.Vehicle}, inventory.Page{})
	if err != nil {
		return nil, err
	}
	carriers, err := r.Places(inventory.PlaceFilter{Stations: []string{in.Station}, Kind: inventory.KindCarrier,
		Vehicle: in.Vehicle}, inventory.Page{Limit: 1})
	if err == nil && len(bags)+len(carriers) == 0 {
		return nil, inventory.InvalidField("vehicle", "not found")
	}
	return bags, err
}
