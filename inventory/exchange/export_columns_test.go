package exchange_test

import (
	"archive/zip"
	"bytes"
	"context"
	"io"
	"io/fs"
	"os"
	"path"
	"reflect"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stowkeeper/inventory"
	"stowkeeper/inventory/exchange"
	"stowkeeper/inventory/fixture"
	"stowkeeper/inventory/store/storetest"
	"stowkeeper/inventory/table"
)

// TestExportExplainsEveryColumn has the export's own text say what each column
// means.
func TestExportExplainsEveryColumn(t *testing.T) {
	h := fixture.New(t, storetest.OpenSQLite(t))
	var b bytes.Buffer
	sink := table.NewZip(&b)
	require.NoError(t, h.S.Exchange.Export(h.Ctx, fixture.Admin, sink))
	require.NoError(t, sink.Close())
	z, err := zip.NewReader(bytes.NewReader(b.Bytes()), int64(b.Len()))
	require.NoError(t, err)
	names, err := fs.Glob(z, "*/README.txt")
	require.NoError(t, err)
	require.Len(t, names, 1)
	readme, err := fs.ReadFile(z, names[0])
	require.NoError(t, err)
	for line := range strings.Lines(string(readme)) {
		if strings.HasPrefix(line, "  ") {
			_, says, _ := strings.Cut(strings.TrimSpace(line), "): ")
			assert.NotEmpty(t, says, "%q", line)
		}
	}
	for _, f := range z.File {
		assert.True(t, f.Name == names[0] || strings.Contains(string(readme), "\n"+strings.TrimSuffix(path.Base(f.Name),
			".csv")+": "), "%s is not explained", f.Name)
	}
}

// TestExportHoldsEveryField has each field of what a list is about stand in a
// column of it, or here with the reason why not: a field that is added to a type
// and forgotten would be lost by whoever moves.
func TestExportHoldsEveryField(t *testing.T) {
	elsewhere := map[string]string{
		"version": "counts from the beginning again", "id": "given anew", "batch_id": "given anew", "parent": "given anew",
		"lot_id": "found by item and serial number", "position": "counts from the beginning again",
		"preferred_product": "marked in products", "product": "written as its code",
		"kit_list": "a module's stands in module", "at_least": "stands in count", "need_item": "stands in item",
		"training": "follows from the place", "inspect_by": "follows from notices", "withdrawn": "follows from notices",
		"source":  "an import is the source",
		"back_at": "only what is off is kept", "back_by": "only what is off is kept",
		"closed_at": "only what is open is kept", "closed_by": "only what is open is kept",
		"close_reason": "only what is open is kept", "reason": "stands in out_of_service",
		"by": "stands in out_of_service_by", "bags recorded_at": "stands in out_of_service_at",
		"lines": "each has a row", "modules": "each has a row", "rules": "each has a row", "life": "each rule has a column",
		"lot": "each field has a column", "formerly": "its numbers stand in former_numbers",
		"merged_into": "its units are counted in as of that batch",
	}
	for kind, about := range map[exchange.ImportKind][]any{
		exchange.ImportStations: {inventory.Station{}}, exchange.ImportPlaces: {inventory.Place{}},
		exchange.ImportPeople: {inventory.Person{}},
		exchange.ImportItems:  {inventory.Item{}, inventory.Life{}}, exchange.ImportProducts: {inventory.Product{}},
		exchange.ImportKitLists: {inventory.KitList{}, inventory.Line{}, inventory.Module{}, inventory.KitRule{}},
		exchange.ImportBags:     {inventory.Bag{}, inventory.ServicePause{}, inventory.BagRecord{}},
		exchange.ImportStock: {inventory.Stock{}, inventory.Lot{}, inventory.Batch{}, inventory.BatchRecord{},
			inventory.Clocks{}},
		exchange.ImportNotices: {inventory.Notice{}}, exchange.ImportObservations: {inventory.Observation{}},
		exchange.ImportUsage:       {inventory.PastUsage{}},
		exchange.ImportVehiclesOff: {inventory.VehicleOutOfService{}, inventory.ServicePause{}},
	} {
		_, columns := exchange.ImportColumns(kind)
		for _, v := range about {
			for i := range reflect.TypeOf(v).NumField() {
				field := reflect.TypeOf(v).Field(i)
				name, _, _ := strings.Cut(field.Tag.Get("json"), ",")
				if name == "" || name == "-" || elsewhere[name] != "" || elsewhere[string(kind)+" "+name] != "" {
					continue
				}
				assert.True(t, slices.ContainsFunc(columns, func(c exchange.ImportColumn) bool { return c.Name == name }),
					"%T.%s is in no column of %s", v, field.Name, kind)
			}
		}
	}
}

// TestExportFile: two files are made at a time; who comes third is told to come again, and a file is gone once it is
// closed or could not be made.
func TestExportFile(t *testing.T) {
	h := fixture.New(t, storetest.OpenSQLite(t))
	t.Setenv("TMPDIR", t.TempDir())
	made, err := h.S.Exchange.ExportFile(h.Ctx, fixture.Admin, func(out io.Writer) table.Sink {
		inner, err := h.S.Exchange.ExportFile(h.Ctx, fixture.Admin, func(out io.Writer) table.Sink {
			_, err := h.S.Exchange.ExportFile(h.Ctx, fixture.Admin, table.NewZip)
			assert.Equal(t, inventory.Unavailable, inventory.KindOf(err))
			return table.NewZip(out)
		})
		require.NoError(t, err)
		require.NoError(t, inner.Close())
		return table.NewZip(out)
	})
	require.NoError(t, err)
	book, err := zip.NewReader(made, made.Size)
	require.NoError(t, err)
	assert.Greater(t, len(book.File), 20)
	require.NoError(t, made.Close())
	_, err = h.S.Exchange.ExportFile(h.Ctx, fixture.Crew, table.NewZip)
	assert.Equal(t, inventory.Forbidden, inventory.KindOf(err))
	ctx, cancel := context.WithCancel(h.Ctx)
	cancel()
	_, err = h.S.Exchange.ExportFile(ctx, fixture.Admin, table.NewZip)
	require.ErrorIs(t, err, context.Canceled)
	left, err := os.ReadDir(os.TempDir())
	require.NoError(t, err)
	assert.Empty(t, left)
}
