package inventory

import "stowkeeper/inventory/message"

// BagSummary is one bag on the board of a station.
type BagSummary struct {
	Bag
	State    State           `json:"state" enum:"ready,ready_with_gaps,not_ready,out_of_service"`
	Headline message.Message `json:"headline" doc:"What is true in a few words"`
	Stops    int             `json:"stops"`
	Warnings int             `json:"warnings"`

	Kinds []FindingKind `json:"kinds,omitempty" doc:"The kinds of finding, each once, the heaviest first"`
	Strip Strip         `json:"-"`
}

// Stopped is the headline of what must not go out.
func Stopped(reason message.Message) message.Message {
	return message.M("Do not use: {1}", reason)
}

// ReasonIn is the reason in a headline of what must not go out, and any other headline as it is.
func ReasonIn(headline message.Message) message.Message {
	if reason, ok := headline.Arg(1).(message.Message); ok && headline.Key() == Stopped(nil).Key() {
		return reason
	}
	return headline
}

// Headline says in a few words whether a bag may go out, and the first reason.
// A training bag never goes out to a patient, so it is never said to.
func Headline(b Bag, r Readiness) message.Message {
	switch {
	case b.Retired() && b.Successor != "":
		return message.M("Retired: use {1} instead", b.Successor)
	case b.Retired():
		return message.M("Retired: out of service")
	case r.State == OutOfService:
		return message.M("Out of service: {1}", b.OutOfService.Reason)
	case b.Purpose == ForTraining:
		return trainingHeadline(r)
	case r.State == NotReady:
		return Stopped(r.Findings[0].Text)
	case r.State == ReadyWithGaps:
		return message.M("OK to go out, {1} {1|gap|gaps}", len(r.Findings))
	}
	return message.M("OK to go out")
}

func trainingHeadline(r Readiness) message.Message {
	switch r.State {
	case NotReady:
		return message.M("Not ready for training: {1}", r.Findings[0].Text)
	case ReadyWithGaps:
		return message.M("Ready for training, {1} {1|gap|gaps}", len(r.Findings))
	}
	return message.M("Ready for training")
}
