package stock

import (
	"cmp"
	"slices"

	"stowkeeper/inventory"
	"stowkeeper/inventory/message"
)

// DeviceSummary is a device with where it is, what ends it and what is due.
type DeviceSummary struct {
	LotSummary
	Name     string          `json:"name" doc:"The item's name"`
	Life     inventory.Life  `json:"life" doc:"The item's life rules, the owner's policy"`
	Standing message.Message `json:"standing" doc:"Its state in words"`

	Fit               bool          `json:"fit" doc:"Whether it counts where it is"`
	InspectionDue     inventory.Day `json:"inspection_due,omitempty" format:"date" doc:"Last day for its next inspection"`
	InspectionOverdue bool          `json:"inspection_overdue,omitempty" doc:"Inspection overdue: inspect before stowing"`
	WornOut           bool          `json:"worn_out,omitempty" doc:"Training uses are used up"`
}

// DeviceStory is everything that ever happened to a device.
type DeviceStory struct {
	DeviceSummary
	Item         inventory.Item          `json:"item_facts"`
	Points       []string                `json:"points" doc:"What an inspection decides by"`
	NotePoints   []string                `json:"note_points,omitempty" doc:"What it also looks at"`
	Story        []StoryLine             `json:"story" doc:"All of it in the order of time"`
	Inspections  []inventory.Inspection  `json:"inspections" doc:"Newest first"`
	TrainingUses []inventory.TrainingUse `json:"training_uses" doc:"What classes did with it, newest first"`
	Notices      []inventory.Notice      `json:"notices" doc:"Every notice that means it"`
	History      []inventory.Movement    `json:"history" doc:"Every movement, oldest first"`

	Corrections []inventory.BatchCorrection `json:"corrections,omitempty" doc:"Corrections of it"`
}

// StoryLine is one thing that happened to a device.
type StoryLine struct {
	HappenedAt inventory.Instant `json:"happened_at" format:"date-time"`
	Kind       string            `json:"kind" enum:"movement,inspection,training,notice,correction"`
	Text       message.Message   `json:"text"`
	By         string            `json:"by"`
}

// told is a line of a story while the story is put in order.
type told struct {
	StoryLine
	recorded inventory.Instant
	moved    *inventory.Movement
}

// story is a device's records in the order of time. What happened at one
// instant is told as it was recorded, movements as they stand in the ledger.
type story []told

// storyOf tells a device's records as one story. looked are its inspections
// with the places where they were made, also those that d does not name.
func storyOf(d DeviceStory, looked []inventory.Inspection) []StoryLine {
	var s story
	for _, m := range d.History {
		s = append(s, told{StoryLine{m.HappenedAt, "movement", MovementText(m), m.By}, m.RecordedAt, &m})
	}
	slices.SortFunc(s, func(a, b told) int {
		return cmp.Or(cmp.Compare(a.HappenedAt, b.HappenedAt), cmp.Compare(a.moved.ID, b.moved.ID))
	})
	s.tellInspections(d, looked)
	s.tellTraining(d)
	s.tellNotices(d)
	for _, c := range d.Corrections {
		s.tell(told{StoryLine: StoryLine{c.RecordedAt, "correction", inventory.CorrectionText(c), c.By},
			recorded: c.RecordedAt}, nil)
	}
	out := make([]StoryLine, 0, len(s))
	for _, t := range s {
		out = append(out, t.StoryLine)
	}
	return out
}

// tell puts a line where it belongs: after what was recorded before it, and
// before a movement, recorded in the same moment, that followed from it.
func (s *story) tell(line told, follows func(inventory.Movement) bool) {
	i := 0
	for ; i < len(*s); i++ {
		x := (*s)[i]
		later := x.HappenedAt > line.HappenedAt || x.HappenedAt == line.HappenedAt && x.recorded > line.recorded
		if later || x.HappenedAt == line.HappenedAt && x.recorded == line.recorded && x.moved != nil && follows != nil &&
			follows(*x.moved) {
			break
		}
	}
	*s = slices.Insert(*s, i, line)
}

// tellInspections tells of each inspection before the movement that took the device from where it was made.
func (s *story) tellInspections(d DeviceStory, looked []inventory.Inspection) {
	for i := len(d.Inspections) - 1; i >= 0; i-- { // newest first
		x, real := d.Inspections[i], looked[i]
		outcome := message.M("passed")
		if !x.Passed {
			outcome = inventory.FailedText(d.Item, x.Points)
		}
		text := message.M("inspected at {1}: {2}", x.Place, outcome)
		if x.Place == "" {
			text = message.M("inspected at another station: {1}", outcome)
		}
		s.tell(told{StoryLine: StoryLine{x.HappenedAt, "inspection", text, x.By}, recorded: x.RecordedAt},
			func(m inventory.Movement) bool { return m.From == real.Place })
	}
}

// tellTraining tells of each class before the movement that took the device from it.
func (s *story) tellTraining(d DeviceStory) {
	for i := len(d.TrainingUses) - 1; i >= 0; i-- { // newest first
		t := d.TrainingUses[i]
		text := message.M("{1} {1|application|applications} in training", t.Cycles)
		if t.Class != "" {
			text = message.M("{1} {1|application|applications} in training, class {2}", t.Cycles, t.Class)
		}
		s.tell(told{StoryLine: StoryLine{t.HappenedAt, "training", text, t.By}, recorded: t.RecordedAt},
			func(m inventory.Movement) bool { return m.LotID == t.LotID && !inventory.OutsideCode(m.From) })
	}
}

// tellNotices tells of each notice before what was pulled under it.
func (s *story) tellNotices(d DeviceStory) {
	for _, n := range d.Notices {
		text := message.M("notice {1}: {2}", n.Reference, actionWords[n.Action])
		s.tell(told{StoryLine: StoryLine{n.IssuedAt, "notice", text, n.IssuedBy}, recorded: n.IssuedAt},
			func(m inventory.Movement) bool { return m.Reference == n.Reference })
		if n.Status != inventory.NoticeOpen {
			text = message.M("notice {1} closed: {2}", n.Reference, n.EndReason)
			if n.Status == inventory.NoticeCancelled {
				text = message.M("notice {1} cancelled: {2}", n.Reference, n.EndReason)
			}
			freed := func(inventory.Movement) bool { return n.Status == inventory.NoticeCancelled }
			s.tell(told{StoryLine: StoryLine{n.EndedAt, "notice", text, n.EndedBy}, recorded: n.EndedAt}, freed)
		}
	}
}

var actionWords = map[inventory.NoticeAction]message.Message{
	inventory.NoticeWithdraw: message.M("withdraw"),
	inventory.NoticeInspect:  message.M("inspect"),
	inventory.NoticeInform:   message.M("inform"),
}

var causeWords = map[inventory.Cause]message.Message{
	inventory.CauseExpired:  message.M("expired"),
	inventory.CauseDamaged:  message.M("damaged"),
	inventory.CauseWasted:   message.M("wasted"),
	inventory.CauseTraining: message.M("training"),
	inventory.CauseRecalled: message.M("recalled"),
	inventory.CauseMissing:  message.M("missing"),
	inventory.CauseOther:    message.M("other"),
}

// MovementText says in words what a movement did.
func MovementText(m inventory.Movement) message.Message {
	var text message.Message
	switch m.Reason {
	case inventory.ReasonReceipt:
		text = message.M("received into {1}", m.To)
	case inventory.ReasonOpening:
		text = message.M("opening stock at {1}", m.To)
	case inventory.ReasonStow:
		text = message.M("put into {2} from {1}", m.From, m.To)
	case inventory.ReasonReturn, inventory.ReasonToSupplier:
		text = message.M("returned from {1} to {2}", m.From, m.To)
	case inventory.ReasonTransfer:
		text = message.M("moved from {1} to {2}", m.From, m.To)
		if m.From == m.To {
			text = message.M("opened in {1}", m.To)
		}
	case inventory.ReasonToTraining:
		text = message.M("moved to training from {1} to {2}", m.From, m.To)
	case inventory.ReasonQuarantine:
		text = message.M("to quarantine, from {1} to {2}", m.From, m.To)
	case inventory.ReasonRelease:
		text = message.M("released from {1} to {2}", m.From, m.To)
	case inventory.ReasonAway:
		text = message.M("sent away, from {1} to {2}", m.From, m.To)
	case inventory.ReasonUsed:
		text = message.M("used from {1}", m.From)
		if !inventory.OutsideCode(m.To) {
			text = message.M("used from {1}, to {2} until it is inspected", m.From, m.To)
		}
	case inventory.ReasonDisposed:
		text = message.M("disposed of from {1}, {2}", m.From, causeWords[m.Cause])
	case inventory.ReasonLost:
		text = message.M("lost from {1}, {2}", m.From, causeWords[m.Cause])
	case inventory.ReasonFound:
		text = message.M("found in {1}", m.To)
	case inventory.ReasonConverted:
		text = message.M("unit converted")
	case inventory.ReasonCorrection:
		text = message.M("correction: back from {1} to {2}", m.From, m.To)
	}
	if m.Reference != "" {
		text = message.M("{1}, {2}", text, m.Reference)
	}
	if m.Note != "" {
		text = message.M("{1} ({2})", text, m.Note)
	}
	return text
}
