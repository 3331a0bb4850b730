package web

import (
	"context"
	"net/url"
	"strings"

	"stowkeeper/inventory"
	"stowkeeper/inventory/message"
	"stowkeeper/inventory/notice"
)

type noticeNewPage struct {
	Base
	Reference, Action, Item, Product, BatchNos, Serials Field
	SerialFrom, SerialTo, MadeFrom, MadeTo, Text        Field
	Hits                                                *noticePage // what it would hit, once asked
	Shown                                               string      // what the hits were shown for
	RangeOpen, NotAsShown                               bool
}

var noticeActionOptions = []Option{
	{Value: string(inventory.NoticeWithdraw), Text: message.M("Withdraw: pull all units")},
	{Value: string(inventory.NoticeInspect), Text: message.M("Inspect: check every device")},
	{Value: string(inventory.NoticeInform), Text: message.M("Inform only")},
}

func (s *server) newNoticeForm(v *visit, f *form, failed error) error {
	return s.newNotice(v, f, nil, failed)
}

// issueNotice issues a notice. What it hits is shown first; a form that was
// changed since it was shown is shown again.
func (s *server) issueNotice(v *visit, f *form) error {
	in := readNotice(f)
	if err := f.err(); err != nil {
		return err
	}
	f.names = func(path string) string {
		path, _, _ = strings.Cut(path, "[")
		return path
	}
	if f.text("shown") != noticeHash(f.values) {
		hits, err := s.svc.Notice.PreviewNotice(v.ctx(), v.actor, in)
		if err != nil {
			return err
		}
		return s.newNotice(v, f, &hits, nil)
	}
	return v.once(func(ctx context.Context, _ string) (string, error) {
		n, err := s.svc.Notice.CreateNotice(ctx, v.actor, in)
		return noticePath(n.ID), err
	})
}

// noticeFields are the fields that say what a notice is.
var noticeFields = []string{"reference", "action", "item", "product", "batch_nos", "serials", "serial_from",
	"serial_to", "made_from", "made_to", "text"}

func noticeHash(values url.Values) string {
	only := url.Values{}
	for _, name := range noticeFields {
		only.Set(name, strings.TrimSpace(values.Get(name)))
	}
	return formHash(only)
}

func readNotice(f *form) inventory.Notice {
	return inventory.Notice{Reference: f.text("reference"), Action: inventory.NoticeAction(f.text("action")),
		Item: f.text("item"), Product: f.id("product"), NoticeScope: inventory.NoticeScope{BatchNos: f.lines("batch_nos"),
			Serials: f.lines("serials"), SerialFrom: f.text("serial_from"), SerialTo: f.text("serial_to"),
			MadeFrom: f.day("made_from"), MadeTo: f.day("made_to")}, Text: f.text("text")}
}

// lines returns the lines of a text that are not blank.
func (f *form) lines(name string) []string {
	var out []string
	for line := range strings.Lines(f.values.Get(name)) {
		if line = strings.TrimSpace(line); line != "" {
			out = append(out, line)
		}
	}
	return out
}

func (s *server) newNotice(v *visit, f *form, hits *notice.NoticeStory, failed error) error {
	items := v.items()
	p := &noticeNewPage{Base: Base{Title: message.M("New notice"), Caution: true}}
	p.Reference = f.field("reference", message.M("Reference")).Need().WithHint(message.M("The maker's or authority's"))
	p.Action = f.choice("action", message.M("Action"), noticeActionOptions).Need()
	p.Item = f.choice("item", message.M("Item"), itemOptions(items, inventory.KitList{})).
		WithHint(message.M("Or a product below"))
	p.Product = f.choice("product", message.M("Product"), productOptions(v.products(), items))
	p.BatchNos = f.area("batch_nos", message.M("Batch numbers")).WithHint(message.M("One per line"))
	p.Serials = f.area("serials", message.M("Serial numbers"))
	p.SerialFrom = f.field("serial_from", message.M("Serial numbers from"))
	p.SerialTo = f.field("serial_to", message.M("Serial numbers to"))
	p.MadeFrom = f.dateField("made_from", message.M("Made from"))
	p.MadeTo = f.dateField("made_to", message.M("Made to"))
	p.Text = f.area("text", message.M("Text"))
	for _, x := range []Field{p.SerialFrom, p.SerialTo, p.MadeFrom, p.MadeTo} {
		p.RangeOpen = p.RangeOpen || x.Value != "" || x.Fix != nil
	}
	if hits != nil {
		p.NotAsShown = f.text("shown") != ""
		p.Shown = noticeHash(f.values)
		var err error
		if p.Hits, err = s.noticeView(v, *hits); err != nil {
			return err
		}
	}
	return s.renderForm(v, f, p, failed)
}
