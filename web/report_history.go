package web

import (
	"net/url"

	"stowkeeper/inventory"
	"stowkeeper/inventory/message"
)

// historyOnAPage is how many lines of the history a page shows.
const historyOnAPage = 30

// HistoryRow is one line of the history.
type HistoryRow struct {
	At                                      When
	By, From                                string
	What                                    message.Message
	Place, PlaceHref, OtherPlace, OtherHref string
	Lot                                     message.Message
	LotHref, Person, Detail                 string
}

type historyPage struct {
	Base
	Zone                   string
	Bag, BatchNo, Who, Day Field
	Rows                   []HistoryRow
	Older                  string
	Filtered               bool
}

func (s *server) showHistory(v *visit) error {
	q := v.Request.URL.Query()
	f := openForm(q)
	filter := inventory.HistoryFilter{Place: f.text("bag"), BatchNo: f.text("batch_no"), Person: f.text("person")}
	filter.Day = f.day("day")
	failed := f.err()
	names, err := s.svc.History.HistoryNames(v.ctx(), v.actor)
	if err != nil {
		return err
	}
	p := &historyPage{Base: Base{Title: message.M("History")}, Filtered: filter.Place+filter.BatchNo+filter.Person != "" ||
		filter.Day != 0}
	if failed == nil {
		if err := s.findHistory(v, p, filter, q); err != nil {
			return err
		}
	}
	p.Bag, p.BatchNo = f.field("bag", message.M("Bag or place")), f.field("batch_no", message.M("Batch or serial number"))
	var people []Option
	for _, n := range names {
		people = append(people, Option{Value: n, Text: message.Plain(n)})
	}
	p.Who = f.choice("person", message.M("Person or program"), people)
	p.Who.Empty = message.M("Everyone")
	p.Day = f.dateField("day", message.M("Day"))
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
		q.Set("before", formatID(entries[len(entries)-1].ID))
		p.Older = "/history?" + q.Encode()
	}
	for _, d := range entries {
		p.Rows = append(p.Rows, historyRow(d, zone))
	}
	return nil
}

var historyWords = map[inventory.HistoryKind]message.Message{
	inventory.HistoryMovement: message.M("Moved"), inventory.HistorySealCheck: message.M("Seal check"),
	inventory.HistoryFullCheck: message.M("Full check"), inventory.HistoryUse: message.M("Use reported"),
	inventory.HistoryCheckDecided: message.M("Check reviewed"),
	inventory.HistoryUseDecided:   message.M("Use reviewed"), inventory.HistoryRestock: message.M("Restock"),
	inventory.HistorySeal: message.M("Seal"), inventory.HistoryBagChanged: message.M("Bag changed"),
	inventory.HistoryVehicle: message.M("Vehicle"), inventory.HistoryObservation: message.M("Observation"),
	inventory.HistoryObservationClosed: message.M("Observation closed"),
	inventory.HistoryInspection:        message.M("Inspection"), inventory.HistoryTrainingUse: message.M("Class"),
	inventory.HistoryBatchCorrected: message.M("Batch corrected"), inventory.HistoryNotice: message.M("Notice"),
	inventory.HistoryTransfer: message.M("Transfer"), inventory.HistoryTransferReceipt: message.M("Transfer received"),
	inventory.HistoryOrder:    message.M("Order"),
	inventory.HistoryCount:    message.M("Count"),
	inventory.HistoryDelivery: message.M("Delivery"), inventory.HistoryBalance: message.M("Balance check"),
	inventory.HistoryDiscrepancy:       message.M("Discrepancy"),
	inventory.HistoryDiscrepancyClosed: message.M("Discrepancy closed"),
	inventory.HistorySigned:            message.M("Register entry signed"),
	inventory.HistoryPastUsage:         message.M("Past usage"),
	inventory.HistoryStation:           message.M("Station"), inventory.HistoryPlace: message.M("Place"),
	inventory.HistoryBag: message.M("Bag added"), inventory.HistoryItem: message.M("Item"),
	inventory.HistoryProduct: message.M("Product"), inventory.HistoryKitList: message.M("Kit list"),
	inventory.HistoryCategory: message.M("Category"), inventory.HistorySheetOffset: message.M("Printer offset"),
	inventory.HistorySignedIn: message.M("Signed in"), inventory.HistorySignedOut: message.M("Signed out"),
	inventory.HistorySignedOutAll:     message.M("Signed out everywhere"),
	inventory.HistorySignRefused:      message.M("Wrong signature PIN"),
	inventory.HistoryClockConfirmed:   message.M("Clock confirmed"),
	inventory.HistoryLocked:           message.M("Sign-in delayed after wrong tries"),
	inventory.HistoryPersonAdded:      message.M("Person added"),
	inventory.HistoryPersonChanged:    message.M("Person changed"),
	inventory.HistorySecretSet:        message.M("PIN or password set"),
	inventory.HistoryTokenAdded:       message.M("Token created"),
	inventory.HistoryTokenRevoked:     message.M("Token revoked"),
	inventory.HistoryTerminalAdded:    message.M("Terminal added"),
	inventory.HistoryTerminalEnrolled: message.M("Terminal enrolled"),
	inventory.HistoryTerminalRevoked:  message.M("Terminal revoked"),
}

func historyRow(d inventory.HistoryEntry, zone string) HistoryRow {
	row := HistoryRow{At: whenAt(d.RecordedAt, inventory.Station{Timezone: zone}), By: d.By, From: d.From,
		What: historyWords[d.Kind], Person: d.Person, Detail: d.Detail}
	if row.What == nil {
		row.What = message.Plain(string(d.Kind))
	}
	if row.Person == row.By {
		row.Person = ""
	}
	row.Place, row.OtherPlace = inside(d.Place), inside(d.OtherPlace)
	if d.Kind != inventory.HistoryMovement && row.Place != "" {
		row.PlaceHref = "/b/" + url.PathEscape(row.Place)
	}
	if d.LotID != 0 {
		row.Lot = message.M("batch {1}##a number of ours", d.LotID)
		row.LotHref = "/lots/" + formatID(d.LotID)
	}
	return row
}

// inside is the code of a place of the service; what lies outside is no place for people.
func inside(code string) string {
	if inventory.OutsideCode(code) {
		return ""
	}
	return code
}
