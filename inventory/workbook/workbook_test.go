package workbook_test

import (
	"bytes"
	"io"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"github.com/xuri/excelize/v2"

	"stowkeeper/inventory/table"
	"stowkeeper/inventory/workbook"
)

func read(t testing.TB, data []byte, sheet string) ([]table.Row, error) {
	b, err := workbook.Open(bytes.NewReader(data), int64(len(data)))
	if err != nil {
		return nil, err
	}
	defer b.Close()
	rows, err := b.Open(sheet)
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	var out []table.Row
	for {
		row, err := rows.Next()
		if err == io.EOF {
			return out, nil
		}
		if err != nil {
			return out, err
		}
		out = append(out, row)
	}
}

// TestDates tells months from days by what a cell shows, numbers from dates,
// and writes long codes in digits.
func TestDates(t *testing.T) {
	f := excelize.NewFile()
	june := time.Date(2027, 6, 1, 0, 0, 0, 0, time.UTC)
	for cell, format := range map[string]string{"A2": "mmm-yy", "B2": "dd/mm/yyyy", "C2": "yyyy-mm", "D2": "0.00"} {
		style, err := f.NewStyle(&excelize.Style{CustomNumFmt: &format})
		require.NoError(t, err)
		require.NoError(t, f.SetCellValue("Sheet1", cell, june))
		require.NoError(t, f.SetCellStyle("Sheet1", cell, cell, style))
	}
	require.NoError(t, f.SetSheetRow("Sheet1", "A1", &[]string{"a", "b", "c", "d", "e", "f", "g"}))
	short, err := f.NewStyle(&excelize.Style{NumFmt: 14})
	require.NoError(t, err)
	require.NoError(t, f.SetCellValue("Sheet1", "E2", june))
	require.NoError(t, f.SetCellStyle("Sheet1", "E2", "E2", short))
	require.NoError(t, f.SetCellValue("Sheet1", "F2", 9520000000012))
	require.NoError(t, f.SetCellFormula("Sheet1", "G2", "=1+1"))
	var buf bytes.Buffer
	require.NoError(t, f.Write(&buf))

	rows, err := read(t, buf.Bytes(), "sheet1")
	require.NoError(t, err)
	require.Len(t, rows, 2)
	var dates []string
	for _, c := range rows[1].Cells {
		dates = append(dates, c.Date)
	}
	assert.Equal(t, []string{"2027-06", "2027-06-01", "2027-06", "", "2027-06-01", ""}, dates[:6])
	assert.Equal(t, "9520000000012", rows[1].Cells[5].Text)
}

// TestRoundTrip reads what it wrote, whatever stands in the cells.
func TestRoundTrip(t *testing.T) {
	var buf bytes.Buffer
	sink := workbook.New(&buf)
	cells := []string{"=1+1", "007", "12", "<script>alert(1)</script>", "a\nb", "'=x", "_x0041_", " x "}
	columns := make([]table.Column, len(cells))
	for i := range columns {
		columns[i] = table.Column{Name: "c", Number: i == 2}
	}
	require.NoError(t, sink.Begin("kit-lists", columns))
	require.NoError(t, sink.Add(cells))
	require.NoError(t, sink.Note("README", "=not\nrun"))
	require.NoError(t, sink.Close())
	rows, err := read(t, buf.Bytes(), "kit-lists")
	require.NoError(t, err)
	require.Len(t, rows, 2)
	for i, c := range rows[1].Cells {
		assert.Equal(t, cells[i], table.Arm(c.Text), i)
	}
	rows, err = read(t, buf.Bytes(), "readme")
	require.NoError(t, err)
	assert.Equal(t, "'=not", rows[0].Cells[0].Text)
}

// FuzzWorkbook opens whatever comes and reads each sheet of what opens.
func FuzzWorkbook(f *testing.F) {
	var buf bytes.Buffer
	sink := workbook.New(&buf)
	require.NoError(f, sink.Begin("items", []table.Column{{Name: "code"}, {Name: "qty", Number: true}}))
	require.NoError(f, sink.Add([]string{"A", "4"}))
	require.NoError(f, sink.Close())
	f.Add(buf.Bytes())
	f.Add([]byte("PK\x03\x04"))
	f.Fuzz(func(t *testing.T, data []byte) {
		b, err := workbook.Open(bytes.NewReader(data), int64(len(data)))
		if err != nil {
			return
		}
		for _, name := range b.Tables() {
			_, _ = read(t, data, name) // an error is an answer
		}
		if err := b.Close(); err != nil {
			t.Fatal(err)
		}
	})
}
