package web

import (
	"bytes"
	"errors"
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
	var buf bytes.Buffer
	return s.export(v, workbook.New(&buf), &buf, xlsxType, "stowkeeper.xlsx")
}

func (s *server) exportZip(v *visit) error {
	var buf bytes.Buffer
	return s.export(v, table.NewZip(&buf), &buf, zipType, "stowkeeper.zip")
}

// export makes the whole file before any of it is sent, so that one that fails half way is not taken for all.
func (s *server) export(v *visit, sink table.Sink, buf *bytes.Buffer, contentType, name string) error {
	if err := errors.Join(s.svc.Exchange.Export(v.ctx(), v.actor, sink), sink.Close()); err != nil {
		return err
	}
	v.Header("Content-Disposition", `attachment; filename="`+name+`"`)
	v.Data(http.StatusOK, contentType, buf.Bytes())
	return nil
}
