package main

import (
	"bytes"
	"context"
	"fmt"
	"os"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stowkeeper/inventory/exchange"
	"stowkeeper/inventory/inventorytest"
)

// manyRows is as many as a large service has, in the long run; else a fifth.
var manyRows = map[bool]int{false: 10_000, true: 50_000}[inventorytest.Long]

const (
	mostMemory  = 200 << 10 // KiB
	openingHead = "place;item;batch no;end printed;qty\n"
)

// openingRows writes so many rows of opening stock, of so many batches, one of
// which names an item that there is not.
func openingRows(t *testing.T, n, batches, bad int) string {
	path := filepath.Join(t.TempDir(), "opening.csv")
	var b strings.Builder
	b.WriteString("\ufeff" + openingHead)
	for i := range n {
		item := "GAUZE"
		if i+2 == bad {
			item = "GAUSE"
		}
		fmt.Fprintf(&b, "N1-STORE;%s;B%06d;2099-%02d;10,0\n", item, i%batches, 1+i%batches%12)
	}
	require.NoError(t, os.WriteFile(path, []byte(b.String()), 0o600))
	return path
}

// TestImportManyRows runs the program by itself, without the race detector, on
// a file as long as a large service's: all of it goes in, in one transaction
// with its progress shown, and memory stays small. One bad row keeps all out.
func TestImportManyRows(t *testing.T) {
	db := smallDatabase(t)
	o, peak := watched(t, "import", "--db", db, "stock", openingRows(t, manyRows, 500, manyRows)) // few batches, for speed
	assert.Equal(t, 1, o.code)
	assert.Regexp(t, regexp.MustCompile(fmt.Sprintf(
		`stock +%d +refused +GAUSE in N1-STORE +item +GAUSE +not found`, manyRows)), o.out)
	assert.Contains(t, o.out, fmt.Sprintf("refused, nothing was changed: %d rows", manyRows))
	assert.Contains(t, stowkeeper(t, "verify", "--db", db).out, "0 stock records, 0 balances")
	t.Logf("refused with %d KiB", peak)
	assert.Less(t, peak, mostMemory)

	o, peak = watched(t, "import", "--db", db, "stock", openingRows(t, manyRows, manyRows, 0))
	require.Zero(t, o.code, "%s", o.err)
	assert.Contains(t, o.out, fmt.Sprintf("imported: %d rows, %[1]d created", manyRows))
	assert.Contains(t, o.err, fmt.Sprintf("\n%d of %d rows", manyRows/2, manyRows), "progress")
	t.Logf("imported with %d KiB", peak)
	assert.Less(t, peak, mostMemory)
}

// watched runs the program, built without the detector, and returns the most
// memory that it held at a time in KiB, 0 where the system does not tell.
func watched(t *testing.T, args ...string) (outcome, int) {
	t.Helper()
	cmd := command(context.Background(), "1", args...)
	cmd.Path = demoBinary(t)
	var out, err bytes.Buffer
	cmd.Stdout, cmd.Stderr = &out, &err
	require.NoError(t, cmd.Start())
	ended := make(chan struct{})
	go func() { _ = cmd.Wait(); close(ended) }() // how it ended is in ProcessState
	peak := 0
	for tick := time.NewTicker(20 * time.Millisecond); ; {
		select {
		case <-ended:
			tick.Stop()
			return outcome{cmd.ProcessState.ExitCode(), out.String(), err.String()}, peak
		case <-tick.C:
			peak = max(peak, peakOf(cmd.Process.Pid))
		}
	}
}

var highWater = regexp.MustCompile(`VmHWM:\s+(\d+) kB`)

func peakOf(pid int) int {
	status, err := os.ReadFile(fmt.Sprintf("/proc/%d/status", pid))
	m := highWater.FindSubmatch(status)
	if err != nil || m == nil {
		return 0
	}
	n, _ := strconv.Atoi(string(m[1])) // digits
	return n
}

// TestExportAndImport takes a database out and into another by the command
// line, and asks for a dry run first.
func TestExportAndImport(t *testing.T) {
	db, dir := smallDatabase(t), filepath.Join(t.TempDir(), "out")
	o := stowkeeper(t, "export", "--db", db, dir)
	require.Zero(t, o.code, o.err)
	readme, err := os.ReadFile(filepath.Join(dir, "README.txt"))
	require.NoError(t, err)
	assert.Contains(t, string(readme), "kit-lists: ")
	for _, name := range []string{"README.txt", "people.csv", "stowkeeper.xlsx"} {
		info, err := os.Stat(filepath.Join(dir, name))
		require.NoError(t, err)
		assert.Equal(t, os.FileMode(0o600), info.Mode().Perm(), name)
	}
	assert.Equal(t, 1, stowkeeper(t, "export", "--db", db, dir).code, "never over another")
	other := filepath.Join(t.TempDir(), "other.db")
	o = stowkeeper(t, "import", "--db", other, "everything", filepath.Join(dir, "stowkeeper.xlsx"), "--dry-run")
	require.Zero(t, o.code, o.err)
	assert.Contains(t, o.out, "dry run, nothing was changed")
	require.Zero(t, stowkeeper(t, "import", "--db", other, "everything", dir).code)
	assert.Contains(t, stowkeeper(t, "import", "--db", other, "everything", dir, "--dry-run").out, "0 created, 0 changed")
	assert.Equal(t, 1, stowkeeper(t, "import", "--db", other, "items", filepath.Join(dir, "none.csv")).code)
}

// TestImportControlled: stock of a controlled item comes in from the command line, signed by the two people who are
// named, and by nobody less.
func TestImportControlled(t *testing.T) {
	db, folder := smallDatabase(t), t.TempDir()
	file := func(name, text string) string {
		path := filepath.Join(folder, name)
		require.NoError(t, os.WriteFile(path, []byte(text), 0o600))
		return path
	}
	for name, pin := range map[string]string{"Ann": "4821", "Ben": "7350"} {
		o := stowkeeperWith(t, pin+"\n", nil, "person", "add", "--db", db, "--role", "crew", "--station", "N1", name)
		require.Zero(t, o.code, o.err)
	}
	succeed(t, "import", "--db", db, "items", file("items.csv",
		"code,name,category,unit,tracked_by,controlled\nAMP,Ampoule,other,each,lot,yes\n"))
	stock := file("stock.csv", "place,item,batch_no,end_printed,end_wording,qty\nN1-STORE,AMP,A1,2099-01,expiry,5\n")
	for _, c := range []struct{ signers, pins, says string }{
		{"", "", "add --signed-by and --witness"},
		{"--signed-by Ann --witness Ben", "4821\n9999\n", "wrong name or PIN"},
		{"--signed-by Ann --witness Ann", "4821\n4821\n", "choose another person"},
		{"--signed-by Ann", "4821\n", "--witness"},
	} {
		o := stowkeeperWith(t, c.pins, nil, append(strings.Fields("import --db "+db+" "+c.signers), "stock", stock)...)
		assert.Equal(t, 1, o.code, c.signers)
		assert.Contains(t, o.out+o.err, c.says, c.signers)
	}
	o := stowkeeperWith(t, "4821\n7350\n", nil, "import", "--db", db, "--signed-by", "Ann", "--witness", "Ben", "stock",
		stock)
	require.Zero(t, o.code, o.err)
	assert.Contains(t, o.out, "1 created")
	assert.Contains(t, succeed(t, "verify", "--db", db), "0 faults")
}

// TestImportSaysWhatStays: a long import that stopped does not say that nothing was changed.
func TestImportSaysWhatStays(t *testing.T) {
	for said, rep := range map[string]exchange.ImportReport{
		"imported: ":                       {Done: true, Created: 3},
		"refused, nothing was changed: ":   {Refused: 1},
		"dry run, nothing was changed: ":   {DryRun: true, Created: 3},
		"stopped before its end: 9 rows, ": {Stopped: true, Rows: 9, Created: 3, Refused: 1},
	} {
		var out bytes.Buffer
		printImport(&out, rep)
		assert.True(t, strings.HasPrefix(out.String(), said), out.String())
	}
}
