package lists

import (
	"cmp"
	"context"
	"slices"
	"strconv"
	"strings"

	"stowkeeper/inventory"
	"stowkeeper/inventory/ledger"
	"stowkeeper/inventory/message"
)

// UnitConversion says in which unit an item is counted from now on.
type UnitConversion struct {
	Unit   string `json:"unit" maxLength:"20" doc:"The new unit, as in box"`
	Old    int    `json:"old" minimum:"1" maximum:"10000" doc:"So many old units, as in 100 pairs …"`
	New    int    `json:"new" minimum:"1" maximum:"10000" doc:"… are so many new ones, as in 1 box; the same to rename"`
	Reason string `json:"reason" maxLength:"2000"`
}

// UnitConverted is what a conversion comes to.
type UnitConverted struct {
	Item   inventory.Item   `json:"item"`
	Places []ConvertedPlace `json:"places" doc:"What each place holds before and after, by batch"`
}

// ConvertedPlace is what a place holds of a lot before and after.
type ConvertedPlace struct {
	Place  string `json:"place"`
	LotID  int64  `json:"lot_id"`
	Before int    `json:"before"`
	After  int    `json:"after"`
}

// PlanConversion tells what a conversion of an item's unit would come to. Refuses: as ConvertUnit does, but for
// signatures: Forbidden, NotFound, Invalid, Conflict.
func (s *Service) PlanConversion(ctx context.Context, by inventory.Actor, item string,
	in UnitConversion) (UnitConverted, error) {
	return inventory.ReadAs(ctx, s.store, by, inventory.ActKeepLists, func(r inventory.Reader) (UnitConverted, error) {
		c := converting{r: r, by: by, now: s.now()}
		err := c.plan(item, in)
		return c.done, err
	})
}

// ConvertUnit counts an item in another unit from now on, with all that is counted in it, as one step: what lies in
// each place, the content of one, packs, kit lists with their bags, and what was used in the past. Refuses: Forbidden
// without keep_lists, and without keep_stock where some lie, unless it only renames the unit; NotFound; Invalid by
// field, and where a controlled item lacks signatures; Conflict for what does not come out whole, and for what is open
// of it, naming both. Locks the item and all stations.
func (s *Service) ConvertUnit(ctx context.Context, by inventory.Actor, item string, in UnitConversion) (UnitConverted,
	error) {
	return inventory.WriteAs(ctx, s.store, by, inventory.ActKeepLists, func(w inventory.Writer) (UnitConverted, error) {
		c := converting{r: w, by: by, now: s.now()}
		if err := w.LockItem(inventory.NormalCode(item)); err != nil {
			return c.done, err
		}
		stations, err := w.Stations()
		if err != nil {
			return c.done, err
		}
		codes := make([]string, 0, len(stations))
		for _, station := range stations {
			codes = append(codes, station.Code)
		}
		if err := w.LockStations(codes); err != nil {
			return c.done, err
		}
		if err := c.plan(item, in); err != nil {
			return c.done, err
		}
		return c.done, c.keep(w)
	})
}

// converting is a unit being converted.
type converting struct {
	r   inventory.Reader
	by  inventory.Actor
	now inventory.Instant

	it       inventory.Item
	stock    []inventory.Stock
	products []inventory.Product // as they are then
	lists    []inventory.KitList // their next versions
	bags     []inventory.Bag     // on these lists
	usage    []inventory.PastUsage
	is       inventory.Conversion
	uneven   []message.Message // what does not come out whole
	open     []message.Message // what is to be settled first
	done     UnitConverted
}

// plan works out what all numbers become. Refuses: as PlanConversion.
func (c *converting) plan(item string, in UnitConversion) (err error) {
	if c.it, err = c.r.Item(inventory.NormalCode(item)); err != nil {
		return err
	}
	in.Unit = inventory.OneLine(in.Unit)
	if err := in.check(c.it); err != nil {
		return err
	}
	c.is = inventory.Conversion{Item: c.it.Code, OldUnit: c.it.Unit, NewUnit: in.Unit, Old: in.Old, New: in.New,
		RecordedAt: c.now, By: c.by.Name, Witness: c.by.Proven(c.now).Second, Reason: in.Reason}
	c.it.Unit = in.Unit
	for _, step := range []func() error{c.places, c.packs, c.kitLists, c.openReports, c.openRest} {
		if err := step(); err != nil {
			return err
		}
	}
	c.it.Reserve = c.whole(c.it.Reserve, inventory.MaxQty, message.M("Each station keeps from transfers"))
	c.content()
	c.done.Item = c.it
	if len(c.open) > 0 && !c.is.Renames() {
		return inventory.Refuse(inventory.Conflict, "settle first: {1}", message.Join(", ", c.open...))
	}
	if len(c.uneven) > 0 {
		return inventory.Refuse(inventory.Conflict, "not whole in the new unit: {1}", message.Join(", ", c.uneven...))
	}
	return nil
}

func (in UnitConversion) check(it inventory.Item) error {
	var ps inventory.Problems
	inventory.CheckText(&ps, "unit", in.Unit, true, 20)
	inventory.CheckText(&ps, "reason", in.Reason, true, inventory.MaxNote)
	ps.When(in.Unit == it.Unit, "unit", "change at least one value")
	ps.When(in.Old < 1 || in.Old > 10000, "old", "enter {1} to {2}", 1, 10000)
	ps.When(in.New < 1 || in.New > 10000, "new", "enter {1} to {2}", 1, 10000)
	ps.When(it.TrackedBy == inventory.BySerial && in.Old != in.New, "new", "one device at a time")
	return ps.Err()
}

// whole returns a number in the new unit, and notes what it is of where it is not whole, or too large.
func (c *converting) whole(qty, most int, of message.Message) int {
	n, ok := c.is.Of(qty)
	if !ok || n > most {
		c.uneven = append(c.uneven, of)
	}
	return n
}

func (c *converting) places() (err error) {
	if c.stock, err = c.r.Stock(inventory.StockFilter{Items: []string{c.it.Code}}); err != nil {
		return err
	}
	c.done.Places = []ConvertedPlace{}
	var codes []string
	for _, st := range c.stock {
		codes = append(codes, st.Place)
		c.done.Places = append(c.done.Places, ConvertedPlace{st.Place, st.Lot.ID, st.Qty,
			c.whole(st.Qty, inventory.MaxQty, message.M("{1} in {2}", st.Qty, st.Place))})
	}
	if len(codes) == 0 || c.is.Renames() { // which moves nothing
		return nil
	}
	at, err := c.r.Places(inventory.PlaceFilter{Codes: codes}, inventory.Page{})
	for _, p := range at {
		err = cmp.Or(err, c.by.Must(inventory.ActKeepStock, p.Station))
	}
	return err
}

// content is how much one new unit holds.
func (c *converting) content() {
	if c.it.Content.None() {
		return
	}
	now, ok := c.it.Content.Times(c.is.Old, c.is.New)
	if !ok {
		c.uneven = append(c.uneven, message.Plain(c.it.Content.String()))
	}
	c.it.Content = now
}

func (c *converting) packs() (err error) {
	if c.usage, err = c.r.PastUsage(inventory.UsageFilter{Item: c.it.Code}); err != nil {
		return err
	}
	c.products, err = c.r.Products(inventory.ProductFilter{Item: c.it.Code}, inventory.Page{})
	for i, p := range c.products {
		name := message.Plain(cmp.Or(p.MakerReference, p.GTIN, p.HIBC, strconv.FormatInt(p.ID, 10)))
		c.products[i].PackSize = c.whole(p.PackSize, 100000, message.M("{1}: {2}", name, p.PackSize))
	}
	return err
}

// kitLists works out the next versions of the lists that ask for the item. Each bag on them has to be on the newest
// one, since older versions stay as they are.
func (c *converting) kitLists() error {
	newest, err := c.r.KitLists(inventory.Page{})
	if err != nil {
		return err
	}
	bags, err := c.r.Bags(inventory.BagFilter{}, inventory.Page{})
	if err != nil {
		return err
	}
	asks := map[string]inventory.KitList{}
	for _, k := range newest {
		asks[k.Code] = k
		if c.asksFor(k) {
			c.lists = append(c.lists, c.next(k))
		}
	}
	for _, b := range bags {
		k, on := asks[b.KitList], b.KitListVersion
		if k.Version == on && c.asksFor(k) {
			c.bags = append(c.bags, b)
		}
		if k.Version == on {
			continue
		}
		old, err := c.r.KitList(b.KitList, on)
		if err != nil {
			return err
		}
		if c.asksFor(k) || c.asksFor(old) {
			c.open = append(c.open, message.M("kit list version {1} is in force, this bag has {2}", k.Version, on),
				message.Plain(b.Code))
		}
	}
	return nil
}

func (c *converting) asksFor(k inventory.KitList) bool { return slices.Contains(k.Items(), c.it.Code) }

// next is the next version of a list in the new unit. An item that counts for another one, or another for it, does so
// one for one, so that such a line cannot follow; and neither can a rule that counts units of the category.
func (c *converting) next(k inventory.KitList) inventory.KitList {
	k.Version++
	k.Lines, k.Rules = slices.Clone(k.Lines), slices.Clone(k.Rules)
	named := message.Plain(k.Code)
	for i, l := range k.Lines {
		takes := slices.Contains(l.Accepts, c.it.Code)
		if (takes || l.Item == c.it.Code && len(l.Accepts) > 0) && !c.is.Renames() {
			c.uneven = append(c.uneven, message.M("{1}: {2}", named,
				strings.Join(append([]string{l.Item}, l.Accepts...), " / ")))
		}
		if l.Item == c.it.Code {
			of := message.M("{1}: {2}", named, l.Par)
			k.Lines[i].Par, k.Lines[i].Minimum = c.whole(l.Par, 10000, of), c.whole(l.Minimum, 10000, of)
		}
	}
	for i, r := range k.Rules {
		switch {
		case r.NeedItem == c.it.Code:
			k.Rules[i].AtLeast = c.whole(r.AtLeast, 10000, message.M("{1}: {2}", named, r.AtLeast))
		case r.NeedCategory == c.it.Category && r.AtLeast > 1 && !c.is.Renames():
			c.uneven = append(c.uneven, message.M("{1}: {2}", named, r.AtLeast))
		}
	}
	return k
}

// openReports finds what crews reported of the item and nobody has reviewed.
func (c *converting) openReports() error {
	all, err := c.r.UnderReview(inventory.UnderReviewFilter{})
	if err != nil || len(all) == 0 {
		return err
	}
	lots, err := c.r.Lots(inventory.LotFilter{Item: c.it.Code}, inventory.Page{})
	for _, u := range all {
		if slices.ContainsFunc(u.Says, func(x inventory.Reported) bool {
			return x.Item == c.it.Code || slices.ContainsFunc(lots, func(l inventory.Lot) bool { return l.ID == x.LotID })
		}) {
			c.open = append(c.open, message.M("{1}: {2}", u.Bag, u.Report))
		}
	}
	return err
}

// openRest finds deliveries, signatures and discrepancies of the item that are open.
func (c *converting) openRest() error {
	stations, err := c.r.Stations()
	if err != nil {
		return err
	}
	for _, station := range stations {
		deliveries, err := c.r.OpenDeliveries([]string{station.Code})
		if err != nil {
			return err
		}
		for _, d := range deliveries {
			if slices.ContainsFunc(d.Lines, func(l inventory.DeliveryLine) bool { return l.Item == c.it.Code }) {
				c.open = append(c.open, message.M("{1}: {2}", message.M("Delivery"), d.Place))
			}
		}
	}
	docs, err := c.r.Documents(inventory.DocumentFilter{Open: true}, inventory.Page{})
	if err != nil {
		return err
	}
	for _, d := range docs {
		counted := slices.ContainsFunc(c.stock, func(st inventory.Stock) bool {
			return d.Kind == inventory.DocCount && st.Place == d.Place
		})
		if counted || strings.Contains(d.Body, strconv.Quote(c.it.Code)) { // transfers name their items
			c.open = append(c.open, d.Named())
		}
	}
	owed, err := c.r.OwedEntries(inventory.OwedFilter{Item: c.it.Code, Open: true})
	if err != nil {
		return err
	}
	if len(owed) > 0 {
		c.open = append(c.open, message.M("{1} {1|signature|signatures} owed", len(owed)))
	}
	cases, err := c.r.Discrepancies(inventory.DiscrepancyFilter{Item: c.it.Code, Open: true})
	for _, d := range cases {
		c.open = append(c.open, d.Text)
	}
	return err
}

// keep stores all of it.
func (c *converting) keep(w inventory.Writer) error {
	if err := ledger.NewUnit(w, c.by, c.now, ledger.TwoSign).Convert(c.it, c.stock, c.is); err != nil {
		return err
	}
	if err := w.AddConversion(c.is); err != nil {
		return err
	}
	var err error
	if c.done.Item, err = w.UpdateItem(c.it); err != nil || c.is.Renames() {
		return err
	}
	for _, p := range c.products {
		if _, err := w.UpdateProduct(p); err != nil {
			return err
		}
	}
	for _, u := range c.is.UsageIn(c.usage) {
		if err := w.SetPastUsage(u); err != nil {
			return err
		}
	}
	return c.keepLists(w)
}

// keepLists adds the next versions of the lists, and moves the bags to them.
func (c *converting) keepLists(w inventory.Writer) error {
	for _, k := range c.lists {
		if err := cmp.Or(CheckKitList(w, k), w.AddKitList(k)); err != nil {
			return err
		}
	}
	codes := make([]string, 0, len(c.bags))
	for _, b := range c.bags {
		codes = append(codes, b.Code)
	}
	if len(codes) == 0 {
		return nil
	}
	if err := w.LockBags(codes); err != nil {
		return err
	}
	bags, err := w.Bags(inventory.BagFilter{Codes: codes}, inventory.Page{})
	for _, b := range bags {
		moved := b
		moved.KitListVersion++
		if _, err := ChangeBag(w, c.by, c.now, b, moved, c.is.Reason); err != nil {
			return err
		}
	}
	return err
}
