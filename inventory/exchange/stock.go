package exchange

import (
	"cmp"
	"errors"
	"slices"
	"time"

	"stowkeeper/inventory"
	"stowkeeper/inventory/account"
	"stowkeeper/inventory/ledger"
)

// stockRow is what lies in a place, as it was received and with what it has behind it.
type stockRow struct {
	Place       string            `json:"place"`
	Item        string            `json:"item"`
	Product     string            `json:"product"`
	BatchNo     string            `json:"batch_no"`
	Serial      string            `json:"serial"`
	MadeOn      string            `json:"made_on"`
	EndPrinted  string            `json:"end_printed"`
	EndWording  inventory.Wording `json:"end_wording"`
	Qty         int               `json:"qty"`
	ReceivedOn  inventory.Day     `json:"received_on"`
	InspectedOn inventory.Day     `json:"inspected_on"`
	Cycles      int               `json:"training_cycles"`
	Bore        []string          `json:"former_numbers"`
	inventory.Clocks
}

var stockColumns = columnsOf[stockRow]([]column{
	{"place", cellCode, "Bag or place", needed},
	{"item", cellCode, "Item code", needed},
	{"product", cellText, "GTIN, HIBC or maker's reference of the product, or #2 for the second", optional},
	{"batch_no", cellText, "Batch number", optional},
	{"serial", cellText, "Serial number (device)", optional},
	{"made_on", cellPrinted, "Date of manufacture", optional},
	{"end_printed", cellPrinted, "Date on pack", optional},
	{"end_wording", cellWord, "Wording: expiry, hourglass, use_by, use_before, unstated", optional},
	{"qty", cellNumber, "Units, not packs; device: 1", optional},
	{"received_on", cellDay, "Received on; default: today", optional},
	{"stowed_on", cellDay, "First put in a bag", optional},
	{"opened_on", cellDay, "Opened", optional},
	{"exposed_since", cellDay, "On a carrier since", optional},
	{"exposed_days", cellNumber, "Days carried exposed", optional},
	{"exposed_last", cellDay, "Last day exposed", optional},
	{"unidentified", cellYes, "Batch or date unreadable", optional},
	{"inspected_on", cellDay, "Last passed inspection", optional},
	{"training_cycles", cellNumber, "Training applications so far", optional},
	{"former_numbers", cellLines, "Earlier batch numbers, one per line", optional},
})

// stock writes what lies where by lot id: where dates are equal the older lot
// goes out first, and an import keeps that order. What is in transit stands in its sender's store: a service that reads
// the lists knows nothing of the transfer.
func (x *exporting) stock(add func(stockRow) error) error {
	transit, err := x.r.Places(inventory.PlaceFilter{Stations: x.stations, Kind: inventory.KindTransit}, inventory.Page{})
	if err != nil {
		return err
	}
	sender := map[string]string{}
	for _, p := range transit {
		from := inventory.Station{Code: p.Station}
		sender[p.Code] = from.StoreCode()
		if p.Purpose == inventory.ForTraining {
			sender[p.Code] = from.TrainingStoreCode()
		}
	}
	lots := inventory.LotFilter{Stations: x.stations, Held: true}
	return parts(x.r.Lots, lots, func(part []inventory.Lot) error {
		of := inventory.StockFilter{Stations: x.stations}
		for _, l := range part {
			of.Lots = append(of.Lots, l.ID)
		}
		all, err := x.r.Stock(of)
		for i := range all {
			all[i].Place = cmp.Or(sender[all[i].Place], all[i].Place)
		}
		slices.SortFunc(all, func(a, b inventory.Stock) int {
			return cmp.Or(cmp.Compare(a.Lot.ID, b.Lot.ID), cmp.Compare(a.Place, b.Place))
		})
		for i := len(all) - 1; i > 0; i-- {
			if all[i].Lot.ID == all[i-1].Lot.ID && all[i].Place == all[i-1].Place {
				all[i-1].Qty += all[i].Qty
				all = slices.Delete(all, i, i+1)
			}
		}
		return each(all, err, func(st inventory.Stock) error {
			l := st.Lot
			product, err := x.product(l.Item, l.Product)
			if err != nil {
				return err
			}
			return add(stockRow{st.Place, l.Item, product, l.BatchNo, l.Serial, l.MadeOn.String(), l.EndPrinted,
				l.EndWording, st.Qty, l.ReceivedOn, l.InspectedOn, l.Cycles, formerNumbers(l.Batch), l.Clocks})
		})
	})
}

func formerNumbers(b inventory.Batch) []string {
	var out []string
	for _, f := range b.Formerly {
		if n := f.BatchNo + f.Serial; n != "" && n != b.BatchNo+b.Serial && !slices.Contains(out, n) {
			out = append(out, n)
		}
	}
	return out
}

// stockReader counts units in. Of each slice all that its rows name is read together, the rows are judged one by one,
// and what comes of them is written together. Where the import only checks, nothing is, and it remembers what earlier
// rows would make.
type stockReader struct {
	im     *importing
	p      *ledger.Unit
	newest int64         // movement when the import began
	went   map[int64]int // movements of an import before that rows stand for
	ready  []counted
}

// counted is a row that was judged.
type counted struct {
	of        *record
	m         inventory.Movement
	lot       inventory.Lot // as which the units lie there then
	inspected inventory.Day
	cycles    int
}

// sameImport is for how long after an import that stopped a row of it is known to be in.
const sameImport = 24 * time.Hour

func newStockReader(im *importing) (rowReader, error) {
	s := &stockReader{im: im, went: map[int64]int{}}
	return s, im.look(func(r inventory.Reader) error {
		last, err := r.Movements(inventory.MovementFilter{Newest: true}, inventory.Page{Limit: 1})
		for _, m := range last {
			s.newest = m.ID
		}
		return err
	})
}

func (s *stockReader) row(r *record) error { return s.im.later(task{r, s.count}) }
func (s *stockReader) end() error          { return nil }

// begin looks at what rows name, anew where others may have changed it.
func (s *stockReader) begin(tasks []task) error {
	s.ready = nil
	if s.p == nil || !s.im.checks {
		policy := ledger.TwoSign
		if s.im.in.DryRun {
			policy = ledger.DryRun
		}
		s.p = ledger.NewUnit(s.im.w, s.im.by, s.im.now, policy)
		s.p.Together()
	}
	named := make([]inventory.Receipt, len(tasks))
	for i, t := range tasks {
		named[i] = inventory.Receipt{Place: inventory.NormalCode(t.of.text("place")),
			Item: inventory.NormalCode(t.of.text("item")), BatchNo: t.of.text("batch_no")}
	}
	return s.p.KnowReceipts(named)
}

func (s *stockReader) count(r *record) error {
	var row stockRow
	stockColumns.read(r, &row)
	in := inventory.Receipt{Place: row.Place, Item: row.Item, BatchNo: row.BatchNo, Serial: row.Serial, MadeOn: row.MadeOn,
		EndPrinted: row.EndPrinted, EndWording: row.EndWording, Qty: row.Qty, Unidentified: row.Unidentified,
		Reference: "import", Opening: true, Unworded: true}
	if in.Serial != "" && r.text("qty") == "" {
		in.Qty = 1
	}
	had := inventory.Carried{Clocks: row.Clocks, ReceivedOn: row.ReceivedOn, Numbers: row.Bore}
	had.Unidentified = false // the receipt says so
	r.what = in.Item + " in " + in.Place
	place, err := s.named(row.Product, &in)
	if err != nil || len(r.problems) > 0 {
		return r.settled(Refused, inventory.MergeErrors(err, s.asWritten(in, had, place)))
	}
	m, err := s.judge(in, had, place)
	if errors.Is(err, inventory.ErrReceived) {
		if b, none := s.im.w.FindBatch(in.Item, 0, "", inventory.OneLine(in.Serial)); none == nil {
			before, failed := s.imported([]int64{b.ID})
			if i := s.before(before, r, in.Qty, place.Code); failed == nil && i >= 0 {
				return r.settled(Unchanged, nil)
			}
		}
	}
	if err != nil {
		return r.settled(Refused, err)
	}
	lot, err := s.p.Lot(m.IntoLotID)
	s.ready = append(s.ready, counted{r, m, lot, row.InspectedOn, row.Cycles})
	return err
}

// imported are the movements by which an import counted units of some batches in lately.
func (s *stockReader) imported(batches []int64) ([]inventory.Movement, error) {
	return s.im.w.Movements(inventory.MovementFilter{Batches: batches, Reason: inventory.ReasonOpening,
		References: []string{"import"}, Since: s.im.now.Add(-sameImport)}, inventory.Page{})
}

// before finds the movement by which an import that stopped counted a row in, -1 for none. It stands for one row only.
func (s *stockReader) before(ms []inventory.Movement, r *record, qty int, place string) int {
	return slices.IndexFunc(ms, func(m inventory.Movement) bool {
		by, taken := s.went[m.ID]
		is := s.im.long && m.ID <= s.newest && m.Qty == qty && m.To == place && (!taken || by == r.row.Number)
		if is {
			s.went[m.ID] = r.row.Number
		}
		return is
	})
}

// named looks up the place, item and product that a row names.
func (s *stockReader) named(product string, in *inventory.Receipt) (inventory.Place, error) {
	place, err := s.p.Place(in.Place)
	switch {
	case err != nil:
		err = inventory.AsField(err, "place", "not found")
	case place.Outside():
		err = inventory.InvalidField("place", "not found")
	default:
		err = s.p.May(inventory.ActKeepStock, place)
	}
	if _, noItem := s.p.Item(in.Item); noItem != nil {
		return place, inventory.MergeErrors(err, inventory.AsField(noItem, "item", "not found"))
	}
	known, noProduct := s.p.ReceiptFacts(in.Item)
	if noProduct == nil {
		in.Product, noProduct = productFor(known.Products, product)
	}
	return place, inventory.MergeErrors(err, noProduct)
}

// asWritten is what else is wrong with a row that is refused already: what can
// be said of it without the place or the item that it lacks.
func (s *stockReader) asWritten(in inventory.Receipt, had inventory.Carried, place inventory.Place) error {
	it, err := s.p.Item(in.Item)
	known := err == nil
	today := s.im.now.InUTC()
	if station, err := s.p.CurrentStation(place); err == nil {
		today = station.Today(s.im.now)
	}
	_, err = in.Batch(it, today)
	if known && place.Code != "" {
		err = inventory.MergeErrors(err, had.Check(it, place, today))
	}
	return err
}

// judge turns a row into the movement that counts it in.
func (s *stockReader) judge(in inventory.Receipt, had inventory.Carried, place inventory.Place) (inventory.Movement,
	error) {
	m, err := s.p.Receipt(in, place, had)
	var other inventory.OtherDates
	if errors.As(err, &other) {
		return m, inventory.InvalidField("end_printed", "recorded here with {1}: check a pack, correct the row or the batch",
			other.Old.DatesText())
	}
	if err != nil {
		return m, err
	}
	m, err = s.p.Prepare(m)
	if s.p.Unsigned() || errors.Is(err, account.ErrUnsigned) {
		s.im.report.SigningNeeded = true
	}
	return m, err
}

// behind judges what a device has behind it.
func (s *stockReader) behind(c counted) error {
	place, err := s.p.Place(c.m.To)
	if err != nil {
		return err
	}
	station, err := s.p.CurrentStation(place)
	if err != nil {
		return err
	}
	return behindDevice(c.lot, c.inspected, c.cycles, station.Today(s.im.now))
}

// behindDevice refuses a past that a lot cannot have.
func behindDevice(l inventory.Lot, inspected inventory.Day, cycles int, today inventory.Day) error {
	var ps inventory.Problems
	ps.When(inspected != 0 && !l.Device(), "inspected_on", "leave empty: only for devices")
	ps.When(inspected > today, "inspected_on", "enter a past date")
	ps.When(cycles != 0 && !l.Device(), "training_cycles", "leave empty: only for devices")
	ps.When(cycles < 0 || cycles > 100_000, "training_cycles", "enter {1} to {2}", 0, 100000)
	return ps.Err()
}

// record records what a device has behind it.
func (s *stockReader) record(l inventory.Lot, to string, inspected inventory.Day, cycles int) error {
	place, err := s.p.Place(to)
	if err != nil {
		return err
	}
	record := l.BatchRecord
	if inspected != 0 {
		owner, err := s.p.Station(place.Station)
		if err != nil {
			return err
		}
		zone, err := inventory.Zone(owner.Timezone)
		if err != nil {
			return err
		}
		at := min(inspected.Start(zone).Add(12*time.Hour), s.im.now)
		_, err = s.im.w.AddInspection(inventory.Inspection{BatchID: l.Batch.ID, LotID: l.ID, Item: l.Item, Place: place.Code,
			HappenedAt: at, RecordedAt: s.im.now,
			By: s.im.by.Name, Role: s.im.by.Role, Passed: true, Source: "import"})
		if err != nil {
			return err
		}
		record.InspectedOn = inspected
	}
	if cycles != 0 {
		_, err := s.im.w.AddTrainingUse(inventory.TrainingUse{BatchID: l.Batch.ID, LotID: l.ID, HappenedAt: s.im.now,
			RecordedAt: s.im.now, By: s.im.by.Name, Cycles: cycles, Class: "before the import"})
		if err != nil {
			return err
		}
		record.Cycles += cycles
	}
	return s.im.w.SetBatchRecord(l.Batch.ID, record)
}

// finish writes what was judged. What the store refuses is said of the first row.
func (s *stockReader) finish() error {
	var batches []int64
	for _, c := range s.ready {
		if c.lot.Batch.ID > 0 { // else it comes with the row
			batches = append(batches, c.lot.Batch.ID)
		}
	}
	var stock []inventory.Stock
	var imported []inventory.Movement
	if len(batches) > 0 {
		var err error
		if stock, err = s.im.w.Stock(inventory.StockFilter{Batches: batches}); err != nil {
			return err
		}
		if imported, err = s.imported(batches); err != nil {
			return err
		}
	}
	var in []counted
	for _, c := range s.ready {
		out, err := Created, error(nil)
		if c.lot.Batch.ID > 0 && s.before(imported, c.of, c.m.Qty, c.m.To) >= 0 {
			out = Unchanged
		} else if err = cmp.Or(s.mayLie(c, stock, imported), s.behind(c)); err == nil {
			in = append(in, c)
		}
		if err := c.of.settled(out, err); err != nil {
			return err
		}
	}
	switch {
	case s.im.checks:
		s.p.Forget()
		return nil
	case len(in) == 0:
		return nil
	}
	return s.write(in)
}

func (s *stockReader) write(in []counted) error {
	ms := make([]inventory.Movement, len(in))
	for i, c := range in {
		ms[i] = c.m
	}
	posted, err := s.p.Append(ms)
	if err != nil {
		return in[0].of.refuse(err)
	}
	for i, m := range posted {
		if c := in[i]; c.inspected != 0 || c.cycles != 0 {
			lot, err := s.p.Lot(m.IntoLotID)
			if err != nil {
				return err
			}
			if err := s.record(lot, m.To, c.inspected, c.cycles); err != nil {
				return err
			}
		}
	}
	return nil
}

// mayLie refuses to count a lot in where it lies already, save by this import itself.
func (s *stockReader) mayLie(c counted, stock []inventory.Stock, imported []inventory.Movement) error {
	lies := slices.IndexFunc(stock, func(st inventory.Stock) bool {
		return st.Place == c.m.To && st.Lot.Batch.ID == c.lot.Batch.ID && st.Lot.Clocks == c.lot.Clocks
	})
	if lies >= 0 && !slices.ContainsFunc(imported, func(own inventory.Movement) bool {
		return own.ID > s.newest && own.IntoLotID == stock[lies].Lot.ID && own.To == c.m.To
	}) {
		return inventory.Refuse(inventory.Conflict, "already in that place: receive more, or count it")
	}
	return nil
}
