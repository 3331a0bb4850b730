package web

import (
	"context"

	"stowkeeper/inventory"
	"stowkeeper/inventory/message"
	"stowkeeper/inventory/notice"
	"stowkeeper/inventory/stock"
)

type noticePage struct {
	Base
	notice.NoticeStory
	Name          string
	Product, Word message.Message
	Means         []message.Message
	Issued, Ended When
	Pull          []PullRow
	Held          []HeldRow
	Used          []UsedRow
	Might         []HeldRow
	WillStop      []HeldRow
	Reason        Field
	Pulled        *Done
	Wrong         []StepRow // what was mistyped of the batches that it means

	Signing                   bool // a controlled item: two people sign for what is pulled
	Inspecting                bool // devices are to be inspected rather than pulled
	MayKeep, MayClose, IsOver bool
	Steps                     NoticeSteps
}

// PullRow is a place to pull from, all lots there together.
type PullRow struct {
	Place, Href string
	Name, To    string // names of the place, and of the quarantine that is pulled into
	Priority    int
	Station     string
	Qty         int
	Lots        []HeldRow
	Mine        bool // at one of the person's stations
}

// HeldRow is a quantity of a lot in a place.
type HeldRow struct {
	notice.HeldUnits
	Label           message.Message
	Href, PlaceHref string
	Name            string // the place's
	At              string // the station's name, where it is not one of the person's
	Inspect         string // the way to the inspection of a device
}

// UsedRow is a past use of the batch.
type UsedRow struct {
	stock.UsedUnits
	When  When
	Label message.Message
	Href  string
}

func (s *server) noticePage(v *visit, f *form, failed error) error {
	n, err := s.svc.Notice.Notice(v.ctx(), v.actor, paramID(v, "notice"))
	if err != nil {
		return notFound(err)
	}
	p, err := s.noticeView(v, n)
	if err != nil {
		return err
	}
	p.Base = Base{Title: message.M("Notice {1}", n.Reference), Caution: true}
	p.MayKeep = v.may(inventory.ActKeepStock)
	p.IsOver = n.Status == inventory.NoticeCancelled
	p.MayClose = n.Status == inventory.NoticeOpen && n.Outstanding == 0
	p.Reason = f.field("reason", message.M("Reason")).Need()
	p.addSteps(v, f)
	p.Pulled = pulledDone(v, n)
	p.Wrong = correctionRows(n.Corrections, v.ownStation())
	for i, c := range n.Corrections {
		p.Wrong[i].Text = message.M("{1} was {2}", lotLabel(c.New.BatchNo, c.New.Serial), p.Wrong[i].Text)
	}
	return s.renderForm(v, f, p, failed)
}

// noticeView words a notice's story, one that is issued or one being looked at before it is.
func (s *server) noticeView(v *visit, n notice.NoticeStory) (*noticePage, error) {
	it, err := s.svc.Lists.Item(v.ctx(), v.actor, n.Item)
	if err != nil {
		return nil, err
	}
	station := v.ownStation()
	p := &noticePage{NoticeStory: n, Name: it.Name, Word: noticeWord(n.Notice), Means: noticeMeans(n.NoticeScope),
		Issued: whenAt(n.IssuedAt, station), Ended: whenAt(n.EndedAt, station),
		Inspecting: n.Action == inventory.NoticeInspect, Signing: it.Controlled}
	if p.Product, err = s.productText(v, n.Product, it); err != nil {
		return nil, err
	}
	called := v.called()
	for _, u := range n.PullFrom {
		p.addPull(v, u, called)
	}
	for _, u := range n.Held {
		p.Held = append(p.Held, heldRow(v, u, called))
	}
	for _, u := range n.MightBe {
		p.Might = append(p.Might, heldRow(v, u, called))
	}
	for _, b := range n.Stops {
		p.WillStop = append(p.WillStop, heldRow(v, notice.HeldUnits{Place: b.Code, Kind: inventory.KindBag,
			Station: b.AtStation}, called))
	}
	for _, u := range n.Incidents {
		p.Used = append(p.Used, usedRow(u, station))
	}
	return p, nil
}

// addPull adds units to the row of their place. They come in order of priority, those of one place together.
func (p *noticePage) addPull(v *visit, u notice.HeldUnits, called names) {
	row := heldRow(v, u, called)
	if n := len(p.Pull); n == 0 || p.Pull[n-1].Place != u.Place {
		p.Pull = append(p.Pull, PullRow{Place: u.Place, Href: row.PlaceHref, Name: row.Name, To: called.place(u.To),
			Priority: u.Priority, Station: called.station(u.Station), Mine: v.actor.At(u.Station)})
	}
	last := &p.Pull[len(p.Pull)-1]
	last.Qty += u.Qty
	last.Lots = append(last.Lots, row)
}

// heldRow words a quantity in a place. Places at other stations lead nowhere.
func heldRow(v *visit, u notice.HeldUnits, called names) HeldRow {
	row := HeldRow{HeldUnits: u, Label: lotLabel(u.BatchNo, u.Serial), Name: called.places[u.Place]}
	if !v.actor.At(u.Station) {
		row.At = called.station(u.Station)
		return row
	}
	row.Href = "/lots/" + formatID(u.LotID)
	row.PlaceHref = placePath(inventory.Place{Code: u.Place, Kind: u.Kind})
	if u.Serial != "" {
		row.Href = devicePath(u.LotID)
		if v.may(inventory.ActCheck) {
			row.Inspect = row.Href + "/inspect"
		}
	}
	return row
}

func usedRow(u stock.UsedUnits, station inventory.Station) UsedRow {
	return UsedRow{UsedUnits: u, When: whenAt(u.HappenedAt, station), Label: lotLabel(u.BatchNo, u.Serial),
		Href: "/lots/" + formatID(u.LotID)}
}

func (s *server) productText(v *visit, id int64, it inventory.Item) (message.Message, error) {
	if id == 0 {
		return nil, nil
	}
	products, err := s.svc.Lists.Products(v.ctx(), v.actor, inventory.ProductFilter{Item: it.Code}, inventory.Page{})
	for _, o := range productOptions(products, []inventory.Item{it}) {
		if o.Value == formatID(id) {
			return o.Text, err
		}
	}
	return nil, err
}

// pullUnits moves all that is outstanding in one place into its quarantine.
func (s *server) pullUnits(v *visit, f *form) error {
	id := paramID(v, "notice")
	err := s.record(v, f, func(ctx context.Context, by inventory.Actor, _ string) (string, error) {
		done, err := s.svc.Notice.Pull(ctx, by, id, f.text("place"))
		if err != nil {
			return "", err
		}
		return noticePath(id) + "?done=pulled-" + formatID(done[0].ID), nil
	})
	f.values.Del("key")
	return notFound(err)
}

// pulledDone says what was pulled a moment ago, where the address says that something was.
func pulledDone(v *visit, n notice.NoticeStory) *Done {
	if kind, _ := doneParam(v); kind != "pulled" {
		return nil
	}
	d := &Done{Title: message.M("Pulled into quarantine"),
		Text: message.M("Put the units there now. {1} {1|unit|units} left to pull.", n.Outstanding)}
	if n.Outstanding == 0 {
		d.Text = message.M("Put the units there now. None left to pull.")
	}
	return d
}

func (s *server) endNotice(v *visit, f *form) error {
	id := paramID(v, "notice")
	end := s.svc.Notice.CloseNotice
	if f.text("how") == "cancel" {
		end = s.svc.Notice.CancelNotice
	}
	return notFound(v.once(func(ctx context.Context, _ string) (string, error) {
		_, err := end(ctx, v.actor, id, f.text("reason"))
		return noticePath(id), err
	}))
}
