package main

import (
	"archive/zip"
	"bytes"
	"fmt"
	"io"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stowkeeper/inventory/table"
	"stowkeeper/inventory/workbook"
)

// What one request may take over what the program needs at rest, and all of them together, in KiB.
const (
	mostOfOne = 64 << 10
	mostOfAll = 300 << 10

	spreadsheet = `xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main"`
)

// linkTo says in a workbook that it has such a part.
func linkTo(part string) string {
	const types = "http://schemas.openxmlformats.org/officeDocument/2006/relationships/"
	return fmt.Sprintf(`<Relationship Id="%s" Type="%s%[1]s" Target="%[1]s.xml"/>`, part, types)
}

// bombOf writes a workbook that unpacks to as much as is read at all, in one of its parts.
func bombOf(t *testing.T, name, rows, texts, styles string) string {
	path := filepath.Join(t.TempDir(), name+".xlsx")
	var book bytes.Buffer
	sink := workbook.New(&book)
	require.NoError(t, sink.Begin("stock", []table.Column{{Name: "place"}, {Name: "item"}, {Name: "qty"}}))
	require.NoError(t, sink.Close())
	from, err := zip.NewReader(bytes.NewReader(book.Bytes()), int64(book.Len()))
	require.NoError(t, err)
	file, err := os.Create(path)
	require.NoError(t, err)
	to := zip.NewWriter(file)
	add := func(name, text string) {
		w, err := to.Create(name)
		require.NoError(t, err)
		_, err = io.WriteString(w, text)
		require.NoError(t, err)
	}
	for _, part := range from.File {
		in, err := part.Open()
		require.NoError(t, err)
		text, err := io.ReadAll(in)
		require.NoError(t, err)
		add(part.Name, strings.NewReplacer("</sheetData>", rows+"</sheetData>", "</Relationships>",
			linkTo("sharedStrings")+linkTo("styles")+"</Relationships>").Replace(string(text)))
	}
	add("xl/sharedStrings.xml", "<sst "+spreadsheet+">"+texts+"</sst>")
	add("xl/styles.xml", "<styleSheet "+spreadsheet+"><cellXfs>"+styles+"</cellXfs></styleSheet>")
	require.NoError(t, to.Close())
	require.NoError(t, file.Close())
	return path
}

// TestMemoryOfWorkbooks: no workbook that comes from outside takes more memory than is allowed to one request.
func TestMemoryOfWorkbooks(t *testing.T) {
	db := smallDatabase(t)
	importing := func(path string) int {
		o, peak := watched(t, "import", "--db", db, "--dry-run", "stock", path)
		assert.NotContains(t, o.err, "panic")
		return peak
	}
	rest := importing(bombOf(t, "rest", "", "", ""))
	require.Positive(t, rest)
	const m = 1 << 20
	for name, path := range map[string]string{
		"a row":  bombOf(t, "row", "<row>"+strings.Repeat("<c><v>1</v></c>", 29*m/150)+"</row>", "", ""),
		"a cell": bombOf(t, "cell", "<row><c><v>"+strings.Repeat("1", 29*m/10)+"</v></c></row>", "", ""),
		"texts": bombOf(t, "texts", strings.Repeat(`<row><c t="s"><v>1</v></c></row>`, 10_000),
			strings.Repeat("<si><t>a</t></si>", 7*m/17), ""),
		"styles": bombOf(t, "styles", "", "", strings.Repeat(`<xf numFmtId="0"/>`, 19*m/180)),
	} {
		peak := importing(path)
		t.Logf("%s: %d KiB over %d at rest", name, peak-rest, rest)
		assert.Less(t, peak-rest, mostOfOne, name)
	}
}

// TestMemoryOfExports: eight people export at once. Two are served at a time, the others told when to come again, and
// what all of it takes is bounded.
func TestMemoryOfExports(t *testing.T) {
	db := smallDatabase(t)
	o, _ := watched(t, "import", "--db", db, "stock", openingRows(t, manyRows, manyRows, 0))
	require.Zero(t, o.code, "%s", o.err)
	token := strings.TrimSpace(succeed(t, "token", "--db", db, "create", "--role", "administrator", "--name", "export"))
	p := beginAs(t, demoBinary(t), servesLine, "serve", "--db", db, "--listen", "127.0.0.1:0")
	var wait sync.WaitGroup
	answers := make(chan string, 8)
	for range cap(answers) {
		wait.Go(func() {
			req, err := http.NewRequestWithContext(t.Context(), http.MethodGet, "http://"+p.address+"/api/v1/export.xlsx",
				http.NoBody)
			assert.NoError(t, err)
			req.Header.Set("Authorization", "Bearer "+token)
			res, err := http.DefaultClient.Do(req)
			if !assert.NoError(t, err) {
				return
			}
			defer res.Body.Close()
			n, err := io.Copy(io.Discard, res.Body)
			assert.NoError(t, err)
			if res.StatusCode == http.StatusOK {
				assert.Greater(t, n, int64(manyRows)*20, "the whole workbook")
			}
			answers <- fmt.Sprint(res.StatusCode, " ", res.Header.Get("Retry-After"))
		})
	}
	wait.Wait()
	close(answers)
	count := map[string]int{}
	for a := range answers {
		count[a]++
	}
	assert.GreaterOrEqual(t, count["200 "], 2, "%v", count)
	assert.Equal(t, cap(answers), count["200 "]+count["503 5"], "%v", count)
	peak := peakOf(p.cmd.Process.Pid)
	t.Logf("%v with %d KiB", count, peak)
	assert.Less(t, peak, mostOfAll)
	p.stop()
}
