package inventorytest

import (
	"fmt"
	rand "math/rand/v2"

	"stowkeeper/inventory"
	"stowkeeper/inventory/message"
)

// Maker makes bags, stores and regions at random from a fixed seed.
type Maker struct {
	*rand.Rand
	lots int64
	Kept bool // well kept: no strange lots, each line at its par
}

func NewMaker(seed uint64) *Maker { return &Maker{Rand: rand.New(rand.NewPCG(seed, 77))} }

// OneIn is true once in n times.
func (m *Maker) OneIn(n int) bool { return m.IntN(n) == 0 }

// Between returns a number from a to b, both included.
func (m *Maker) Between(a, b int) int { return a + m.IntN(b-a+1) }

func Pick[T any](m *Maker, from ...T) T { return from[m.IntN(len(from))] }

// The walk's two years, with a leap day in them, and the dates around them.
var (
	WalkFrom  = Day("2027-01-01")
	WalkDays  = 731 // to 2028-12-31
	datesFrom = Day("2026-06-01")
	DatesTo   = Day("2029-06-30")
)

func (m *Maker) day() inventory.Day {
	from := datesFrom
	if m.Kept {
		from = WalkFrom + 250
	}
	return from + inventory.Day(m.IntN(int(DatesTo-from)))
}

// Items returns the items of a region: a few of each category that rules look at, with all kinds of life rules.
func (m *Maker) Items() map[string]inventory.Item {
	items := map[string]inventory.Item{}
	for i, c := range []inventory.Category{"tourniquet", "tourniquet", "marker", "record card", "pressure dressing",
		"plain dressing", "pain relief", "medicine", "medicine", "other", "airway"} {
		it := inventory.Item{Code: fmt.Sprintf("I%02d", i), Category: c}
		it.Name = "item " + it.Code
		limit := func(n int) int {
			if m.OneIn(2) {
				return 0
			}
			return m.Between(1, n)
		}
		it.TrackedBy = inventory.ByLot
		it.Life = inventory.Life{MadeMonths: limit(48), StowedMonths: limit(30), ExposedDays: limit(200),
			OpenedDays: limit(120)}
		if i == 1 || i == 10 { // a tourniquet and an airway are devices
			it.TrackedBy = inventory.BySerial
			it.Life.InspectDays, it.Life.TrainingCycles = m.Between(30, 400), Pick(m, 0, 50, 200)
		}
		items[it.Code] = it
	}
	return items
}

func (m *Maker) code(items map[string]inventory.Item) string {
	return fmt.Sprintf("I%02d", m.IntN(len(items)))
}

// Lot returns a lot of an item with dates of all kinds.
func (m *Maker) Lot(it inventory.Item) inventory.Lot {
	m.lots++
	l := inventory.Lot{ID: m.lots, ReceivedOn: datesFrom - inventory.Day(m.IntN(40))}
	l.Item, l.BatchNo = it.Code, fmt.Sprint("B", m.lots)
	if !m.OneIn(4) {
		l.EndPrinted = m.day().String()
		if m.OneIn(2) {
			l.EndPrinted = l.EndPrinted[:7]
		}
		l.EndWording = Pick(m, append(inventory.Wordings, inventory.WordUnstated)...)
		last, err := inventory.LastUsable(l.EndPrinted, l.EndWording, it.Category)
		if err != nil {
			panic(err)
		}
		l.LastUsable = last
	}
	some := func(n int) inventory.Day {
		if m.Kept || !m.OneIn(n) {
			return 0
		}
		d := m.day()
		if m.OneIn(3) { // the days that clamp
			d = d.EndOfMonth()
		}
		return d
	}
	l.MadeOn = some(3)
	if l.MadeOn != 0 {
		l.MadeOn -= 700
	}
	l.StowedOn, l.OpenedOn = some(3), some(5)
	if it.TrackedBy == inventory.BySerial {
		l.Serial, l.BatchNo = fmt.Sprint("S", m.lots), ""
		switch {
		case m.Kept: // it falls due in the walk
			l.InspectedOn = WalkFrom + inventory.Day(m.Between(60, 400))
		case !m.OneIn(3):
			l.InspectedOn = l.ReceivedOn + inventory.Day(m.IntN(600))
		}
		if !m.Kept && m.OneIn(3) {
			l.Cycles = Pick(m, it.Life.TrainingCycles, m.Between(1, 400))
		}
	}
	if m.Kept {
		return l
	}
	if m.OneIn(25) {
		l.InspectBy = m.day()
	}
	if m.OneIn(4) {
		l.ExposedDays, l.ExposedLast = Pick(m, max(1, it.Life.ExposedDays), m.Between(1, 260)), m.day()
	}
	l.Training = m.OneIn(30)
	l.Unidentified = m.OneIn(40)
	if m.OneIn(30) {
		l.Withdrawn = []string{"FSN-1"}
	}
	return l
}

func (m *Maker) line(items map[string]inventory.Item) inventory.Line {
	l := inventory.Line{Item: m.code(items), Pouch: Pick(m, "", "Red", "Blue"), Par: m.Between(1, 5), Critical: m.OneIn(4)}
	if m.OneIn(2) {
		l.Minimum = m.Between(0, l.Par)
	}
	l.PresenceOnly = m.OneIn(10)
	if m.OneIn(12) {
		l.CarriedElsewhere = "on the vehicle"
	}
	for range Pick(m, 0, 0, 0, 1, 2) {
		if a := m.code(items); a != l.Item {
			l.Accepts = append(l.Accepts, a)
		}
	}
	return l
}

func (m *Maker) list(items map[string]inventory.Item) inventory.KitList {
	k := inventory.KitList{Code: "LIST", Version: 1}
	for range m.Between(2, 7) {
		k.Lines = append(k.Lines, m.line(items))
	}
	k.Sealed, k.SealWarns = m.OneIn(2), m.OneIn(2)
	k.SealCheckHours, k.FullCheckDays = Pick(m, 0, 12, 24, 168), Pick(m, 0, 7, 30)
	k.MinRemainingDays = Pick(m, 0, 0, 1, 14, 60)
	if m.OneIn(3) {
		k.ValidTo = m.day()
	}
	for _, r := range inventory.TourniquetRules() {
		if m.OneIn(4) {
			k.Rules = append(k.Rules, r)
		}
	}
	if m.OneIn(4) {
		k.Rules = append(k.Rules, inventory.KitRule{NeedItem: m.code(items), AtLeast: m.Between(1, 3), Severity: Pick(m,
			inventory.SeverityStop, inventory.SeverityWarn), Because: "the owner says so"})
	}
	return k
}

// KeptBag returns a bag that somebody looks after: each line at its par, a
// seal on it, dates ahead of the walk. Time alone makes it worse.
func (m *Maker) KeptBag(code string, station inventory.Station, items map[string]inventory.Item) inventory.BagView {
	m.Kept = true
	defer func() { m.Kept = false }()
	v := inventory.BagView{Station: station, List: m.list(items), Items: items}
	v.Bag = inventory.Bag{Code: code, Station: station.Code, AtStation: station.Code, KitList: "LIST",
		Priority: m.Between(1, 3), Purpose: inventory.ForIssue}
	if m.OneIn(2) {
		v.List.Rules = nil
	}
	v.Bag.SealState = inventory.SealIntact
	v.Bag.SealSeenAt, v.Bag.LastFullCheck = (WalkFrom + 90).Start(UtcZone), (WalkFrom + 200).Start(UtcZone)
	for i, l := range v.List.Lines {
		if l.CarriedElsewhere != "" {
			continue
		}
		par := l.Par
		if l.PresenceOnly {
			par = 1
		}
		item := l.Item
		if len(l.Accepts) > 0 && m.OneIn(2) {
			item = l.Accepts[0]
		}
		first := min(par, m.Between(1, 3))
		m.stow(&v, item, first)
		if par > first {
			m.stow(&v, item, par-first)
		}
		v.List.Lines[i].Minimum = min(l.Minimum, max(1, par-1))
	}
	return v
}

// Bag returns a bag with contents near to what its list asks for.
func (m *Maker) Bag(code string, station inventory.Station, items map[string]inventory.Item) inventory.BagView {
	v := inventory.BagView{Station: station, List: m.list(items), Items: items}
	v.Bag = inventory.Bag{Code: code, Station: station.Code, AtStation: station.Code, KitList: "LIST",
		Priority: m.Between(1, 3), Purpose: inventory.ForIssue}
	if v.List.Sealed {
		v.Bag.SealState = Pick(m, inventory.SealIntact, inventory.SealIntact, inventory.SealNone, inventory.SealNone,
			inventory.SealBroken, inventory.SealDifferent)
	}
	noonOf := func(d inventory.Day) inventory.Instant { return d.Start(UtcZone).Add(12 * 3600e9) }
	v.Bag.SealSeenAt = noonOf(m.day())
	if !m.OneIn(5) {
		v.Bag.LastFullCheck = noonOf(m.day())
	}
	for _, l := range v.List.Lines {
		for range m.Between(1, 3) {
			m.stow(&v, l.Item, m.Between(1, 4))
		}
		for _, a := range l.Accepts {
			if m.OneIn(2) {
				m.stow(&v, a, m.Between(1, 2))
			}
		}
	}
	if m.OneIn(4) {
		m.stow(&v, m.code(items), m.Between(1, 2))
	}
	if m.OneIn(8) {
		v.Bag.OutOfService = &inventory.ServicePause{Reason: "away for repair"}
	}
	if m.OneIn(4) {
		v.Miscounts = append(v.Miscounts, inventory.BalanceCheck{Item: v.List.Lines[0].Item, Place: code,
			Counted: m.Between(0, 3), Expected: m.Between(4, 6)})
	}
	for range m.Between(0, 4) / 2 {
		m.report(&v)
	}
	for range m.Between(0, 3) / 2 {
		v.Owed = append(v.Owed, inventory.OwedEntry{Item: m.code(items)})
	}
	if m.OneIn(3) {
		v.Observations = append(v.Observations, inventory.Observation{Kind: Pick(m, inventory.SawTrainingMark,
			inventory.SawFailedPoint, inventory.SawFailedPoint, inventory.SawOtherSeal, inventory.SawUnidentified),
			Item: v.List.Lines[0].Item, Text: message.M("seen")})
	}
	return v
}

// report adds a report under review of some lots in a bag, some of it settled, some of what was there gone since.
func (m *Maker) report(v *inventory.BagView) {
	k := inventory.ReportKey{CheckID: int64(len(v.Reports) + 1)}
	u := inventory.UnderReview{ReportKey: k, Report: k.String(), Bag: v.Bag.Code, By: "Cleo"}
	for i, st := range v.Stock {
		if !m.OneIn(3) {
			continue
		}
		kind := Pick(m, inventory.ReportedUsed, inventory.ReportedMissing, inventory.ReportedMoved)
		u.Says = append(u.Says, inventory.Reported{ID: k.CheckID*100 + int64(i), ReportKey: k, Place: v.Bag.Code, Kind: kind,
			LotID: st.Lot.ID, Qty: m.Between(0, st.Qty), Settled: m.IntN(4) / 3, Pool: m.Between(st.Qty-1, st.Qty)})
	}
	for i, kind := range []inventory.ReportedKind{inventory.ReportedTraining, inventory.ReportedUnknown,
		inventory.ReportedOpened, inventory.ReportedBroken, inventory.ReportedOther} {
		if r := (inventory.Reported{Place: v.Bag.Code, Kind: kind, Settled: m.IntN(4) / 3}); m.OneIn(9) {
			if i < 2 {
				r.Item = v.List.Lines[0].Item
			}
			u.Says = append(u.Says, r)
		}
	}
	v.Reports = append(v.Reports, u)
}

func (m *Maker) stow(v *inventory.BagView, item string, qty int) {
	it := v.Items[item]
	if it.TrackedBy == inventory.BySerial { // each device is a lot of one
		for range qty {
			v.Stock = append(v.Stock, inventory.Stock{Place: v.Bag.Code, Lot: m.Lot(it), Qty: 1})
		}
		return
	}
	v.Stock = append(v.Stock, inventory.Stock{Place: v.Bag.Code, Lot: m.Lot(it), Qty: qty})
}

var WalkZones = []string{"Europe/London", "Pacific/Auckland", "America/St_Johns"}

// Region returns three stations in three time zones with bags and stores.
func (m *Maker) Region(bags, storeLots int) inventory.ReportInput {
	g := inventory.ReportInput{StationOf: map[string]string{}, Products: map[int64]inventory.Product{}, Items: m.Items()}
	for i, z := range WalkZones {
		station := inventory.Station{Code: fmt.Sprintf("S%d", i+1), Timezone: z,
			Position: Pick(m, "", "51.5, 0", "52, -1", "-36.8, 174.7")}
		if m.OneIn(2) {
			station.TravelMinutes = []string{fmt.Sprintf("S%d %d", m.Between(1, 3), m.Between(1, 3))}
		}
		g.Stations = append(g.Stations, station)
		for _, place := range []string{station.StoreCode(), station.Code + "-ANNEX"} {
			g.StationOf[place] = station.Code
			for range storeLots / 2 {
				it := g.Items[m.code(g.Items)]
				qty := m.Between(1, 4)
				if it.TrackedBy == inventory.BySerial {
					qty = 1
				}
				g.Stores = append(g.Stores, inventory.Stock{Place: place, Lot: m.Lot(it), Qty: qty})
			}
		}
	}
	for code, it := range g.Items {
		if m.OneIn(2) {
			it.PreferredProduct = int64(len(g.Products) + 1)
			g.Products[it.PreferredProduct] = inventory.Product{ID: it.PreferredProduct, Item: code, PackSize: Pick(m, 1, 5, 12)}
			g.Items[code] = it
		}
		if m.OneIn(3) {
			it.Reserve = m.Between(1, 4)
			g.Items[code] = it
		}
	}
	for i := range bags {
		fill := m.Bag
		if i%2 == 1 {
			fill = m.KeptBag
		}
		g.Bags = append(g.Bags, fill(fmt.Sprintf("BAG-%02d", i+1), g.Stations[i%len(g.Stations)], g.Items))
	}
	return g
}
