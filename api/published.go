package api

import (
	"context"
	"io"
	"net/http"

	"github.com/danielgtaylor/huma/v2"

	"stowkeeper/inventory"
	"stowkeeper/inventory/lists"
	"stowkeeper/inventory/workbook"
)

type publishedLists struct {
	Data []lists.PublishedList `json:"data"`
}

func (s *server) listPublishedLists(ctx context.Context, _ *struct{}) (*plain[publishedLists], error) {
	all, err := s.svc.Lists.PublishedLists(by(ctx))
	return answer(publishedLists{append([]lists.PublishedList{}, all...)}, err)
}

type publishedCopy struct {
	List string `path:"list" maxLength:"60" doc:"Id of the published list"`
	Posted[lists.PublishedCopy]
}

func (s *server) copyPublishedList(ctx context.Context, in *publishedCopy) (inventory.KitList, error) {
	return s.svc.Lists.CopyPublished(ctx, by(ctx), in.List, in.Body)
}

func (s *server) exportWorkbook(ctx context.Context, _ *struct{}) (*file, error) {
	made, err := s.svc.Exchange.ExportFile(ctx, by(ctx), workbook.New)
	if err != nil {
		return nil, err
	}
	return &file{Disposition: `attachment; filename="stowkeeper.xlsx"`, Body: func(c huma.Context) {
		defer made.Close()
		c.SetStatus(http.StatusOK)
		_, _ = io.Copy(c.BodyWriter(), made) // who hung up needs no answer
	}}, nil
}
