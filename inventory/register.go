package inventory

import (
	"strings"

	"stowkeeper/inventory/amount"
	"stowkeeper/inventory/message"
)

// BalanceCheck is what two people counted of a controlled item in a place,
// beside what the ledger held at that moment. It is never changed.
type BalanceCheck struct {
	ID         int64   `json:"id"`
	Item       string  `json:"item" doc:"Item code"`
	Place      string  `json:"place" doc:"Place code"`
	Counted    int     `json:"counted" minimum:"0" maximum:"1000000"`
	Expected   int     `json:"expected" doc:"What the records held"`
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

// OwedEntry is a movement that was recorded by one person alone, with the signatures given since.
type OwedEntry struct {
	Movement
	Item       string
	Own        bool // its maker's own PIN was not given then, so it is owed as well
	Signatures []EntrySignature
}

// Owes tells whose signatures are still missing: that of its maker, and that of a second person.
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

// Discrepancy is a case of a controlled item that did not agree: a balance check that found another number than the
// records, or a use whose parts do not add up. It stays open until two people close it with an outcome.
type Discrepancy struct {
	ID       int64           `json:"id"`
	Item     string          `json:"item" doc:"Item code"`
	Place    string          `json:"place" doc:"Place code"`
	Check    int64           `json:"balance_check,omitempty" doc:"The balance check that opened it"`
	Entry    int64           `json:"movement,omitempty" doc:"Or the use that did"`
	Text     message.Message `json:"text" doc:"What did not agree"`
	OpenedAt Instant         `json:"opened_at" format:"date-time"`
	OpenedBy string          `json:"opened_by"`
	ClosedAt Instant         `json:"closed_at,omitempty" format:"date-time"`
	ClosedBy string          `json:"closed_by,omitempty"`
	Witness  string          `json:"witness,omitempty" doc:"Who closed it with them"`
	Outcome  string          `json:"outcome,omitempty" doc:"What was found"`
}

// DiscrepancyFilter narrows a list of discrepancies.
type DiscrepancyFilter struct {
	ID     int64
	Item   string
	Places []string
	Open   bool
}

// PartsDoubt says what of a use does not add up: what was given and wasted of a controlled item is all that was in it.
func PartsDoubt(it Item, m Movement) message.Message {
	if m.Reason != ReasonUsed || !it.Controlled {
		return nil
	}
	return amount.PartsOf(m.Note).Wrong(it.Content, m.Qty)
}

// ToAuthorise tells whether a movement destroys a controlled item, which names who authorised it.
func ToAuthorise(it Item, m Movement) bool { return it.Controlled && m.Reason == ReasonDisposed }

const authorisedBy = "authorised by "

// AuthorisedNote puts who authorised a movement before its note: there it is part of the chain.
func AuthorisedNote(who, note string) string {
	return WithNote(authorisedBy+strings.ReplaceAll(OneLine(who), ";", ","), note)
}

// Remarks are what the note of a movement says in a fixed form, parts of a use and who authorised a destruction, and
// the rest of it. Each stands in it once: what people typed like it stays theirs.
func Remarks(reason Reason, note string) (parts amount.Parts, authorised, rest string) {
	if reason == ReasonUsed {
		parts = amount.PartsOf(note)
	}
	said := parts == amount.Parts{}
	var others []string
	for remark := range strings.SplitSeq(note, "; ") {
		who, found := strings.CutPrefix(remark, authorisedBy)
		switch {
		case found && reason == ReasonDisposed && authorised == "":
			authorised = who
		case !said && (strings.HasPrefix(remark, "given ") || strings.HasPrefix(remark, "wasted ")):
			said = true
		default:
			others = append(others, remark)
		}
	}
	return parts, authorised, strings.Join(others, "; ")
}
