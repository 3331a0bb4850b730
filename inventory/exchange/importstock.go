package exchange

import (
	"cmp"
	"errors"
	"strings"
	"time"

	"stowkeeper/inventory"
	"stowkeeper/inventory/ledger"
)

var stockColumns = []column{
	{"place", cellCode, "place or bag where the units are", true},
	{"item", cellCode, "item code", true},
	{"product", cellText, "GTIN, HIBC or maker's reference of a product of the item, or #2 for its second", false},
	{"batch_no", cellText, "batch number as printed", false},
	{"serial", cellText, "serial number as printed, for a device", false},
	{"made_on", cellPrinted, "date of manufacture as printed", false},
	{"end_printed", cellPrinted, "the date as printed", false},
	{"end_wording", cellText, "the words beside it: expiry, hourglass, use_by or use_before", false},
	{"qty", cellNumber, "units, not packs; 1 if left out for a device", false},
	{"received_on", cellDay, "day on which it was received; today if left out", false},
	{"stowed_on", cellDay, "first stowed in a bag", false},
	{"opened_on", cellDay, "opened", false},
	{"exposed_since", cellDay, "on a carrier since", false},
	{"exposed_days", cellNumber, "days on carriers before that, summed", false},
	{"exposed_last", cellDay, "last left a carrier", false},
	{"unidentified", cellYes, "no batch or date can be read; such units lie in quarantine", false},
	{"inspected_on", cellDay, "day of the last inspection that a device passed", false},
	{"training_cycles", cellNumber, "applications in training that a device has behind it", false},
}

// stockReader counts units in. Movements are judged one by one and appended a
// few hundred at a time.
type stockReader struct {
	im       *importing
	p        *ledger.Unit
	products map[string][]inventory.Product
	held     map[string]map[int64]bool // lots that lay in a place before
	ready    []inventory.Movement
	of       []*record // the row of each
}

// stockBlock is how many movements are appended at once.
const stockBlock = 500

func newStockReader(im *importing) rowReader {
	p := ledger.NewUnit(im.w, im.by, im.now)
	p.Trial = im.in.DryRun
	return &stockReader{im: im, p: p, products: map[string][]inventory.Product{}, held: map[string]map[int64]bool{}}
}

func (s *stockReader) row(r *record) error {
	in := inventory.Receipt{Place: r.code("place"), Item: r.code("item"), BatchNo: r.text("batch_no"),
		Serial: r.text("serial"), MadeOn: r.dated("made_on"), EndPrinted: r.dated("end_printed"),
		EndWording: inventory.Wording(strings.ReplaceAll(strings.ToLower(r.text("end_wording")), " ", "_")),
		Qty:        r.number("qty"), Unidentified: r.yes("unidentified"),
		Reference: "import", Opening: true}
	if in.Serial != "" && r.text("qty") == "" {
		in.Qty = 1
	}
	had := inventory.Carried{ReceivedOn: r.day("received_on"), Clocks: inventory.Clocks{StowedOn: r.day("stowed_on"),
		OpenedOn: r.day("opened_on"), ExposedSince: r.day("exposed_since"),
		ExposedDays: r.number("exposed_days"), ExposedLast: r.day("exposed_last")}}
	inspected, cycles := r.day("inspected_on"), r.number("training_cycles")
	what := in.Item + " in " + in.Place
	place, err := s.named(r, &in)
	if err != nil || len(r.problems) > 0 {
		return s.im.settled(r, Refused, what, inventory.MergeErrors(err, s.asWritten(in, had, place)))
	}
	m, err := s.judge(in, had, place)
	if err == nil {
		err = s.behind(m, inspected, cycles)
	}
	if err == nil {
		s.ready, s.of = append(s.ready, m), append(s.of, r)
	}
	if err := s.im.settled(r, Created, what, err); err != nil || len(s.ready) < stockBlock {
		return err
	}
	return s.end()
}

// named looks up the place, item and product that a row names.
func (s *stockReader) named(r *record, in *inventory.Receipt) (inventory.Place, error) {
	place, err := s.p.Place(in.Place)
	switch {
	case err != nil:
		err = inventory.AsField(err, "place", "place")
	case place.Outside():
		err = inventory.Invalidf("place", "no such place")
	default:
		err = s.p.May(inventory.ActKeepStock, place)
	}
	_, noItem := s.p.Item(in.Item)
	if noItem != nil {
		return place, inventory.MergeErrors(err, inventory.AsField(noItem, "item", "item"))
	}
	var noProduct error
	in.Product, noProduct = s.product(in.Item, r.text("product"))
	return place, inventory.MergeErrors(err, noProduct)
}

// asWritten is what else is wrong with a row that is refused already: what can
// be said of it without the place or the item that it lacks.
func (s *stockReader) asWritten(in inventory.Receipt, had inventory.Carried, place inventory.Place) error {
	it, err := s.p.Item(in.Item)
	known := err == nil
	today := s.im.now.In(inventory.Utc)
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
		return m, inventory.Invalidf("end_printed",
			"this batch is here already with %s; look at a pack, and mend this row or correct the batch on its page first",
			other.Old.DatesText())
	}
	if err != nil {
		return m, err
	}
	held, err := ledger.Cached(s.held, place.Code, s.heldIn)
	if err != nil {
		return m, err
	}
	if held[m.LotID] {
		return m, inventory.Errorf(inventory.Conflict, "units of this lot are in the place already, so they were counted "+
			"in before; receive further ones, or count the place")
	}
	m, err = s.p.Prepare(m)
	s.im.report.SigningNeeded = s.im.report.SigningNeeded || s.p.Wanted
	return m, err
}

func (s *stockReader) heldIn(place string) (map[int64]bool, error) {
	stock, err := s.im.w.Stock(inventory.StockFilter{Places: []string{place}})
	lots := map[int64]bool{}
	for _, st := range stock {
		lots[st.Lot.ID] = true
	}
	return lots, err
}

func (s *stockReader) product(item, ref string) (int64, error) {
	if ref == "" {
		return 0, nil
	}
	all, err := ledger.Cached(s.products, item, func(item string) ([]inventory.Product, error) {
		return s.im.w.Products(inventory.ProductFilter{Item: item}, inventory.Page{})
	})
	if err != nil {
		return 0, err
	}
	id, ok := productNamed(all, ref)
	if !ok {
		return 0, errProductRef()
	}
	return id, nil
}

// behind records what a device has behind it.
func (s *stockReader) behind(m inventory.Movement, inspected inventory.Day, cycles int) error {
	if inspected == 0 && cycles == 0 {
		return nil
	}
	lot, err := s.im.w.Lot(m.LotID)
	if err != nil {
		return err
	}
	place, err := s.p.Place(m.To)
	if err != nil {
		return err
	}
	station, err := s.p.CurrentStation(place)
	if err != nil {
		return err
	}
	if err := behindDevice(lot, inspected, cycles, station.Today(s.im.now)); err != nil {
		return err
	}
	return s.record(lot, place, inspected, cycles)
}

// behindDevice refuses a past that a lot cannot have.
func behindDevice(l inventory.Lot, inspected inventory.Day, cycles int, today inventory.Day) error {
	var ps inventory.Problems
	ps.When(inspected != 0 && !l.Device(), "inspected_on", "leave this out: only a device is inspected")
	ps.When(inspected > today, "inspected_on", "give a day that has passed")
	ps.When(cycles != 0 && !l.Device(), "training_cycles", "leave this out: only a device counts them")
	ps.When(cycles < 0 || cycles > 100_000, "training_cycles", "give 0 to 100000")
	return ps.Err()
}

func (s *stockReader) record(l inventory.Lot, place inventory.Place, inspected inventory.Day, cycles int) error {
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

// end appends what was judged. What the store refuses is said of the first row
// of the block.
func (s *stockReader) end() error {
	ready, of := s.ready, s.of
	s.ready, s.of = nil, nil
	if len(ready) == 0 {
		return nil
	}
	_, err := s.p.Append(ready)
	if err != nil {
		return s.im.refuse(of[0], cmp.Or(of[0].code("item"), "stock"), err)
	}
	return nil
}
