package web

import (
	"net/url"
	"strconv"

	"stowkeeper/inventory"
)

// deedsOnAPage is how many lines of the history a page shows.
const deedsOnAPage = 100

// DeedRow is one line of the history.
type DeedRow struct {
	At                    When
	By, From              string
	What                  string
	Place, PlaceHref      string
	OtherPlace, OtherHref string
	Lot, LotHref          string
	Person, Detail        string
}

type deedsPage struct {
	Base
	Zone               string
	Bag, Lot, Who, Day Field
	Rows               []DeedRow
	Older              string
	Filtered           bool
}

func (*deedsPage) template() string { return "deeds" }

// showDeeds shows the history, searched by bag, lot, person and day.
func (s *server) showDeeds(v *visit) error {
	q := v.Request.URL.Query()
	f := openForm(q)
	filter := inventory.HistoryFilter{Place: f.text("bag"), LotNo: f.text("lot"), Person: f.text("person")}
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
	p := &deedsPage{Base: Base{Title: "History"}, Filtered: filter.Place+filter.LotNo+filter.Person != "" || filter.Day != 0}
	if failed == nil {
		if err := s.findDeeds(v, p, filter, q); err != nil {
			return err
		}
	}
	p.Bag, p.Lot = f.field("bag", "Bag or place"), f.field("lot", "Batch or serial number")
	var people []Option
	for _, n := range names {
		people = append(people, Option{Value: n, Text: n})
	}
	p.Who = f.choice("person", "Person or program", people)
	p.Who.Empty = "everybody"
	p.Day = f.field("day", "Day")
	p.Day.Kind = "date"
	return s.render(v, statusOf(failed), p)
}

func (s *server) findDeeds(v *visit, p *deedsPage, filter inventory.HistoryFilter, q url.Values) error {
	deeds, zone, err := s.svc.History.History(v.ctx(), v.actor, filter, inventory.Page{Limit: deedsOnAPage + 1, After: q.Get("before")})
	if err != nil {
		return err
	}
	p.Zone = zone
	if len(deeds) > deedsOnAPage {
		deeds = deeds[:deedsOnAPage]
		q.Set("before", strconv.FormatInt(deeds[len(deeds)-1].ID, 10))
		p.Older = "/history?" + q.Encode()
	}
	for _, d := range deeds {
		p.Rows = append(p.Rows, deedRow(d, zone))
	}
	return nil
}

// deedWords say what was done.
var deedWords = map[inventory.HistoryKind]string{
	inventory.DeedMovement: "Moved", inventory.DeedSealCheck: "Seal check", inventory.DeedFullCheck: "Full check", inventory.DeedUse: "Use reported",
	inventory.DeedCheckDecided: "Check decided", inventory.DeedUseDecided: "Use decided", inventory.DeedRestock: "Restock", inventory.DeedSeal: "Seal",
	inventory.DeedBagChanged: "Bag changed", inventory.DeedVehicle: "Vehicle", inventory.DeedObservation: "Seen", inventory.DeedObservationClosed: "Observation closed",
	inventory.DeedInspection: "Inspection", inventory.DeedTrainingUse: "Used in a class", inventory.DeedBatchCorrected: "Batch corrected",
	inventory.DeedNotice: "Notice", inventory.DeedDelivery: "Delivery", inventory.DeedBalance: "Balance check", inventory.DeedSigned: "Register entry signed", inventory.DeedPastUsage: "Past usage", inventory.DeedSite: "Station made", inventory.DeedPlace: "Place", inventory.DeedBag: "Bag made", inventory.DeedItem: "Item",
	inventory.DeedProduct: "Product", inventory.DeedKitList: "Kit list", inventory.DeedCategory: "Category", inventory.DeedSheetOffset: "Printer offset",
	inventory.DeedSignedIn: "Signed in", inventory.DeedSignedOut: "Signed out", inventory.DeedSignedOutAll: "Signed out everywhere",
	inventory.DeedSignRefused: "Wrong PIN for a signature",
	inventory.DeedLocked:      "Wrong tries: made to wait", inventory.DeedPersonAdded: "Person added", inventory.DeedPersonChanged: "Person changed",
	inventory.DeedSecretSet: "PIN or password set", inventory.DeedTokenAdded: "Token made", inventory.DeedTokenRevoked: "Token revoked",
	inventory.DeedTerminalAdded: "Terminal added", inventory.DeedTerminalEnrolled: "Terminal enrolled", inventory.DeedTerminalRevoked: "Terminal revoked",
}

func deedRow(d inventory.HistoryEntry, zone string) DeedRow {
	row := DeedRow{At: whenAt(d.RecordedAt, inventory.Site{Timezone: zone}), By: d.By, From: d.From, What: deedWords[d.Kind], Person: d.Person, Detail: d.Detail}
	if row.What == "" {
		row.What = string(d.Kind)
	}
	if row.Person == row.By {
		row.Person = ""
	}
	row.Place, row.OtherPlace = inside(d.Place), inside(d.OtherPlace)
	if d.Kind != inventory.DeedMovement && row.Place != "" {
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
