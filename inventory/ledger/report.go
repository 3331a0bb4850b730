package ledger

import (
	"slices"

	"stowkeeper/inventory"
)

// reportsAbout returns the reports under review about some bags, which the caller has locked, or the stations of which.
func (u *Unit) reportsAbout(bags []string) ([]inventory.UnderReview, error) {
	more := slices.DeleteFunc(slices.Clone(bags), func(b string) bool { return slices.Contains(u.reportsOf, b) })
	if len(more) == 0 {
		return u.reports, nil
	}
	of := append(slices.Clone(u.reportsOf), more...)
	reports, err := u.W.UnderReview(inventory.UnderReviewFilter{Places: of})
	if err == nil {
		u.reports, u.reportsOf = reports, of
	}
	return reports, err
}

// leave notes in reports under review which units of theirs have left a bag.
func (u *Unit) leave(ms []inventory.Movement) error {
	var bags []string
	for _, m := range ms {
		if u.places[m.From].Kind == inventory.KindBag && !slices.Contains(bags, m.From) {
			bags = append(bags, m.From)
		}
	}
	reports, err := u.reportsAbout(bags)
	if err != nil || len(bags) == 0 {
		return err
	}
	if reports = append(slices.Clone(reports), u.Accepting); !inventory.AreAbout(reports, ms) {
		return nil
	}
	stock, err := u.W.Stock(inventory.StockFilter{Places: bags})
	if err != nil {
		return err
	}
	return u.W.SetReported(inventory.LeaveBags(reports, ms, stock, inventory.Leaving{Of: u.Accepting.ReportKey,
		Removed: !u.OfCrew && u.By.May(inventory.ActKeepStock)}))
}

// Settle ends some of what reports under review say of a bag that the caller has locked.
func (u *Unit) Settle(bag string, ends func(inventory.UnderReview, inventory.Reported) bool) error {
	reports, err := u.reportsAbout([]string{bag})
	if err != nil {
		return err
	}
	var settled []inventory.Reported
	for _, x := range reports {
		for i, r := range x.Says {
			if r.Place == bag && !r.Over() && ends(x, r) {
				x.Says[i] = r.Settle()
				settled = append(settled, x.Says[i])
			}
		}
	}
	return u.W.SetReported(settled)
}
