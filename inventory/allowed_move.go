package inventory

import (
	"slices"
)

// route is a pair of kinds of place.
type route struct{ from, to PlaceKind }

// allowed is the whole table of what may move where and why. A correction is
// not in it: it may go wherever the movement that it undoes came from. What was
// used goes to used, and a reusable device to quarantine instead, to be
// inspected.
var allowed = map[route][]Reason{
	{KindSupplier, KindStore}:      {ReasonReceipt, ReasonOpening},
	{KindSupplier, KindQuarantine}: {ReasonReceipt, ReasonOpening},
	{KindSupplier, KindBag}:        {ReasonOpening},
	{KindSupplier, KindCarrier}:    {ReasonOpening},
	{KindSupplier, KindAway}:       {ReasonOpening},

	{KindFound, KindStore}:      {ReasonFound},
	{KindFound, KindBag}:        {ReasonFound},
	{KindFound, KindCarrier}:    {ReasonFound},
	{KindFound, KindQuarantine}: {ReasonFound},
	{KindLost, KindStore}:       {ReasonFound},
	{KindLost, KindBag}:         {ReasonFound},
	{KindLost, KindCarrier}:     {ReasonFound},
	{KindLost, KindQuarantine}:  {ReasonFound},

	{KindStore, KindStore}:      {ReasonTransfer, ReasonToTraining},
	{KindStore, KindBag}:        {ReasonStow, ReasonToTraining},
	{KindStore, KindCarrier}:    {ReasonStow, ReasonToTraining},
	{KindStore, KindQuarantine}: {ReasonQuarantine, ReasonUsed},
	{KindStore, KindAway}:       {ReasonAway},

	{KindBag, KindStore}:      {ReasonReturn, ReasonToTraining},
	{KindBag, KindBag}:        {ReasonTransfer, ReasonToTraining},
	{KindBag, KindCarrier}:    {ReasonTransfer, ReasonToTraining},
	{KindBag, KindQuarantine}: {ReasonQuarantine, ReasonUsed},
	{KindBag, KindAway}:       {ReasonAway},

	{KindCarrier, KindStore}:      {ReasonReturn, ReasonToTraining},
	{KindCarrier, KindBag}:        {ReasonStow, ReasonToTraining},
	{KindCarrier, KindCarrier}:    {ReasonTransfer, ReasonToTraining},
	{KindCarrier, KindQuarantine}: {ReasonQuarantine, ReasonUsed},
	{KindCarrier, KindAway}:       {ReasonAway},

	{KindQuarantine, KindStore}:      {ReasonRelease, ReasonToTraining},
	{KindQuarantine, KindQuarantine}: {ReasonTransfer, ReasonToTraining},
	{KindQuarantine, KindAway}:       {ReasonAway},
	{KindQuarantine, KindFound}:      {ReasonFound}, // unidentified units, which are then found as what they are

	{KindAway, KindStore}:      {ReasonReturn},
	{KindAway, KindBag}:        {ReasonReturn},
	{KindAway, KindCarrier}:    {ReasonReturn},
	{KindAway, KindQuarantine}: {ReasonQuarantine, ReasonUsed},
	{KindAway, KindAway}:       {ReasonTransfer},

	{KindStore, KindUsed}:   {ReasonUsed},
	{KindBag, KindUsed}:     {ReasonUsed},
	{KindCarrier, KindUsed}: {ReasonUsed},
	{KindAway, KindUsed}:    {ReasonUsed},

	{KindStore, KindDisposed}:      {ReasonDisposed},
	{KindBag, KindDisposed}:        {ReasonDisposed},
	{KindCarrier, KindDisposed}:    {ReasonDisposed},
	{KindQuarantine, KindDisposed}: {ReasonDisposed},
	{KindAway, KindDisposed}:       {ReasonDisposed},

	{KindStore, KindLost}:      {ReasonLost},
	{KindBag, KindLost}:        {ReasonLost},
	{KindCarrier, KindLost}:    {ReasonLost},
	{KindQuarantine, KindLost}: {ReasonLost},
	{KindAway, KindLost}:       {ReasonLost},
}

// Allowed tells whether units may go from one place to another for a reason, and why not. It does not judge
// corrections: see CorrectionOf. Refuses: Invalid for a cause; else Conflict.
func Allowed(from, to Place, reason Reason, cause Cause) error {
	if err := allowedPurpose(from, to, reason); err != nil {
		return err
	}
	reasons := allowed[route{from.Kind, to.Kind}]
	if len(reasons) == 0 {
		return Errorf(Conflict, "nothing moves from %s to %s", kindText(from.Kind), kindText(to.Kind))
	}
	if !slices.Contains(reasons, reason) {
		return Errorf(Conflict, "from %s to %s the reason is one of %s", kindText(from.Kind), kindText(to.Kind),
			reasonList(reasons))
	}
	return allowedCause(reason, cause)
}

// allowedPurpose keeps training stock out of issue, for good.
func allowedPurpose(from, to Place, reason Reason) error {
	switch crossing := !from.Outside() && !to.Outside() && from.Purpose != to.Purpose; {
	case crossing && from.Purpose == ForTraining:
		return Errorf(Conflict, "stock never returns from training to issue")
	case crossing && reason != ReasonToTraining:
		return Errorf(Conflict, "issue stock goes to training only with the reason to_training, and there is no way back")
	case !crossing && reason == ReasonToTraining:
		return Errorf(Conflict, "to_training is for issue stock going to a training place")
	}
	return nil
}

func allowedCause(reason Reason, cause Cause) error {
	switch reason {
	case ReasonDisposed:
		if !slices.Contains([]Cause{CauseExpired, CauseDamaged, CauseWasted, CauseTraining, CauseRecalled, CauseOther},
			cause) {
			return Invalidf("cause", "say why it was disposed of: expired, damaged, wasted, training, recalled or other")
		}
	case ReasonLost:
		if !slices.Contains([]Cause{CauseMissing, CauseTraining, CauseOther}, cause) {
			return Invalidf("cause", "say how it was lost: missing, training or other")
		}
	default:
		if cause != "" {
			return Invalidf("cause", "only disposed and lost carry a cause")
		}
	}
	return nil
}

func kindText(k PlaceKind) string {
	if k == KindSupplier || k == KindUsed || k == KindDisposed || k == KindLost || k == KindFound {
		return string(k)
	}
	if k == KindAway {
		return "away"
	}
	return "a " + string(k)
}

func reasonList(rs []Reason) string {
	s := ""
	for i, r := range rs {
		if i > 0 {
			s += ", "
		}
		s += string(r)
	}
	return s
}

// CorrectionOf returns the movement that exactly undoes m, or why there can be none: it would bring training stock
// back to issue. Refuses: Conflict.
func CorrectionOf(m Movement, from, to Place) (Movement, error) {
	if m.Reason == ReasonCorrection {
		return Movement{}, Errorf(Conflict, "a correction is not corrected; record the movement again instead")
	}
	if err := allowedPurpose(to, from, ReasonCorrection); err != nil {
		return Movement{}, err
	}
	return Movement{
		LotID: m.IntoLotID, IntoLotID: m.LotID, Qty: m.Qty, From: m.To, To: m.From,
		Reason: ReasonCorrection, Corrects: m.ID,
	}, nil
}

// AllowedLot judges what depends on the lot: training units stay in training, unidentified ones in quarantine,
// withdrawn ones go nowhere but there or away, worn out devices are not stowed, medicines never go to training, and
// of what was used only a reusable device is kept. Refuses: Conflict.
func AllowedLot(it Item, l Lot, to Place, reason Reason) error {
	switch inside := !to.Outside(); {
	case inside && l.Training && to.Purpose == ForIssue:
		return Errorf(Conflict, "these units are training stock and never return to issue")
	case inside && l.Device() && !l.Training && to.Purpose == ForTraining && reason == ReasonFound:
		return Errorf(Conflict,
			"a device for issue becomes training stock only with the reason to_training: find it into a place for issue first")
	case inside && l.Unidentified && to.Kind != KindQuarantine:
		return Errorf(Conflict, "unidentified units stay in quarantine until they are identified or disposed of")
	case inside && len(l.Withdrawn) > 0 && to.Kind != KindQuarantine && to.Kind != KindAway:
		return Errorf(Conflict, "these units are under notice %s: they go to quarantine or are disposed of", l.Withdrawn[0])
	case WornOut(it, l) && reason != ReasonFound && (to.Kind == KindBag || to.Kind == KindCarrier):
		return Errorf(Conflict, "the device is worn out: it goes to quarantine or is disposed of")
	case reason == ReasonUsed && to.Kind == KindQuarantine && !Reusable(it, l):
		return Errorf(Conflict, "what was used goes to used; only a reusable device comes back, through an inspection")
	case reason == ReasonToTraining && it.Category.Medicinal():
		return Errorf(Conflict, "medicines never go to training")
	}
	return nil
}
