package inventory

import (
	"slices"

	"stowkeeper/inventory/barcode"
	"stowkeeper/inventory/message"
)

// DeliveryStatus is how far a delivery has come.
type DeliveryStatus string

// The statuses.
const (
	DeliveryOpen    DeliveryStatus = "open"     // being scanned
	DeliveryPutAway DeliveryStatus = "put_away" // its lines are receipts
	DeliveryDropped DeliveryStatus = "dropped"  // given up; nothing was received
)

// MaxDeliveryLines is the most lines of one delivery.
const MaxDeliveryLines = 300

// Delivery is packs being scanned in, one after the other. It is a draft, kept from the first scan on, so that
// nothing is lost when a phone dies; it becomes receipts when it is put away, all of them or none.
type Delivery struct {
	ID        int64
	Place     string // where packs go that nothing speaks against
	Reference string // order or delivery note
	Status    DeliveryStatus
	StartedAt Instant
	StartedBy string
	EndedAt   Instant
	EndedBy   string
	Last      int // line of the newest scan
	Lines     []DeliveryLine
}

// DeliveryLine is packs that are alike.
type DeliveryLine struct {
	N       int            `json:"n"` // names the line within its delivery; never given twice
	Scheme  barcode.Scheme `json:"scheme"`
	Code    string         `json:"code"`              // product code
	Product int64          `json:"product,omitempty"` // 0 while no product has the code
	Item    string         `json:"item,omitempty"`

	BatchNo    string  `json:"batch_no,omitempty"`
	Serial     string  `json:"serial,omitempty"` // of a device, or of a pack of which nothing is known
	MadeOn     string  `json:"made_on,omitempty"`
	EndPrinted string  `json:"end_printed,omitempty"`
	EndWording Wording `json:"end_wording,omitempty"`
	BestBefore string  `json:"best_before,omitempty"` // shown to the person who types the end date

	Packs  int  `json:"packs"`
	Units  int  `json:"units,omitempty"`  // in all, where a person says so; else packs times pack size
	Stated int  `json:"stated,omitempty"` // count that the code states
	Around bool `json:"around,omitempty"` // the count is of packs in a case
	// Packed are serial numbers of the packs, where the item is not tracked by them.
	Packed   []string          `json:"packed,omitempty"`
	Check    string            `json:"check,omitempty"` // check character, which the second label of an HIBC pack repeats
	Warnings []message.Message `json:"warnings,omitempty"`

	Way        WayIn      `json:"way,omitempty"` // where it goes, where a person has to say
	OnConflict OnConflict `json:"on_conflict,omitempty"`
	Reason     string     `json:"reason,omitempty"` // why the earlier record is wrong

	LotID int64  `json:"lot_id,omitempty"` // once it is put away
	To    string `json:"to,omitempty"`
}

// lineOf begins a line with what a code says.
func lineOf(f PackFacts) DeliveryLine {
	l := DeliveryLine{Scheme: f.Scheme, Code: f.ProductCode, Serial: f.Serial, Packs: 1, Stated: f.Qty,
		Around: f.Elements["02"] != "" && f.Elements["37"] != "", Check: f.Elements["check"]}
	l.fill(f)
	return l
}

// fill writes into a line what it lacks and a code says.
func (l *DeliveryLine) fill(f PackFacts) {
	for _, x := range []struct {
		to   *string
		from string
	}{{&l.BatchNo, f.BatchNo}, {&l.Serial, f.Serial}, {&l.MadeOn, f.MadeOn.String()}, {&l.BestBefore,
		f.BestBefore.String()}} {
		if *x.to == "" {
			*x.to = x.from
		}
	}
	if l.EndPrinted == "" {
		l.EndPrinted, l.EndWording = f.EndPrinted, f.EndWording
	}
	for _, w := range f.Warnings {
		if w.Kind != barcode.Needs { // the pack's other code may have been scanned, or will be
			l.Warnings = append(l.Warnings, w.Text)
		}
	}
}

// Take puts a scanned pack into the delivery: the same again adds one, and the second of two codes on a pack
// completes the line of the first. pr is the product that has the code, none where it is unknown; it is its item. It
// tells the line. Refuses: Invalid for a second code that fits no line; Conflict for the very pack again, and where
// delivery or line is full.
func (d *Delivery) Take(f PackFacts, pr *Product, it Item) (int, error) {
	if f.ProductCode == "" {
		return d.join(f, it)
	}
	l := lineOf(f)
	if pr != nil {
		l.Know(*pr, it)
	}
	if len(d.Lines) >= MaxDeliveryLines {
		return 0, Refuse(Conflict, "at most {1} lines in a delivery: put this one away and start another", MaxDeliveryLines)
	}
	l.N = d.nextLine()
	d.Lines = append(d.Lines, l)
	return d.merge(len(d.Lines) - 1)
}

// join completes the line of the newest scan with the pack's second code.
func (d *Delivery) join(f PackFacts, it Item) (int, error) {
	i := slices.IndexFunc(d.Lines, func(l DeliveryLine) bool { return l.N == d.Last })
	if i < 0 || d.Lines[i].BatchNo != "" && d.Lines[i].EndPrinted != "" {
		return 0, InvalidField("text", "secondary code only: scan the pack's other code too")
	}
	l := &d.Lines[i]
	if link := f.Elements["link"]; link != "" && l.Check != "" && link != l.Check {
		return 0, InvalidField("text", "codes of two packs: scan both codes of one")
	}
	l.fill(f)
	if l.Item != "" {
		l.settleSerial(it)
	}
	return d.merge(i)
}

// Know says which product a line's packs are of.
func (l *DeliveryLine) Know(pr Product, it Item) {
	l.Product, l.Item = pr.ID, pr.Item
	l.settleSerial(it)
}

// settleSerial keeps the serial number of a device, and notes that of another
// pack only to tell whether it is scanned twice.
func (l *DeliveryLine) settleSerial(it Item) {
	if it.TrackedBy != BySerial && l.Serial != "" {
		l.Packed, l.Serial = append(l.Packed, l.Serial), ""
	}
}

func (d *Delivery) nextLine() int {
	n := 0
	for _, l := range d.Lines {
		n = max(n, l.N)
	}
	return max(n, d.Last) + 1
}

// merge adds line i to an earlier one that is alike, and tells the line that
// its packs are on now. A pack with a serial number of its own is taken once.
func (d *Delivery) merge(i int) (int, error) {
	l := d.Lines[i]
	for j := range d.Lines {
		old := &d.Lines[j]
		if j == i || !old.alike(l) {
			continue
		}
		if l.Serial != "" || slices.ContainsFunc(l.Packed, func(s string) bool { return slices.Contains(old.Packed, s) }) {
			d.Lines = slices.Delete(d.Lines, i, i+1)
			return 0, Refuse(Conflict, "already scanned in this delivery")
		}
		if old.Packs+l.Packs > MaxPacks {
			return 0, Refuse(Conflict, "at most {1} packs in a line", MaxPacks)
		}
		old.Packs += l.Packs
		old.Packed = append(old.Packed, l.Packed...)
		n := old.N
		d.Lines = slices.Delete(d.Lines, i, i+1)
		d.Last = n
		return n, nil
	}
	d.Last = l.N
	return l.N, nil
}

// alike tells whether packs of two lines belong on one.
func (l DeliveryLine) alike(k DeliveryLine) bool {
	return l.Scheme == k.Scheme && l.Code == k.Code && l.BatchNo == k.BatchNo && l.Serial == k.Serial &&
		l.MadeOn == k.MadeOn &&
		l.EndPrinted == k.EndPrinted && l.EndWording == k.EndWording && l.Stated == k.Stated
}

// UnitsIn is how many units a line brings in. Refuses: Invalid by field.
func (l DeliveryLine) UnitsIn(it Item, pr Product) (int, error) {
	if it.TrackedBy == BySerial {
		if l.Packs != 1 {
			return 1, InvalidField("packs", "one device at a time")
		}
		return 1, nil
	}
	if l.Units > 0 {
		return l.Units, nil
	}
	var ps Problems
	n := l.Packs * unitsIn(&ps, l.Stated, l.Around, pr)
	ps.When(n > MaxQty, "packs", "at most {1} units at a time", MaxQty)
	return n, ps.Err()
}

// WayIn is where a scanned pack goes.
type WayIn string

// The ways in.
const (
	InPlace      WayIn = "place"      // where the delivery goes
	InTraining   WayIn = "training"   // the station's training store, for good
	InQuarantine WayIn = "quarantine" // set apart
	InDisposed   WayIn = "disposed"   // received and disposed of at once
)

// LastItem is the item of the line of the newest scan, where it is known.
func (d Delivery) LastItem() string {
	for _, l := range d.Lines {
		if l.N == d.Last {
			return l.Item
		}
	}
	return ""
}

// NameAll makes every line with a code known, and adds those together that are alike now. Refuses: Conflict where a
// line becomes too full.
func (d *Delivery) NameAll(scheme barcode.Scheme, code string, pr Product, it Item) error {
	last := d.Last
	for i := 0; i < len(d.Lines); i++ {
		l := &d.Lines[i]
		if l.Product != 0 || l.Scheme != scheme || l.Code != code && barcode.GTIN14(l.Code) != barcode.GTIN14(code) {
			continue
		}
		l.Know(pr, it)
		before := len(d.Lines)
		if _, err := d.merge(i); err != nil {
			return err
		}
		if len(d.Lines) < before {
			i--
		}
	}
	d.Last = last
	return nil
}

// Line returns a line by its number. Refuses: NotFound.
func (d *Delivery) Line(n int) (*DeliveryLine, error) {
	for i := range d.Lines {
		if d.Lines[i].N == n {
			return &d.Lines[i], nil
		}
	}
	return nil, Refuse(NotFound, "not found")
}
