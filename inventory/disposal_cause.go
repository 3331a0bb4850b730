package inventory

// Cause says why units were disposed of or lost.
type Cause string

// The causes.
const (
	CauseExpired  Cause = "expired"
	CauseDamaged  Cause = "damaged"
	CauseWasted   Cause = "wasted"
	CauseTraining Cause = "training"
	CauseRecalled Cause = "recalled"
	CauseMissing  Cause = "missing"
	CauseOther    Cause = "other"
)

// The causes that disposed and lost may carry; other reasons carry none. Forms of
// pages offer those that make sense there, in words of their own.
var (
	DisposalCauses = []Cause{CauseExpired, CauseDamaged, CauseWasted, CauseTraining, CauseRecalled, CauseOther}
	LossCauses     = []Cause{CauseMissing, CauseTraining, CauseOther}
)
