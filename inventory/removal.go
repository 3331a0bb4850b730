package inventory

// Removal is how somebody takes units out of a bag that the pick list does not ask to take out.
type Removal string

// The ways out.
const (
	RemoveToStore      Removal = "store"      // sound, and not needed there
	RemoveToQuarantine Removal = "quarantine" // to be looked at
	RemoveDamaged      Removal = "damaged"    // disposed of
)

// RemovalLine is the line of a restock that takes units of a lot out of a bag at
// a station by one of the ways; any other way gives a line that is refused.
func RemovalLine(station Station, b Bag, how Removal, lot int64, qty int) TakeOutLine {
	l := TakeOutLine{LotID: lot, Qty: qty}
	switch how {
	case RemoveToStore:
		l.To, l.Reason = storeFor(BagView{Bag: b, Station: station}), ReasonReturn
	case RemoveToQuarantine:
		l.To, l.Reason = station.QuarantineCode(b.Purpose), ReasonQuarantine
	case RemoveDamaged:
		l.To, l.Reason, l.Cause = string(KindDisposed), ReasonDisposed, CauseDamaged
	}
	return l
}
