package lists

import (
	"slices"

	"stowkeeper/inventory"
)

func SummaryOf(v inventory.BagView, now inventory.Instant, ask Outlook) inventory.BagSummary {
	r := inventory.ReadinessOf(v, now, ask.AsOf, ask.Days())
	b := inventory.BagSummary{Bag: v.Bag, State: r.State, Headline: inventory.Headline(v.Bag, r)}
	for _, f := range r.Findings {
		if f.Severity == inventory.SeverityStop {
			b.Stops++
		} else {
			b.Warnings++
		}
		if !slices.Contains(b.Kinds, f.Kind) {
			b.Kinds = append(b.Kinds, f.Kind)
		}
	}
	return b
}
