package inventory

import (
	"cmp"
	"maps"
	"slices"
	"strconv"

	"stowkeeper/inventory/message"
)

// UnderReview is a crew's check or use that has changed no stock yet. It counts against its bag, and against those that
// it took units from, until a quartermaster decides or the crew withdraws it; what it says was found counts for nothing
// until it is accepted.
type UnderReview struct {
	ReportKey
	Report     string          `json:"report" doc:"Which: check 12, use 3"`
	Bag        string          `json:"bag" doc:"The bag that was checked or used"`
	By         string          `json:"by"`
	SentBy     string          `json:"sent_by,omitempty" doc:"Who sent it: by is said to be so, not confirmed"`
	HappenedAt Instant         `json:"happened_at" format:"date-time"`
	RecordedAt Instant         `json:"recorded_at" format:"date-time"`
	Says       []Reported      `json:"says,omitempty" doc:"What it says of the bag that is asked about"`
	Text       message.Message `json:"text" doc:"The same in words"`
}

// ReportKey names a check or a use.
type ReportKey struct {
	CheckID int64 `json:"check_id,omitempty"`
	UseID   int64 `json:"use_id,omitempty"`
}

func (k ReportKey) String() string {
	if k.UseID != 0 {
		return "use " + strconv.FormatInt(k.UseID, 10)
	}
	return "check " + strconv.FormatInt(k.CheckID, 10)
}

// Reported is one thing that a report says of a bag: units of a lot that are not to be counted on, or something
// seen. It is fixed when the report is recorded.
type Reported struct {
	ID int64 `json:"-"`
	ReportKey
	Place   string       `json:"place" doc:"Bag code"`
	Kind    ReportedKind `json:"kind" doc:"What became of units, as in used, missing, moved, failed, or what was seen"`
	Item    string       `json:"item,omitempty"`
	LotID   int64        `json:"lot_id,omitempty"`
	Qty     int          `json:"qty,omitempty" doc:"Units: what it reports, at most what was recorded there then"`
	Settled int          `json:"settled,omitempty" doc:"Counted since by a full check, or removed by a quartermaster"`
	Pool    int          `json:"-"` // units that were there when it was recorded and still are: only they pay for it
	Note    string       `json:"note,omitempty" doc:"The points that failed, or the bag that units were taken into"`

	Counts int `json:"counts,omitempty" doc:"Units that do not count because of it now"` // worked out by CountReported
}

// ReportedKind is the kind of a thing reported.
type ReportedKind string

// The kinds of thing reported. The first six are about units.
const (
	ReportedUsed     ReportedKind = "used"
	ReportedMissing  ReportedKind = "missing"
	ReportedDamaged  ReportedKind = "damaged"
	ReportedExpired  ReportedKind = "expired"
	ReportedMoved    ReportedKind = "moved"  // taken into the bag that the report is about
	ReportedFailed   ReportedKind = "failed" // a device that failed on an inspection point
	ReportedTraining ReportedKind = "training_mark"
	ReportedUnknown  ReportedKind = "unidentified"
	ReportedOpened   ReportedKind = "opened" // the seal, and none set
	ReportedBroken   ReportedKind = "broken"
	ReportedOther    ReportedKind = "different" // a seal with another number
)

// CountReported works out what each report makes unusable. Where several are about one lot in one bag they add up
// in the order of recording, and none counts more than there was when it was recorded and still is.
func CountReported(reports []UnderReview) []UnderReview {
	out := slices.Clone(reports)
	var all []*Reported
	for i := range out {
		out[i].Says = slices.Clone(out[i].Says)
		for j := range out[i].Says {
			all = append(all, &out[i].Says[j])
		}
	}
	slices.SortFunc(all, func(a, b *Reported) int { return cmp.Compare(a.ID, b.ID) })
	before := map[PlaceLot]int{}
	for _, r := range all {
		k := PlaceLot{r.Place, r.LotID}
		r.Counts = max(0, min(r.Qty-r.Settled, r.Pool-before[k]))
		before[k] += r.Counts
	}
	return out
}

// Leaving is n units of a lot that leave a bag in which rest stay.
type Leaving struct {
	PlaceLot
	N, Rest int
	Of      ReportKey // the report that is accepted by it, if any: they are its units
	Removed bool      // a quartermaster removes what was reported, which settles it
}

// Leave returns what becomes of what reports say of a lot when units of it leave: only what changes. Units stowed after
// a report leave before those that it is about; a crew's use settles none.
func (l Leaving) Leave(reports []UnderReview) (changed []Reported) {
	var of []Reported
	for _, u := range CountReported(reports) {
		for _, r := range u.Says {
			if r.Place == l.Place && r.LotID == l.Lot {
				of = append(of, r)
			}
		}
	}
	slices.SortFunc(of, func(a, b Reported) int { return cmp.Compare(a.ID, b.ID) })
	was, n := slices.Clone(of), l.N
	for k := range of {
		gone := 0
		if l.Removed {
			gone = min(n, of[k].Counts)
			of[k].Settled += gone
		} else if of[k].ReportKey == l.Of {
			gone = min(n, of[k].Pool)
		}
		n -= gone
		left := of[k].Pool - gone
		for j := range of {
			if j < k { // they may have been among those that an earlier report is about, or not
				of[j].Pool = min(of[j].Pool, left)
			} else {
				of[j].Pool -= gone
			}
		}
	}
	for k := range of {
		if of[k].Pool = min(of[k].Pool, l.Rest); of[k] != was[k] {
			changed = append(changed, of[k])
		}
	}
	return changed
}

// AreAbout tells whether reports say anything that is not settled of units that move.
func AreAbout(reports []UnderReview, ms []Movement) bool {
	return slices.ContainsFunc(reports, func(u UnderReview) bool {
		return slices.ContainsFunc(u.Says, func(r Reported) bool {
			return !r.Over() && slices.ContainsFunc(ms, func(m Movement) bool { return m.From == r.Place && m.LotID == r.LotID })
		})
	})
}

// removals are the reasons with which units leave that are not there, or not to be used.
var removals = []Reason{ReasonUsed, ReasonDisposed, ReasonLost, ReasonQuarantine}

// LeaveBags returns what becomes of what reports say once movements were made: only what changes. after is what
// lies in the bags that they left. What a quartermaster writes off or sets apart is what was reported; what they
// put elsewhere is there, so it is not.
func LeaveBags(reports []UnderReview, ms []Movement, after []Stock, how Leaving) []Reported {
	held, changed := map[PlaceLot]int{}, map[int64]Reported{}
	for _, st := range after {
		held[PlaceLot{st.Place, st.Lot.ID}] += st.Qty
	}
	for _, m := range ms { // before them
		held[PlaceLot{m.From, m.LotID}] += m.Qty
		held[PlaceLot{m.To, m.IntoLotID}] -= m.Qty
	}
	for _, m := range ms {
		l := how
		l.PlaceLot, l.N = PlaceLot{m.From, m.LotID}, m.Qty
		held[l.PlaceLot] -= m.Qty
		held[PlaceLot{m.To, m.IntoLotID}] += m.Qty
		l.Rest = held[l.PlaceLot]
		l.Removed = how.Removed && slices.Contains(removals, m.Reason)
		for _, r := range l.Leave(reports) {
			changed[r.ID] = r
			for _, u := range reports {
				for i := range u.Says {
					if u.Says[i].ID == r.ID {
						u.Says[i] = r
					}
				}
			}
		}
	}
	return slices.SortedFunc(maps.Values(changed), func(a, b Reported) int { return cmp.Compare(a.ID, b.ID) })
}

// Settles tells whether a full check that is accepted settles something that a report says: it was performed later, and
// looked at the same. Marks and units without a batch or date stay until they are decided; a seal stays where the check
// was partial.
func (c Check) Settles(u UnderReview, r Reported) bool {
	later := c.HappenedAt > u.HappenedAt || c.HappenedAt == u.HappenedAt && c.RecordedAt > u.RecordedAt
	if c.Kind != FullCheck || !later || r.Place != c.Bag {
		return false
	}
	switch r.Kind {
	case ReportedTraining, ReportedUnknown:
		return false
	case ReportedOpened, ReportedBroken, ReportedOther:
		return c.Whole()
	case ReportedFailed:
		return slices.ContainsFunc(c.Inspections, func(in InspectedLine) bool { return in.LotID == r.LotID })
	}
	counts := func(lines []CheckLine) bool {
		return slices.ContainsFunc(lines, func(l CheckLine) bool { return l.LotID == r.LotID })
	}
	if c.Decision == nil || c.Decision.Decision != DecideEdit {
		return counts(c.Lines)
	}
	return counts(c.Decision.Counts) && (c.Whole() || counts(c.Lines)) // the form names what nobody counted, too
}

// Resealed tells whether a new seal settles something that a report says: that the bag was left open.
func Resealed(_ UnderReview, r Reported) bool { return r.Kind == ReportedOpened }

// Over tells whether nothing of it is left to be decided.
func (r Reported) Over() bool { return r.Settled >= max(r.Qty, 1) }

// Settle is a thing reported once all of it is settled.
func (r Reported) Settle() Reported {
	r.Settled = max(r.Qty, 1)
	return r
}

// SettledOf is how many units of a lot in a bag are settled.
func (u UnderReview) SettledOf(bag string, lot int64) (n int) {
	for _, r := range u.Says {
		if r.Place == bag && r.LotID == lot {
			n += min(r.Settled, r.Qty)
		}
	}
	return n
}

// Unsettled leaves out of the movements of a report that is accepted late what was settled meanwhile. What is
// settled as a whole moves nothing, also where more was reported than was recorded there.
func Unsettled(ms []Movement, says []Reported) (out []Movement) {
	over, settled := map[PlaceLot]bool{}, map[PlaceLot]int{}
	for _, r := range says {
		k := PlaceLot{r.Place, r.LotID}
		over[k], settled[k] = over[k] || r.Over(), settled[k]+r.Settled
	}
	for _, m := range ms {
		k := PlaceLot{m.From, m.LotID}
		n := min(m.Qty, settled[k])
		m.Qty, settled[k] = m.Qty-n, settled[k]-n
		if m.Qty > 0 && !over[k] {
			out = append(out, m)
		}
	}
	return out
}

// MayWithdraw refuses a report that is not the actor's own, or that is decided. Refuses: Conflict.
func MayWithdraw(by Actor, made string, status RecordStatus) error {
	switch {
	case made != by.Name:
		return Refuse(Conflict, "only who recorded it can withdraw it")
	case status != StatusToReview:
		return Refuse(Conflict, "reviewed already")
	}
	return nil
}

// SaidToBe is why a record waits that somebody else sent for a person who was not signed in.
func SaidToBe(by string) message.Message { return message.M("said to be {1}", by) }

// Whose says whose a record is, or is said to be until they confirm it.
func Whose(by, sentBy string) message.Message {
	if sentBy != "" {
		return SaidToBe(by)
	}
	return message.Plain(by)
}

// MayConfirm refuses a record that is not said to be the actor's, or that is theirs already. Refuses: Conflict.
func MayConfirm(by Actor, made, sentBy string) error {
	if made != by.Name || by.Program || sentBy == "" {
		return Refuse(Conflict, "reviewed already")
	}
	return nil
}

// WordReports is CountReported, each also in words: whose it is, of which day at the station, and what it says of
// units.
func WordReports(reports []UnderReview, at Station) []UnderReview {
	out := CountReported(reports)
	for i := range out {
		u := &out[i]
		u.Text = message.M("report under review by {1}, {2}", Whose(u.By, u.SentBy), at.Today(u.HappenedAt))
		if units := wordUnits(u.Says, reportedAs, func(r Reported) int { return max(0, r.Qty-r.Settled) }); units != nil {
			u.Text = message.M("{1}: {2}", u.Text, units)
		}
	}
	return out
}

// wordUnits words what is said of units, by kind, as many of each as of tells; nil for none.
func wordUnits(says []Reported, word func(int, message.Message) message.Message,
	of func(Reported) int) message.Message {
	var kinds []string
	n, words := map[string]int{}, map[string]message.Message{}
	for _, r := range says {
		what := r.what()
		if what == nil || of(r) == 0 {
			continue
		}
		kind := what.String()
		if n[kind] == 0 {
			kinds = append(kinds, kind)
		}
		n[kind], words[kind] = n[kind]+of(r), what
	}
	var texts []message.Message
	for _, kind := range kinds {
		texts = append(texts, word(n[kind], words[kind]))
	}
	return message.Join(", ", texts...)
}

func reportedAs(n int, what message.Message) message.Message {
	return message.M("{1} reported {2}", n, what)
}

// what became of units in a word, nil for what is not about units.
func (r Reported) what() message.Message {
	switch r.Kind {
	case ReportedUsed:
		return message.M("used")
	case ReportedMissing:
		return message.M("missing")
	case ReportedDamaged:
		return message.M("damaged")
	case ReportedExpired:
		return message.M("expired")
	case ReportedMoved:
		return message.M("taken into bag {1}", r.Note)
	case ReportedFailed:
		return message.M("failed")
	}
	return nil
}

// reportedOf says what is under review of a stock row.
func (s *contents) reportedOf(row int) message.Message {
	if s.apart[row] == 0 {
		return nil
	}
	var says []Reported
	for _, u := range s.reports {
		says = append(says, u.Says...)
	}
	st := s.view.Stock[row]
	return message.Join(", ", message.M("records {1}", st.Qty), wordUnits(says, reportedAs, func(r Reported) int {
		if r.LotID != st.Lot.ID {
			return 0
		}
		return r.Counts
	}))
}

// reportFindings are what reports under review say of the bag, as if each were accepted, and the reports themselves.
func (s *contents) reportFindings(a allocation, day Day) []Finding {
	var out []Finding
	for _, u := range s.reports {
		f := Finding{Kind: FindUnderReview, Severity: SeverityWarn, Report: u.Report, Text: u.Text}
		for _, r := range u.Says {
			if f.Qty += r.Counts; r.Counts > 0 && s.missedBelowMinimum(a, r.LotID, day) {
				f.Severity = SeverityStop
			}
		}
		out = append(out, f)
		for _, r := range u.Says {
			if f := s.seen(r); f.Text != nil && !r.Over() {
				f.Report, f.Text = u.Report, message.M("{1} (report under review by {2})", f.Text, Whose(u.By, u.SentBy))
				out = append(out, f)
			}
		}
	}
	return out
}

// missedBelowMinimum tells whether a line under its minimum would take usable units of a lot in the bag.
func (s *contents) missedBelowMinimum(a allocation, lot int64, day Day) bool {
	row := slices.IndexFunc(s.view.Stock, func(st Stock) bool { return st.Lot.ID == lot })
	for i, l := range s.view.List.Lines {
		if _, minimum := l.Wanted(); row >= 0 && s.usable(row, day) && a.usableOn(i) < minimum {
			if item := s.view.Stock[row].Lot.Item; l.Item == item || slices.Contains(l.Accepts, item) {
				return true
			}
		}
	}
	return false
}

// seen is the finding about something seen that a report says, without text for what is about units alone.
func (s *contents) seen(r Reported) Finding {
	f := Finding{Kind: FindObservation, Severity: SeverityStop, Item: r.Item, LotID: r.LotID}
	units := UnitsOf(r.Qty, s.name(r.Item), Lot{})
	switch r.Kind {
	case ReportedFailed:
		if r.Qty == 0 || r.Counts > 0 { // else it left the bag
			f.Text = message.M("{1}: failed on “{2}”", UnitsOf(1, s.name(r.Item), lotOf(s.view, r.LotID)), r.Note)
		}
	case ReportedTraining:
		f.Text = message.M("{1}: marked for training, found in this bag", units)
	case ReportedUnknown:
		f.Severity = SeverityWarn
		f.Text = message.M("{1}: batch or date unreadable", units)
	case ReportedOpened, ReportedBroken, ReportedOther:
		f.Kind, f.Severity = FindSeal, sealSeverity(s.view.List)
		switch {
		case !s.view.List.Sealed:
		case r.Kind == ReportedOpened:
			f.Kind, f.Severity, f.Text = FindNoSeal, SeverityWarn, message.M("seal opened, no new one recorded")
		case r.Kind == ReportedBroken:
			f.Text = message.M("seal was broken")
		default:
			f.Text = message.M("seal number differed")
		}
	}
	return f
}
