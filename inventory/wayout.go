package inventory

// WayOut is how somebody takes units out of a bag that the pick list does not
// ask to take out.
type WayOut string

// The ways out.
const (
	OutToStore      WayOut = "store"      // sound, and not needed there
	OutToQuarantine WayOut = "quarantine" // to be looked at
	OutDamaged      WayOut = "damaged"    // disposed of
)

// TakeOutBy is the line of a restock that takes units of a lot out of a bag at
// a site by one of the ways; any other way gives a line that is refused.
func TakeOutBy(site Site, b Bag, how WayOut, lot int64, qty int) TakeOutLine {
	l := TakeOutLine{LotID: lot, Qty: qty}
	switch how {
	case OutToStore:
		l.To, l.Reason = storeFor(BagView{Bag: b, Site: site}), ReasonReturn
	case OutToQuarantine:
		l.To, l.Reason = site.QuarantineCode(b.Purpose), ReasonQuarantine
	case OutDamaged:
		l.To, l.Reason, l.Cause = string(KindDisposed), ReasonDisposed, CauseDamaged
	}
	return l
}

// SealUnsettled tells whether the seal was found broken or different and
// nobody has looked inside since: a new seal alone does not settle that.
func (r BagRecord) SealUnsettled() bool {
	return r.SealState == SealBroken || r.SealState == SealDifferent
}
