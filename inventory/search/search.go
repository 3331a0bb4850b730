package search

import (
	"cmp"
	"context"
	"slices"
	"strings"
	"unicode"
	"unicode/utf8"

	"stowkeeper/inventory"
	"stowkeeper/inventory/barcode"
	"stowkeeper/inventory/scope"
	"stowkeeper/inventory/stock"
)

// Found is what a search found, the best matches first in each group.
type Found struct {
	Bags   []inventory.Bag
	Lots   []FoundBatch
	Items  []inventory.Item
	People []inventory.Person
	More   bool // a group holds more than is listed
	Only   *Hit // the one thing that bears exactly what was asked for
}

// Hit is one thing that a search led to; one of its fields is set.
type Hit struct {
	Bag, Item, Person string
	Lot               int64
	Serial            bool // the lot is a device
}

// FoundBatch is a batch with where its units are.
type FoundBatch struct {
	inventory.Batch
	LotID int64 // a lot of it, one with units where there is one
	Qty   int
	Where []stock.AtPlace
}

// None tells whether nothing was found.
func (f Found) None() bool { return len(f.Bags)+len(f.Lots)+len(f.Items)+len(f.People) == 0 }

// Limits of a search.
const (
	maxSearch    = 300 // characters asked for: a pack's barcode is the longest
	maxFound     = 20  // things listed in each group
	maxLotsRead  = 400 // lots looked at for a part of a number
	minPartOfLot = 2   // characters before parts of numbers are looked for
)

// ranks of a match: the smaller, the better.
const (
	rankExact = iota
	rankPrefix
	rankPart
	rankNone
)

// matchRank tells how well texts match what is asked for, case apart.
func matchRank(asked string, texts ...string) int {
	best := rankNone
	asked = strings.ToLower(asked)
	for _, t := range texts {
		t = strings.ToLower(t)
		switch {
		case t == "":
		case t == asked:
			best = min(best, rankExact)
		case strings.HasPrefix(t, asked):
			best = min(best, rankPrefix)
		case strings.Contains(t, asked):
			best = min(best, rankPart)
		}
	}
	return best
}

// Search finds bags, batches, devices, items and people by what somebody typed or scanned, among what the actor may
// see: by exact code, number or name first, then by how it begins, then by any part. A text that matches nothing and
// is a pack's barcode finds what the barcode names. People are found by who reads history. Refuses: Forbidden
// without see; a text that finds nothing is no error.
func (s *Service) Search(ctx context.Context, by inventory.Actor, text string) (Found, error) {
	return inventory.ReadAs(ctx, s.store, by, inventory.ActSee, func(r inventory.Reader) (Found, error) {
		asked := inventory.OneLine(text)
		if asked == "" || len(text) > maxSearch || !utf8.ValidString(text) {
			return Found{}, nil
		}
		x := &search{s: s, r: r, by: by}
		for _, find := range []func(string) error{x.bags, x.lots, x.items, x.people} {
			if strings.ContainsFunc(asked, unicode.IsControl) {
				break // a scanner's separators: a barcode
			}
			if err := find(asked); err != nil {
				return Found{}, err
			}
		}
		if x.out.None() {
			if err := x.pack(text); err != nil {
				return Found{}, err
			}
		}
		if len(x.exact) == 1 {
			x.out.Only = &x.exact[0]
		}
		return x.out, nil
	})
}

// search gathers what is found.
type search struct {
	s     *Service
	r     inventory.Reader
	by    inventory.Actor
	out   Found
	exact []Hit
}

// ranked keeps what matches, the best first, up to the limit; hit is called for each exact match.
func ranked[T any](x *search, all []T, rank func(T) int, hit func(T) Hit) []T {
	var out []T
	for _, v := range all {
		if k := rank(v); k < rankNone {
			out = append(out, v)
			if k == rankExact {
				x.exact = append(x.exact, hit(v))
			}
		}
	}
	slices.SortStableFunc(out, func(a, b T) int { return cmp.Compare(rank(a), rank(b)) })
	if len(out) > maxFound {
		x.out.More, out = true, out[:maxFound]
	}
	return out
}

func (x *search) bags(asked string) error {
	all, err := x.r.Bags(inventory.BagFilter{AtStations: x.by.StationsSeen(), Retired: true}, inventory.Page{})
	bare := scope.BareCode(asked)
	x.out.Bags = ranked(x, all, func(b inventory.Bag) int {
		if bare != "" && scope.BareCode(b.Code) == bare {
			return rankExact
		}
		return max(rankPrefix, matchRank(asked, b.Code, b.Name, b.Vehicle))
	}, func(b inventory.Bag) Hit { return Hit{Bag: b.Code} })
	return err
}

func (x *search) items(asked string) error {
	found, err := x.r.Items(inventory.ItemFilter{Text: asked}, inventory.Page{})
	code := inventory.NormalCode(asked)
	x.out.Items = ranked(x, found, func(it inventory.Item) int {
		if it.Code == code {
			return rankExact
		}
		return min(rankPart, matchRank(asked, it.Code, it.Name)) // the store folds case further than this
	}, func(it inventory.Item) Hit { return Hit{Item: it.Code} })
	return err
}

func (x *search) people(asked string) error {
	if !x.by.May(inventory.ActHistory) {
		return nil
	}
	all, err := x.r.People()
	all = slices.DeleteFunc(all, func(p inventory.Person) bool { return !x.by.SharesStation(p) })
	x.out.People = ranked(x, all, func(p inventory.Person) int { return matchRank(asked, p.Name) },
		func(p inventory.Person) Hit { return Hit{Person: p.Name} })
	return err
}

// lots finds batches by number: exact ones also where no unit is left, parts of numbers among what is there.
func (x *search) lots(asked string) error {
	found, err := x.numbered(asked)
	if err != nil {
		return err
	}
	if len(asked) >= minPartOfLot {
		more, err := x.r.Lots(inventory.LotFilter{Number: asked, Held: true, Stations: x.by.StationsSeen()},
			inventory.Page{Limit: maxLotsRead})
		if err != nil {
			return err
		}
		x.out.More = x.out.More || len(more) == maxLotsRead
		found = append(found, more...)
	}
	return x.addBatches(found, func(b FoundBatch) int {
		var numbers []string
		for _, f := range b.Ever() {
			numbers = append(numbers, inventory.FoldNumber(f.BatchNo), inventory.FoldNumber(f.Serial))
		}
		return matchRank(inventory.FoldNumber(asked), numbers...)
	})
}

// numbered returns the lots with exactly that batch or serial number that the actor may know of.
func (x *search) numbered(number string) ([]inventory.Lot, error) {
	var out []inventory.Lot
	for _, f := range []inventory.LotFilter{{BatchNo: number}, {Serial: number}} {
		lots, err := x.r.Lots(f, inventory.Page{Limit: maxLotsRead})
		if err != nil {
			return nil, err
		}
		for _, l := range lots {
			err := scope.KnowsBatch(x.by, x.r, l.Batch.ID)
			if err != nil && inventory.KindOf(err) != inventory.NotFound {
				return nil, err
			}
			if err == nil {
				out = append(out, l)
			}
		}
	}
	return out, nil
}

// addBatches adds lots to what was found, as one thing for each batch.
func (x *search) addBatches(lots []inventory.Lot, rank func(FoundBatch) int) error {
	slices.SortFunc(lots, func(a, b inventory.Lot) int { return cmp.Compare(a.ID, b.ID) })
	lots = slices.CompactFunc(lots, func(a, b inventory.Lot) bool { return a.ID == b.ID })
	sums, err := x.s.stock.Summaries(x.r, lots, x.by.StationsSeen(), 0)
	if err != nil {
		return err
	}
	var all []FoundBatch
	at := map[int64]int{}
	for _, l := range sums {
		batch := cmp.Or(l.MergedInto, l.Batch.ID)
		i, ok := at[batch]
		if !ok {
			i = len(all)
			at[batch] = i
			all = append(all, FoundBatch{Batch: l.Batch, LotID: l.ID})
		}
		if len(l.Where) > 0 && all[i].Qty == 0 {
			all[i].LotID = l.ID
		}
		for _, w := range l.Where {
			all[i].Qty += w.Qty
			all[i].Where = append(all[i].Where, w)
		}
	}
	x.out.Lots = ranked(x, all, rank, func(b FoundBatch) Hit { return Hit{Lot: b.LotID, Serial: b.Serial != ""} })
	return nil
}

// pack finds what a pack's barcode names.
func (x *search) pack(text string) error {
	y, m, d := x.s.now().InUTC().Date()
	f, err := barcode.Parse(text, barcode.Date{Year: y, Month: int(m), Day: d})
	if err != nil {
		return nil // no barcode: nothing was found
	}
	items, err := x.itemsOf(f.ProductCode)
	if err != nil {
		return err
	}
	if number := cmp.Or(f.Serial, f.BatchNo); number != "" {
		lots, err := x.numbered(number)
		if err != nil {
			return err
		}
		if len(items) > 0 {
			lots = slices.DeleteFunc(lots, func(l inventory.Lot) bool {
				return !slices.ContainsFunc(items, func(it inventory.Item) bool { return it.Code == l.Item })
			})
		}
		if err := x.addBatches(lots, func(FoundBatch) int { return rankExact }); err != nil || len(x.out.Lots) > 0 {
			return err
		}
	}
	x.out.Items = ranked(x, items, func(inventory.Item) int { return rankExact },
		func(it inventory.Item) Hit { return Hit{Item: it.Code} })
	return nil
}

// itemsOf returns the items whose products bear a code.
func (x *search) itemsOf(code string) ([]inventory.Item, error) {
	var out []inventory.Item
	if code == "" {
		return nil, nil
	}
	for _, f := range []inventory.ProductFilter{{GTIN: code}, {GTIN: strings.TrimLeft(code, "0")}, {HIBC: code}} {
		products, err := x.r.Products(f, inventory.Page{})
		if err != nil {
			return nil, err
		}
		for _, p := range products {
			it, err := x.r.Item(p.Item)
			if err != nil {
				return nil, err
			}
			if !slices.ContainsFunc(out, func(o inventory.Item) bool { return o.Code == it.Code }) {
				out = append(out, it)
			}
		}
	}
	return out, nil
}
