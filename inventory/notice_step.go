package inventory

import "slices"

// NoticeStepKind is what was done about a notice.
type NoticeStepKind string

// The kinds of step.
const (
	StepReleased NoticeStepKind = "released" // a batch that it means counts again
	StepWidened  NoticeStepKind = "widened"  // it means more than when it was issued
	StepAnswered NoticeStepKind = "answered" // a station says what it holds
	StepReplied  NoticeStepKind = "replied"  // the supplier did
)

// NoticeStep is something that was done about a notice since it was issued. Steps are only ever added.
type NoticeStep struct {
	Kind       NoticeStepKind `json:"kind" enum:"released,widened,answered,replied"`
	RecordedAt Instant        `json:"recorded_at" format:"date-time"`
	By         string         `json:"by"`
	BatchID    int64          `json:"batch_id,omitempty" doc:"Of a release"`
	Bore       int            `json:"bore,omitempty" doc:"Of a release: how often the batch had been corrected by then"`
	Station    string         `json:"station,omitempty" doc:"Of an answer"`
	Held       int            `json:"held,omitempty" doc:"Of an answer: units that the station holds; default: none"`
	Text       string         `json:"text,omitempty" maxLength:"2000" doc:"The reason, or what the supplier said"`
	NoticeScope
}

// Binds tells whether a notice holds a batch: it means it, and no release of it holds.
func (n Notice) Binds(b Batch) bool {
	if !n.Means(b) {
		return false
	}
	_, released := n.Released(b)
	return !released
}

// Released returns the release of a batch that holds. It holds for the facts of its day: what matches and was
// recorded of the batch since, by a correction or a merge, ends it, and so does a notice that was widened to what the
// batch ever bore.
func (n Notice) Released(b Batch) (NoticeStep, bool) {
	last := -1
	for i, s := range n.Steps {
		if s.Kind == StepReleased && s.BatchID == b.ID {
			last = i
		}
	}
	if last < 0 {
		return NoticeStep{}, false
	}
	release, ever := n.Steps[last], b.Ever()
	if len(b.Formerly) > release.Bore { // the first of those since is what stood there that day
		since := append(ever[:1:1], b.Formerly[release.Bore+1:]...)
		if n.meansAny(since, n.Scopes()) {
			return NoticeStep{}, false
		}
	}
	widened := Notice{Steps: n.Steps[last:]}.Scopes()[1:]
	return release, !n.meansAny(ever, widened)
}

// MayRelease refuses to release a batch from a notice that does not hold it, by somebody who wrote one of its
// corrections or merges, or without a reason. Refuses: Invalid for the reason; Conflict.
func (n Notice) MayRelease(by Actor, b Batch, corrections []BatchCorrection, reason string) error {
	var ps Problems
	CheckText(&ps, "reason", reason, true, MaxNote)
	switch wrote := slices.ContainsFunc(corrections, func(c BatchCorrection) bool { return c.By == by.Name }); {
	case !n.Holds() || !n.Binds(b):
		return Refuse(Conflict, "this notice does not hold that batch")
	case wrote:
		return Refuse(Conflict, "somebody else must release it: you corrected this batch")
	}
	return ps.Err()
}

// CheckStep refuses a step that says nothing that could be. Refuses: Invalid by field.
func (s NoticeStep) CheckStep() error {
	var ps Problems
	CheckText(&ps, "text", s.Text, s.Kind == StepReplied, MaxNote)
	ps.When(s.Held < 0 || s.Held > MaxQty, "held", "enter 0 to {1} units", MaxQty)
	ps.When(s.Kind == StepWidened && s.whole(), "batch_nos", "enter at least one number or range")
	s.check(&ps)
	return ps.Err()
}

// AnswerOf returns what a station said that it holds. What it said before the
// notice was widened is no answer any more.
func (n Notice) AnswerOf(station string) (NoticeStep, bool) {
	for _, s := range slices.Backward(n.Steps) {
		if s.Kind == StepWidened {
			break
		}
		if s.Kind == StepAnswered && s.Station == station {
			return s, true
		}
	}
	return NoticeStep{}, false
}
