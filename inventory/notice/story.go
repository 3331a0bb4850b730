package notice

import (
	"cmp"
	"slices"

	"stowkeeper/inventory"
	"stowkeeper/inventory/stock"
)

// NoticeSummary is a notice with how many units it is about.
type NoticeSummary struct {
	inventory.Notice
	Units       int `json:"units" doc:"Units in the service that it means"`
	Pulled      int `json:"pulled" doc:"Of these, units in quarantine"`
	Outstanding int `json:"outstanding" doc:"Units still to pull, or devices still to inspect"`
	Unclear     int `json:"unclear" doc:"Units with too little on them to tell"`
	Unanswered  int `json:"unanswered" doc:"Stations that have not said what they hold; of one that only informs, 0"`

	PullFrom []HeldUnits `json:"-"` // what is outstanding, where it is
}

// NoticeStory is a notice with everything that it means: where the units are, which bags to pull from in order of
// priority, what has been pulled, which incidents used the batch, and what might be meant but bears too little.
type NoticeStory struct {
	NoticeSummary
	Batches   []MeantBatch      `json:"batches" doc:"The batches that it means, by anything that they ever bore"`
	Held      []HeldUnits       `json:"held" doc:"Every place and quantity, of what is not released"`
	PullFrom  []HeldUnits       `json:"pull_from" doc:"Bags by priority first, then other places"`
	Incidents []stock.UsedUnits `json:"incidents" doc:"Past uses of the batches"`
	MightBe   []HeldUnits       `json:"might_be" doc:"Units with too little on them to tell: look at them"`
	Stations  []StationAnswer   `json:"stations" doc:"Each station with what it says that it holds"`

	Corrections []inventory.BatchCorrection `json:"corrections,omitempty" doc:"Corrections of the batches"`
	Stops       []inventory.Bag             `json:"-"` // of a preview: those that it would stop
}

// MeantBatch is a batch that a notice means, with the release that holds, if one does.
type MeantBatch struct {
	inventory.Batch
	Released *inventory.NoticeStep `json:"released,omitempty" doc:"It counts again, by this step"`
}

// StationAnswer is what a station says that it holds, beside what the records say.
type StationAnswer struct {
	Station  string                `json:"station"`
	Recorded int                   `json:"recorded" doc:"Units that the records have there"`
	Answer   *inventory.NoticeStep `json:"answer,omitempty" doc:"Missing while it has not answered"`
}

// HeldUnits is a quantity of a lot in a place.
type HeldUnits struct {
	Place    string              `json:"place"`
	Kind     inventory.PlaceKind `json:"kind"`
	Station  string              `json:"station" doc:"Where it is now, if it is a bag"`
	Priority int                 `json:"priority,omitempty" doc:"Of a bag"`
	LotID    int64               `json:"lot_id"`
	BatchNo  string              `json:"batch_no,omitempty"`
	Serial   string              `json:"serial,omitempty"`
	Qty      int                 `json:"qty"`
	To       string              `json:"to,omitempty" doc:"The quarantine that it is pulled into"`
}

// noticeScene is what notices are judged against, by item.
type noticeScene struct {
	stock    []inventory.Stock
	batches  []inventory.Batch
	stations []inventory.Station
	places   map[string]inventory.Place
	bags     map[string]inventory.Bag
}

// sceneOf reads what lies where of what is, or once was recorded as of, the items of notices.
func sceneOf(r inventory.Reader, notices ...inventory.Notice) (s noticeScene, err error) {
	s.places, s.bags = map[string]inventory.Place{}, map[string]inventory.Bag{}
	if len(notices) == 0 {
		return s, nil
	}
	items := make([]string, 0, len(notices))
	for _, n := range notices {
		items = append(items, n.Item)
	}
	if s.batches, err = r.Batches(inventory.BatchFilter{EverItems: distinct(items)}); err != nil {
		return s, err
	}
	for _, b := range s.batches {
		items = append(items, b.Item)
	}
	var errs [4]error
	s.stock, errs[0] = r.Stock(inventory.StockFilter{Items: distinct(items)})
	s.stations, errs[1] = r.Stations()
	places, err := r.Places(inventory.PlaceFilter{Retired: true}, inventory.Page{})
	for _, p := range places {
		s.places[p.Code] = p
	}
	errs[2] = err
	bags, err := r.Bags(inventory.BagFilter{Retired: true}, inventory.Page{})
	for _, b := range bags {
		s.bags[b.Code] = b
	}
	errs[3] = err
	return s, cmp.Or(errs[:]...)
}

func distinct(items []string) []string {
	out := slices.Clone(items)
	slices.Sort(out)
	return slices.Compact(out)
}

// story sorts the item's stock into what is pulled, what is outstanding and
// what might be meant. What was released is none of these.
func (s noticeScene) story(n inventory.Notice) NoticeStory {
	story := NoticeStory{NoticeSummary: NoticeSummary{Notice: n}, Batches: []MeantBatch{}, Held: []HeldUnits{},
		PullFrom: []HeldUnits{}, Incidents: []stock.UsedUnits{}, MightBe: []HeldUnits{}, Stations: []StationAnswer{}}
	for _, st := range s.stock {
		switch u := s.held(st); {
		case n.Binds(st.Lot.Batch):
			story.Held = append(story.Held, u)
			story.count(u, st.Lot)
		case n.MightMean(st.Lot):
			story.MightBe = append(story.MightBe, u)
			story.Unclear += u.Qty
		}
	}
	slices.SortStableFunc(story.PullFrom, byPull)
	story.ask(s.stations)
	return story
}

// ask lists what each station says that it holds, and counts those that are still to answer.
func (n *NoticeStory) ask(stations []inventory.Station) {
	for _, st := range stations {
		a := StationAnswer{Station: st.Code}
		for _, u := range n.Held {
			if u.Station == st.Code {
				a.Recorded += u.Qty
			}
		}
		if step, ok := n.AnswerOf(st.Code); ok {
			a.Answer = &step
		} else if st.Closed() {
			continue
		} else if n.Action != inventory.NoticeInform && n.Holds() {
			n.Unanswered++
		}
		n.Stations = append(n.Stations, a)
	}
}

func (s noticeScene) held(st inventory.Stock) HeldUnits {
	p := s.places[st.Place]
	u := HeldUnits{Place: st.Place, Kind: p.Kind, Station: p.Station, LotID: st.Lot.ID, BatchNo: st.Lot.BatchNo,
		Serial: st.Lot.Serial, Qty: st.Qty}
	if b, ok := s.bags[st.Place]; ok {
		u.Station, u.Priority = b.AtStation, b.Priority
	}
	if p.Kind != inventory.KindQuarantine {
		u.To = inventory.Station{Code: u.Station}.QuarantineCode(p.Purpose)
	}
	return u
}

// count adds units that the notice means to what is pulled or outstanding.
func (n *NoticeStory) count(u HeldUnits, l inventory.Lot) {
	n.Units += u.Qty
	if u.Kind == inventory.KindQuarantine {
		n.Pulled += u.Qty
	}
	todo := u.Kind != inventory.KindQuarantine && (n.Action == inventory.NoticeWithdraw ||
		n.Action == inventory.NoticeInspect && l.Device() && uninspectedSince(l, n.Notice))
	if todo && n.Holds() {
		n.Outstanding += u.Qty
		n.PullFrom = append(n.PullFrom, u)
	}
}

// uninspectedSince tells whether a device still owes the inspection that an
// open notice asks for: its record holds the day of the oldest such notice.
func uninspectedSince(l inventory.Lot, n inventory.Notice) bool {
	return n.Status == inventory.NoticeOpen && l.InspectBy != 0 && l.InspectBy <= n.IssuedAt.InUTC()
}

// byPull orders what is outstanding: bags by priority first, then other places.
func byPull(a, b HeldUnits) int {
	return cmp.Or(-inventory.CompareBool(a.Kind == inventory.KindBag, b.Kind == inventory.KindBag), cmp.Compare(a.Priority,
		b.Priority), cmp.Compare(a.Place, b.Place))
}
