package inventory

import (
	"slices"

	"stowkeeper/inventory/message"
)

// route is a pair of kinds of place.
type route struct{ from, to PlaceKind }

// allowed is the whole table of what may move where and why. A correction is not in it: it may go wherever the
// movement that it undoes came from. What was used goes to used, and a reusable device to quarantine instead, to be
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

	{KindStore, KindTransit}:      {ReasonTransfer},
	{KindTransit, KindStore}:      {ReasonTransfer, ReasonReturn}, // it arrived, or came back to its sender
	{KindTransit, KindQuarantine}: {ReasonQuarantine},             // recalled on the way
	{KindTransit, KindLost}:       {ReasonLost},

	{KindStore, KindUsed}:   {ReasonUsed},
	{KindBag, KindUsed}:     {ReasonUsed},
	{KindCarrier, KindUsed}: {ReasonUsed},
	{KindAway, KindUsed}:    {ReasonUsed},

	{KindStore, KindSupplier}:      {ReasonToSupplier},
	{KindQuarantine, KindSupplier}: {ReasonToSupplier},
	{KindAway, KindSupplier}:       {ReasonToSupplier}, // what was in repair comes to be credited

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
		return Refuse(Conflict, "stock cannot move from {1} to {2}", kindWords[from.Kind], kindWords[to.Kind])
	}
	if !slices.Contains(reasons, reason) {
		return Refuse(Conflict, "from {1} to {2}, choose one of {3}", kindWords[from.Kind], kindWords[to.Kind],
			reasonList(reasons))
	}
	return allowedCause(reason, cause)
}

// allowedPurpose keeps training stock out of issue, for good.
func allowedPurpose(from, to Place, reason Reason) error {
	switch crossing := !from.Outside() && !to.Outside() && from.Purpose != to.Purpose; {
	case crossing && from.Purpose == ForTraining:
		return Refuse(Conflict, "training stock never returns to issue")
	case crossing && reason != ReasonToTraining:
		return Refuse(Conflict, "choose training as the reason")
	case !crossing && reason == ReasonToTraining:
		return Refuse(Conflict, "choose issue stock and a training place")
	}
	return nil
}

func allowedCause(reason Reason, cause Cause) error {
	switch reason {
	case ReasonDisposed:
		if !slices.Contains(DisposalCauses, cause) {
			return InvalidField("cause", "choose one of {1}", "expired, damaged, wasted, training, recalled, other")
		}
	case ReasonLost:
		if !slices.Contains(LossCauses, cause) {
			return InvalidField("cause", "choose one of {1}", "missing, training, other")
		}
	default:
		if cause != "" {
			return InvalidField("cause", "leave this empty")
		}
	}
	return nil
}

var kindWords = map[PlaceKind]message.Message{
	KindStore: message.M("a store"), KindBag: message.M("a bag"), KindCarrier: message.M("a carrier"),
	KindQuarantine: message.M("a quarantine"), KindAway: message.M("away"), KindTransit: message.M("in transit"),
	KindSupplier: message.M("supplier"),
	KindUsed:     message.M("used"), KindDisposed: message.M("disposed"), KindLost: message.M("lost"),
	KindFound: message.M("found"),
}

// KindList names kinds of place.
func KindList(kinds ...PlaceKind) message.Message {
	var words []message.Message
	for _, k := range kinds {
		words = append(words, kindWords[k])
	}
	return message.Join(", ", words...)
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
// back to issue, or change a transfer behind its back. Refuses: Conflict.
func CorrectionOf(m Movement, from, to Place) (Movement, error) {
	if m.Reason == ReasonCorrection {
		return Movement{}, Refuse(Conflict, "a correction cannot be corrected: record it again")
	}
	if from.Kind == KindTransit || to.Kind == KindTransit {
		return Movement{}, Refuse(Conflict, "correct it on the transfer")
	}
	if err := allowedPurpose(to, from, ReasonCorrection); err != nil {
		return Movement{}, err
	}
	return Movement{
		LotID: m.IntoLotID, IntoLotID: m.LotID, Qty: m.Qty, From: m.To, To: m.From,
		Reason: ReasonCorrection, Corrects: m.ID,
	}, nil
}

// BackFromUse tells whether a movement brings a single-use device back that was used on a patient. Only a slip of the
// pen can want that, so it takes a reason and a second person.
func BackFromUse(it Item, l Lot, m Movement) bool {
	return it.SingleUse && l.Device() && m.Reason == ReasonCorrection && m.From == string(KindUsed)
}

// AllowedLot judges what depends on the lot: training units stay in training, unidentified ones in quarantine,
// withdrawn ones go nowhere but there or away, worn out devices are not stowed, medicines never go to training, and
// of what was used only a reusable device is kept. Refuses: Conflict.
func AllowedLot(it Item, l Lot, to Place, reason Reason) error {
	switch inside := !to.Outside(); {
	case inside && l.Training && to.Purpose == ForIssue:
		return Refuse(Conflict, "training stock never returns to issue")
	case inside && l.Device() && !l.Training && to.Purpose == ForTraining && reason == ReasonFound:
		return Refuse(Conflict, "return it to issue stock first")
	case inside && l.Unidentified && to.Kind != KindQuarantine:
		return Refuse(Conflict, "unidentified units stay in quarantine")
	case inside && len(l.Withdrawn) > 0 && to.Kind != KindQuarantine && to.Kind != KindAway:
		return Refuse(Conflict, "under notice {1}: quarantine or dispose", l.Withdrawn[0])
	case WornOut(it, l) && reason != ReasonFound && (to.Kind == KindBag || to.Kind == KindCarrier):
		return Refuse(Conflict, "worn out: quarantine or dispose")
	case reason == ReasonUsed && to.Kind == KindQuarantine && !Reusable(it, l):
		return Refuse(Conflict, "only a reusable device comes back")
	case reason == ReasonToTraining && it.Category.Medicinal():
		return Refuse(Conflict, "cannot go to training")
	}
	return nil
}
