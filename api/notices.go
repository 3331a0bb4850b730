package api

import (
	"context"

	"stowkeeper/inventory"
	"stowkeeper/inventory/notice"
)

// NoticeFields are what people give of a notice. It means a batch when any of its numbers, its range or its window
// fits, and all of its item or product when none is given.
type NoticeFields struct {
	Reference string                 `json:"reference" maxLength:"60" doc:"The maker's or authority's reference"`
	Action    inventory.NoticeAction `json:"action" enum:"withdraw,inspect,inform" doc:"withdraw: stops units at once"`
	Item      string                 `json:"item,omitempty" doc:"Item code; optional where a product is named"`
	Product   int64                  `json:"product,omitempty" minimum:"0" doc:"Id; limits it to one trade pack"`
	inventory.NoticeScope
	Text string `json:"text,omitempty" maxLength:"2000"`
}

// createNotice answers with the whole story: what the notice means is what its sender wants to see first.
func (s *server) createNotice(ctx context.Context, in *Posted[NoticeFields]) (notice.NoticeStory, error) {
	b := in.Body
	n, err := s.svc.Notice.CreateNotice(ctx, by(ctx), inventory.Notice{Reference: b.Reference, Action: b.Action,
		Item: b.Item, Product: b.Product, NoticeScope: b.NoticeScope, Text: b.Text})
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
	return listByID(ctx, in.Paging, f, s.svc.Notice.Notices, func(n notice.NoticeSummary) int64 { return n.ID })
}

func (s *server) getNotice(ctx context.Context, in *ByID) (*plain[notice.NoticeStory], error) {
	return answer(s.svc.Notice.Notice(ctx, by(ctx), in.ID))
}

func (s *server) closeNotice(ctx context.Context, in *toID[Closing]) (notice.NoticeStory, error) {
	n, err := s.svc.Notice.CloseNotice(ctx, by(ctx), in.ID, in.Body.Reason)
	return s.noticeStory(ctx, n, err)
}

func (s *server) cancelNotice(ctx context.Context, in *toID[Closing]) (notice.NoticeStory, error) {
	n, err := s.svc.Notice.CancelNotice(ctx, by(ctx), in.ID, in.Body.Reason)
	return s.noticeStory(ctx, n, err)
}

type releaseBody struct {
	BatchID int64  `json:"batch_id" minimum:"1" doc:"One of the notice's batches"`
	Reason  string `json:"reason" maxLength:"2000" doc:"What was looked at, and what it showed"`
}

func (s *server) recordNoticeRelease(ctx context.Context, in *toID[releaseBody]) (notice.NoticeStory, error) {
	n, err := s.svc.Notice.Release(ctx, by(ctx), in.ID, in.Body.BatchID, in.Body.Reason)
	return s.noticeStory(ctx, n, err)
}

type wideningBody struct {
	inventory.NoticeScope
	Reason string `json:"reason,omitempty" maxLength:"2000" doc:"Who extended it, and how it was made known"`
}

func (s *server) changeNoticeScope(ctx context.Context, in *toID[wideningBody]) (notice.NoticeStory, error) {
	n, err := s.svc.Notice.Widen(ctx, by(ctx), in.ID, in.Body.NoticeScope, in.Body.Reason)
	return s.noticeStory(ctx, n, err)
}

type stationAnswerBody struct {
	Station string `json:"station" doc:"Station code"`
	Held    int    `json:"held" minimum:"0" maximum:"1000000" doc:"Units that it holds, as counted; 0 for none"`
	Note    string `json:"note,omitempty" maxLength:"2000"`
}

func (s *server) recordNoticeAnswer(ctx context.Context, in *toID[stationAnswerBody]) (notice.NoticeStory, error) {
	n, err := s.svc.Notice.Answer(ctx, by(ctx), in.ID, in.Body.Station, in.Body.Held, in.Body.Note)
	return s.noticeStory(ctx, n, err)
}

type supplierReplyBody struct {
	Text string `json:"text" maxLength:"2000" doc:"What the supplier said, by whom and when"`
}

func (s *server) keepSupplierReply(ctx context.Context, in *toID[supplierReplyBody]) (notice.NoticeStory, error) {
	n, err := s.svc.Notice.Reply(ctx, by(ctx), in.ID, in.Body.Text)
	return s.noticeStory(ctx, n, err)
}
