package workbook_test

import (
	"archive/zip"
	"bytes"
	"io"
	"strconv"
	"strings"
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

// FuzzSheet reads whatever stands as the rows of a sheet, with texts kept apart: small inputs, in memory, so that
// thousands are tried in a second, where whole files are nearly all refused by their sums.
func FuzzSheet(f *testing.F) {
	f.Add(`<row r="2"><c r="A2" t="s"><v>0</v></c><c r="B2"><v>45000.5</v></c></row>`, `<si><t>a</t></si>`)
	f.Add(`<row><c t="inlineStr"><is><t>x</t></is></c><c t="b"><v>1</v></c><c t="e"/></row><row/>`, `<si><r><t/></r></si>`)
	f.Add(`<row r="9999999999"><c r="ZZZZ1" s="7"><f>A1</f><v>1e400</v></c></row>`, ``)
	f.Fuzz(func(t *testing.T, rows, texts string) {
		data := packed(t, rows, map[string]string{"xl/sharedStrings.xml": "<sst>" + texts + "</sst>"})
		read, err := read(t, data, "stock")
		if err == nil && len(read) > 0 {
			assert.NotNil(t, read[0].Cells)
		}
	})
}

// packed makes a workbook of one sheet, of rows after a first one, and with other parts that it is given. Long ones are
// written as one text so many times, and take next to nothing packed.
func packed(t testing.TB, rows string, other map[string]string) []byte {
	t.Helper()
	var buf bytes.Buffer
	sink := workbook.New(&buf)
	require.NoError(t, sink.Begin("stock", []table.Column{{Name: "a"}}))
	require.NoError(t, sink.Close())
	from, err := zip.NewReader(bytes.NewReader(buf.Bytes()), int64(buf.Len()))
	require.NoError(t, err)
	var out bytes.Buffer
	to := zip.NewWriter(&out)
	for _, part := range from.File {
		in, err := part.Open()
		require.NoError(t, err)
		text, err := io.ReadAll(in)
		require.NoError(t, err)
		w, err := to.Create(part.Name)
		require.NoError(t, err)
		_, err = w.Write(bytes.Replace(text, []byte("</sheetData>"), []byte(rows+"</sheetData>"), 1))
		require.NoError(t, err)
	}
	for name, text := range other {
		w, err := to.Create(name)
		require.NoError(t, err)
		_, err = io.WriteString(w, text)
		require.NoError(t, err)
	}
	require.NoError(t, to.Close())
	return out.Bytes()
}

// TestWorkbookThatWouldFillTheMemory: a few kilobytes that unpack to much are refused before the library beneath holds
// them, and told what to do.
func TestWorkbookThatWouldFillTheMemory(t *testing.T) {
	const m = 1 << 20
	for name, c := range map[string]struct {
		rows    string
		other   map[string]string
		refused bool
	}{
		"as people make them": {strings.Repeat(`<row><c t="inlineStr"><is><t>N1-STORE</t></is></c></row>`, 20*m/60),
			map[string]string{"xl/styles.xml": strings.Repeat(" ", m), "xl/sharedStrings.xml": strings.Repeat(" ", 7*m)},
			false},
		"with a prefix": {strings.Repeat(`<x:row r="2"></x:row>`, 4*m/20), nil, false},
		"styles":        {"", map[string]string{"xl/styles.xml": strings.Repeat("<xf/>", m)}, true},
		"texts":         {"", map[string]string{"xl/sharedStrings.xml": strings.Repeat("<si/>", 2*m)}, true},
		"texts twice": {"", map[string]string{"xl/SharedStrings.xml": strings.Repeat("<si/>", m),
			"sharedStrings.xml": strings.Repeat("<si/>", m)}, true},
		"a row":               {"<row>" + strings.Repeat("<c><v>1</v></c>", 4*m/15) + "</row>", nil, true},
		"a cell":              {"<row><c><v>" + strings.Repeat("1", 4*m), nil, true},
		"hidden rows":         {"<row>" + strings.Repeat("<c><v><!--<row>-->1</v></c>", 4*m/20) + "</row>", nil, true},
		"rows as text":        {"<row>" + strings.Repeat("<c><v>row </v></c>", 4*m/18) + "</row>", nil, true},
		"rows as other tags":  {"<row>" + strings.Repeat("<rows/>", 4*m/7) + "</row>", nil, true},
		"all of it":           {strings.Repeat("<row><c/></row>", 257*m/15), nil, true},
		"after the last row":  {"</sheetData>" + strings.Repeat("<mergeCell/>", 4*m/12), nil, true},
		"pictures and such":   {"", map[string]string{"xl/media/image1.png": strings.Repeat("0", 3*m)}, true},
		"sheets of no folder": {"", map[string]string{"xl/worksheets/more/sheet9.xml": strings.Repeat("<row/>", m)}, true},
	} {
		data := packed(t, c.rows, c.other)
		b, err := workbook.Open(bytes.NewReader(data), int64(len(data)))
		var bad *table.BadError
		if c.refused {
			require.ErrorAs(t, err, &bad, name)
			assert.Contains(t, bad.Fix, "save each sheet as CSV", name)
			continue
		}
		require.NoError(t, err, name)
		require.NoError(t, b.Close())
	}
}

// TestColumnNames: as a spreadsheet counts them.
func TestColumnNames(t *testing.T) {
	var buf bytes.Buffer
	sink := workbook.New(&buf)
	columns := make([]table.Column, 703)
	cells := make([]string, len(columns))
	for i := range cells {
		cells[i] = strconv.Itoa(i)
	}
	require.NoError(t, sink.Begin("wide", columns))
	require.NoError(t, sink.Add(cells))
	require.NoError(t, sink.Close())
	f, err := excelize.OpenReader(&buf)
	require.NoError(t, err)
	for at, want := range map[string]string{"A2": "0", "Z2": "25", "AA2": "26", "AZ2": "51", "ZZ2": "701", "AAA2": "702"} {
		got, err := f.GetCellValue("wide", at)
		require.NoError(t, err)
		assert.Equal(t, want, got, at)
	}
}
