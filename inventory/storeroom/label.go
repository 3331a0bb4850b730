package storeroom

import (
	"cmp"
	"context"
	"slices"
	"strconv"

	"stowkeeper/inventory"
	"stowkeeper/inventory/ledger"
	"stowkeeper/inventory/lists"
	"stowkeeper/inventory/message"
	"stowkeeper/inventory/scope"
)

// LabelKind is what a printed label is for.
type LabelKind string

// The kinds of label.
const (
	LabelBag    LabelKind = "bag"    // on the outside of a bag
	LabelCard   LabelKind = "card"   // the contents card, on the outside of a bag
	LabelShelf  LabelKind = "shelf"  // where an item lies in a store
	LabelDevice LabelKind = "device" // on a device with a serial number
)

// LabelKinds lists the kinds.
var LabelKinds = []LabelKind{LabelBag, LabelCard, LabelShelf, LabelDevice}

// MostLabels is how many labels are printed at a time.
const MostLabels = 1000

// LabelAsk says which labels are wanted. Where nothing is named, all that there is at the stations is meant.
type LabelAsk struct {
	Kind     LabelKind
	Stations []string // the actor's own if none is named
	Bags     []string // for bag and card: codes
	Place    string   // for shelf: code of the store
	Items    []string // for shelf: codes, also of items that do not lie there yet
	Devices  []int64  // for device: ids, each of any lot that the device was ever in
}

// LabelFacts is what one label says.
type LabelFacts struct {
	Kind    LabelKind
	Station string // where it is put up
	Path    string // what its symbol opens, below the service's address

	Code string // of the bag or the item
	Name string // of the bag or the item

	KitList, Edition string       // bag, card
	Contents         ContentsCard // card

	Place string // shelf: name of the store; device: code of the place where it is
	Unit  string // shelf

	LotID         int64 // device
	Serial        string
	UsableThrough inventory.Day
	Training      bool
}

// Labels returns what the labels that are asked for say, in the order in which they were named, else by code.
// Refuses: Forbidden without label, and for a station that is not the actor's; NotFound for a bag; Invalid for what
// else is named wrongly, and for more than MostLabels; Conflict for a bag that is retired.
func (s *Service) Labels(ctx context.Context, by inventory.Actor, ask LabelAsk) ([]LabelFacts, error) {
	return inventory.ReadAs(ctx, s.store, by, inventory.ActLabel, func(r inventory.Reader) ([]LabelFacts, error) {
		stations, err := by.Narrow(ask.Stations)
		if err != nil {
			return nil, err
		}
		ask.Stations = stations
		if n := len(ask.Bags) + len(ask.Items) + len(ask.Devices); n > MostLabels {
			return nil, errTooManyLabels()
		}
		find := map[LabelKind]func(inventory.Reader, inventory.Actor, LabelAsk) ([]LabelFacts, error){
			LabelBag: s.bagLabels, LabelCard: s.bagLabels, LabelShelf: s.shelfLabels, LabelDevice: s.deviceLabels,
		}[ask.Kind]
		if find == nil {
			return nil, inventory.InvalidField("kind", "choose one of {1}", "bag, card, shelf, device")
		}
		out, err := find(r, by, ask)
		if err == nil && len(out) > MostLabels {
			return nil, errTooManyLabels()
		}
		return out, err
	})
}

func errTooManyLabels() error {
	return inventory.Refuse(inventory.Invalid, "at most {1} labels at a time", MostLabels)
}

func (s *Service) bagLabels(r inventory.Reader, by inventory.Actor, ask LabelAsk) ([]LabelFacts, error) {
	views, err := s.viewsToLabel(r, by, ask)
	out := make([]LabelFacts, 0, len(views))
	for _, v := range views {
		f := LabelFacts{Kind: ask.Kind, Station: v.Bag.AtStation, Path: "b/" + v.Bag.Code, Code: v.Bag.Code, Name: v.Bag.Name,
			KitList: v.List.Name, Edition: v.List.Edition}
		if ask.Kind == LabelCard {
			f.Contents = ContentsCardOf(v, s.now())
			if len(f.Contents.Lines) == 0 && len(ask.Bags) == 0 {
				continue // an empty bag has a card only where somebody asks for it
			}
		}
		out = append(out, f)
	}
	return out, err
}

// viewsToLabel reads the bags that are asked for.
func (s *Service) viewsToLabel(r inventory.Reader, by inventory.Actor, ask LabelAsk) ([]inventory.BagView, error) {
	all, err := lists.LoadBags(r, inventory.BagFilter{AtStations: ask.Stations}, inventory.Page{})
	if err != nil || len(ask.Bags) == 0 {
		return all, err
	}
	var out []inventory.BagView
	for _, code := range ask.Bags {
		b, err := scope.BagFor(r, by, code, inventory.ActLabel)
		if err != nil {
			return nil, err
		}
		if b.Retired() {
			return nil, ledger.ErrRetired(message.M("print the successor's label"))
		}
		i := slices.IndexFunc(all, func(v inventory.BagView) bool { return v.Bag.Code == b.Code })
		if i < 0 { // at another of the actor's stations
			v, err := lists.LoadBag(r, b)
			if err != nil {
				return nil, err
			}
			out = append(out, v)
			continue
		}
		out = append(out, all[i])
	}
	return out, nil
}

func (s *Service) shelfLabels(r inventory.Reader, by inventory.Actor, ask LabelAsk) ([]LabelFacts, error) {
	if ask.Place == "" {
		return nil, inventory.InvalidField("place", "choose {1}", inventory.KindList(inventory.KindStore))
	}
	p, err := r.Place(inventory.NormalCode(ask.Place))
	if err != nil || p.Kind != inventory.KindStore {
		return nil, inventory.InvalidField("place", "not found")
	}
	if err := by.Must(inventory.ActLabel, p.Station); err != nil {
		return nil, err
	}
	items, err := lists.ItemsByCode(r, inventory.ItemFilter{})
	if err != nil {
		return nil, err
	}
	codes := ask.Items
	if len(codes) == 0 {
		stock, err := r.Stock(inventory.StockFilter{Places: []string{p.Code}})
		if err != nil {
			return nil, err
		}
		for _, st := range stock {
			codes = append(codes, st.Lot.Item)
		}
		slices.Sort(codes)
		codes = slices.Compact(codes)
	}
	out := make([]LabelFacts, 0, len(codes))
	for _, code := range codes {
		it, ok := items[inventory.NormalCode(code)]
		if !ok {
			return nil, inventory.InvalidField("item", "not found")
		}
		out = append(out, LabelFacts{Kind: LabelShelf, Station: p.Station, Path: "s/" + p.Code + "/" + it.Code,
			Code: it.Code, Name: it.Name, Place: p.Name, Unit: it.Unit, Training: p.Purpose == inventory.ForTraining})
	}
	return out, nil
}

func (s *Service) deviceLabels(r inventory.Reader, by inventory.Actor, ask LabelAsk) ([]LabelFacts, error) {
	named, err := devicesNamed(r, ask.Devices)
	if err != nil {
		return nil, err
	}
	if len(named) > 0 {
		ask.Stations = by.StationsSeen() // what is named may be at any of them
	}
	stock, err := r.Stock(inventory.StockFilter{Stations: ask.Stations})
	if err != nil {
		return nil, err
	}
	items, err := lists.ItemsByCode(r, inventory.ItemFilter{})
	if err != nil {
		return nil, err
	}
	stations, err := stationsOfPlaces(r, ask.Stations)
	if err != nil {
		return nil, err
	}
	out, batches := []LabelFacts(nil), []int64(nil)
	for _, st := range stock {
		if st.Lot.Device() {
			out = append(out, deviceFacts(items[st.Lot.Item], st, stations[st.Place], s.now()))
			batches = append(batches, st.Lot.Batch.ID)
		}
	}
	if len(named) > 0 {
		return inOrder(out, batches, named)
	}
	slices.SortFunc(out, func(a, b LabelFacts) int {
		return cmp.Or(cmp.Compare(a.Code, b.Code), cmp.Compare(a.Serial, b.Serial))
	})
	return out, nil
}

// deviceFacts says what stands on a device's label. The end of a training
// device is nobody's promise for a patient, and is left out.
func deviceFacts(it inventory.Item, st inventory.Stock, station inventory.Station, now inventory.Instant) LabelFacts {
	f := LabelFacts{Kind: LabelDevice, Station: station.Code, Path: "d/" + strconv.FormatInt(st.Lot.ID, 10), Code: it.Code,
		Name:  it.Name,
		LotID: st.Lot.ID, Serial: st.Lot.Serial, Training: st.Lot.Training, Place: st.Place}
	if !f.Training {
		f.UsableThrough = inventory.UsableThrough(it, st.Lot, station.Today(now))
	}
	return f
}

// devicesNamed returns the devices, as batches, that any of their lots names.
func devicesNamed(r inventory.Reader, lots []int64) ([]int64, error) {
	out := make([]int64, 0, len(lots))
	for _, id := range lots {
		l, err := r.Lot(id)
		if err != nil && inventory.KindOf(err) != inventory.NotFound {
			return nil, err
		}
		if err != nil || !l.Device() {
			return nil, errNoDevice()
		}
		out = append(out, l.Batch.ID)
	}
	return out, nil
}

func errNoDevice() error {
	return inventory.InvalidField("device", "choose devices at your stations")
}

// stationsOfPlaces tells at which station each place is, a bag being where it is.
func stationsOfPlaces(r inventory.Reader, only []string) (map[string]inventory.Station, error) {
	stations, err := lists.StationsByCode(r)
	if err != nil {
		return nil, err
	}
	places, err := r.Places(inventory.PlaceFilter{}, inventory.Page{})
	if err != nil {
		return nil, err
	}
	bags, err := r.Bags(inventory.BagFilter{AtStations: only}, inventory.Page{})
	out := make(map[string]inventory.Station, len(places))
	for _, p := range places {
		out[p.Code] = stations[p.Station]
	}
	for _, b := range bags {
		out[b.Code] = stations[b.AtStation]
	}
	return out, err
}

// inOrder arranges the labels of devices as they were named.
func inOrder(found []LabelFacts, batches, named []int64) ([]LabelFacts, error) {
	out := make([]LabelFacts, 0, len(named))
	for _, batch := range named {
		i := slices.Index(batches, batch)
		if i < 0 {
			return nil, errNoDevice()
		}
		out = append(out, found[i])
	}
	return out, nil
}
