package inventory

// Retired tells whether the bag is out of service. It keeps its code, its
// label's address and its history, and is left out of boards, reports and
// lists.
func (b Bag) Retired() bool { return b.RetiredAt != 0 }

// retired is what a retired bag answers in place of its contents.
func retired(v BagView, asOf Day, horizon int) Readiness {
	return Readiness{Bag: v.Bag.Code, AsOf: asOf, HorizonDays: horizon, State: OutOfService, Findings: []Finding{},
		Lines: []LineState{}}
}
