package web

import (
	"cmp"
	"net/http"
	"net/url"
	"slices"
	"strings"

	"stowkeeper/inventory"
	"stowkeeper/inventory/message"
	"stowkeeper/inventory/search"
)

type searchPage struct {
	Base
	Asked      string
	Bags       []inventory.Bag
	Lots       []FoundRow
	Items      []inventory.Item
	Others     []FoundGroup
	People     []inventory.Person
	More, None bool
	MayList    bool // this person may look through all stock and records
}

// FoundGroup is what was found of one kind.
type FoundGroup struct {
	Title message.Message
	Rows  []FoundOther
}

// FoundOther is one thing that was found, by the number or code that it bears.
type FoundOther struct {
	Href, Label string
	Of          string // the bag that it is about, or its name
	At          When
}

// FoundRow is a batch or device that was found.
type FoundRow struct {
	search.FoundBatch
	Name  string
	Label message.Message
	Href  string
	Was   string // the number that was asked for, where it has another now
}

// search finds a bag, batch, device, item or person by what was typed or
// scanned anywhere. The only thing that bears exactly that is opened at once.
func (s *server) search(v *visit) error {
	asked := v.Query("q")
	if path := s.labelPath(asked); path != "" {
		return v.to(path)
	}
	found, err := s.svc.Search.Search(v.ctx(), v.actor, asked)
	if err != nil {
		return err
	}
	if found.Only != nil {
		if href := hitPath(v, *found.Only); href != "" {
			return v.to(href)
		}
	}
	p := &searchPage{Base: Base{Title: message.M("Search")}, Asked: strings.TrimSpace(asked), Bags: found.Bags,
		More: found.More, None: found.None()}
	p.Items, p.People, p.MayList, p.Sought = found.Items, found.People, v.may(inventory.ActHistory), p.Asked
	for _, b := range found.Lots {
		p.Lots = append(p.Lots, FoundRow{b, nameOf(v.itemsByCode(), b.Item), lotLabel(b.BatchNo, b.Serial),
			hitPath(v, search.Hit{Lot: b.LotID, Serial: b.Serial != ""}), formerLabel(b.Batch)})
	}
	p.Others = othersFound(v, found)
	return s.render(v, http.StatusOK, p)
}

// othersFound are places, notices and what was recorded under a number.
func othersFound(v *visit, found search.Found) []FoundGroup {
	own := v.ownStation()
	places, notices := FoundGroup{Title: message.M("Places")}, FoundGroup{Title: message.M("Recalls")}
	incidents, seals := FoundGroup{Title: message.M("Incidents")}, FoundGroup{Title: message.M("Seals")}
	for _, x := range found.Places {
		places.Rows = append(places.Rows, FoundOther{Href: placePath(x), Label: x.Code, Of: x.Name})
	}
	for _, x := range found.Notices {
		notices.Rows = append(notices.Rows, FoundOther{noticePath(x.ID), x.Reference, nameOf(v.itemsByCode(), x.Item),
			whenAt(x.IssuedAt, own)})
	}
	for _, x := range found.Uses {
		incidents.Rows = append(incidents.Rows, FoundOther{logPath(x.Bag), x.Incident, x.Bag, whenAt(x.HappenedAt, own)})
	}
	for _, x := range found.Seals {
		seals.Rows = append(seals.Rows, FoundOther{logPath(x.Bag), x.Number, x.Bag, whenAt(x.HappenedAt, own)})
	}
	transfers := FoundGroup{Title: message.M("Transfers")}
	for _, x := range found.Transfers {
		transfers.Rows = append(transfers.Rows, FoundOther{transferPath(x.ID), "№ " + formatID(x.ID),
			v.station(x.Station).Name + " → " + v.station(x.Other).Name, whenAt(x.OpenedAt, own)})
	}
	return slices.DeleteFunc([]FoundGroup{incidents, seals, notices, transfers, places}, func(g FoundGroup) bool {
		return len(g.Rows) == 0
	})
}

func logPath(bag string) string { return bagPath(bag) + "/log" }

// formerLabel is the number that a batch was recorded with before, where that was another.
func formerLabel(b inventory.Batch) string {
	for _, was := range slices.Backward(b.Formerly) {
		if label := cmp.Or(was.BatchNo, was.Serial); label != cmp.Or(b.BatchNo, b.Serial) {
			return label
		}
	}
	return ""
}

// hitPath is the address of what was found, empty for who may not open it.
func hitPath(v *visit, h search.Hit) string {
	switch {
	case h.Bag != "":
		return bagPath(h.Bag)
	case h.Log != "":
		return logPath(h.Log)
	case h.Place != "":
		return placePath(inventory.Place{Code: h.Place})
	case h.Transfer != 0:
		return transferPath(h.Transfer)
	case h.Notice != 0:
		return noticePath(h.Notice)
	case h.Lot != 0 && h.Serial:
		return devicePath(h.Lot)
	case h.Lot != 0:
		return "/lots/" + formatID(h.Lot)
	case h.Item != "" && v.may(inventory.ActHistory):
		return itemPath(h.Item)
	case h.Person != "" && v.may(inventory.ActHistory):
		return "/recorded?by=" + url.QueryEscape(h.Person)
	}
	return ""
}

// labelPath is the page that a scanned label of this service leads to, empty
// for any other text. Labels may be in upper case.
func (s *server) labelPath(text string) string {
	u, err := url.Parse(strings.TrimSpace(text))
	base, baseErr := url.Parse(s.opt.BaseURL)
	if err != nil || baseErr != nil || u.Host == "" || !strings.EqualFold(u.Host, base.Host) {
		return ""
	}
	kind, rest, ok := strings.Cut(strings.TrimPrefix(u.EscapedPath(), "/"), "/")
	kind = strings.ToLower(kind)
	if !ok || rest == "" || kind != "b" && kind != "d" && kind != "s" {
		return ""
	}
	return "/" + kind + "/" + rest
}

type itemPage struct {
	Base
	Item    inventory.Item
	Places  []PlaceCount
	Lots    LotTable
	Life    []LifeRow
	MayKeep bool
}

// LifeRow is a life rule of an item that has a limit.
type LifeRow struct {
	Label message.Message
	Limit int
}

// PlaceCount is how many units lie in a place.
type PlaceCount struct {
	Href, Place, Name string
	Qty               int
}

func (s *server) showItem(v *visit) error {
	it, err := s.svc.Lists.Item(v.ctx(), v.actor, v.Param("item"))
	if err != nil {
		return err
	}
	lots, err := s.svc.Stock.Lots(v.ctx(), v.actor, inventory.LotFilter{Item: it.Code, Held: true}, 0, inventory.Page{})
	if err != nil {
		return err
	}
	items := map[string]inventory.Item{it.Code: it}
	called := v.called()
	p := &itemPage{Base: Base{Title: message.Plain(it.Name)}, Item: it, Lots: LotTable{Where: true, One: true},
		MayKeep: v.may(inventory.ActKeepLists)}
	for _, l := range lifeFields {
		if n := *l.of(&it); n > 0 {
			p.Life = append(p.Life, LifeRow{l.label, n})
		}
	}
	at := map[string]int{}
	for _, l := range sortLots(lots, items) {
		p.Lots.Rows = append(p.Lots.Rows, lotRow(l, items))
		for _, w := range l.Where {
			i, ok := at[w.Place]
			if !ok {
				i = len(p.Places)
				at[w.Place] = i
				p.Places = append(p.Places, PlaceCount{Href: "/stock/" + url.PathEscape(w.Place) + "?item=" +
					url.QueryEscape(it.Code), Place: w.Place, Name: called.places[w.Place]})
			}
			p.Places[i].Qty += w.Qty
		}
	}
	slices.SortFunc(p.Places, func(a, b PlaceCount) int { return cmpText(a.Place, b.Place) })
	return s.render(v, http.StatusOK, p)
}

type recordedPage struct {
	Base
	By           string
	Checks, Uses []ReviewRow
	Most         int
}

// mostRecorded is how many checks and uses of a person are listed.
const mostRecorded = 50

func (s *server) showRecorded(v *visit) error {
	by := strings.TrimSpace(v.Query("by"))
	if by == "" {
		return inventory.Refuse(inventory.NotFound, "enter a name")
	}
	p := &recordedPage{Base: Base{Title: message.M("Recorded by {1}", by)}, By: by, Most: mostRecorded}
	var err error
	p.Checks, p.Uses, err = s.records(v, inventory.RecordFilter{By: by}, inventory.Page{Limit: mostRecorded})
	if err != nil {
		return err
	}
	for _, rows := range [][]ReviewRow{p.Checks, p.Uses} {
		for i := range rows {
			if !v.may(inventory.ActKeepStock) { // who may not decide sees the bag
				rows[i].Href = bagPath(rows[i].Bag)
			}
		}
	}
	return s.render(v, http.StatusOK, p)
}
