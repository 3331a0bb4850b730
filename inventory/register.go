package inventory

import (
	"cmp"
	"slices"
)

// RegisterYears is how long a register is kept after its last entry unless the
// owner says otherwise: two years, as the UK's Misuse of Drugs Regulations
// 2001, reg. 23, ask (that they count from the last entry: from memory). Law
// differs from place to place, so it is the owner's policy. Nothing is ever
// deleted; the day only says until when it must be there.
const RegisterYears = 2

// CountYears is after how long at the latest what a place holds of a controlled
// item is counted anew: 21 CFR 1304.11(c), a new inventory at least every two
// years. Local procedure usually asks for far more.
const CountYears = 2

// What published regulations ask of a register, and where it is held. UK:
// Misuse of Drugs Regulations 2001; US: Code of Federal Regulations, title 21.
//
//   - Each quantity obtained and supplied, in the order of time, a separate part
//     for each class of drug (UK reg. 19): RegisterOf, a page for each item,
//     strength and form, and for each place.
//   - Its class at the head of each page, by strength and form since a later
//     amendment (reg. 20(a)): the page and its print, keepsRegister.
//   - Entered on the same day or the next (reg. 20(b)): RegisterEntry.Late says
//     where it was not; a late truth is kept rather than refused.
//   - Nothing cancelled or altered; a correction is a dated note (reg. 20(c)):
//     CorrectEntry, the ledger's chain.
//   - Kept two years from the last entry (reg. 23): RegisterYears.
//   - The date recorded is the date on which it really happened (1304.21(d)):
//     HappenedAt beside RecordedAt, never in the future.
//   - A new inventory at least every two years (1304.11(c)): CountYears.
//   - For each dose: substance, form, date, amount given, by whom, amount
//     disposed of, who disposed and the witness (1304.27(a)): EntryRequestLine,
//     UseLine, Unit.sign. Not held as fields of their own: who ordered it,
//     which belongs to the patient's record, and the manner of disposal, which
//     is written in the note.
//   - A running balance and a second person's signature: common practice.

// BalanceCheck is what two people counted of a controlled item in a place,
// beside what the ledger held at that moment. It is never changed.
type BalanceCheck struct {
	ID         int64   `json:"id"`
	Item       string  `json:"item" doc:"Item code"`
	Place      string  `json:"place" doc:"Place code"`
	Counted    int     `json:"counted" minimum:"0" maximum:"1000000"`
	Expected   int     `json:"expected" doc:"What the ledger held"`
	HappenedAt Instant `json:"happened_at" format:"date-time"`
	RecordedAt Instant `json:"recorded_at" format:"date-time"`
	By         string  `json:"by"`
	Witness    string  `json:"witness"`
	Note       string  `json:"note,omitempty"`

	After int64 `json:"-"` // the last movement before it, 0 for none
}

// Differs tells whether the count was another than the ledger's.
func (c BalanceCheck) Differs() bool { return c.Counted != c.Expected }

// EntrySignature is a signature that was given later.
type EntrySignature struct {
	Movement   int64   `json:"-"`
	Person     string  `json:"person"`
	RecordedAt Instant `json:"recorded_at" format:"date-time"`
}

// OwedEntry is a movement that was recorded by one person alone, with the
// signatures given since.
type OwedEntry struct {
	Movement
	Item       string
	Own        bool // its maker's own PIN was not given then, so it is owed as well
	Signatures []EntrySignature
}

// Owes tells whose signatures are still missing: that of its maker, and that
// of a second person.
func (o OwedEntry) Owes() (own, second bool) {
	own, second = o.Own, true
	for _, s := range o.Signatures {
		if s.Person == o.By {
			own = false
		} else {
			second = false
		}
	}
	return own, second
}

// EntryKind is the kind of an entry in a register.
type EntryKind string

// The kinds of entry.
const (
	EntryMovement EntryKind = "movement"
	EntryCheck    EntryKind = "balance_check"
)

// RegisterEntry is one line of a register's page.
type RegisterEntry struct {
	No           int              `json:"no" doc:"Its number on the page, from 1, in the order of recording"`
	Kind         EntryKind        `json:"kind" enum:"movement,balance_check"`
	ID           int64            `json:"id" doc:"Of the movement or the balance check"`
	HappenedAt   Instant          `json:"happened_at" format:"date-time"`
	RecordedAt   Instant          `json:"recorded_at" format:"date-time"`
	Late         bool             `json:"late,omitempty" doc:"Entered later than on the day after it happened"`
	Reason       Reason           `json:"reason,omitempty"`
	Cause        Cause            `json:"cause,omitempty"`
	LotID        int64            `json:"lot_id,omitempty"`
	BatchNo      string           `json:"batch_no,omitempty"`
	Other        string           `json:"other_place,omitempty" doc:"Where it came from or went to"`
	In           int              `json:"in"`
	Out          int              `json:"out"`
	Balance      int              `json:"balance" doc:"Units in the place after it"`
	Counted      *int             `json:"counted,omitempty" doc:"For a balance check"`
	Differs      bool             `json:"differs,omitempty" doc:"The balance check found another number"`
	By           string           `json:"by"`
	Witness      string           `json:"witness,omitempty" doc:"Who signed with them at that moment"`
	Given        string           `json:"given,omitempty" doc:"The part given"`
	Wasted       string           `json:"wasted,omitempty" doc:"The part wasted"`
	Remark       string           `json:"remark,omitempty" doc:"What does not add up"`
	Reference    string           `json:"reference,omitempty"`
	Note         string           `json:"note,omitempty"`
	Corrects     int              `json:"corrects,omitempty" doc:"Number of the entry of this page that it corrects"`
	CorrectedBy  int              `json:"corrected_by,omitempty" doc:"Number of the entry of this page that corrects it"`
	OwnOwed      bool             `json:"own_signature_owed,omitempty"`
	SecondOwed   bool             `json:"second_signature_owed,omitempty"`
	Signatures   []EntrySignature `json:"signatures,omitempty" doc:"Those given later"`
	BeforeSigned bool             `json:"before_signing,omitempty" doc:"From before two had to sign"`
}

// Rest is what the note says besides what was given and wasted.
func (e RegisterEntry) Rest() string {
	return restOf(e.Note)
}

// RegisterPage is the register of one controlled item at one place.
type RegisterPage struct {
	Item      string          `json:"item" doc:"Item code"`
	Name      string          `json:"name"`
	Strength  string          `json:"strength"`
	Form      string          `json:"form"`
	Unit      string          `json:"unit"`
	Place     string          `json:"place" doc:"Place code"`
	PlaceName string          `json:"place_name"`
	Kind      PlaceKind       `json:"place_kind"`
	Holder    string          `json:"holder,omitempty" doc:"For a carrier: who has signed it out"`
	Station   string          `json:"station" doc:"Where the place is"`
	Balance   int             `json:"balance" doc:"Units there now, by the ledger"`
	Owed      int             `json:"signatures_owed" doc:"Entries that lack a signature"`
	Differs   bool            `json:"differs" doc:"The newest balance check found another number: it does not balance"`
	LastCheck *BalanceCheck   `json:"last_check,omitempty"`
	LastEntry Instant         `json:"last_entry,omitempty" format:"date-time"`
	CountBy   Day             `json:"count_by,omitempty" format:"date" doc:"Count by then (21 CFR 1304.11(c))"`
	CountDue  bool            `json:"count_due,omitempty" doc:"That day has passed"`
	KeepUntil Day             `json:"keep_until,omitempty" format:"date" doc:"Owner's policy, from the last entry"`
	Entries   []RegisterEntry `json:"entries,omitempty" doc:"In the order of recording"`
}

// RegisterBook is what a page is made from.
type RegisterBook struct {
	Item      Item
	Place     Place
	Station   Station // where the place is
	Movements []Movement
	BatchNos  map[int64]string
	Owed      map[int64]OwedEntry
	Checks    []BalanceCheck
	Years     int // kept after the last entry
	Now       Instant
}

// RegisterOf makes a page of the register: every movement of the item into and
// out of the place, and every balance check, in the order of recording, with
// the balance after each.
func RegisterOf(b RegisterBook) RegisterPage {
	p := RegisterPage{Item: b.Item.Code, Name: b.Item.Name, Strength: b.Item.Strength, Form: b.Item.Form,
		Unit: b.Item.Unit, Place: b.Place.Code,
		PlaceName: b.Place.Name, Kind: b.Place.Kind, Holder: b.Place.Holder, Station: b.Station.Code,
		Entries: []RegisterEntry{}}
	checks := slices.SortedFunc(slices.Values(b.Checks), func(x, y BalanceCheck) int {
		return cmp.Or(cmp.Compare(x.After,
			y.After), cmp.Compare(x.ID, y.ID))
	})
	moves := slices.SortedFunc(slices.Values(b.Movements), func(x, y Movement) int { return cmp.Compare(x.ID, y.ID) })
	no := map[int64]int{} // movement → number
	for len(moves)+len(checks) > 0 {
		if len(checks) > 0 && (len(moves) == 0 || checks[0].After < moves[0].ID) {
			p.addCheck(checks[0])
			checks = checks[1:]
			continue
		}
		p.addMovement(b, moves[0], no)
		moves = moves[1:]
	}
	for i := range p.Entries {
		e := &p.Entries[i]
		// The same day or the next: UK Misuse of Drugs Regulations 2001, reg. 20(b).
		e.Late = b.Station.Today(e.RecordedAt) > b.Station.Today(e.HappenedAt).AddDays(1)
		p.LastEntry = max(p.LastEntry, e.RecordedAt)
	}
	if p.LastEntry != 0 {
		p.KeepUntil = b.Station.Today(p.LastEntry).AddMonths(12 * b.Years)
	}
	if len(p.Entries) > 0 {
		p.ToCount(b.Station, p.Entries[0].RecordedAt, b.Now)
	}
	return p
}

// ToCount says until when what is there must be counted anew: so long after it
// was counted last, or first came there.
func (p *RegisterPage) ToCount(station Station, first, now Instant) {
	if p.Balance == 0 {
		return
	}
	last := first
	if p.LastCheck != nil {
		last = p.LastCheck.HappenedAt
	}
	p.CountBy = station.Today(last).AddMonths(12 * CountYears)
	p.CountDue = station.Today(now) > p.CountBy
}

func (p *RegisterPage) addCheck(c BalanceCheck) {
	p.LastCheck, p.Differs = &c, c.Differs()
	p.Entries = append(p.Entries, RegisterEntry{No: len(p.Entries) + 1, Kind: EntryCheck, ID: c.ID,
		HappenedAt: c.HappenedAt, RecordedAt: c.RecordedAt,
		Balance: p.Balance, Counted: &c.Counted, Differs: c.Differs(), By: c.By, Witness: c.Witness, Note: c.Note})
}

func (p *RegisterPage) addMovement(b RegisterBook, m Movement, no map[int64]int) {
	e := RegisterEntry{No: len(p.Entries) + 1, Kind: EntryMovement, ID: m.ID, HappenedAt: m.HappenedAt,
		RecordedAt: m.RecordedAt, Reason: m.Reason, Cause: m.Cause,
		LotID: m.LotID, BatchNo: b.BatchNos[m.LotID], By: m.By, Witness: m.Witness, Reference: m.Reference, Note: m.Note}
	if m.To == b.Place.Code {
		e.In, e.Other = m.Qty, m.From
	}
	if m.From == b.Place.Code {
		e.Out, e.Other = m.Qty, m.To
	}
	p.Balance += e.In - e.Out
	e.Balance = p.Balance
	if m.Reason == ReasonUsed {
		e.Given, e.Wasted = partsOf(m.Note)
		e.Remark = partsRemark(b.Item.Strength, m.Qty, e.Given, e.Wasted)
	}
	owed, found := b.Owed[m.ID]
	if found {
		e.OwnOwed, e.SecondOwed = owed.Owes()
		e.Signatures = owed.Signatures
		if e.OwnOwed || e.SecondOwed {
			p.Owed++
		}
	}
	e.BeforeSigned = m.Witness == "" && !found
	no[m.ID] = e.No
	if m.Corrects != 0 {
		e.Corrects = no[m.Corrects]
		if e.Corrects > 0 {
			p.Entries[e.Corrects-1].CorrectedBy = e.No
		}
	}
	p.Entries = append(p.Entries, e)
}

// PageKey names a page of the register that has an entry.
type PageKey struct {
	Item, Place string
	LastEntry   Instant
}

// OwedFilter narrows a list of entries that one person recorded alone.
type OwedFilter struct {
	Item   string
	Places []string // from or to
	Open   bool     // only those that still lack a signature
}

// BalanceFilter narrows a list of balance checks.
type BalanceFilter struct {
	Item   string
	Places []string
	Latest bool // only the newest of each item and place
}
