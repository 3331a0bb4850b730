package web

import (
	"io"
	"net/http"

	"stowkeeper/inventory/message"
	"stowkeeper/inventory/table"
	"stowkeeper/inventory/workbook"
)

type exportsPage struct{ Base }

func (s *server) showExports(v *visit) error {
	return s.render(v, http.StatusOK, &exportsPage{Base{Title: message.M("Export")}})
}

const (
	xlsxType = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"
	zipType  = "application/zip"
)

func (s *server) exportXLSX(v *visit) error {
	return s.export(v, workbook.New, xlsxType, "stowkeeper.xlsx")
}

func (s *server) exportZip(v *visit) error {
	return s.export(v, table.NewZip, zipType, "stowkeeper.zip")
}

func (s *server) export(v *visit, sink func(io.Writer) table.Sink, contentType, name string) error {
	made, err := s.svc.Exchange.ExportFile(v.ctx(), v.actor, sink)
	if err != nil {
		return err
	}
	defer made.Close()
	v.DataFromReader(http.StatusOK, made.Size, contentType, made,
		map[string]string{"Content-Disposition": `attachment; filename="` + name + `"`})
	return nil
}
