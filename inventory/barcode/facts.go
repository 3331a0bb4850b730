package barcode

import "stowkeeper/inventory/message"

// Scheme is the coding scheme a text was written in.
type Scheme string

// The schemes that Parse reads. A plain GTIN counts as GS1.
const (
	GS1         Scheme = "gs1"
	DigitalLink Scheme = "gs1_digital_link"
	HIBC        Scheme = "hibc"
)

// Facts is what a pack's barcode says, and nothing that it does not say:
// every field is empty, or zero, when the text has nothing on it.
type Facts struct {
	Scheme Scheme

	// ProductCode is the GTIN in 14 digits: of (01), else of what a logistic unit contains (02), else (03). For HIBC
	// it is labeler, product code and unit of measure in one, without the check character.
	ProductCode string
	BatchNo     string
	Serial      string

	// MadePrinted is the date of manufacture as printed, "2026-03" or
	// "2026-03-14"; MadeOn is the day it means: a month alone means its first.
	MadePrinted string
	MadeOn      Date

	// BestBefore is the day of (15). It is no end date: no rule of the package turns it into one.
	BestBefore Date

	// EndPrinted is the end date as printed, "2027-06" for a month alone (day 00 in GS1, month and year in HIBC) or
	// "2027-06-14". UsableThrough is the last day, inclusive, that it means: a month alone means its last.
	EndPrinted    string
	UsableThrough Date
	// EndTime is set when the end has a clock time: "2027-06-14T15:30" in local time, or "2027-06-14T21:00Z" in UTC
	// as HIBC hours are. It takes no part in UsableThrough.
	EndTime string

	// Qty is the count that the symbol states; 0 when it states none.
	Qty int

	// Elements holds each value as read, by application identifier (a plain GTIN filled up to 14 digits, under "01");
	// for HIBC by the names of HIBCFields. Ordered holds them in order of reading, a repeated one as often as it was
	// read.
	Elements map[string]string
	Ordered  []Element

	Warnings []Warning

	// SeparatorSeen tells that the text held at least one ASCII 29, so the scanner passes separators on.
	SeparatorSeen bool
}

// Element is one identifier with its value.
type Element struct {
	AI    string // application identifier, or HIBC field name
	Title string
	Value string
	// Position is the 0-based byte offset of the value in the text.
	Position int
}

// WarningKind sorts warnings for programs.
type WarningKind string

// The kinds of warning.
const (
	// Needs: the identifier is defined only together with others that this symbol lacks. They may stand on the pack's
	// second symbol, since pairing rules hold over all symbols of an item together.
	Needs WarningKind = "needs"
	// Excludes: two identifiers that must not stand on one item do.
	Excludes WarningKind = "excludes"
	// Swallowed: the end of a lot or serial number reads as further elements;
	// a separator may be missing on the pack. Compare with the print.
	Swallowed WarningKind = "swallowed"
	// Ambiguous: the digits read both as a GTIN and as an element string; the GTIN was taken.
	Ambiguous WarningKind = "ambiguous"
	// ClockTime: the end has an hour, of which only the day is kept.
	ClockTime WarningKind = "clock_time"
	// TwoEnds: two end dates were read; the earlier one was taken.
	TwoEnds WarningKind = "two_ends"
)

// Warning is something a person should look at. Nothing was repaired.
type Warning struct {
	Kind WarningKind
	AI   string
	// Position is the 0-based byte offset that the warning is about.
	Position int
	Text     message.Message
	// Suspect is, for Swallowed, the part of the value in doubt.
	Suspect string
}

// Pairing tells whether the warning is about identifiers that belong, or do
// not belong, together. A strict checker refuses these.
func (w Warning) Pairing() bool { return w.Kind == Needs || w.Kind == Excludes }

// Error is the refusal of a text. It never repeats what was read.
type Error struct {
	// Position is the 0-based byte offset of what is wrong; the length of the
	// text when something is missing at its end.
	Position int
	// Reason says what is wrong and, where that is known, what is needed.
	Reason message.Message
	// AI is the identifier concerned; empty when it is none that we know.
	AI string
	// Trouble says what a person can do about it.
	Trouble Trouble
}

// Trouble sorts refusals by what a person can do about them.
type Trouble string

// The troubles.
const (
	Misread Trouble = ""        // not read, typed or printed right
	NoPack  Trouble = "no_pack" // something else than a pack's code
	Foreign Trouble = "foreign" // of patients, blood or tissue, which is not read
)

func (e *Error) Error() string { return e.Said().String() }

// Said says where the trouble is, and why.
func (e *Error) Said() message.Message {
	if e.AI == "" {
		return message.M("position {1}: {2}", e.Position, e.Reason)
	}
	return message.M("position {1}, ({2}): {3}", e.Position, e.AI, e.Reason)
}
