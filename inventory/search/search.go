package search

import (
	"cmp"
	"context"
	"slices"
	"strconv"
	"strings"
	"unicode"
	"unicode/utf8"

	"stowkeeper/inventory"
	"stowkeeper/inventory/barcode"
	"stowkeeper/inventory/scope"
	"stowkeeper/inventory/stock"
)

// Found is the result of a search. Each group has its best matches first.
type Found struct {
	Bags    []inventory.Bag
	Lots    []FoundBatch
	Items   []inventory.Item
	Places  []inventory.Place // no bags, which have their own group
	Notices []inventory.Notice
	Uses    []inventory.Use       // of the incident, newest first
	Seals   []inventory.SealEntry // of the seal number, newest first
	People  []inventory.Person
	// Transfers are documents, newest first.
	Transfers []inventory.Document
	More      bool // some group has more matches than are listed
	Only      *Hit // the only exact match, nil if there are none or several
}

// Hit names one match. Only the field of its kind is set.
type Hit struct {
	Bag, Item, Person string
	Place             string // code of a place that is not a bag
	Log               string // code of the bag whose log has it
	Notice, Lot       int64
	Transfer          int64
	Serial            bool // the lot is a device
}

// FoundBatch is a batch, and where its units are.
type FoundBatch struct {
	inventory.Batch
	LotID int64 // one of its lots, if possible one with units left
	Qty   int
	Where []stock.AtPlace
}

// None tells whether nothing was found.
func (f Found) None() bool {
	return len(f.Bags)+len(f.Lots)+len(f.Items)+len(f.Places)+len(f.Notices)+len(f.Uses)+len(f.Seals)+len(f.People)+
		len(f.Transfers) == 0
}

// Limits of a search.
const (
	maxSearch    = 300 // characters of a query; the longest are barcodes
	maxFound     = 20  // matches listed in each group
	maxLotsRead  = 400 // lots read for part of a number
	minPartOfLot = 2   // characters that part of a number needs
)

// Ranks of a match, the best first.
const (
	rankExact = iota
	rankPrefix
	rankPart
	rankWords
	rankNone
)

// matchRank is the best rank among some texts, whatever their case: they match the whole query, or all of its words.
func matchRank(asked string, texts ...string) int {
	best := rankNone
	said := strings.ToLower(strings.Join(texts, " "))
	asked = strings.ToLower(asked)
	if !slices.ContainsFunc(strings.Fields(asked), func(word string) bool { return !strings.Contains(said, word) }) {
		best = rankWords
	}
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

// Search finds bags, batches, devices, items, places, incidents, seals, notices, people and transfers by what somebody
// typed or scanned, among what the actor may see. Exact matches of a code, number or name come first, then those that
// begin with the text, then those that contain it, then those that contain all of its words. Blanks and dashes in
// numbers are ignored. If nothing matches, the text is read as a pack's barcode. Notices and people are shown to those
// who may read history, transfers to those who keep stock. Finding nothing is no error. Refuses: Forbidden without see.
func (s *Service) Search(ctx context.Context, by inventory.Actor, text string) (Found, error) {
	return inventory.ReadAs(ctx, s.store, by, inventory.ActSee, func(r inventory.Reader) (Found, error) {
		asked := inventory.OneLine(text)
		if asked == "" || len(text) > maxSearch || !utf8.ValidString(text) {
			return Found{}, nil
		}
		x := &search{s: s, r: r, by: by}
		for _, find := range []func(string) error{x.bags, x.lots, x.items, x.places, x.records, x.notices, x.people,
			x.transfers} {
			if strings.ContainsFunc(asked, unicode.IsControl) {
				break // only barcodes have these, as separators
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
		if first := slices.Compact(x.exact); len(first) == 1 {
			x.out.Only = &first[0]
		}
		return x.out, nil
	})
}

// search gathers the matches.
type search struct {
	s     *Service
	r     inventory.Reader
	by    inventory.Actor
	out   Found
	exact []Hit
}

// ranked keeps the best matches, at most maxFound. It notes the hit of each exact match.
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
	words := strings.Fields(asked)
	found, err := x.r.Items(inventory.ItemFilter{Text: words[0]}, inventory.Page{})
	for _, word := range words[1:] {
		var more []inventory.Item
		if err == nil {
			more, err = x.r.Items(inventory.ItemFilter{Text: word}, inventory.Page{})
		}
		found = slices.DeleteFunc(found, func(it inventory.Item) bool {
			return !slices.ContainsFunc(more, func(m inventory.Item) bool { return m.Code == it.Code })
		})
	}
	code := inventory.NormalCode(asked)
	x.out.Items = ranked(x, found, func(it inventory.Item) int {
		if it.Code == code {
			return rankExact
		}
		return min(rankWords, matchRank(asked, it.Code, it.Name)) // the store found it by other fields
	}, func(it inventory.Item) Hit { return Hit{Item: it.Code} })
	return err
}

func (x *search) places(asked string) error {
	var out []inventory.Place
	for _, kind := range []inventory.PlaceKind{inventory.KindStore, inventory.KindCarrier, inventory.KindQuarantine,
		inventory.KindAway} {
		all, err := x.r.Places(inventory.PlaceFilter{Stations: x.by.StationsSeen(), Kind: kind}, inventory.Page{})
		if err != nil {
			return err
		}
		out = append(out, all...)
	}
	bare := scope.BareCode(asked)
	x.out.Places = ranked(x, out, func(p inventory.Place) int {
		if bare != "" && scope.BareCode(p.Code) == bare {
			return rankExact
		}
		return max(rankPrefix, matchRank(asked, p.Code, p.Name, p.Holder, p.Vehicle))
	}, func(p inventory.Place) Hit { return Hit{Place: p.Code} })
	return nil
}

// records finds uses by the number of their incident, and entries about seals by the number of the seal.
func (x *search) records(asked string) (err error) {
	if inventory.FoldNumber(asked) == "" {
		return nil // only blanks and dashes
	}
	f := inventory.RecordFilter{Number: asked, AtStations: x.by.StationsSeen()}
	if x.out.Uses, err = x.r.Uses(f, inventory.Page{Limit: maxFound + 1}); err != nil {
		return err
	}
	if x.out.Seals, err = x.r.Seals(f, inventory.Page{Limit: maxFound + 1}); err != nil {
		return err
	}
	x.out.Uses = ranked(x, x.out.Uses, func(inventory.Use) int { return rankExact },
		func(u inventory.Use) Hit { return Hit{Log: u.Bag} })
	x.out.Seals = ranked(x, x.out.Seals, func(inventory.SealEntry) int { return rankExact },
		func(e inventory.SealEntry) Hit { return Hit{Log: e.Bag} })
	return nil
}

func (x *search) notices(asked string) error {
	if !x.by.May(inventory.ActHistory) {
		return nil
	}
	all, err := x.r.Notices(inventory.NoticeFilter{}, inventory.Page{})
	x.out.Notices = ranked(x, all, func(n inventory.Notice) int {
		if inventory.FoldNumber(n.Reference) == inventory.FoldNumber(asked) {
			return rankExact
		}
		return max(rankPrefix, matchRank(asked, n.Reference, n.Item, n.Text))
	}, func(n inventory.Notice) Hit { return Hit{Notice: n.ID} })
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

// transfers finds transfers by number, station and who asked for them, for those who keep stock.
func (x *search) transfers(asked string) error {
	if !x.by.May(inventory.ActKeepStock) {
		return nil
	}
	all, err := x.r.Documents(inventory.DocumentFilter{Kind: inventory.DocTransfer, Stations: x.by.StationsSeen()},
		inventory.Page{})
	stations, wrong := x.r.Stations()
	called := map[string]string{}
	for _, st := range stations {
		called[st.Code] = st.Name
	}
	x.out.Transfers = ranked(x, all, func(d inventory.Document) int {
		own := "transfer " + strconv.FormatInt(d.ID, 10)
		if inventory.FoldNumber(asked) == inventory.FoldNumber(own) {
			return rankExact
		}
		return max(rankPrefix, matchRank(asked, own, d.Station, d.Other, called[d.Station], called[d.Other], d.OpenedBy))
	}, func(d inventory.Document) Hit { return Hit{Transfer: d.ID} })
	return cmp.Or(err, wrong)
}

// lots finds batches by their number, also together with words of the item's name. A batch without units left is found
// by its whole number only.
func (x *search) lots(asked string) error {
	found, err := x.numbered(asked)
	if err != nil {
		return err
	}
	words, names := strings.Fields(asked), map[string]string{}
	if len(words) > 1 {
		items, err := x.r.Items(inventory.ItemFilter{}, inventory.Page{})
		if err != nil {
			return err
		}
		for _, it := range items {
			names[it.Code] = it.Name
		}
		words = append(words, asked)
	}
	for _, part := range words {
		if len(part) < minPartOfLot {
			continue
		}
		more, err := x.r.Lots(inventory.LotFilter{Number: part, Held: true, Stations: x.by.StationsSeen()},
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
		return min(matchRank(inventory.FoldNumber(asked), numbers...), max(rankWords,
			matchRank(asked, append(numbers, b.Item, names[b.Item])...)))
	})
}

// numbered returns the lots with that batch or serial number, if the actor may know of them.
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

// addBatches adds the batches of some lots to the result, each once.
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

// pack finds what a pack's barcode stands for.
func (x *search) pack(text string) error {
	y, m, d := x.s.now().InUTC().Date()
	f, err := barcode.Parse(text, barcode.Date{Year: y, Month: int(m), Day: d})
	if err != nil {
		return nil // not a barcode, so nothing is found
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

// itemsOf returns the items that have a product with this code.
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
