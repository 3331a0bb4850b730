package api

import (
	"context"

	"stowkeeper/inventory"
	"stowkeeper/inventory/notice"
)

// NoticeFields are what people give of a notice. It means a batch when any of
// its numbers, its range or its window fits, and all of its item or product
// when none is given.
type NoticeFields struct {
	Reference  string                 `json:"reference" maxLength:"60" doc:"The maker's or authority's reference"`
	Action     inventory.NoticeAction `json:"action" enum:"withdraw,inspect,inform" doc:"withdraw: stops units at once"`
	Item       string                 `json:"item,omitempty" doc:"Item code; may be left out where a product is named"`
	Product    int64                  `json:"product,omitempty" minimum:"0" doc:"Id; limits it to one trade pack"`
	BatchNos   []string               `json:"batch_nos,omitempty" maxItems:"1000" doc:"Case and blanks do not count"`
	Serials    []string               `json:"serials,omitempty" maxItems:"10000" doc:"Serial numbers"`
	SerialFrom string                 `json:"serial_from,omitempty" maxLength:"40" doc:"Of a range; A9 comes before A10"`
	SerialTo   string                 `json:"serial_to,omitempty" maxLength:"40" doc:"Last serial number of a range"`
	MadeFrom   inventory.Day          `json:"made_from,omitempty" format:"date" doc:"First day of a window of manufacture"`
	MadeTo     inventory.Day          `json:"made_to,omitempty" format:"date" doc:"Last day of it"`
	Text       string                 `json:"text,omitempty" maxLength:"2000"`
}

// createNotice answers with the whole story: what the notice means is what its
// sender wants to see first.
func (s *server) createNotice(ctx context.Context, in *Posted[NoticeFields]) (notice.NoticeStory, error) {
	b := in.Body
	n, err := s.svc.Notice.CreateNotice(ctx, by(ctx), inventory.Notice{Reference: b.Reference, Action: b.Action,
		Item: b.Item, Product: b.Product, BatchNos: b.BatchNos, Serials: b.Serials, SerialFrom: b.SerialFrom,
		SerialTo: b.SerialTo, MadeFrom: b.MadeFrom, MadeTo: b.MadeTo, Text: b.Text})
	return s.noticeStory(ctx, n, err)
}

func (s *server) noticeStory(ctx context.Context, n inventory.Notice, err error) (notice.NoticeStory, error) {
	if err != nil {
		return notice.NoticeStory{}, err
	}
	return s.svc.Notice.Notice(ctx, by(ctx).WithoutScope(), n.ID)
}

type noticeQuery struct {
	Paging
	Item   string `query:"item" doc:"Item code"`
	Status string `query:"status" enum:"open,closed,cancelled"`
}

func (s *server) listNotices(ctx context.Context, in *noticeQuery) (*listed[notice.NoticeSummary], error) {
	f := inventory.NoticeFilter{Item: inventory.NormalCode(in.Item), Status: inventory.NoticeStatus(in.Status)}
	return listByID(in.Paging, func(n notice.NoticeSummary) int64 { return n.ID },
		func(page inventory.Page) ([]notice.NoticeSummary, error) {
			return s.svc.Notice.Notices(ctx, by(ctx), f, page)
		})
}

func (s *server) getNotice(ctx context.Context, in *ByID) (*plain[notice.NoticeStory], error) {
	return answer(s.svc.Notice.Notice(ctx, by(ctx), in.ID))
}

type noticeEnd struct {
	ByID
	Posted[Closing]
}

func (s *server) closeNotice(ctx context.Context, in *noticeEnd) (notice.NoticeStory, error) {
	n, err := s.svc.Notice.CloseNotice(ctx, by(ctx), in.ID, in.Body.Reason)
	return s.noticeStory(ctx, n, err)
}

func (s *server) cancelNotice(ctx context.Context, in *noticeEnd) (notice.NoticeStory, error) {
	n, err := s.svc.Notice.CancelNotice(ctx, by(ctx), in.ID, in.Body.Reason)
	return s.noticeStory(ctx, n, err)
}
