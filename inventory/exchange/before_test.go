package exchange_test

import (
	"bytes"
	"encoding/csv"
	"io"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stowkeeper/inventory"
	"stowkeeper/inventory/account"
	"stowkeeper/inventory/exchange"
	"stowkeeper/inventory/services"
	"stowkeeper/inventory/store/storetest"
	"stowkeeper/inventory/table"
	"stowkeeper/inventory/workbook"
	"stowkeeper/testdata/before"
)

var setup = inventory.Actor{Name: "setup", Role: inventory.Administrator, Program: true}

// plain keeps secrets as they are, which is quick.
type plain struct{}

func (plain) Hash(secret string) (string, error) { return "plain:" + secret, nil }
func (plain) Match(hash, secret string) bool     { return hash == "plain:"+secret }

// TestExportFromBefore reads the demo's export from before names were changed
// into an empty service, as a folder and as a workbook; the lists that this
// exports are those that it read, save for the names of columns.
func TestExportFromBefore(t *testing.T) {
	was := before.Export(t, "demo")
	for name, source := range map[string]table.Source{
		"folder":   table.Folder{Dir: was, Names: exchange.TableNames()},
		"workbook": workbookOf(t, was),
	} {
		t.Run(name, func(t *testing.T) {
			evening := inventory.InstantOf(time.Date(2026, 11, 29, 18, 0, 0, 0, time.UTC))
			svc := services.New(storetest.OpenSQLite(t), func() inventory.Instant { return evening }, services.Options{})
			imported := func(kind exchange.ImportKind, by inventory.Actor) {
				rep, err := svc.Exchange.Import(t.Context(), by, exchange.Import{Kind: kind, Source: source})
				require.NoError(t, err)
				require.True(t, rep.Done, "%s: %v", kind, rep.Lines)
				require.Empty(t, rep.Ignored)
			}
			imported(exchange.ImportStations, setup)
			imported(exchange.ImportPeople, setup)
			imported(exchange.ImportEverything, signed(t, svc))
			dir := filepath.Join(t.TempDir(), "now")
			sink, err := table.NewFolder(dir)
			require.NoError(t, err)
			require.NoError(t, svc.Exchange.Export(t.Context(), setup, sink))
			require.NoError(t, sink.Close())
			for _, kind := range exchange.ImportKinds {
				old := string(kind)
				if kind == exchange.ImportStations {
					old = "sites"
				}
				assert.Equal(t, below(t, was, old), below(t, dir, string(kind)), kind)
			}
		})
	}
}

// signed are the two people who sign for the controlled items of the demo.
func signed(t *testing.T, svc *services.All) inventory.Actor {
	people, err := svc.Account.People(t.Context(), setup)
	require.NoError(t, err)
	const secret = "a new one after moving"
	for _, p := range people {
		if p.Role == inventory.Administrator || p.Role == inventory.Quartermaster {
			_, err := svc.Account.ChangePerson(t.Context(), setup, p.ID, account.PersonChange{Role: p.Role,
				Stations: p.Stations, Secret: secret}, plain{})
			require.NoError(t, err)
		}
	}
	by, err := svc.Account.Sign(t.Context(), setup, account.Signing{
		Signature: &account.Signature{Person: "Bram Osterhuis-Vane", PIN: secret},
		Witness:   &account.Signature{Person: "Ada Quillfeather", PIN: secret},
	}, plain{})
	require.NoError(t, err)
	return by
}

// below is what stands below the header of a table, without the empty cells at
// the end of rows: columns that came since hold nothing.
func below(t *testing.T, dir, name string) [][]string {
	file, err := os.Open(filepath.Join(dir, name+".csv"))
	require.NoError(t, err)
	defer file.Close()
	rows, err := csv.NewReader(file).ReadAll()
	require.NoError(t, err)
	for i := range rows {
		for len(rows[i]) > 0 && rows[i][len(rows[i])-1] == "" {
			rows[i] = rows[i][:len(rows[i])-1]
		}
	}
	return rows[1:]
}

// workbookOf writes the lists of an exported folder as a workbook, as the
// program did then.
func workbookOf(t *testing.T, dir string) table.Source {
	var b bytes.Buffer
	book := workbook.New(&b)
	folder := table.Folder{Dir: dir, Names: exchange.TableNames()}
	for _, name := range folder.Tables() {
		rows, err := folder.Open(name)
		require.NoError(t, err)
		for first := true; ; first = false {
			row, err := rows.Next()
			if err == io.EOF {
				break
			}
			require.NoError(t, err)
			var columns []table.Column
			var cells []string
			for _, c := range row.Cells {
				columns = append(columns, table.Column{Name: c.Text})
				cells = append(cells, table.Arm(c.Text))
			}
			if first {
				require.NoError(t, book.Begin(name, columns))
				continue
			}
			require.NoError(t, book.Add(cells))
		}
		require.NoError(t, rows.Close())
	}
	require.NoError(t, book.Close())
	in := bytes.NewReader(b.Bytes())
	source, err := workbook.Open(in, in.Size())
	require.NoError(t, err)
	t.Cleanup(func() { assert.NoError(t, source.Close()) })
	return source
}

// TestFormerNames reads each former name of a column, and what people write
// over columns, as the column of now; both at once are refused.
func TestFormerNames(t *testing.T) {
	for kind, c := range map[exchange.ImportKind]struct{ header, row string }{
		exchange.ImportPlaces:      {"code,Site,kind,name", "X-1,NORTH,carrier,Belt"},
		exchange.ImportPeople:      {"name,role,Sites", "Nia Fell,crew,NORTH"},
		exchange.ImportItems:       {"code,name,category,witnessed", "AMP,Ampoule,medicine,yes"},
		exchange.ImportBags:        {"code,site,at_site,name,kit_list,taken_off,taken_off_by,taken_off_at", "B-9,,,,,,,"},
		exchange.ImportVehiclesOff: {"site,vehicle,reason,by,at", "NORTH,Van,wet,,"},
		exchange.ImportStock:       {"place,item,Lot No,qty", "NORTH-STORE,PEN,1,1"},
		exchange.ImportNotices:     {"reference,action,item,lot_nos", "N,inform,PEN,1"},
		exchange.ImportUsage:       {"site,item,period,qty", "NORTH,PEN,2026-01,1"},
	} {
		rep := dryRun(t, kind, c.header+"\n"+c.row+"\n")
		assert.Equal(t, 1, rep.Rows, "%s: %v", kind, rep.Lines)
		assert.Empty(t, rep.Ignored, kind)
	}
	for _, header := range []string{"Lot no", "LOT_NO", "lot-no", "Lot", "Batch", "Batch number", "batch no"} {
		rep := dryRun(t, exchange.ImportStock, "place,item,qty,"+header+"\n,,,\n,,x,B1\n")
		assert.Empty(t, rep.Ignored, header)
	}
	rep := dryRun(t, exchange.ImportStock, "place,item,qty,batch_no,Lot no\nNORTH-STORE,PEN,1,1,1\n")
	require.Len(t, rep.Lines, 1)
	assert.Contains(t, rep.Lines[0].Reason.String(), "column batch_no is there twice")
}

func dryRun(t *testing.T, kind exchange.ImportKind, text string) exchange.ImportReport {
	now := inventory.InstantOf(time.Date(2026, 11, 29, 18, 0, 0, 0, time.UTC))
	svc := services.New(storetest.OpenSQLite(t), func() inventory.Instant { return now }, services.Options{})
	rep, err := svc.Exchange.Import(t.Context(), setup, exchange.Import{Kind: kind, DryRun: true,
		Source: table.CSV{Name: string(kind), Data: bytes.NewReader([]byte(text)), Size: int64(len(text))}})
	require.NoError(t, err)
	return rep
}
