package inventory

import (
	"cmp"
	"context"
)

// LotSummary is a lot with what decides its end and where its units are.
type LotSummary struct {
	Lot
	UsableThrough Day       `json:"usable_through,omitempty" format:"date" doc:"Governing date: the last day on which it counts"`
	Rule          EndRule   `json:"rule,omitempty" doc:"The life rule that sets it"`
	Ends          []End     `json:"ends" doc:"Every end date, earliest first"`
	Where         []AtPlace `json:"where" doc:"Where its units are"`
}

// AtPlace is a quantity in a place.
type AtPlace struct {
	Place string `json:"place"`
	Qty   int    `json:"qty"`
}

// LotStory is a lot with its history and the other lots of its batch.
type LotStory struct {
	LotSummary
	SameBatch []LotSummary `json:"same_batch,omitempty" doc:"Other lots of the same batch"`
	History   []Movement   `json:"history" doc:"Every movement of the batch, oldest first"`
	Incidents []UsedUnits  `json:"incidents" doc:"The incidents that used units of the batch"`

	Corrections []BatchCorrection `json:"corrections,omitempty" doc:"What was typed wrongly of the batch, and is right since"`
}

// Lots lists lots with their dates and places. endsBefore, where given, keeps
// those whose governing date lies before that day.
func (s *Service) Lots(ctx context.Context, by Actor, f LotFilter, endsBefore Day, p Page) ([]LotSummary, error) {
	return read(ctx, s, func(r Reader) ([]LotSummary, error) {
		if err := by.must(ActSee, ""); err != nil {
			return nil, err
		}
		sites, err := by.narrowed(r, f.Sites)
		if err != nil {
			return nil, err
		}
		f.Sites, f.LotNo, f.Serial = sites, oneLine(f.LotNo), oneLine(f.Serial)
		if err := by.placeAsked(r, f.Place); err != nil {
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
		all, err := s.summaries(r, lots, sites, f.AsOf)
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

// summaries works out the dates of lots as of a day, 0 for today, and finds
// their units.
func (s *Service) summaries(r Reader, lots []Lot, sites []string, asOf Day) ([]LotSummary, error) {
	codes := make([]string, 0, len(lots))
	ids := make([]int64, 0, len(lots))
	for _, l := range lots {
		codes, ids = append(codes, l.Item), append(ids, l.ID)
	}
	if len(lots) == 0 {
		return nil, nil
	}
	items, err := itemsByCode(r, ItemFilter{Codes: codes})
	if err != nil {
		return nil, err
	}
	stock, err := r.Stock(StockFilter{Lots: ids, Sites: sites})
	if err != nil {
		return nil, err
	}
	where := map[int64][]AtPlace{}
	for _, st := range stock {
		where[st.Lot.ID] = append(where[st.Lot.ID], AtPlace{st.Place, st.Qty})
	}
	today, err := s.todayAnywhere(r, sites)
	if err != nil {
		return nil, err
	}
	out := make([]LotSummary, 0, len(lots))
	for _, l := range lots {
		sum := LotSummary{Lot: l, Ends: Ends(items[l.Item], l, cmp.Or(asOf, today)), Where: where[l.ID]}
		if len(sum.Ends) > 0 {
			sum.UsableThrough, sum.Rule = sum.Ends[0].On, sum.Ends[0].Rule
		}
		out = append(out, sum)
	}
	return out, nil
}

// todayAnywhere returns today at the first of the sites. It matters only for
// lots that ride exposed, whose end moves with the day.
func (s *Service) todayAnywhere(r Reader, sites []string) (Day, error) {
	all, err := r.Sites()
	if err != nil {
		return 0, err
	}
	for _, site := range all {
		if len(sites) == 0 || site.Code == sites[0] {
			return site.Today(s.Now()), nil
		}
	}
	return s.Now().In(utc), nil
}

// Lot tells a lot's whole story. Crew see it without the movements.
func (s *Service) Lot(ctx context.Context, by Actor, id int64) (LotStory, error) {
	return s.LotAsOf(ctx, by, id, 0)
}

// LotAsOf tells a lot's story with its dates as of a day; 0 is today.
func (s *Service) LotAsOf(ctx context.Context, by Actor, id int64, asOf Day) (LotStory, error) {
	return read(ctx, s, func(r Reader) (LotStory, error) {
		if err := by.must(ActSee, ""); err != nil {
			return LotStory{}, err
		}
		l, err := r.Lot(id)
		if err != nil {
			return LotStory{}, err
		}
		if err := by.knowsBatch(r, l.Batch.ID); err != nil {
			return LotStory{}, err
		}
		family, err := r.Lots(LotFilter{Batch: l.Batch.ID}, Page{})
		if err != nil {
			return LotStory{}, err
		}
		all, err := s.summaries(r, family, by.sitesSeen(), asOf)
		if err != nil {
			return LotStory{}, err
		}
		story := LotStory{History: []Movement{}, Incidents: []UsedUnits{}}
		if story.Corrections, err = r.BatchCorrections([]int64{l.Batch.ID}); err != nil {
			return LotStory{}, err
		}
		for _, sum := range all {
			if sum.ID == id {
				story.LotSummary = sum
			} else {
				story.SameBatch = append(story.SameBatch, sum)
			}
		}
		if by.May(ActHistory) {
			story.History, err = r.Movements(MovementFilter{Batch: l.Batch.ID, Sites: by.sitesSeen()}, Page{})
			story.Incidents = usedUnits(story.History, lotsByID(family))
		}
		return story, err
	})
}

// knowsBatch refuses a batch of which no unit is or was at the actor's sites, as
// one that does not exist.
func (a Actor) knowsBatch(r Reader, batch int64) error {
	sites := a.sitesSeen()
	if len(sites) == 0 {
		return nil
	}
	moved, err := r.Movements(MovementFilter{Batch: batch, Sites: sites}, Page{Limit: 1})
	if err != nil || len(moved) > 0 {
		return err
	}
	stock, err := r.Stock(StockFilter{Batch: batch, Sites: sites}) // in a bag that was lent to one
	if err == nil && len(stock) == 0 {
		return Errorf(NotFound, "no such lot")
	}
	return err
}

// StockAt lists what lies in a place.
func (s *Service) StockAt(ctx context.Context, by Actor, code string) ([]LotSummary, error) {
	return read(ctx, s, func(r Reader) ([]LotSummary, error) {
		p, err := r.Place(NormalCode(code))
		if err != nil {
			return nil, err
		}
		if err := by.maySee(r, p); err != nil {
			return nil, err
		}
		lots, err := r.Lots(LotFilter{Place: p.Code}, Page{})
		if err != nil {
			return nil, err
		}
		all, err := s.summaries(r, lots, nil, 0)
		for i := range all {
			all[i].Where = only(all[i].Where, p.Code)
		}
		return all, err
	})
}

// maySee refuses a place at a site that is not the actor's. What lies in a bag
// is seen where the bag is, and by whoever owns it.
func (a Actor) maySee(r Reader, pl Place) error {
	if pl.Kind == KindBag && a.must(ActSee, pl.Site) != nil {
		_, err := bagFor(r, a, pl.Code, ActSee)
		return err
	}
	return a.must(ActSee, pl.Site)
}

func only(where []AtPlace, place string) []AtPlace {
	for _, w := range where {
		if w.Place == place {
			return []AtPlace{w}
		}
	}
	return nil
}

// ComparePickOrder orders lots as a store is picked from: governing date
// ascending with undated lots last, then day of receipt, then id.
func ComparePickOrder(a, b LotSummary) int {
	return cmp.Or(compareEnd(a.UsableThrough, b.UsableThrough), cmp.Compare(a.ReceivedOn, b.ReceivedOn), cmp.Compare(a.ID, b.ID))
}
