package table_test

import (
	"bytes"
	"io"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stowkeeper/inventory/table"
)

// read reads a CSV text to its end.
func read(text string) ([]table.Row, error) {
	rows, err := table.CSV{Name: "t", Data: strings.NewReader(text), Size: int64(len(text))}.Open("t")
	if err != nil {
		return nil, err
	}
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

// TestCSV reads what spreadsheets write, and counts rows as they do.
func TestCSV(t *testing.T) {
	rows, err := read("\ufeffa;b\r\n\r\n\"two\nlines; and \"\"marks\"\"\";2,5\r\n;\r\nlast;1\r\n")
	require.NoError(t, err)
	var got [][]any
	for _, r := range rows {
		got = append(got, []any{r.Number, r.Cells[0].Text, r.Cells[1].Text})
	}
	assert.Equal(t, [][]any{{1, "a", "b"}, {3, "two\nlines; and \"marks\"", "2,5"}, {5, "last", "1"}}, got)
	for text, says := range map[string]string{
		"a,b\n1,\"2\n":                   "row 2",
		"a,b\n1,2\"3\n":                  "row 2: put quotation marks",
		"\xff\xfea\x00":                  "UTF-8",
		"a\n\xe9\n":                      "row 2",
		"PK\x03\x04":                     "xlsx",
		strings.Repeat("a,", 200) + "\n": "100 columns",
		"a\n" + strings.Repeat("x", 30000) + "\n": "20000 bytes",
	} {
		_, err := read(text)
		require.Error(t, err, "%.20q", text)
		assert.Contains(t, err.Error(), says)
	}
}

// TestDefuse has no text run as a formula, and every text come back.
func TestDefuse(t *testing.T) {
	for _, s := range []string{"=1+1", "+4", "-4a", "-", "@a", "\tx", "\rx", "＝1", "'=1", "''=1"} {
		assert.Equal(t, "'"+s, table.Defuse(s))
		assert.Equal(t, s, table.Arm(table.Defuse(s)))
	}
	for _, s := range []string{"", "a=1", "'a", "'", "12", "-4", "'-4"} {
		assert.Equal(t, s, table.Defuse(s))
		assert.Equal(t, s, table.Arm(s))
	}
}

// TestFolder writes into new folders only, and no name leads out of one.
func TestFolder(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "out")
	sink, err := table.NewFolder(dir)
	require.NoError(t, err)
	require.Error(t, sink.Begin("../up", nil))
	require.Error(t, sink.Note("a/b", ""))
	require.NoError(t, sink.Begin("items", []table.Column{{Name: "code"}}))
	require.NoError(t, sink.Add([]string{"=A,\"1\""}))
	require.NoError(t, sink.Close())
	text, err := os.ReadFile(filepath.Join(dir, "items.csv"))
	require.NoError(t, err)
	assert.Equal(t, "code\r\n\"'=A,\"\"1\"\"\"\r\n", string(text))
	_, err = table.NewFolder(dir)
	require.ErrorContains(t, err, "new or empty")
	assert.Equal(t, []string{"items"}, table.Folder{Dir: dir, Names: []string{"items", "bags"}}.Tables())
	_, err = table.Folder{Dir: dir}.Open("../out/items")
	require.Error(t, err)
}

// FuzzCSV reads whatever comes: it never panics, rows are in order, and what is
// written defused and read again is the same.
func FuzzCSV(f *testing.F) {
	f.Add([]byte("a;b\r\n\"x\n\";'=1\r\n"))
	f.Add([]byte("\ufeffa,b\n\n1,2\n"))
	f.Fuzz(func(t *testing.T, data []byte) {
		rows, err := table.CSV{Name: "t", Data: bytes.NewReader(data), Size: int64(len(data))}.Open("t")
		if err != nil {
			return
		}
		last := 0
		for {
			row, err := rows.Next()
			if err != nil {
				return
			}
			if row.Number <= last {
				t.Fatalf("row %d after row %d", row.Number, last)
			}
			last = row.Number
			for _, c := range row.Cells {
				if got := table.Arm(table.Defuse(c.Text)); got != c.Text {
					t.Fatalf("%q came back as %q", c.Text, got)
				}
			}
		}
	})
}
