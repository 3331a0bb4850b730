package stock

import (
	"cmp"
	"context"
	"slices"

	"stowkeeper/inventory"
	"stowkeeper/inventory/lists"
	"stowkeeper/inventory/scope"
)

// LotSummary is a lot with what decides its end and where its units are.
type LotSummary struct {
	inventory.Lot
	UsableThrough inventory.Day     `json:"usable_through,omitempty" format:"date" doc:"Governing date"`
	Rule          inventory.EndRule `json:"rule,omitempty" doc:"The life rule that sets it"`
	Ends          []inventory.End   `json:"ends" doc:"Every end date, earliest first"`
	Where         []AtPlace         `json:"where" doc:"Where its units are"`
}

// AtPlace is a quantity in a place.
type AtPlace struct {
	Place string `json:"place"`
	Qty   int    `json:"qty"`
}

// LotStory is a lot with its history and the other lots of its batch.
type LotStory struct {
	LotSummary
	SameBatch []LotSummary         `json:"same_batch,omitempty" doc:"Other units of the batch, by lot_id"`
	History   []inventory.Movement `json:"history" doc:"Every movement of the batch, oldest first"`
	Incidents []UsedUnits          `json:"incidents" doc:"The incidents that used units of the batch"`

	Corrections []inventory.BatchCorrection `json:"corrections,omitempty" doc:"Corrections of the batch"`
}

// Lots lists lots with their dates and places, by id. endsBefore, where given, keeps those whose governing date lies
// before that day. Refuses: Forbidden without see, and for a station or place that is not the actor's; NotFound for
// either.
func (s *Service) Lots(ctx context.Context, by inventory.Actor, f inventory.LotFilter, endsBefore inventory.Day,
	p inventory.Page) ([]LotSummary, error) {
	return inventory.ReadAs(ctx, s.store, by, inventory.ActSee, func(r inventory.Reader) ([]LotSummary, error) {
		stations, err := scope.Narrowed(by, r, f.Stations)
		if err != nil {
			return nil, err
		}
		f.Stations, f.BatchNo, f.Serial = stations, inventory.OneLine(f.BatchNo), inventory.OneLine(f.Serial)
		if err := scope.PlaceAsked(by, r, f.Place); err != nil {
			return nil, err
		}
		most := p.Limit
		if endsBefore != 0 { // dates are worked out here, so the page is cut after them
			p.Limit = 0
		}
		lots, err := r.Lots(f, p)
		if err != nil {
			return nil, err
		}
		all, err := s.Summaries(r, lots, stations, f.AsOf)
		out := make([]LotSummary, 0, len(all))
		for _, l := range all {
			if endsBefore == 0 || l.UsableThrough != 0 && l.UsableThrough < endsBefore {
				out = append(out, l)
			}
		}
		if most > 0 && len(out) > most {
			out = out[:most]
		}
		return out, err
	})
}

// Summaries works out the dates of lots as of a day, 0 for today, and finds their units, in the order of the lots.
// It never refuses.
func (s *Service) Summaries(r inventory.Reader, lots []inventory.Lot, stations []string,
	asOf inventory.Day) ([]LotSummary, error) {
	codes := make([]string, 0, len(lots))
	ids := make([]int64, 0, len(lots))
	for _, l := range lots {
		codes, ids = append(codes, l.Item), append(ids, l.ID)
	}
	if len(lots) == 0 {
		return nil, nil
	}
	items, err := lists.ItemsByCode(r, inventory.ItemFilter{Codes: codes})
	if err != nil {
		return nil, err
	}
	stock, err := r.Stock(inventory.StockFilter{Lots: ids, Stations: stations})
	if err != nil {
		return nil, err
	}
	where := map[int64][]AtPlace{}
	for _, st := range stock {
		where[st.Lot.ID] = append(where[st.Lot.ID], AtPlace{st.Place, st.Qty})
	}
	today, err := s.ledger.TodayAtFirst(r, stations)
	if err != nil {
		return nil, err
	}
	out := make([]LotSummary, 0, len(lots))
	for _, l := range lots {
		sum := LotSummary{Lot: l, Ends: inventory.Ends(items[l.Item], l, cmp.Or(asOf, today)), Where: where[l.ID]}
		if len(sum.Ends) > 0 {
			sum.UsableThrough, sum.Rule = sum.Ends[0].On, sum.Ends[0].Rule
		}
		out = append(out, sum)
	}
	return out, nil
}

// Lot tells a lot's whole story as of today, and refuses as LotAsOf does: Forbidden, NotFound.
func (s *Service) Lot(ctx context.Context, by inventory.Actor, id int64) (LotStory, error) {
	return s.LotAsOf(ctx, by, id, 0)
}

// LotAsOf tells a lot's story with its dates as of a day, 0 for today: movements and uses oldest first, which crew
// do not see. Refuses: Forbidden without see; NotFound, also where no unit of its batch was ever at a station of the
// actor's.
func (s *Service) LotAsOf(ctx context.Context, by inventory.Actor, id int64, asOf inventory.Day) (LotStory, error) {
	return inventory.ReadAs(ctx, s.store, by, inventory.ActSee, func(r inventory.Reader) (LotStory, error) {
		l, err := r.Lot(id)
		if err != nil {
			return LotStory{}, err
		}
		if err := scope.KnowsBatch(by, r, l.Batch.ID); err != nil {
			return LotStory{}, err
		}
		family, err := r.Lots(inventory.LotFilter{Batch: cmp.Or(l.MergedInto, l.Batch.ID)}, inventory.Page{})
		if err != nil {
			return LotStory{}, err
		}
		all, err := s.Summaries(r, family, by.StationsSeen(), asOf)
		if err != nil {
			return LotStory{}, err
		}
		var batches []int64 // several, where they turned out to be one
		for _, of := range family {
			if !slices.Contains(batches, of.Batch.ID) {
				batches = append(batches, of.Batch.ID)
			}
		}
		story := LotStory{History: []inventory.Movement{}, Incidents: []UsedUnits{}}
		if story.Corrections, err = r.BatchCorrections(inventory.BatchFilter{IDs: batches}); err != nil {
			return LotStory{}, err
		}
		story.Corrections = toldOnce(story.Corrections)
		for _, sum := range all {
			if sum.ID == id {
				story.LotSummary = sum
			} else {
				story.SameBatch = append(story.SameBatch, sum)
			}
		}
		if by.May(inventory.ActHistory) {
			story.History, err = r.Movements(inventory.MovementFilter{Batches: batches, Stations: by.StationsSeen()},
				inventory.Page{})
			story.Incidents = UnitsUsed(story.History, LotsByID(family))
		}
		return story, err
	})
}

// toldOnce leaves out what a merge says again of the other batches that it is about.
func toldOnce(all []inventory.BatchCorrection) []inventory.BatchCorrection {
	told := map[inventory.BatchCorrection]bool{}
	return slices.DeleteFunc(all, func(c inventory.BatchCorrection) bool {
		c.ID, c.BatchID, c.Merged = 0, 0, 0
		again := told[c]
		told[c] = true
		return again
	})
}

// StockAt lists what lies in a place, by lot id. Refuses: Forbidden without see where the place is; NotFound.
func (s *Service) StockAt(ctx context.Context, by inventory.Actor, code string) ([]LotSummary, error) {
	return inventory.Read(ctx, s.store, func(r inventory.Reader) ([]LotSummary, error) {
		p, err := r.Place(inventory.NormalCode(code))
		if err != nil {
			return nil, err
		}
		if err := scope.MaySee(by, r, p); err != nil {
			return nil, err
		}
		lots, err := r.Lots(inventory.LotFilter{Place: p.Code}, inventory.Page{})
		if err != nil {
			return nil, err
		}
		all, err := s.Summaries(r, lots, nil, 0)
		for i := range all {
			all[i].Where = only(all[i].Where, p.Code)
		}
		return all, err
	})
}

func only(where []AtPlace, place string) []AtPlace {
	for _, w := range where {
		if w.Place == place {
			return []AtPlace{w}
		}
	}
	return nil
}

// ComparePickOrder orders lots as a store is picked from.
func ComparePickOrder(a, b LotSummary) int {
	return inventory.PickOrder(a.Lot, b.Lot, a.UsableThrough, b.UsableThrough)
}
