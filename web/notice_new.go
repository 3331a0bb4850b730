package web

import (
	"context"
	"net/url"
	"strings"

	"stowkeeper/inventory"
	"stowkeeper/inventory/notice"
)

type noticeNewPage struct {
	Base
	Form                    Form
	Reference, Action, Item Field
	Product                 Field
	BatchNos, Serials       Field
	SerialFrom, SerialTo    Field
	MadeFrom, MadeTo        Field
	Text                    Field
	Hits                    *noticePage // what it would hit, once asked
	Shown                   string      // what the hits were shown for
	RangeOpen, NotAsShown   bool
}

var noticeActionOptions = []Option{
	{Value: string(inventory.NoticeWithdraw), Text: "Withdraw: unusable at once, pull every unit"},
	{Value: string(inventory.NoticeInspect), Text: "Inspect: look at every device"},
	{Value: string(inventory.NoticeInform), Text: "Inform: know about it"},
}

func (s *server) showNewNotice(v *visit) error { return s.newNoticeForm(v, openForm(nil), nil, nil) }

// issueNotice issues a notice. What it hits is shown first; a form that was
// changed since it was shown is shown again.
func (s *server) issueNotice(v *visit) error {
	f := openForm(v.Request.PostForm)
	in := readNotice(f)
	err := f.err()
	if err == nil && f.text("shown") != noticeHash(f.values) {
		var hits notice.NoticeStory
		if hits, err = s.svc.Notice.PreviewNotice(v.ctx(), v.actor, in); err == nil {
			return s.newNoticeForm(v, f, &hits, nil)
		}
	} else if err == nil {
		err = v.once(func(ctx context.Context, _ string) (string, error) {
			n, err := s.svc.Notice.CreateNotice(ctx, v.actor, in)
			return noticePath(n.ID), err
		})
	}
	return f.fix(v, err, func(path string) string {
		path, _, _ = strings.Cut(path, "[")
		return path
	}, func(v *visit, f *form, err error) error { return s.newNoticeForm(v, f, nil, err) })
}

// noticeFields are the fields that say what a notice is.
var noticeFields = []string{"reference", "action", "item", "product", "batch_nos", "serials", "serial_from",
	"serial_to", "made_from", "made_to", "text"}

// noticeHash stands for the values of a notice's fields.
func noticeHash(values url.Values) string {
	only := url.Values{}
	for _, name := range noticeFields {
		only.Set(name, strings.TrimSpace(values.Get(name)))
	}
	return formHash(only)
}

func readNotice(f *form) inventory.Notice {
	return inventory.Notice{Reference: f.text("reference"), Action: inventory.NoticeAction(f.text("action")),
		Item: f.text("item"), Product: f.id("product"), BatchNos: f.lines("batch_nos"), Serials: f.lines("serials"),
		SerialFrom: f.text("serial_from"), SerialTo: f.text("serial_to"), MadeFrom: f.day("made_from"),
		MadeTo: f.day("made_to"), Text: f.text("text")}
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

func (s *server) newNoticeForm(v *visit, f *form, hits *notice.NoticeStory, failed error) error {
	items := v.items()
	p := &noticeNewPage{Base: Base{Title: "New notice", Caution: true}}
	p.Reference = f.field("reference", "Reference").Need().WithHint("The maker's or authority's own.")
	p.Action = f.choice("action", "What it asks for", noticeActionOptions).Need()
	p.Item = f.choice("item", "Item", itemOptions(items, inventory.KitList{})).
		WithHint("Or choose one of its products below.")
	p.Product = f.choice("product", "Only this product", productOptions(v.products(), items))
	p.BatchNos = f.area("batch_nos", "Batch numbers, one a line").WithHint("As printed. Blanks and case do not matter.")
	p.Serials = f.area("serials", "Serial numbers, one a line")
	p.SerialFrom = f.field("serial_from", "Serial numbers from")
	p.SerialTo = f.field("serial_to", "to")
	p.MadeFrom = f.dateField("made_from", "Made from")
	p.MadeTo = f.dateField("made_to", "to")
	p.Text = f.area("text", "What it says")
	for _, x := range []Field{p.SerialFrom, p.SerialTo, p.MadeFrom, p.MadeTo} {
		p.RangeOpen = p.RangeOpen || x.Value != "" || x.Fix != ""
	}
	if hits != nil {
		p.NotAsShown = f.text("shown") != ""
		p.Shown = noticeHash(f.values)
		var err error
		if p.Hits, err = s.noticeView(v, *hits); err != nil {
			return err
		}
	}
	p.Form = f.state(failed, f.keyOr(newKey), 0)
	return s.render(v, statusOf(failed), p)
}
