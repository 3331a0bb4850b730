package demo_test

import (
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stowkeeper/inventory"
	"stowkeeper/inventory/account"
	"stowkeeper/inventory/exchange"
	"stowkeeper/inventory/lists"
	"stowkeeper/inventory/services"
	"stowkeeper/inventory/store/storetest"
	"stowkeeper/inventory/table"
	"stowkeeper/inventory/workbook"
)

// lotNumbers are what texts name lots by; an import numbers them anew.
var lotNumbers = regexp.MustCompile(`lot \d+`)

// sources are what an export is read back from.
var sources = []string{"folder", "workbook"}

// roundTrip exports the demo, imports it into an empty database from each of
// the sources, and has that export the same bytes and judge every bag alike.
func roundTrip(t *testing.T, svc *services.All) {
	first := exported(t, svc)
	for _, source := range sources {
		other := services.New(storetest.OpenSQLite(t), svc.Now, services.Options{})
		rep, err := other.Exchange.Import(t.Context(), signers(t, other, first, source),
			exchange.Import{Kind: exchange.ImportEverything, Source: sourceOf(t, first, source)})
		require.NoError(t, err)
		require.Zero(t, rep.Refused, "%v", rep.Lines)
		require.True(t, rep.Done)
		second := exported(t, other)
		for _, k := range exchange.ImportKinds {
			want, err := os.ReadFile(filepath.Join(first, string(k)+".csv"))
			require.NoError(t, err)
			got, err := os.ReadFile(filepath.Join(second, string(k)+".csv"))
			require.NoError(t, err)
			assert.Equal(t, string(want), string(got), "%s from a %s", k, source)
		}
		assert.Equal(t, judged(t, svc), judged(t, other), source)
		faults, err := other.Verify.Verify(t.Context())
		require.NoError(t, err)
		assert.Empty(t, faults.Faults)
	}
}

// signers are the two people who sign for the controlled items: a dry run says
// that they are needed, people come in first, and get PINs anew.
func signers(t *testing.T, svc *services.All, folder, source string) inventory.Actor {
	ctx := t.Context()
	rep, err := svc.Exchange.Import(ctx, manager, exchange.Import{Kind: exchange.ImportEverything, Source: sourceOf(t,
		folder, source), DryRun: true})
	require.NoError(t, err)
	require.Zero(t, rep.Refused, "%v", rep.Lines)
	require.True(t, rep.SigningNeeded)
	for _, k := range []exchange.ImportKind{exchange.ImportStations, exchange.ImportPeople} {
		rep, err = svc.Exchange.Import(ctx, manager, exchange.Import{Kind: k, Source: sourceOf(t, folder, source)})
		require.NoError(t, err)
		require.True(t, rep.Done, "%v", rep.Lines)
	}
	people, err := svc.Account.People(ctx, manager)
	require.NoError(t, err)
	require.Greater(t, len(people), 1)
	names := []string{"Bram Oddleberry", "Ada Quillfeather"}
	for _, p := range people {
		if slices.Contains(names, p.Name) {
			_, err := svc.Account.ChangePerson(ctx, manager, p.ID, account.PersonChange{Role: p.Role, Stations: p.Stations,
				Secret: "a new one after moving"}, plain{})
			require.NoError(t, err)
		}
	}
	by := manager
	by.Program = true
	by, err = svc.Account.Sign(ctx, by, account.Signing{
		Signature: &account.Signature{Person: names[0], PIN: "a new one after moving"},
		Witness:   &account.Signature{Person: names[1], PIN: "a new one after moving"},
	}, plain{})
	require.NoError(t, err)
	return by
}

// exported exports into a folder: CSV files and a workbook.
func exported(t *testing.T, svc *services.All) string {
	dir := filepath.Join(t.TempDir(), "export")
	folder, err := table.NewFolder(dir)
	require.NoError(t, err)
	require.NoError(t, svc.Exchange.Export(t.Context(), manager, folder))
	require.NoError(t, folder.Close())
	file, err := os.Create(filepath.Join(dir, "book.xlsx"))
	require.NoError(t, err)
	book := workbook.New(file)
	require.NoError(t, svc.Exchange.Export(t.Context(), manager, book))
	require.NoError(t, book.Close())
	require.NoError(t, file.Close())
	return dir
}

func sourceOf(t *testing.T, dir, kind string) table.Source {
	if kind == "folder" {
		return table.Folder{Dir: dir, Names: exchange.TableNames()}
	}
	file, err := os.Open(filepath.Join(dir, "book.xlsx"))
	require.NoError(t, err)
	info, err := file.Stat()
	require.NoError(t, err)
	book, err := workbook.Open(file, info.Size())
	require.NoError(t, err)
	t.Cleanup(func() { assert.NoError(t, book.Close()); assert.NoError(t, file.Close()) })
	return book
}

// judged says of every bag whether it may go out and why not, without the
// numbers of lots.
func judged(t *testing.T, svc *services.All) map[string][]string {
	out := map[string][]string{}
	bags, err := svc.Storeroom.Bags(t.Context(), manager, inventory.BagFilter{}, inventory.Page{})
	require.NoError(t, err)
	for _, b := range bags {
		r, err := svc.Shift.Readiness(t.Context(), manager, b.Code, lists.Outlook{Horizon: 60})
		require.NoError(t, err)
		out[b.Code] = []string{string(r.State)}
		for _, f := range r.Findings {
			out[b.Code] = append(out[b.Code], string(f.Kind)+" "+string(f.Severity)+" "+f.Date.String()+" "+
				lotNumbers.ReplaceAllString(f.Text.String(), "lot"))
		}
		if r.NextChange != nil {
			out[b.Code] = append(out[b.Code], r.NextChange.Date.String())
		}
	}
	require.NotEmpty(t, out)
	return out
}
