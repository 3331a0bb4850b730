package inventory

// BagSummary is one bag on the board of a station.
type BagSummary struct {
	Bag
	State    State  `json:"state" enum:"ready,ready_with_gaps,not_ready,out_of_service"`
	Headline string `json:"headline" doc:"What is true in a few words"`
	Stops    int    `json:"stops"`
	Warnings int    `json:"warnings"`

	Kinds []FindingKind `json:"kinds,omitempty" doc:"The kinds of finding, each once, the heaviest first"`
	Strip Strip         `json:"-"`
}

const mustNotGo = "Must not go out: "

// Headline says in a few words whether a bag may go out, and the first reason.
// A training bag never goes out to a patient, so it is never said to.
func Headline(b Bag, r Readiness) string {
	switch {
	case b.Retired() && b.Successor != "":
		return "Retired: use " + b.Successor + " instead"
	case b.Retired():
		return "Retired: out of service"
	case r.State == OutOfService:
		return "Taken off: " + b.OutOfService.Reason
	case b.Purpose == ForTraining:
		return trainingHeadline(r)
	case r.State == NotReady:
		return mustNotGo + r.Findings[0].Text
	case r.State == ReadyWithGaps:
		return "May go out, " + Plural(len(r.Findings), "gap")
	}
	return "May go out"
}

func trainingHeadline(r Readiness) string {
	switch r.State {
	case NotReady:
		return "Not ready for training: " + r.Findings[0].Text
	case ReadyWithGaps:
		return "Ready for training, " + Plural(len(r.Findings), "gap")
	}
	return "Ready for training"
}
