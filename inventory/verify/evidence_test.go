package verify_test

import (
	"bytes"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stowkeeper/inventory"
	"stowkeeper/inventory/fixture"
	"stowkeeper/inventory/inventorytest"
	"stowkeeper/inventory/store/storetest"
	"stowkeeper/inventory/verify"
)

// TestEvidence has a script in another language, which knows nothing but the
// file's own description, prove the evidence of a station: nothing that happened
// elsewhere is in it, save what touched its places, and no byte of it can be
// altered, in an entry not even with the sum at the end made anew.
func TestEvidence(t *testing.T) {
	storetest.Engines(t, func(t *testing.T, s inventory.Store) {
		h := fixture.NewStowed(t, s)
		h.Pass(24 * time.Hour)
		day := h.S.Now().InUTC()
		h.Move(h.Dressings.ID, 4, "NORTH-STORE", "SOUTH-STORE", inventory.ReasonTransfer)
		h.Move(h.Dressings.ID, 1, "SOUTH-STORE", "S-01", inventory.ReasonStow)
		h.Move(h.Dressings.ID, 1, "SOUTH-STORE", "NORTH-STORE", inventory.ReasonTransfer)
		h.RecordUse(h.Use(inventory.UseLine{LotID: h.Dressings.ID, Qty: 1}))
		require.NoError(t, h.S.Lists.AddCategory(h.Ctx, fixture.Admin, `quotes "and" \ ü <b>`))
		h.Pass(48 * time.Hour)
		h.Move(h.Dressings.ID, 1, "NORTH-STORE", "NORTH-QUARANTINE", inventory.ReasonQuarantine)

		var out bytes.Buffer
		require.NoError(t, h.S.Verify.Evidence(h.Ctx, "north", day, day, &out))
		text := out.String()
		assert.Contains(t, text, `"from":"SOUTH-STORE"`)
		assert.Contains(t, text, `"to":"NORTH-STORE"`, "recorded elsewhere, of a place of this station")
		assert.NotContains(t, text, `"to":"S-01"`, "of no place of it")
		assert.NotContains(t, text, `"NORTH-QUARANTINE","reason"`, "after the last day")
		assert.Contains(t, text, "\nrow bag_use ")
		proveEvidence(t, out.Bytes(), "1")

		err := h.S.Verify.Evidence(h.Ctx, "NOWHERE", day, day, &out)
		inventorytest.RequireKind(t, inventory.NotFound, err)
		inventorytest.RequireFields(t, h.S.Verify.Evidence(h.Ctx, "NORTH", day, day-1, &out), "to")
	})
}

// proveEvidence runs the script; step is of how many bytes one is altered.
func proveEvidence(t *testing.T, evidence []byte, step string) {
	t.Helper()
	node, err := exec.LookPath("node")
	if err != nil {
		require.NotEqual(t, "1", os.Getenv("STOWKEEPER_NO_SKIP"), "install node, which proves evidence files")
		t.Skip("there is no node to prove evidence files with")
	}
	file := filepath.Join(t.TempDir(), "evidence.txt")
	require.NoError(t, os.WriteFile(file, evidence, 0o600))
	said, err := exec.CommandContext(t.Context(), node, "testdata/check.mjs", file, step).CombinedOutput()
	require.NoError(t, err, string(said))
	assert.Regexp(t, `^proved: [1-9]\d* entries, [1-9]\d* rows, [1-9]\d* stock records\nevery altered`, string(said))
	t.Log(len(evidence), strings.TrimSpace(string(said)))
}

// TestHeadsAreKept: heads that were printed are read back, and fit until
// somebody makes the chain another one.
func TestHeadsAreKept(t *testing.T) {
	h := fixture.NewStowed(t, storetest.OpenSQLite(t))
	heads, err := h.S.Verify.Heads(h.Ctx)
	require.NoError(t, err)
	var lines []string
	for _, x := range heads {
		lines = append(lines, x.String())
	}
	assert.Regexp(t, `^service [1-9]\d* [0-9a-f]{64}\nNORTH `, strings.Join(lines, "\n"))
	kept, err := verify.ParseHeads(strings.Join(lines, "\r\n") + "\nEMPTY 0 \n")
	require.NoError(t, err)
	assert.Equal(t, heads, kept)
	exported, err := verify.ParseHeads("\ufeffchain,seq,hash\n" + strings.ReplaceAll(strings.Join(lines, "\n"), " ", ","))
	require.NoError(t, err)
	assert.Equal(t, heads, exported)
	h.Pass(time.Hour)
	h.Receive("GAUZE", "G1", 3, "2029-01")
	report, err := h.S.Verify.Verify(h.Ctx, kept...)
	require.NoError(t, err)
	assert.Empty(t, report.Faults)
	kept[1].Hash = kept[0].Hash
	report, err = h.S.Verify.Verify(h.Ctx, kept...)
	require.NoError(t, err)
	require.Len(t, report.Faults, 1)
	assert.Contains(t, report.Faults[0].String(), "it was cut or made again")
	_, err = verify.ParseHeads("NORTH twelve")
	inventorytest.RequireFields(t, err, "since")
}
