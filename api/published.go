package api

import (
	"bytes"
	"context"
	"errors"

	"stowkeeper/inventory"
	"stowkeeper/inventory/lists"
	"stowkeeper/inventory/workbook"
)

type publishedLists struct {
	Data []inventory.PublishedList `json:"data"`
}

func (s *server) listPublishedLists(ctx context.Context, _ *struct{}) (*plain[publishedLists], error) {
	lists, err := s.svc.Lists.PublishedLists(by(ctx))
	return answer(publishedLists{append([]inventory.PublishedList{}, lists...)}, err)
}

type publishedCopy struct {
	List string `path:"list" maxLength:"60" doc:"Id of the published list"`
	Posted[lists.PublishedCopy]
}

func (s *server) copyPublishedList(ctx context.Context, in *publishedCopy) (inventory.KitList, error) {
	return s.svc.Lists.CopyPublished(ctx, by(ctx), in.List, in.Body)
}

// export makes the whole workbook before it is sent: one that fails half way is an error and not a short file.
func (s *server) exportWorkbook(ctx context.Context, _ *struct{}) (*file, error) {
	var buf bytes.Buffer
	book := workbook.New(&buf)
	if err := errors.Join(s.svc.Exchange.Export(ctx, by(ctx), book), book.Close()); err != nil {
		return nil, err
	}
	return &file{Disposition: `attachment; filename="stowkeeper.xlsx"`, Body: buf.Bytes()}, nil
}
