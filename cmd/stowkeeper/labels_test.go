package main

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stowkeeper/inventory"
	"stowkeeper/inventory/services"
	"stowkeeper/labels"
)

// stockedDatabase is a small database with stock in a store and a bag, a
// device, and one for training.
func stockedDatabase(t *testing.T) string {
	t.Helper()
	db := smallDatabase(t)
	s, err := openStore(t.Context(), db, streams{err: os.Stderr})
	require.NoError(t, err)
	defer func() { assert.NoError(t, s.Close()) }()
	svc, err := newServices(s, services.Options{})
	require.NoError(t, err)
	addDevices(t, svc)
	lot, err := svc.Ledger.Receive(t.Context(), operator, inventory.Receipt{Place: "N1-STORE", Item: "GAUZE",
		BatchNo: "G-1", Qty: 9})
	require.NoError(t, err)
	_, err = svc.Storeroom.RecordRestock(t.Context(), operator, inventory.Restock{Bag: "KD7-442", SealSet: "77",
		Lines: []inventory.RestockLine{{LotID: lot.ID, Qty: 2}}}, 0)
	require.NoError(t, err)
	return db
}

// addDevices receives a device for issue and one for training.
func addDevices(t testing.TB, svc *services.All) {
	t.Helper()
	_, err := svc.Lists.CreateItem(t.Context(), operator, inventory.Item{Code: "SUCTION", Name: "Suction unit",
		Category: inventory.CategoryTool, Unit: "each", TrackedBy: inventory.BySerial})
	require.NoError(t, err)
	for serial, place := range map[string]string{"SN-1": "N1-STORE", "SN-2": "N1-TRAINING"} {
		_, err := svc.Ledger.Receive(t.Context(), operator, inventory.Receipt{Place: place, Item: "SUCTION", Serial: serial,
			Qty: 1})
		require.NoError(t, err)
	}
}

// TestLabelKinds prints each kind, all and some.
func TestLabelKinds(t *testing.T) {
	db := stockedDatabase(t)
	pdf := filepath.Join(t.TempDir(), "labels.pdf")
	run := func(line string) outcome {
		return stowkeeper(t, append([]string{"labels", "--db", db, "--base-url", "https://kit.example.org", "--out", pdf},
			strings.Fields(line)...)...)
	}
	for line, says := range map[string]string{
		"--station S2":                               "1 labels on A4, 3 × 7",
		"--kind card":                                "1 labels on A4", // of the bag that holds something
		"--kind card kd7-442 --sheet a4-2x2":         "1 labels on A4, 2 × 2",
		"--kind shelf --place n1-store":              "2 labels on A4",
		"--kind shelf --place N1-STORE gauze":        "1 labels on A4",
		"--kind device":                              "2 labels on A4",
		"--kind device SN-2":                         "1 labels on A4",
		"--kind device 1 2 --sheet a4-1x1 --outline": "2 labels on A4, whole page",
	} {
		o := run(line)
		assert.Zero(t, o.code, "%s: %s", line, o.err)
		assert.Contains(t, o.out, says, line)
		assert.Regexp(t, `smallest module \d\.\d\d mm, read from up to \d+ cm; offsets x \+0\.00 mm, y \+0\.00 mm`, o.out,
			line)
	}
	for line, says := range map[string]string{
		"--kind shelf":                          "--place: choose a store",
		"--kind shelf --place N1-STORE NOTHING": "item: not found",
		"--kind device SN-3":                    "SN-3: no device has this serial number",
		"--kind card KD7-443":                   "label 1: Contents: fill this in",
		"KD7-424":                               "KD7-424: not found; the nearest: KD7-442",
		"--offset-x 6":                          "--offset-x: enter -5 to 5 mm",
		"--station N9":                          "0 labels",
		"--printer N9":                          "--printer: not found",
		"--base-url https://" + strings.Repeat("department.", 12) + "example.org/kit --sheet letter-3x10": "use sheet ",
	} {
		o := run(line)
		if says == "0 labels" {
			says = "nothing to print: no bags, items or devices match"
		}
		assert.Equal(t, 1, o.code, line)
		assert.Contains(t, o.err, says, line)
	}
	assert.Equal(t, 2, run("--kind poster").code)
}

// TestOffsetsAreKept gives offsets once and has them used from then on.
func TestOffsetsAreKept(t *testing.T) {
	db := stockedDatabase(t)
	pdf := filepath.Join(t.TempDir(), "labels.pdf")
	run := func(line string) (string, []byte) {
		out := succeed(t, append([]string{"labels", "--db", db, "--out", pdf}, strings.Fields(line)...)...)
		b, err := os.ReadFile(pdf)
		require.NoError(t, err)
		return out, b
	}
	const print = "--base-url https://kit.example.org KD7-442 "
	says, moved := run(print + "--offset-x 1.5 --offset-y -0.25 --remember")
	assert.Contains(t, says, "offsets x +1.50 mm, y -0.25 mm")
	says, again := run(print)
	assert.Contains(t, says, "offsets x +1.50 mm, y -0.25 mm")
	assert.Equal(t, moved, again)
	says, _ = run(print + "--offset-x 0")
	assert.Contains(t, says, "offsets x +0.00 mm, y -0.25 mm", "each by itself")
	says, _ = run(print + "--sheet a4-2x4")
	assert.Contains(t, says, "offsets x +0.00 mm, y +0.00 mm", "another sheet")
	says, _ = run(print + "--printer S2")
	assert.Contains(t, says, "offsets x +0.00 mm, y +0.00 mm", "another station")

	says, page := run("--calibration")
	assert.Contains(t, says, "calibration page of A4, 3 × 7 labels")
	_, kept := run("--calibration --printer n1")
	assert.NotEqual(t, page, kept, "with the offsets of that station")
	_, given := run("--calibration --offset-x=1.5 --offset-y=-0.25")
	assert.Equal(t, kept, given)
	o := stowkeeper(t, "labels", "--db", db, "--out", pdf, "--calibration", "--remember")
	assert.Equal(t, 1, o.code)
	assert.Contains(t, o.err, "--printer: add --printer STATION to remember offsets for it")
}

// TestEverySheetIsNamed keeps the help of the command and the sheets together.
func TestEverySheetIsNamed(t *testing.T) {
	db := stockedDatabase(t)
	for _, s := range labels.Sheets() {
		out := succeed(t, "labels", "--db", db, "--base-url", "https://kit.example.org", "--sheet", s.Name, "--out",
			filepath.Join(t.TempDir(), "x.pdf"))
		assert.Contains(t, out, s.String())
	}
}
