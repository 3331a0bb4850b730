package inventory

import (
	"errors"
	"time"

	"stowkeeper/inventory/barcode"
	"stowkeeper/inventory/message"
)

// PackFacts is what a pack's barcode says, and which products it is the code
// of. Every field is left out where the code has nothing on it.
type PackFacts struct {
	Scheme      barcode.Scheme `json:"scheme" enum:"gs1,gs1_digital_link,hibc"`
	ProductCode string         `json:"product_code,omitempty" doc:"GTIN in 14 digits, or the HIBC product code"`
	BatchNo     string         `json:"batch_no,omitempty" doc:"Batch number"`
	Serial      string         `json:"serial,omitempty" doc:"Serial number"`
	MadeOn      Day            `json:"made_on,omitempty" format:"date" doc:"Day of manufacture; of a month, its first day"`
	EndPrinted  string         `json:"end_printed,omitempty" doc:"The end date: YYYY-MM, or YYYY-MM-DD"`
	EndWording  Wording        `json:"end_wording,omitempty" enum:"expiry" doc:"What the code says"`
	Through     Day            `json:"usable_through,omitempty" format:"date" doc:"Last day, inclusive"`
	EndTime     string         `json:"end_time,omitempty" doc:"The end with its clock time (optional)"`
	BestBefore  Day            `json:"best_before,omitempty" format:"date" doc:"A best-before date; it is no end date"`
	Qty         int            `json:"qty,omitempty" doc:"Count that the code states"`
	Separator   bool           `json:"separator_seen" doc:"Whether the text held a separator (ASCII 29)"`

	Elements map[string]string `json:"elements" doc:"As read, by application identifier or HIBC field"`
	Warnings []PackWarning     `json:"warnings" doc:"What a person should look at; nothing was corrected"`
	Products []Product         `json:"products" doc:"Products that have this code"`
}

// PackWarning is something about a code that is legal and looks wrong.
type PackWarning struct {
	Kind     barcode.WarningKind `json:"kind"`
	Position int                 `json:"position" doc:"Characters before it in the text"`
	Text     message.Message     `json:"text"`
}

// ReadPack reads a barcode's text; two-digit years are those nearest to
// today. What is wrong is said under path, with its position.
func ReadPack(text string, today Day, path string) (PackFacts, error) {
	y, m, d := today.Date()
	f, err := barcode.Parse(text, barcode.Date{Year: y, Month: int(m), Day: d})
	var refused *barcode.Error
	if errors.As(err, &refused) {
		return PackFacts{}, &Error{Kind: Invalid, Message: message.M("check the fields marked below"),
			Fields: []Field{{Path: path, Fix: refused.Said()}}, Cause: refused}
	}
	if err != nil {
		return PackFacts{}, err
	}
	out := PackFacts{Scheme: f.Scheme, ProductCode: f.ProductCode, BatchNo: f.BatchNo, Serial: f.Serial,
		EndPrinted: f.EndPrinted, EndTime: f.EndTime, Qty: f.Qty,
		Separator: f.SeparatorSeen, Elements: f.Elements, Warnings: []PackWarning{}}
	if f.EndPrinted != "" {
		out.EndWording = wordingOfCode
	}
	for _, w := range f.Warnings {
		out.Warnings = append(out.Warnings, PackWarning{Kind: w.Kind, Position: w.Position, Text: w.Text})
	}
	var ps Problems
	for _, date := range []struct {
		name string
		from barcode.Date
		to   *Day
	}{{"end date", f.UsableThrough, &out.Through}, {"date of manufacture", f.MadeOn, &out.MadeOn}, {"best-before date",
		f.BestBefore, &out.BestBefore}} {
		if !date.from.IsZero() {
			*date.to, err = NewDay(date.from.Year, time.Month(date.from.Month), date.from.Day)
			ps.When(err != nil, path, "{1} outside 1900 to 2199: enter it as printed", date.name)
		}
	}
	return out, ps.Err()
}

// wordingOfCode is what the end dates of barcodes say that they are. (17) and (7003) of GS1 are expiry dates, and so
// is the end date of HIBC; day 00 means the last day of the month. (15), best before, is no end date, and its wording
// is none of those that set one, so it never gets here.
const wordingOfCode = WordExpiry

// MayLackSeparator tells whether a batch or serial number was read without any separator having come along. Browsers'
// own readers leave it out at times, and then a number swallows what follows; what they read is not taken for a fact.
func (f PackFacts) MayLackSeparator() bool {
	return f.Scheme == barcode.GS1 && !f.Separator && f.BatchNo+f.Serial != ""
}

// ProductMeant is the one product that a code and a receipt mean, of those that have the code.
func (f PackFacts) ProductMeant(in Receipt, found []Product) (Product, error) {
	switch {
	case f.ProductCode == "":
		return Product{}, InvalidField("barcode", "secondary code only: scan the pack's other code too")
	case len(found) == 0:
		return Product{}, errUnknownCode(f.Scheme)
	case len(found) == 1 && (in.Product == 0 || in.Product == found[0].ID):
		return found[0], nil
	}
	for _, pr := range found {
		if pr.ID == in.Product {
			return pr, nil
		}
	}
	if in.Product != 0 {
		return Product{}, InvalidField("product", "code belongs to another product")
	}
	return Product{}, InvalidField("product", "several products have this code: choose one")
}

func errUnknownCode(scheme barcode.Scheme) error {
	field := "gtin"
	if scheme == barcode.HIBC {
		field = "hibc"
	}
	return InvalidField("barcode", "add a product with {1} first", field)
}

// Applied writes what a code says into a receipt. A serial number is taken for items that are tracked by it; on
// others it tells packs of one batch apart. Refuses: Invalid by field.
func (f PackFacts) Applied(in Receipt, it Item, pr Product) (Receipt, error) {
	var ps Problems
	agree := func(path string, given *string, read string) {
		ps.When(*given != "" && read != "" && *given != read, path, "differs from the code: check the pack")
		if read != "" {
			*given = read
		}
	}
	in.Product = pr.ID
	agree("item", &in.Item, pr.Item)
	agree("batch_no", &in.BatchNo, f.BatchNo)
	if it.TrackedBy == BySerial {
		agree("serial", &in.Serial, f.Serial)
	}
	agree("end_printed", &in.EndPrinted, f.EndPrinted)
	wording := string(in.EndWording)
	agree("end_wording", &wording, string(f.EndWording))
	in.EndWording = Wording(wording)
	agree("made_on", &in.MadeOn, f.MadeOn.String())
	ps.When(it.Dated && in.EndPrinted == "" && f.BestBefore != 0, "end_printed",
		"best before is not an expiry date: enter date and wording from the pack")
	if in.Qty == 0 {
		ps.When(in.Packs < 1 || in.Packs > MaxPacks, "packs", "enter {1} to {2}", 1, MaxPacks)
		in.Qty = in.Packs * unitsIn(&ps, f.Qty, f.Elements["02"] != "" && f.Elements["37"] != "", pr)
		ps.When(in.Qty > MaxQty, "packs", "at most {1} units at a time", MaxQty)
	} else {
		ps.When(in.Packs != 0, "packs", "enter packs or units, not both")
	}
	return in, ps.Err()
}

// MaxPacks is the most packs received at once.
const MaxPacks = 10_000

// unitsIn is how many units the pack that bears a code holds: the product's pack size, times the packs that a code
// says it is around, (37) of GS1. A code that states another count than the pack size is refused, since one of the
// two is wrong.
func unitsIn(ps *Problems, stated int, around bool, pr Product) int {
	switch {
	case stated == 0 || !around && stated == pr.PackSize:
	case around && stated > MaxQty/pr.PackSize:
		ps.Add("packs", "too many units in the code: enter units")
		return 1
	case around:
		return stated * pr.PackSize
	default:
		ps.Add("packs", "code and pack size differ: check the pack, enter units")
	}
	return pr.PackSize
}
