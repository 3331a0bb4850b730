package store

import (
	"cmp"
	"database/sql"
	"maps"
	"slices"

	"stowkeeper/inventory"
	"stowkeeper/inventory/store/sqltext"
)

// AppendMovements puts movements at the end of their stations' chains.
func (w writer) AppendMovements(ms []inventory.Movement) ([]inventory.Movement, error) {
	if len(ms) == 0 {
		return nil, nil
	}
	a := &appending{writer: w, ms: slices.Clone(ms)}
	for i := range a.ms {
		if a.ms[i].IntoLotID == 0 {
			a.ms[i].IntoLotID = a.ms[i].LotID
		}
	}
	err := w.step("append movements", "that movement has been corrected already", func() error {
		return firstError(a.loadPlaces, a.lockStations, a.loadLots, a.loadDevices, a.apply, a.insert,
			a.storeBalances, a.moveBagsOn)
	})
	if err != nil {
		return nil, err
	}
	return a.ms, nil
}

// spot is a lot in a place.
type spot struct {
	place string
	lot   int64
}

type ledgerLot struct {
	batch  int64
	device bool
}

// appending is one call of AppendMovements. Balances are changed in memory in
// the order of recording and stored at the end.
type appending struct {
	writer
	ms      []inventory.Movement
	places  map[string]inventory.Place
	at      map[string]inventory.Station // by place, as it is once it is locked
	lots    map[int64]ledgerLot
	before  map[spot]int
	now     map[spot]int
	devices map[int64]int // units of each device inside the service
}

// loadPlaces reads the places, and the heads of their stations' chains.
func (a *appending) loadPlaces() error {
	a.places, a.at = map[string]inventory.Place{}, map[string]inventory.Station{}
	codes := map[string]bool{}
	for _, m := range a.ms {
		codes[m.From], codes[m.To] = true, true
	}
	err := eachOf(a.unit, "SELECT p.code, p.kind, s.closed_at, "+headColumns+" FROM place p "+
		"LEFT JOIN station s ON s.code = p.station WHERE p.code IN ?", nil, slices.Sorted(maps.Keys(codes)), a.place)
	if err != nil {
		return err
	}
	if len(a.places) < len(codes) {
		return inventory.Refuse(inventory.Conflict, "place not found")
	}
	return nil
}

func (a *appending) place(rows *sql.Rows) error {
	var p inventory.Place
	var err error
	var closed instant
	p.Station, err = a.scanHead(rows, &p.Code, &p.Kind, &closed)
	a.places[p.Code], a.owners[p.Code] = p, p.Station
	a.at[p.Code] = inventory.Station{Code: p.Station, ClosedAt: inventory.Instant(closed)}
	return err
}

// lockStations locks the rows of all stations whose places are touched: whoever holds a station's row alone may
// change the balances of its places. Their heads are read again then.
func (a *appending) lockStations() error {
	if a.s.engine == SQLite {
		return nil
	}
	var stations []string
	for _, p := range a.places {
		if p.Station != "" {
			stations = append(stations, p.Station)
		}
	}
	return firstError(func() error { return a.writer.lockStations(stations) }, a.loadPlaces)
}

// loadLots reads the lots, and what there is of them in the places.
func (a *appending) loadLots() error {
	a.lots, a.before = map[int64]ledgerLot{}, map[spot]int{}
	ids := map[int64]bool{}
	for _, m := range a.ms {
		ids[m.LotID], ids[m.IntoLotID] = true, true
	}
	places := slices.Sorted(maps.Keys(a.places))
	err := eachOf(a.unit, "SELECT l.id, l.batch_id, l.device, b.place, b.qty FROM lot l LEFT JOIN balance b "+
		"ON b.lot_id = l.id AND b.place IN "+sqltext.Marks(len(places))+" WHERE l.id IN ?", sqltext.Args(places),
		slices.Sorted(maps.Keys(ids)), func(rows *sql.Rows) error {
			var id int64
			var l ledgerLot
			var place code
			var qty ref
			err := rows.Scan(&id, &l.batch, &l.device, &place, &qty)
			a.lots[id] = l
			if place != "" {
				a.before[spot{string(place), id}] = int(qty)
			}
			return err
		})
	if err != nil {
		return err
	}
	if len(a.lots) < len(ids) {
		return inventory.Refuse(inventory.Conflict, "units not found")
	}
	a.now = maps.Clone(a.before)
	return nil
}

// loadDevices reads how many of each device are inside the service.
func (a *appending) loadDevices() error {
	a.devices = map[int64]int{}
	var batches []int64
	for _, l := range a.lots {
		if l.device {
			batches = append(batches, l.batch)
		}
	}
	return eachOf(a.unit, "SELECT batch_id, qty FROM balance WHERE device AND batch_id IN ?", nil, batches,
		func(rows *sql.Rows) error {
			var batch int64
			var qty int
			err := rows.Scan(&batch, &qty)
			a.devices[batch] = qty
			return err
		})
}

// apply changes the balances in the order of recording and links the chains.
func (a *appending) apply() error {
	var failed error
	number := func(name string) int64 {
		n, err := a.number(name)
		failed = cmp.Or(failed, err)
		return n
	}
	for i := range a.ms {
		m := &a.ms[i]
		if err := a.move(*m); err != nil {
			return err
		}
		m.Station = inventory.ChainStation(a.places[m.From], a.places[m.To])
		if m.Station == "" {
			return inventory.Refuse(inventory.Conflict, "choose a place")
		}
		head := a.heads[m.Station]
		m.Seq, m.PrevHash = head.moved.Seq+1, head.moved.Hash
		m.Hash = inventory.ChainHash(m.PrevHash, *m, number)
		head.moved.Seq, head.moved.Hash = m.Seq, m.Hash
		a.heads[m.Station] = head
	}
	return failed
}

func (a *appending) move(m inventory.Movement) error {
	lot, into := a.lots[m.LotID], a.lots[m.IntoLotID]
	if lot.batch != into.batch {
		return inventory.Refuse(inventory.Conflict, "the batch cannot change")
	}
	if m.Qty < 1 {
		return inventory.Refuse(inventory.Conflict, "enter 1 or more")
	}
	if !a.places[m.From].Outside() {
		at := spot{m.From, m.LotID}
		if a.now[at] < m.Qty {
			return inventory.Refuse(inventory.Conflict, "only {2} in {1}, {3} needed", m.From, a.now[at], m.Qty)
		}
		a.now[at] -= m.Qty
		a.devices[lot.batch] -= m.Qty
	}
	if !a.places[m.To].Outside() {
		if err := a.at[m.To].MustBeOpen(); err != nil {
			return err
		}
		a.now[spot{m.To, m.IntoLotID}] += m.Qty
		if a.devices[into.batch] += m.Qty; into.device && a.devices[into.batch] > 1 {
			return inventory.Refuse(inventory.Conflict, "already in another place: {1}", m.IntoLotID)
		}
	}
	return nil
}

type movementRow struct {
	ID, Seq, LotID, IntoLotID, BatchID                               int64
	Qty                                                              int
	Station, Reason, Cause, Witness, Reference, Note, PrevHash, Hash string
	From                                                             string  `gorm:"column:from_place"`
	To                                                               string  `gorm:"column:to_place"`
	HappenedAt                                                       instant `gorm:"not null"`
	RecordedAt                                                       instant `gorm:"not null"`
	By                                                               string  `gorm:"column:by_name"`
	Corrects                                                         ref
}

// insert adds the rows and learns their ids.
func (a *appending) insert() error {
	rows := mapped(a.ms, func(m inventory.Movement) movementRow {
		row := convert[movementRow](m)
		row.ID, row.BatchID = 0, a.lots[m.LotID].batch
		return row
	})
	err := a.writer.insert(rows)
	for i, row := range rows {
		a.ms[i].ID = row.ID
	}
	return err
}

// storeBalances deletes first, so that a device leaves its place before it arrives at another.
func (a *appending) storeBalances() error {
	gone := map[string][]int64{}
	var kept []spot
	for at, qty := range a.now {
		switch {
		case qty == a.before[at]:
		case qty == 0:
			gone[at.place] = append(gone[at.place], at.lot)
		default:
			kept = append(kept, at)
		}
	}
	for place, lots := range gone {
		for _, part := range chunks(lots, 10000) {
			_, err := a.exec("DELETE FROM balance WHERE place = ? AND lot_id IN "+sqltext.Marks(len(part)), append([]any{place},
				sqltext.Args(part)...)...)
			if err != nil {
				return err
			}
		}
	}
	return failure("store balances", "already in another place", a.upsertBalances(kept))
}

func (a *appending) upsertBalances(kept []spot) error {
	for _, part := range chunks(kept, 2000) {
		args := make([]any, 0, len(part)*5)
		for _, at := range part {
			l := a.lots[at.lot]
			args = append(args, at.place, at.lot, l.batch, l.device, a.now[at])
		}
		_, err := a.exec("INSERT INTO balance (place, lot_id, batch_id, device, qty) VALUES "+sqltext.Rows(len(part), 5)+
			" ON CONFLICT (place, lot_id) DO UPDATE SET qty = excluded.qty", args...)
		if err != nil {
			return err
		}
	}
	return nil
}

func (a *appending) moveBagsOn() error {
	events := map[string][]bagEventRow{}
	touch := func(place string, id int64) {
		if a.places[place].Kind == inventory.KindBag {
			events[place] = append(events[place], bagEventRow{Kind: eventMovement, MovementID: ref(id)})
		}
	}
	for _, m := range a.ms {
		touch(m.From, m.ID)
		if m.To != m.From {
			touch(m.To, m.ID)
		}
	}
	for _, bag := range slices.Sorted(maps.Keys(events)) {
		if err := a.moveOn(bag, events[bag]); err != nil {
			return err
		}
	}
	return nil
}
