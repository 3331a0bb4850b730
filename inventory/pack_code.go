package inventory

import (
	"stowkeeper/inventory/barcode"
	"strings"
)

// PackFacts is what a pack's barcode says, and which products it is the code
// of. Every field is left out where the code has nothing on it.
type PackFacts struct {
	Scheme      barcode.Scheme `json:"scheme" enum:"gs1,gs1_digital_link,hibc"`
	ProductCode string         `json:"product_code,omitempty" doc:"GTIN in 14 digits, or labeler, product code and unit of measure of an HIBC label"`
	BatchNo     string         `json:"batch_no,omitempty" doc:"Batch number"`
	Serial      string         `json:"serial,omitempty" doc:"Serial number"`
	MadeOn      Day            `json:"made_on,omitempty" format:"date" doc:"Day of manufacture; a month alone means its first day"`
	EndPrinted  string         `json:"end_printed,omitempty" doc:"The end date: YYYY-MM, or YYYY-MM-DD"`
	EndWording  Wording        `json:"end_wording,omitempty" enum:"expiry" doc:"What kind of date the code says that it is"`
	Through     Day            `json:"usable_through,omitempty" format:"date" doc:"The last day, inclusive, that the end date means"`
	EndTime     string         `json:"end_time,omitempty" doc:"The end with its clock time, where the code has one; only the day counts"`
	BestBefore  Day            `json:"best_before,omitempty" format:"date" doc:"A best-before date; it is no end date"`
	Qty         int            `json:"qty,omitempty" doc:"Count that the code states"`
	Separator   bool           `json:"separator_seen" doc:"Whether a separator (ASCII 29) came with the text"`

	Elements map[string]string `json:"elements" doc:"Values as read, by application identifier, or by field of an HIBC label"`
	Warnings []PackWarning     `json:"warnings" doc:"What a person should look at; nothing was repaired"`
	Products []Product         `json:"products" doc:"Products that have this code"`
}

// PackWarning is something about a code that is legal and looks wrong.
type PackWarning struct {
	Kind     barcode.WarningKind `json:"kind"`
	Position int                 `json:"position" doc:"Characters before it in the text"`
	Text     string              `json:"text"`
}

// MayLackSeparator tells whether a batch or serial number was read without any
// separator having come along. Browsers' own readers leave it out at times, and
// then a number swallows what follows; what they read is not taken for a fact.
func (f PackFacts) MayLackSeparator() bool {
	return f.Scheme == barcode.GS1 && !f.Separator && f.BatchNo+f.Serial != ""
}

// Applied writes what a code says into a receipt. A serial number is taken for items that are tracked by it; on
// others it tells packs of one batch apart. Refuses: Invalid by field.
func (f PackFacts) Applied(in Receipt, it Item, pr Product) (Receipt, error) {
	var ps Problems
	agree := func(path string, given *string, read string) {
		ps.When(*given != "" && read != "" && *given != read, path,
			"the code says otherwise; leave this out, or receive without the code")
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
		"the code has only a best-before date, which is no end date: give the date printed on the pack, and in end_wording "+
			"the words beside it")
	if in.Qty == 0 {
		ps.When(in.Packs < 1 || in.Packs > MaxPacks, "packs", "give 1 to %d packs", MaxPacks)
		in.Qty = in.Packs * unitsIn(&ps, f.Qty, f.Elements["02"] != "" && f.Elements["37"] != "", pr)
		ps.When(in.Qty > MaxQty, "packs", "that is more than %d units; receive them in several goes", MaxQty)
	} else {
		ps.When(in.Packs != 0, "packs", "give packs or qty, not both")
	}
	return in, ps.Err()
}

// MaxPacks is the most packs received at once.
const MaxPacks = 10_000

// unitsIn is how many units the pack that bears a code holds: the product's
// pack size, times the packs that a code says it is around, (37) of GS1. A code
// that states another count than the pack size is refused, since one of the two
// is wrong.
func unitsIn(ps *Problems, stated int, around bool, pr Product) int {
	switch {
	case stated == 0 || !around && stated == pr.PackSize:
	case around && stated > MaxQty/pr.PackSize:
		ps.Add("packs", "the code states more units than can be received at once; give qty")
		return 1
	case around:
		return stated * pr.PackSize
	default:
		ps.Add("packs", "the code states another count than the product's pack size: look at the pack, and give qty in "+
			"units, or correct the pack size")
	}
	return pr.PackSize
}

// Tidy brings the codes of a product to their kept form: a GTIN without the
// blanks and hyphens between its digits, and of a whole HIBC label its primary
// code.
func (pr Product) Tidy() Product {
	pr.GTIN = strings.NewReplacer(" ", "", "-", "").Replace(pr.GTIN)
	pr.HIBC = strings.ToUpper(strings.TrimSpace(pr.HIBC))
	if strings.HasPrefix(pr.HIBC, "+") {
		f, err := barcode.Parse(pr.HIBC, barcode.Date{Year: 2000, Month: 1, Day: 1})
		if err == nil && f.ProductCode != "" {
			pr.HIBC = f.ProductCode
		}
	}
	return pr
}
