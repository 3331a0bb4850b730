package web

import (
	"cmp"
	"net/http"
	"slices"
	"strings"

	"stowkeeper/inventory"
	"stowkeeper/inventory/lists"
	"stowkeeper/inventory/message"
	"stowkeeper/inventory/shift"
)

type boardPage struct {
	Base
	Stations []NavLink
	Station  inventory.Station
	Today    inventory.Day
	Now      When
	Summary  []StateCount
	Troubles []RegisterLink
	Groups   []BoardGroup
	MayAdd   bool
}

// StateCount is how many bags are in a state.
type StateCount struct {
	State inventory.State
	N     int
}

// BoardGroup is the bags on one vehicle, those on none, or those for training.
type BoardGroup struct {
	Title    message.Message
	Vehicle  *shift.VehicleState // that it is about, if one
	Bags     []BoardBag
	Carriers []shift.Carrier // with something wrong on them
}

// BoardBag is a bag with what the board says of it besides its headline.
type BoardBag struct {
	inventory.BagSummary
	Training bool
	Says     []message.Message
	Lender   string // the station that it belongs to, where it is lent
}

// showBoard shows the bags of one station: crew stand before theirs.
func (s *server) showBoard(v *visit) error {
	station, err := v.stationAsked()
	if err != nil {
		return err
	}
	bags, err := s.svc.Shift.BagList(v.ctx(), v.actor, inventory.BagFilter{AtStations: []string{station.Code}},
		inventory.Page{}, lists.Outlook{Horizon: -1})
	if err != nil {
		return err
	}
	vehicles, err := s.svc.Shift.Vehicles(v.ctx(), v.actor, []string{station.Code})
	if err != nil {
		return err
	}
	slices.SortStableFunc(bags, func(a, b inventory.BagSummary) int { return cmp.Compare(a.Priority, b.Priority) })
	p := &boardPage{Base: Base{Title: message.M("Bags of {1}", station.Name)}, Station: station,
		Today: station.Today(v.now), Now: whenAt(v.now, station), Stations: v.stationLinks("/board", station.Code),
		Summary: countStates(bags), Groups: groupBags(bags, vehicles), MayAdd: v.may(inventory.ActKeepLists)}
	registers, err := s.registersAt(v, []string{station.Code})
	if err != nil {
		return err
	}
	p.Troubles = registers[0].troubles()
	if p.Yours, err = s.saidToBe(v); err != nil {
		return err
	}
	for _, g := range p.Groups {
		if err := s.nameLenders(v, g.Bags); err != nil {
			return err
		}
	}
	return s.render(v, http.StatusOK, p)
}

func (s *server) nameLenders(v *visit, bags []BoardBag) error {
	for i, b := range bags {
		if b.Station == b.AtStation {
			continue
		}
		names, err := s.svc.Lists.StationNames(v.ctx(), v.actor)
		if err != nil {
			return err
		}
		bags[i].Lender = names[b.Station]
	}
	return nil
}

var stateOrder = []inventory.State{inventory.NotReady, inventory.ReadyWithGaps, inventory.Ready, inventory.OutOfService}

func countStates(bags []inventory.BagSummary) []StateCount {
	n := map[inventory.State]int{}
	for _, b := range bags {
		n[b.State]++
	}
	var out []StateCount
	for _, st := range stateOrder {
		if n[st] > 0 {
			out = append(out, StateCount{st, n[st]})
		}
	}
	return out
}

// groupBags puts the bags on each vehicle together, and the modules of a bag behind it.
func groupBags(bags []inventory.BagSummary, vehicles []shift.VehicleState) []BoardGroup {
	inside := map[string][]inventory.BagSummary{}
	for _, b := range bags {
		inside[b.Inside] = append(inside[b.Inside], b)
	}
	var out []BoardGroup
	aboard := map[string]bool{}
	for _, v := range vehicles {
		g := BoardGroup{Title: message.Plain(v.Vehicle), Vehicle: &v}
		for _, b := range v.Bags {
			aboard[b.Code] = true
			g.add(b, inside)
		}
		for _, c := range v.Carriers {
			if len(c.Findings) > 0 {
				g.Carriers = append(g.Carriers, c)
			}
		}
		out = append(out, g)
	}
	issue, training := BoardGroup{Title: message.M("Bags")}, BoardGroup{Title: message.M("Training bags")}
	if len(vehicles) > 0 {
		issue.Title = message.M("No vehicle")
	}
	for _, b := range inside[""] {
		switch {
		case b.Purpose == inventory.ForTraining:
			training.add(b, inside)
		case !aboard[b.Code]:
			issue.add(b, inside)
		}
	}
	for _, g := range []BoardGroup{issue, training} {
		if len(g.Bags) > 0 {
			out = append(out, g)
		}
	}
	return out
}

// add puts a bag into a group, and its modules behind it.
func (g *BoardGroup) add(b inventory.BagSummary, inside map[string][]inventory.BagSummary) {
	g.Bags = append(g.Bags, BoardBag{BagSummary: b, Training: b.Purpose == inventory.ForTraining, Says: boardSays(b)})
	for _, m := range inside[b.Code] {
		g.Bags = append(g.Bags, BoardBag{BagSummary: m, Training: m.Purpose == inventory.ForTraining, Says: boardSays(m)})
	}
}

// boardSays words the findings that send somebody to a bag and are no shortage.
func boardSays(b inventory.BagSummary) []message.Message {
	var out []message.Message
	for _, k := range boardFindings {
		if slices.Contains(b.Kinds, k) {
			out = append(out, findingWords[k])
		}
	}
	return out
}

// findBag leads from a code that was typed to the bag's page.
func (s *server) findBag(v *visit) error {
	code := strings.TrimSpace(v.Query("code"))
	if code == "" {
		return v.to("/board")
	}
	b, err := s.svc.Stock.FindBag(v.ctx(), v.actor, code)
	if err != nil {
		return noSuchBag(err)
	}
	return v.to(bagPath(b.Code))
}
