package web

import (
	"net/url"
	"strconv"

	"stowkeeper/inventory"
)

// historyOnAPage is how many lines of the history a page shows.
const historyOnAPage = 100

// HistoryRow is one line of the history.
type HistoryRow struct {
	At                    When
	By, From              string
	What                  string
	Place, PlaceHref      string
	OtherPlace, OtherHref string
	Lot, LotHref          string
	Person, Detail        string
}

type historyPage struct {
	Base
	Zone                   string
	Bag, BatchNo, Who, Day Field
	Rows                   []HistoryRow
	Older                  string
	Filtered               bool
}

// showHistory shows the history, searched by bag, lot, person and day.
func (s *server) showHistory(v *visit) error {
	q := v.Request.URL.Query()
	f := openForm(q)
	filter := inventory.HistoryFilter{Place: f.text("bag"), BatchNo: f.text("batch_no"), Person: f.text("person")}
	var failed error
	if text := f.text("day"); text != "" {
		day, err := inventory.ParseDay(text)
		if err != nil {
			f.wrong("day", "give the day as year-month-day")
			failed = f.err()
		}
		filter.Day = day
	}
	names, err := s.svc.History.HistoryNames(v.ctx(), v.actor)
	if err != nil {
		return err
	}
	p := &historyPage{Base: Base{Title: "History"}, Filtered: filter.Place+filter.BatchNo+filter.Person != "" ||
		filter.Day != 0}
	if failed == nil {
		if err := s.findHistory(v, p, filter, q); err != nil {
			return err
		}
	}
	p.Bag, p.BatchNo = f.field("bag", "Bag or place"), f.field("batch_no", "Batch or serial number")
	var people []Option
	for _, n := range names {
		people = append(people, Option{Value: n, Text: n})
	}
	p.Who = f.choice("person", "Person or program", people)
	p.Who.Empty = "everybody"
	p.Day = f.dateField("day", "Day")
	return s.render(v, statusOf(failed), p)
}

func (s *server) findHistory(v *visit, p *historyPage, filter inventory.HistoryFilter, q url.Values) error {
	entries, zone, err := s.svc.History.History(v.ctx(), v.actor, filter, inventory.Page{Limit: historyOnAPage + 1,
		After: q.Get("before")})
	if err != nil {
		return err
	}
	p.Zone = zone
	if len(entries) > historyOnAPage {
		entries = entries[:historyOnAPage]
		q.Set("before", strconv.FormatInt(entries[len(entries)-1].ID, 10))
		p.Older = "/history?" + q.Encode()
	}
	for _, d := range entries {
		p.Rows = append(p.Rows, historyRow(d, zone))
	}
	return nil
}

// historyWords say what was done.
var historyWords = map[inventory.HistoryKind]string{
	inventory.HistoryMovement: "Moved", inventory.HistorySealCheck: "Seal check", inventory.HistoryFullCheck: "Full check",
	inventory.HistoryUse:          "Use reported",
	inventory.HistoryCheckDecided: "Check decided", inventory.HistoryUseDecided: "Use decided",
	inventory.HistoryRestock: "Restock", inventory.HistorySeal: "Seal",
	inventory.HistoryBagChanged: "Bag changed", inventory.HistoryVehicle: "Vehicle", inventory.HistoryObservation: "Seen",
	inventory.HistoryObservationClosed: "Observation closed",
	inventory.HistoryInspection:        "Inspection", inventory.HistoryTrainingUse: "Used in a class",
	inventory.HistoryBatchCorrected: "Batch corrected",
	inventory.HistoryNotice:         "Notice", inventory.HistoryDelivery: "Delivery",
	inventory.HistoryBalance: "Balance check",
	inventory.HistorySigned:  "Register entry signed", inventory.HistoryPastUsage: "Past usage",
	inventory.HistoryStation: "Station made", inventory.HistoryPlace: "Place", inventory.HistoryBag: "Bag made",
	inventory.HistoryItem:    "Item",
	inventory.HistoryProduct: "Product", inventory.HistoryKitList: "Kit list", inventory.HistoryCategory: "Category",
	inventory.HistorySheetOffset: "Printer offset",
	inventory.HistorySignedIn:    "Signed in", inventory.HistorySignedOut: "Signed out",
	inventory.HistorySignedOutAll: "Signed out everywhere",
	inventory.HistorySignRefused:  "Wrong PIN for a signature",
	inventory.HistoryLocked:       "Wrong tries: made to wait", inventory.HistoryPersonAdded: "Person added",
	inventory.HistoryPersonChanged: "Person changed",
	inventory.HistorySecretSet:     "PIN or password set", inventory.HistoryTokenAdded: "Token made",
	inventory.HistoryTokenRevoked:  "Token revoked",
	inventory.HistoryTerminalAdded: "Terminal added", inventory.HistoryTerminalEnrolled: "Terminal enrolled",
	inventory.HistoryTerminalRevoked: "Terminal revoked",
}

func historyRow(d inventory.HistoryEntry, zone string) HistoryRow {
	row := HistoryRow{At: whenAt(d.RecordedAt, inventory.Station{Timezone: zone}), By: d.By, From: d.From,
		What: historyWords[d.Kind], Person: d.Person, Detail: d.Detail}
	if row.What == "" {
		row.What = string(d.Kind)
	}
	if row.Person == row.By {
		row.Person = ""
	}
	row.Place, row.OtherPlace = inside(d.Place), inside(d.OtherPlace)
	if d.Kind != inventory.HistoryMovement && row.Place != "" {
		row.PlaceHref = "/b/" + url.PathEscape(row.Place)
	}
	if d.LotID != 0 {
		row.Lot = "lot " + strconv.FormatInt(d.LotID, 10)
		row.LotHref = "/lots/" + strconv.FormatInt(d.LotID, 10)
	}
	return row
}

// inside is the code of a place of the service; what lies outside is no place
// for people.
func inside(code string) string {
	for _, k := range inventory.OutsideKinds {
		if code == string(k) {
			return ""
		}
	}
	return code
}
