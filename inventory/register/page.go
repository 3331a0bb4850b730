package register

import (
	"cmp"
	"slices"
	"strings"

	"stowkeeper/inventory"
	"stowkeeper/inventory/amount"
	"stowkeeper/inventory/message"
)

// RegisterYears is how long a register is kept after its last entry unless the owner says otherwise: two years, as
// the UK's Misuse of Drugs Regulations 2001, reg. 23, ask (that they count from the last entry: from memory). Law
// differs from place to place, so it is the owner's policy. Nothing is ever deleted; the day only says until when it
// must be there.
const RegisterYears = 2

// CountYears is after how long at the latest what a place holds of a controlled item is counted anew: 21 CFR
// 1304.11(c), a new inventory at least every two years. Local procedure usually asks for far more.
const CountYears = 2

// What published regulations ask of a register, and where it is held. UK:
// Misuse of Drugs Regulations 2001; US: Code of Federal Regulations, title 21.
//
//   - Each quantity obtained and supplied, in the order of time, a separate part
//     for each class of drug (UK reg. 19): RegisterOf, a page for each item,
//     strength and form, and for each place.
//   - Its class at the head of each page, by strength and form since a later
//     amendment (reg. 20(a)): the page and its print, keepsRegister.
//   - Entered on the same day or the next (reg. 20(b)): EnteredLate says where
//     it was not; a late truth is kept rather than refused.
//   - Nothing cancelled or altered; a correction is a dated note (reg. 20(c)):
//     CorrectEntry, the ledger's chain.
//   - Kept two years from the last entry (reg. 23): RegisterYears.
//   - The date recorded is the date on which it really happened (1304.21(d)):
//     HappenedAt beside RecordedAt, never in the future.
//   - A new inventory at least every two years (1304.11(c)): CountYears.
//   - For each dose: substance, form, date, amount given, by whom, amount
//     disposed of, who disposed and the witness (1304.27(a)): EntryRequestLine,
//     UseLine, Unit.sign, amount.Parts. Not held as fields of their own: who
//     ordered it, which belongs to the patient's record, and the manner of
//     disposal, which is written in the note.
//   - A running balance and a second person's signature: common practice.

// EntryKind is the kind of an entry in a register.
type EntryKind string

// The kinds of entry.
const (
	EntryMovement EntryKind = "movement"
	EntryCheck    EntryKind = "balance_check"
)

// RegisterEntry is one line of a register's page.
type RegisterEntry struct {
	No           int                        `json:"no" doc:"Its number on the page, from 1, in the order of recording"`
	Kind         EntryKind                  `json:"kind" enum:"movement,balance_check"`
	ID           int64                      `json:"id" doc:"Of the movement or the balance check"`
	HappenedAt   inventory.Instant          `json:"happened_at" format:"date-time"`
	RecordedAt   inventory.Instant          `json:"recorded_at" format:"date-time"`
	Late         bool                       `json:"late,omitempty" doc:"Entered later than on the day after it happened"`
	Reason       inventory.Reason           `json:"reason,omitempty"`
	Cause        inventory.Cause            `json:"cause,omitempty"`
	LotID        int64                      `json:"lot_id,omitempty"`
	BatchNo      string                     `json:"batch_no,omitempty"`
	Other        string                     `json:"other_place,omitempty" doc:"Where it came from or went to"`
	In           int                        `json:"in"`
	Out          int                        `json:"out"`
	Balance      int                        `json:"balance" doc:"Units in the place after it"`
	Counted      *int                       `json:"counted,omitempty" doc:"For a balance check"`
	Differs      bool                       `json:"differs,omitempty" doc:"The balance check found another number"`
	By           string                     `json:"by"`
	Witness      string                     `json:"witness,omitempty" doc:"Who signed with them at that moment"`
	Given        amount.Amount              `json:"given,omitempty" doc:"What was given, in the unit of the content"`
	Wasted       amount.Amount              `json:"wasted,omitempty" doc:"What was wasted"`
	AuthorisedBy string                     `json:"authorised_by,omitempty" doc:"Of a destruction"`
	Remark       message.Message            `json:"remark,omitempty" doc:"What does not add up"`
	Reference    string                     `json:"reference,omitempty"`
	Note         string                     `json:"note,omitempty"`
	Corrects     int                        `json:"corrects,omitempty" doc:"Number of the entry that it corrects"`
	CorrectedBy  int                        `json:"corrected_by,omitempty" doc:"Number of the entry that corrects it"`
	OwnOwed      bool                       `json:"own_signature_owed,omitempty"`
	SecondOwed   bool                       `json:"second_signature_owed,omitempty"`
	Signatures   []inventory.EntrySignature `json:"signatures,omitempty" doc:"Those given later"`
	BeforeSigned bool                       `json:"before_signing,omitempty" doc:"From before two had to sign"`
}

// Remarks are what the note says, as inventory.Remarks reads it.
func (e RegisterEntry) Remarks() (parts amount.Parts, rest string) {
	parts, _, rest = inventory.Remarks(e.Reason, e.Note)
	return parts, rest
}

// RegisterPage is the register of one controlled item at one place.
type RegisterPage struct {
	Item      string                  `json:"item" doc:"Item code"`
	Name      string                  `json:"name"`
	Strength  string                  `json:"strength"`
	DoseForm  string                  `json:"form"`
	Unit      string                  `json:"unit"`
	Place     string                  `json:"place" doc:"Place code"`
	PlaceName string                  `json:"place_name"`
	Kind      inventory.PlaceKind     `json:"place_kind"`
	Holder    string                  `json:"holder,omitempty" doc:"For a carrier: who has signed it out"`
	Station   string                  `json:"station" doc:"Where the place is"`
	Balance   int                     `json:"balance" doc:"Units there now, by the records"`
	Owed      int                     `json:"signatures_owed" doc:"Entries that lack a signature"`
	Differs   bool                    `json:"differs" doc:"By the newest balance check it does not balance"`
	LastCheck *inventory.BalanceCheck `json:"last_check,omitempty"`
	LastEntry inventory.Instant       `json:"last_entry,omitempty" format:"date-time"`
	CountBy   inventory.Day           `json:"count_by,omitempty" format:"date" doc:"Count by then (21 CFR 1304.11(c))"`
	CountDue  bool                    `json:"count_due,omitempty" doc:"That day has passed"`
	KeepUntil inventory.Day           `json:"keep_until,omitempty" format:"date" doc:"Owner's policy, from the last entry"`
	Opening   int                     `json:"opening" doc:"Units before the first of the entries"`
	Entries   []RegisterEntry         `json:"entries,omitempty" doc:"In the order of recording"`

	Content amount.Content          `json:"content,omitzero" doc:"Of one unit"`
	Open    []inventory.Discrepancy `json:"discrepancies,omitempty" doc:"Those that are open"`
}

// Title is what stands at the head of a page: item, strength and form.
func (p RegisterPage) Title() string {
	return strings.Join(slices.DeleteFunc([]string{p.Name, p.Strength, p.DoseForm},
		func(s string) bool { return s == "" }), ", ")
}

// RegisterBook is what a page is made from.
type RegisterBook struct {
	Item      inventory.Item
	Place     inventory.Place
	Station   inventory.Station // where the place is
	Movements []inventory.Movement
	BatchNos  map[int64]string
	Owed      map[int64]inventory.OwedEntry
	Checks    []inventory.BalanceCheck
	Years     int // kept after the last entry
	Now       inventory.Instant
	Period
}

// Period is the days, both with, on which entries of a page were recorded; 0 does not narrow.
type Period struct{ From, To inventory.Day }

// PeriodKept is the period for which a register has to be there: so many years back from a day.
func PeriodKept(today inventory.Day, years int) Period {
	return Period{From: today.AddMonths(-12 * years)}
}

// EnteredLate tells whether an entry was recorded later than on the day after it happened, at its station: the same
// day or the next is what UK Misuse of Drugs Regulations 2001, reg. 20(b) with its later amendment, ask.
func EnteredLate(station inventory.Station, happened, recorded inventory.Instant) bool {
	return station.Today(recorded) > station.Today(happened).AddDays(1)
}

// RegisterOf makes a page of the register: every movement of the item into and out of the place, and every balance
// check, in the order of recording, with the balance after each.
func RegisterOf(b RegisterBook) RegisterPage {
	p := RegisterPage{Item: b.Item.Code, Name: b.Item.Name, Strength: b.Item.Strength, DoseForm: b.Item.Form,
		Unit: b.Item.Unit, Content: b.Item.Content, Place: b.Place.Code,
		PlaceName: b.Place.Name, Kind: b.Place.Kind, Holder: b.Place.Holder, Station: b.Station.Code,
		Entries: []RegisterEntry{}}
	checks := slices.SortedFunc(slices.Values(b.Checks), func(x, y inventory.BalanceCheck) int {
		return cmp.Or(cmp.Compare(x.After,
			y.After), cmp.Compare(x.ID, y.ID))
	})
	moves := slices.SortedFunc(slices.Values(b.Movements),
		func(x, y inventory.Movement) int { return cmp.Compare(x.ID, y.ID) })
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
		e.Late = EnteredLate(b.Station, e.HappenedAt, e.RecordedAt)
		p.LastEntry = max(p.LastEntry, e.RecordedAt)
	}
	if p.LastEntry != 0 {
		p.KeepUntil = b.Station.Today(p.LastEntry).AddMonths(12 * b.Years)
	}
	if len(p.Entries) > 0 {
		p.ToCount(b.Station, p.Entries[0].RecordedAt, b.Now)
	}
	p.narrow(b)
	return p
}

// narrow leaves the entries of the period, with the balance before them.
func (p *RegisterPage) narrow(b RegisterBook) {
	at := func(e RegisterEntry) inventory.Day { return b.Station.Today(e.RecordedAt) }
	p.Entries = slices.DeleteFunc(p.Entries, func(e RegisterEntry) bool {
		if before := at(e) < b.From; before {
			p.Opening = e.Balance
			return true
		}
		return b.To != 0 && at(e) > b.To
	})
}

// ToCount says until when what is there must be counted anew: so long after it was counted last, or first came there.
func (p *RegisterPage) ToCount(station inventory.Station, first, now inventory.Instant) {
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

func (p *RegisterPage) addCheck(c inventory.BalanceCheck) {
	p.LastCheck, p.Differs = &c, c.Differs()
	p.Entries = append(p.Entries, RegisterEntry{No: len(p.Entries) + 1, Kind: EntryCheck, ID: c.ID,
		HappenedAt: c.HappenedAt, RecordedAt: c.RecordedAt,
		Balance: p.Balance, Counted: &c.Counted, Differs: c.Differs(), By: c.By, Witness: c.Witness, Note: c.Note})
}

func (p *RegisterPage) addMovement(b RegisterBook, m inventory.Movement, no map[int64]int) {
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
	parts, authorised, _ := inventory.Remarks(m.Reason, m.Note)
	switch unit := b.Item.Content.Unit; m.Reason {
	case inventory.ReasonUsed:
		e.Given, e.Wasted = amount.Of(string(parts.Given), unit), amount.Of(string(parts.Wasted), unit)
		e.Remark = inventory.PartsDoubt(b.Item, m)
	case inventory.ReasonDisposed:
		e.AuthorisedBy = authorised
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
