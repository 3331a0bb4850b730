package inventory

import (
	"cmp"
	"slices"
	"strings"
)

// DeviceSummary is a device with where it is, what ends it and what is due.
type DeviceSummary struct {
	LotSummary
	Name              string `json:"name" doc:"The item's name"`
	Life              Life   `json:"life" doc:"The item's life rules, the owner's policy"`
	Standing          string `json:"standing" doc:"How it stands, in words"`
	Fit               bool   `json:"fit" doc:"Whether it counts where it is"`
	InspectionDue     Day    `json:"inspection_due,omitempty" format:"date" doc:"Last day for its next inspection"`
	InspectionOverdue bool   `json:"inspection_overdue,omitempty" doc:"It should have been inspected already; it is not stowed before it is"`
	WornOut           bool   `json:"worn_out,omitempty" doc:"It has reached the applications that the owner allows"`
}

// DeviceStory is everything that ever happened to a device.
type DeviceStory struct {
	DeviceSummary
	Item         Item          `json:"item_facts"`
	Points       []string      `json:"points" doc:"What an inspection decides by"`
	NotePoints   []string      `json:"note_points,omitempty" doc:"What it looks at as well"`
	Story        []StoryLine   `json:"story" doc:"All of it in the order of time"`
	Inspections  []Inspection  `json:"inspections" doc:"Newest first"`
	TrainingUses []TrainingUse `json:"training_uses" doc:"What classes did with it, newest first"`
	Notices      []Notice      `json:"notices" doc:"Every notice that means it"`
	History      []Movement    `json:"history" doc:"Every movement, oldest first"`
}

// StoryLine is one thing that happened to a device.
type StoryLine struct {
	At   Instant `json:"at" format:"date-time"`
	Kind string  `json:"kind" enum:"movement,inspection,training,notice"`
	Text string  `json:"text"`
	By   string  `json:"by"`
}

// storyOf tells a device's records as one story. What happened at the same
// instant is told cause first: an inspection that failed before the movement
// that it made.
func storyOf(d DeviceStory) []StoryLine {
	out := []StoryLine{}
	for _, i := range d.Inspections {
		text := "inspected at " + i.Place + ": passed"
		if !i.Passed {
			text = "inspected at " + i.Place + ": failed: " + strings.Join(FailedPoints(d.Item, i.Points), "; ")
		}
		out = append(out, StoryLine{i.At, "inspection", text, i.By})
	}
	for _, t := range d.TrainingUses {
		text := plural(t.Cycles, "application") + " in training"
		if t.Class != "" {
			text += ", class " + t.Class
		}
		out = append(out, StoryLine{t.At, "training", text, t.By})
	}
	for _, n := range d.Notices {
		out = append(out, StoryLine{n.IssuedAt, "notice", "notice " + n.Reference + ": " + string(n.Action), n.IssuedBy})
		if n.Status != NoticeOpen {
			out = append(out, StoryLine{n.EndedAt, "notice", "notice " + n.Reference + " " + string(n.Status) + ": " + n.EndReason, n.EndedBy})
		}
	}
	for _, m := range d.History {
		out = append(out, StoryLine{m.HappenedAt, "movement", MovementText(m), m.By})
	}
	slices.SortStableFunc(out, func(a, b StoryLine) int { return cmp.Compare(a.At, b.At) })
	return out
}

// MovementText says in words what a movement did.
func MovementText(m Movement) string {
	text := ""
	switch m.Reason {
	case ReasonReceipt:
		text = "received into " + m.To
	case ReasonOpening:
		text = "counted in at " + m.To
	case ReasonStow:
		text = "stowed from " + m.From + " into " + m.To
	case ReasonReturn:
		text = "returned from " + m.From + " to " + m.To
	case ReasonTransfer:
		text = "moved from " + m.From + " to " + m.To
		if m.From == m.To {
			text = "opened in " + m.To
		}
	case ReasonToTraining:
		text = "given to training, from " + m.From + " to " + m.To
	case ReasonQuarantine:
		text = "set apart, from " + m.From + " to " + m.To
	case ReasonRelease:
		text = "released from " + m.From + " to " + m.To
	case ReasonAway:
		text = "sent away, from " + m.From + " to " + m.To
	case ReasonUsed:
		text = "used from " + m.From
		if !OutsideCode(m.To) {
			text += ", to " + m.To + " until it is inspected"
		}
	case ReasonDisposed:
		text = "disposed of from " + m.From + ", " + string(m.Cause)
	case ReasonLost:
		text = "lost from " + m.From + ", " + string(m.Cause)
	case ReasonFound:
		text = "found in " + m.To
	case ReasonCorrection:
		text = "correction: back from " + m.From + " to " + m.To
	}
	if m.Reference != "" {
		text += ", " + m.Reference
	}
	if m.Note != "" {
		text += " (" + m.Note + ")"
	}
	return text
}
