package count

import (
	"cmp"
	"context"
	"slices"
	"strconv"

	"stowkeeper/inventory"
	"stowkeeper/inventory/ledger"
	"stowkeeper/inventory/lists"
	"stowkeeper/inventory/message"
	"stowkeeper/inventory/register"
	"stowkeeper/inventory/scope"
)

// Service counts shelves.
type Service struct {
	store    inventory.Store
	now      inventory.Clock
	register *register.Service
	days     int // how often each place is counted, the owner's policy; Days where it is 0
}

// New returns the service over a store and a clock, which opens discrepancies with the other one.
func New(store inventory.Store, now inventory.Clock, reg *register.Service, days int) *Service {
	return &Service{store: store, now: now, register: reg, days: cmp.Or(days, Days)}
}

// CountRow is a batch that lies in the place, or was counted there.
type CountRow struct {
	LotID    int64           `json:"lot_id"`
	Item     string          `json:"item"`
	Name     string          `json:"name"`
	BatchNo  string          `json:"batch_no,omitempty"`
	Serial   string          `json:"serial,omitempty"`
	Through  inventory.Day   `json:"usable_through,omitempty" format:"date"`
	Line     *CountedLine    `json:"line,omitempty" doc:"What was counted; missing while it is not"`
	Expected *int            `json:"expected,omitempty" doc:"What the records say; hidden while not all is counted"`
	Differs  int             `json:"differs,omitempty" doc:"Counted more than recorded, or fewer; hidden likewise"`
	Again    message.Message `json:"again,omitempty" doc:"Why it is to be counted again; hidden likewise"`

	Controlled bool `json:"controlled,omitempty"`
}

// CountSheet is a count with the batches of its place in shelf order: by item name, then by end date.
type CountSheet struct {
	Count
	PlaceName string            `json:"place_name"`
	Rows      []CountRow        `json:"rows"`
	Left      int               `json:"not_counted" doc:"How many batches are still to count"`
	Last      inventory.Instant `json:"last_count,omitempty" format:"date-time" doc:"The end of the one before"`
	Unsigned  bool              `json:"-"` // a controlled item differs: it needs two signatures
	judged    map[int64]Judged
}

// Start begins to count a store, a shelf, a quarantine or a carrier. A count of it that is still open goes on. shown
// tells whether whoever counts is to see what the records say. Refuses: Forbidden without keep_stock at its station;
// Invalid for the place.
func (s *Service) Start(ctx context.Context, by inventory.Actor, place string, shown bool) (CountSheet, error) {
	return inventory.WriteAs(ctx, s.store, by, inventory.ActKeepStock, func(w inventory.Writer) (CountSheet, error) {
		pl, err := w.Place(inventory.NormalCode(place))
		if err != nil {
			return CountSheet{}, inventory.AsField(err, "place", "not found")
		}
		if !slices.Contains(Kinds, pl.Kind) {
			return CountSheet{}, inventory.InvalidField("place", "choose one of {1}", inventory.KindList(Kinds...))
		}
		station, missing := w.Station(pl.Station)
		if err := cmp.Or(by.Must(inventory.ActKeepStock, pl.Station), missing, station.MustBeOpen()); err != nil {
			return CountSheet{}, err
		}
		if err := w.LockStations([]string{pl.Station}); err != nil { // so that two never begin at once
			return CountSheet{}, err
		}
		open, err := w.Documents(inventory.DocumentFilter{Kind: inventory.DocCount, Places: []string{pl.Code}, Open: true},
			inventory.Page{Limit: 1})
		if err != nil {
			return CountSheet{}, err
		}
		if len(open) > 0 {
			c, err := of(open[0], nil)
			if err != nil {
				return CountSheet{}, err
			}
			return s.viewOf(w, c)
		}
		c := Count{Place: pl.Code, Station: pl.Station, Status: Open, Shown: shown, StartedAt: s.now(),
			StartedBy: by.Name, Lines: []CountedLine{}}
		d, err := c.document()
		if err == nil {
			d, err = w.AddDocument(d)
		}
		if err != nil {
			return CountSheet{}, err
		}
		c.ID = d.ID
		return s.viewOf(w, c)
	})
}

// CountEntry is what somebody says of one lot.
type CountEntry struct {
	LotID   int64             `json:"lot_id"`
	Counted int               `json:"counted" minimum:"0" maximum:"1000000"`
	More    bool              `json:"more,omitempty" doc:"So many more than were counted of it before"`
	Again   bool              `json:"again,omitempty" doc:"This is the second look"`
	At      inventory.Instant `json:"at,omitempty" format:"date-time" doc:"Default: now"`
}

// change changes a count that is open, while others wait.
func (s *Service) change(ctx context.Context, by inventory.Actor, id int64,
	do func(ctx context.Context, w inventory.Writer, v *CountSheet) error) (CountSheet, error) {
	var out CountSheet
	err := s.store.Write(ctx, func(ctx context.Context, w inventory.Writer) error {
		if err := by.Must(inventory.ActKeepStock, ""); err != nil {
			return err
		}
		c, err := of(w.LockDocument(id))
		if err != nil {
			return err
		}
		if err := by.Must(inventory.ActKeepStock, c.Station); err != nil {
			return err
		}
		if c.Status != Open {
			return inventory.Refuse(inventory.Conflict, "count closed: start another")
		}
		if err := w.LockStations([]string{c.Station}); err != nil {
			return err
		}
		v, err := s.viewOf(w, c)
		if err == nil {
			err = do(ctx, w, &v)
		}
		if err != nil {
			return err
		}
		d, err := v.document()
		if err == nil {
			err = w.SetDocument(d)
		}
		if err == nil {
			out, err = s.viewOf(w, v.Count)
		}
		return err
	})
	return out, err
}

// Enter keeps what was counted of some lots, at once and for good: a count that is interrupted goes on from there.
// Refuses: Forbidden without keep_stock at its station; NotFound; Invalid by field; Conflict where it has ended.
// Locks the count and its station.
func (s *Service) Enter(ctx context.Context, by inventory.Actor, id int64, lines []CountEntry) (CountSheet, error) {
	return s.change(ctx, by, id, func(_ context.Context, w inventory.Writer, v *CountSheet) error {
		var ps inventory.Problems
		for i, in := range lines {
			path := "lines[" + strconv.Itoa(i) + "]"
			at, err := ledger.Happened(in.At, s.now(), path+".at")
			ps.Take("", err)
			line := v.line(in.LotID)
			if line == nil {
				if _, err := w.Lot(in.LotID); err != nil {
					ps.Add(path+".lot_id", "not found")
					continue
				}
				v.Lines = append(v.Lines, CountedLine{LotID: in.LotID})
				line = v.line(in.LotID)
			}
			before := *line
			if in.More {
				in.Counted += before.Counted
			}
			ps.When(in.Counted < 0 || in.Counted > inventory.MaxQty, path+".counted", "enter {1} to {2}", 0, inventory.MaxQty)
			looks := max(1, before.Looks)
			if in.Again && len(v.judged[in.LotID].Again) > 0 {
				looks = before.Looks + 1
			}
			*line = CountedLine{LotID: in.LotID, Counted: in.Counted, At: at, By: by.Name, Looks: looks}
		}
		ps.When(len(v.Lines) > 2000, "lines", "enter at most {1}", 2000)
		return ps.Err()
	})
}

// Add counts one unit more of what was scanned, also of a batch that the records do not have in the place, and
// returns its lot. Refuses: Forbidden without keep_stock at its station; NotFound; Invalid for a scan that names no
// batch, or several; Conflict where it has ended. Locks the count and its station.
func (s *Service) Add(ctx context.Context, by inventory.Actor, id int64, what inventory.PickScan) (lot int64,
	err error) {
	_, err = s.change(ctx, by, id, func(_ context.Context, w inventory.Writer, v *CountSheet) error {
		place, err := w.Place(v.Place)
		if err != nil {
			return err
		}
		var lots []inventory.Lot
		f := inventory.LotFilter{Number: cmp.Or(what.BatchNo, what.Serial)}
		if what.LotID != 0 {
			f.IDs = []int64{what.LotID}
		}
		if f.Number != "" || what.LotID != 0 {
			lots, err = w.Lots(f, inventory.Page{})
		}
		if err != nil {
			return err
		}
		training := place.Purpose == inventory.ForTraining
		lots = slices.DeleteFunc(lots, func(l inventory.Lot) bool {
			return l.Training != training || !what.Names(inventory.Pick{Item: l.Item, LotID: l.ID, BatchNo: l.BatchNo,
				Serial: l.Serial})
		})
		for _, l := range lots {
			if l.Batch.ID != lots[0].Batch.ID {
				lots = nil
				break
			}
		}
		if len(lots) == 0 {
			return inventory.InvalidField("scan", "no batch like that, or several: receive a new one first")
		}
		l := v.line(lots[0].ID)
		if l == nil {
			v.Lines = append(v.Lines, CountedLine{LotID: lots[0].ID})
			l = v.line(lots[0].ID)
		}
		*l = CountedLine{LotID: l.LotID, Counted: l.Counted + 1, At: s.now(), By: by.Name, Looks: max(1, l.Looks)}
		lot = l.LotID
		return nil
	})
	return lot, err
}

func (c *Count) line(lot int64) *CountedLine {
	i := slices.IndexFunc(c.Lines, func(l CountedLine) bool { return l.LotID == lot })
	if i < 0 {
		return nil
	}
	return &c.Lines[i]
}

// Explained is why a count of a lot differs.
type Explained struct {
	LotID  int64                 `json:"lot_id"`
	Reason inventory.CountReason `json:"reason,omitempty" enum:"used,missing,damaged,expired,found"`
	Note   string                `json:"note,omitempty" maxLength:"2000"`
}

// Post applies what differs to the balances now, as one: every difference or none. A controlled item that differs is
// not moved: it opens a discrepancy, which two people sign, and one for each batch where they differ and cancel out.
// Refuses: Forbidden without keep_stock at its station; NotFound; Invalid by field, for reasons that are missing, and
// where a controlled item lacks signatures; Conflict where it has ended, something is not counted or to be counted
// again, and for what a rule forbids. Locks the count and its station.
func (s *Service) Post(ctx context.Context, by inventory.Actor, id int64, lines []Explained) (CountSheet, error) {
	return s.change(ctx, by, id, func(ctx context.Context, w inventory.Writer, v *CountSheet) error {
		for _, in := range lines {
			if l := v.line(in.LotID); l != nil {
				l.Reason, l.Note = in.Reason, in.Note
			}
		}
		ms, balances, err := v.differences(lines)
		if err != nil {
			return err
		}
		if len(ms) > 0 {
			u := ledger.NewUnit(w, by, s.now(), ledger.TwoSign)
			if _, err := u.Post(ms, "lines"); err != nil {
				return err
			}
		}
		for _, b := range balances {
			check, err := s.register.RecordBalanceCheck(ctx, by, b.BalanceCheck)
			if err != nil {
				return err
			}
			for _, text := range b.batches {
				if _, err := w.AddDiscrepancy(inventory.Discrepancy{Item: check.Item, Place: check.Place, Check: check.ID,
					OpenedAt: check.RecordedAt, OpenedBy: check.By, Text: text}); err != nil {
					return err
				}
			}
		}
		v.Status, v.EndedAt, v.EndedBy = Posted, s.now(), by.Name
		return nil
	})
}

// balance is what was counted of a controlled item, and, where that agrees although batches differ, which do.
type balance struct {
	inventory.BalanceCheck
	batches []message.Message
}

// differences are the movements that a count comes to, and the balance checks of controlled items that differ.
func (v *CountSheet) differences(lines []Explained) (ms []inventory.Movement, balances []balance, err error) {
	var ps inventory.Problems
	differ, held, batches := map[string]int{}, map[string]int{}, map[string][]message.Message{}
	for i, row := range v.Rows {
		j := v.judged[row.LotID]
		held[row.Item] += j.Result - j.Differs
		if row.Line == nil {
			continue
		}
		path := "lines[" + strconv.Itoa(explainedAt(lines, row.LotID, i)) + "]"
		if len(j.Again) > 0 {
			return nil, nil, inventory.Refuse(inventory.Conflict, "count again: {1}", row.Name)
		}
		l := v.line(row.LotID)
		inventory.CheckText(&ps, path+".note", l.Note, false, inventory.MaxNote)
		l.Differs = j.Differs
		if row.Controlled {
			if j.Differs != 0 {
				differ[row.Item] += j.Differs
				batches[row.Item] = append(batches[row.Item], message.M("{1} does not balance: {2} counted, {3} recorded",
					row.Name+" "+row.BatchNo+row.Serial, l.Counted, j.Expected))
			}
			continue
		}
		if j.Differs > 0 && l.Reason == "" {
			l.Reason = inventory.CountFound
		}
		m, fix := inventory.ExplainCount(v.Place, inventory.CheckLine{LotID: l.LotID, Reason: l.Reason}, j.Differs)
		if fix != nil {
			ps = append(ps, inventory.Field{Path: path + ".reason", Fix: fix})
		}
		if m.Qty > 0 {
			m.Reference, m.Note = "count "+strconv.FormatInt(v.ID, 10), l.Note
			ms = append(ms, m)
		}
	}
	if v.Left > 0 {
		return nil, nil, inventory.Refuse(inventory.Conflict, "{1} not counted yet", v.Left)
	}
	for _, row := range v.Rows {
		if said := batches[row.Item]; len(said) > 0 {
			b := balance{BalanceCheck: inventory.BalanceCheck{Item: row.Item, Place: v.Place,
				Counted: held[row.Item] + differ[row.Item], Note: "count " + strconv.FormatInt(v.ID, 10)}}
			if differ[row.Item] == 0 {
				b.batches = said
			}
			balances = append(balances, b)
			delete(batches, row.Item)
		}
	}
	return ms, balances, ps.Err()
}

func explainedAt(lines []Explained, lot int64, otherwise int) int {
	if i := slices.IndexFunc(lines, func(l Explained) bool { return l.LotID == lot }); i >= 0 {
		return i
	}
	return otherwise
}

// Drop gives a count up: nothing changes. Refuses: Forbidden without keep_stock at its station; NotFound; Conflict
// where it has ended. Locks the count and its station.
func (s *Service) Drop(ctx context.Context, by inventory.Actor, id int64) (CountSheet, error) {
	return s.change(ctx, by, id, func(_ context.Context, _ inventory.Writer, v *CountSheet) error {
		v.Status, v.EndedAt, v.EndedBy = Dropped, s.now(), by.Name
		return nil
	})
}

// Counts lists the counts at the actor's stations, or at some of them, newest first: all, or those that are open.
// Refuses: Forbidden without keep_stock, and for a station that is not the actor's; NotFound for a station.
func (s *Service) Counts(ctx context.Context, by inventory.Actor, f inventory.DocumentFilter,
	p inventory.Page) ([]Count, error) {
	return inventory.ReadAs(ctx, s.store, by, inventory.ActKeepStock, func(r inventory.Reader) ([]Count, error) {
		seen, err := scope.Narrowed(by, r, f.Stations)
		if err != nil {
			return nil, err
		}
		f.Kind, f.Stations = inventory.DocCount, seen
		docs, err := r.Documents(f, p)
		out := []Count{}
		for _, d := range docs {
			c, wrong := of(d, nil)
			err = cmp.Or(err, wrong)
			out = append(out, c)
		}
		return out, err
	})
}

// Count shows a count as it stands. Refuses: Forbidden without keep_stock at its station; NotFound.
func (s *Service) Count(ctx context.Context, by inventory.Actor, id int64) (CountSheet, error) {
	return inventory.ReadAs(ctx, s.store, by, inventory.ActKeepStock, func(r inventory.Reader) (CountSheet, error) {
		c, err := of(r.Document(id))
		if err == nil {
			err = by.Must(inventory.ActKeepStock, c.Station)
		}
		if err != nil {
			return CountSheet{}, err
		}
		return s.viewOf(r, c)
	})
}

// Due says which places at the actor's stations, or at some of them, to count this week, and when each was counted
// last. Refuses: Forbidden without keep_stock, and for a station that is not the actor's; NotFound for a station.
func (s *Service) Due(ctx context.Context, by inventory.Actor, stations []string) ([]Shelf, error) {
	return inventory.ReadAs(ctx, s.store, by, inventory.ActKeepStock, func(r inventory.Reader) ([]Shelf, error) {
		seen, err := scope.Narrowed(by, r, stations)
		if err != nil {
			return nil, err
		}
		return s.DueAt(r, seen)
	})
}

// DueAt is Due for whoever was asked already what they may see. It never refuses.
func (s *Service) DueAt(r inventory.Reader, stations []string) ([]Shelf, error) {
	at, err := lists.StationsByCode(r)
	shelves, failed := r.Shelves(stations)
	var out []Shelf
	for _, sh := range shelves {
		if station := at[sh.Station]; sh.Batches > 0 {
			out = append(out, Shelf{Place: sh.Place, Name: sh.Name, Last: sh.Last, Often: sh.Often,
				today: station.Today(s.now()), on: station.Today(sh.Last)})
		}
	}
	return Proposed(out, s.days), cmp.Or(err, failed)
}

// LastCounts says when each place was counted last. Refuses: Forbidden without see.
func (s *Service) LastCounts(ctx context.Context, by inventory.Actor) (map[string]inventory.Instant, error) {
	return inventory.ReadAs(ctx, s.store, by, inventory.ActSee, func(r inventory.Reader) (map[string]inventory.Instant,
		error) {
		shelves, err := r.Shelves(nil)
		out := map[string]inventory.Instant{}
		for _, sh := range shelves {
			if sh.Last != 0 {
				out[sh.Place] = sh.Last
			}
		}
		return out, err
	})
}

// criticalItems are those of critical lines of kit lists.
func criticalItems(r inventory.Reader) (map[string]bool, error) {
	all, err := r.KitLists(inventory.Page{})
	out := map[string]bool{}
	for _, k := range all {
		for _, l := range k.Lines {
			out[l.Item] = out[l.Item] || l.Critical
		}
	}
	return out, err
}

// viewOf lays what was counted beside what is recorded.
func (s *Service) viewOf(r inventory.Reader, c Count) (CountSheet, error) {
	v := CountSheet{Count: c, Rows: []CountRow{}, judged: map[int64]Judged{}}
	place, err := r.Place(c.Place)
	if err != nil {
		return v, err
	}
	v.PlaceName = place.Name
	shelves, err := r.Shelves([]string{c.Station})
	if err != nil {
		return v, err
	}
	for _, sh := range shelves {
		if sh.Place == c.Place {
			v.Last = sh.Last
		}
	}
	held := map[int64]int{}
	lots, err := s.lotsOf(r, c, held)
	if err != nil {
		return v, err
	}
	critical, err := criticalItems(r)
	if err != nil {
		return v, err
	}
	flows, err := flowsOf(r, c, lots)
	if err != nil {
		return v, err
	}
	station, err := r.Station(c.Station)
	if err != nil {
		return v, err
	}
	items, err := lists.ItemsByCode(r, inventory.ItemFilter{})
	for _, l := range lots {
		it, line := items[l.Item], v.line(l.ID)
		row := CountRow{LotID: l.ID, Item: l.Item, Name: it.Name, BatchNo: l.BatchNo, Serial: l.Serial, Line: line,
			Through: inventory.UsableThrough(it, l, station.Today(s.now())), Controlled: it.Controlled}
		v.judged[l.ID] = Judged{Result: held[l.ID], Expected: held[l.ID]}
		if line != nil {
			v.judged[l.ID] = Judge(*line, held[l.ID], flows[l.ID], critical[l.Item])
		} else if c.Status == Open {
			v.Left++
		}
		v.Rows = append(v.Rows, row)
	}
	v.reveal()
	slices.SortFunc(v.Rows, func(a, b CountRow) int {
		return cmp.Or(cmp.Compare(a.Name, b.Name), inventory.CompareEnd(a.Through, b.Through), cmp.Compare(a.LotID, b.LotID))
	})
	return v, err
}

// reveal shows what the records say where whoever counts may see it: from the start, or once all is counted.
func (v *CountSheet) reveal() {
	for i := range v.Rows {
		row := &v.Rows[i]
		j := v.judged[row.LotID]
		if v.Status != Open && row.Line != nil {
			before := row.Line.Counted - row.Line.Differs
			row.Expected, row.Differs = &before, row.Line.Differs
			continue
		}
		if v.Shown || v.Left == 0 {
			row.Expected = &j.Expected
		}
		if v.Left == 0 {
			row.Differs, row.Again = j.Differs, j.Again
			v.Unsigned = v.Unsigned || row.Controlled && j.Differs != 0
		}
	}
}

// lotsOf are the lots that lie in the place, while it is being counted, and those that were counted.
func (s *Service) lotsOf(r inventory.Reader, c Count, held map[int64]int) ([]inventory.Lot, error) {
	var out []inventory.Lot
	if c.Status == Open {
		stock, err := r.Stock(inventory.StockFilter{Places: []string{c.Place}})
		if err != nil {
			return nil, err
		}
		for _, st := range stock {
			held[st.Lot.ID] = st.Qty
			out = append(out, st.Lot)
		}
	}
	var ids []int64
	for _, l := range c.Lines {
		if held[l.LotID] == 0 {
			ids = append(ids, l.LotID)
		}
	}
	if len(ids) == 0 {
		return out, nil
	}
	gone, err := r.Lots(inventory.LotFilter{IDs: ids}, inventory.Page{})
	return append(out, gone...), err
}

// flowsOf are what came to the place and left it of the lots that were counted.
func flowsOf(r inventory.Reader, c Count, lots []inventory.Lot) (map[int64][]Flow, error) {
	out := map[int64][]Flow{}
	var batches []int64
	for _, l := range lots {
		batches = append(batches, l.Batch.ID)
	}
	if c.Status != Open || len(c.Lines) == 0 || len(batches) == 0 {
		return out, nil
	}
	moved, err := r.Movements(inventory.MovementFilter{Place: c.Place, Batches: batches}, inventory.Page{})
	for _, m := range moved {
		if m.To == c.Place {
			out[m.IntoLotID] = append(out[m.IntoLotID], Flow{m.HappenedAt, m.RecordedAt, m.Qty})
		}
		if m.From == c.Place {
			out[m.LotID] = append(out[m.LotID], Flow{m.HappenedAt, m.RecordedAt, -m.Qty})
		}
	}
	return out, err
}
