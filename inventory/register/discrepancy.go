package register

import (
	"cmp"
	"context"
	"slices"

	"stowkeeper/inventory"
	"stowkeeper/inventory/account"
	"stowkeeper/inventory/message"
	"stowkeeper/inventory/scope"
)

// Case is a discrepancy with what its page calls things.
type Case struct {
	inventory.Discrepancy
	Name      string `json:"name" doc:"The item's name"`
	PlaceName string `json:"place_name"`
	Station   string `json:"station" doc:"Where the place is"`
}

func (w whereabouts) caseOf(d inventory.Discrepancy) Case {
	return Case{d, w.items[d.Item].Name, w.places[d.Place].Name, w.where(w.places[d.Place])}
}

// cases are discrepancies at some stations, at any where none is named.
func (w whereabouts) cases(all []inventory.Discrepancy, stations []string) []Case {
	out := []Case{}
	for _, d := range all {
		if w.seen(w.places[d.Place], stations) {
			out = append(out, w.caseOf(d))
		}
	}
	return out
}

// Discrepancies lists the cases at the actor's stations, or at some of them, oldest first: all, or those that are
// open. Refuses: Forbidden without see, and for a station that is not the actor's; NotFound for a station.
func (s *Service) Discrepancies(ctx context.Context, by inventory.Actor, stations []string, open bool) ([]Case, error) {
	return inventory.ReadAs(ctx, s.store, by, inventory.ActSee, func(r inventory.Reader) ([]Case, error) {
		seen, err := scope.Narrowed(by, r, stations)
		if err != nil {
			return nil, err
		}
		all, err := r.Discrepancies(inventory.DiscrepancyFilter{Open: open})
		if err != nil {
			return nil, err
		}
		var places []string
		for _, d := range all {
			places = append(places, d.Place)
		}
		at, err := readWhereabouts(r, places)
		return at.cases(all, seen), err
	})
}

// Discrepancy returns one case. Refuses: Forbidden without see where its place is; NotFound.
func (s *Service) Discrepancy(ctx context.Context, by inventory.Actor, id int64) (Case, error) {
	return inventory.Read(ctx, s.store, func(r inventory.Reader) (Case, error) {
		return discrepancy(r, by, id, inventory.ActSee)
	})
}

func discrepancy(r inventory.Reader, by inventory.Actor, id int64, act inventory.Action) (Case, error) {
	if err := by.Must(act, ""); err != nil {
		return Case{}, err
	}
	all, err := r.Discrepancies(inventory.DiscrepancyFilter{ID: id})
	if err != nil || id <= 0 || len(all) == 0 {
		return Case{}, cmp.Or(err, inventory.Refuse(inventory.NotFound, "not found"))
	}
	at, err := readWhereabouts(r, []string{all[0].Place})
	if err != nil {
		return Case{}, err
	}
	c := at.caseOf(all[0])
	if !slices.ContainsFunc([]string{c.Station, at.places[c.Place].Station}, by.At) {
		return Case{}, inventory.ErrNotYours()
	}
	return c, by.Must(act, "")
}

// CloseDiscrepancy closes a case with its outcome in words, by two people. Refuses: Forbidden without keep_stock where
// its place is; NotFound; Invalid for the outcome, and where signatures are missing; Conflict where it is closed.
func (s *Service) CloseDiscrepancy(ctx context.Context, by inventory.Actor, id int64, outcome string) (Case, error) {
	return inventory.WriteAs(ctx, s.store, by, inventory.ActKeepStock, func(w inventory.Writer) (Case, error) {
		c, err := discrepancy(w, by, id, inventory.ActKeepStock)
		if err != nil {
			return c, err
		}
		var ps inventory.Problems
		inventory.CheckText(&ps, "outcome", outcome, true, inventory.MaxNote)
		if err := ps.Err(); err != nil {
			return c, err
		}
		signed := by.Proven(s.now())
		if signed.First == "" || signed.Second == "" {
			return c, account.ErrUnsigned
		}
		c.ClosedAt, c.ClosedBy, c.Witness, c.Outcome = s.now(), signed.First, signed.Second, outcome
		return c, w.CloseDiscrepancy(c.Discrepancy)
	})
}

// differed opens a case for a balance check that does not agree, where none is open that says the same.
func differed(w inventory.Writer, c inventory.BalanceCheck, name string) error {
	if !c.Differs() {
		return nil
	}
	says := message.M("{1} does not balance: {2} counted, {3} recorded", name, c.Counted, c.Expected)
	open, err := w.Discrepancies(inventory.DiscrepancyFilter{Item: c.Item, Places: []string{c.Place}, Open: true})
	if err != nil || slices.ContainsFunc(open, func(d inventory.Discrepancy) bool {
		return d.Check != 0 && d.Text.String() == says.String()
	}) {
		return err
	}
	_, err = w.AddDiscrepancy(inventory.Discrepancy{Item: c.Item, Place: c.Place, Check: c.ID, OpenedAt: c.RecordedAt,
		OpenedBy: c.By, Text: says})
	return err
}
