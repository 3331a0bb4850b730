package web

import (
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	cdp "github.com/chromedp/cdproto/page"
	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stowkeeper/inventory"
	"stowkeeper/labels/labelstest"
)

// The register on paper: each page has item, strength and form at its head (UK
// Misuse of Drugs Regulations 2001, reg. 20(a) with its later amendment), every
// entry stands on one of them, once, and nothing to press is printed.
func TestRegisterOnPaper(t *testing.T) {
	pdftotext := labelstest.Tool(t, "pdftotext")
	w := newWorld(t)
	ctx := t.Context()
	_, err := w.svc.Lists.CreateItem(ctx, admin, inventory.Item{Code: "VIAL", Name: "Controlled ampoule",
		Category: inventory.CategoryPainRelief, Unit: "ampoule",
		TrackedBy: inventory.ByLot, Dated: true, Controlled: true, Strength: "10 mg in 1 ml", Form: "solution for injection"})
	require.NoError(t, err)
	const entries = 60
	for range entries {
		_, err := w.svc.Ledger.Receive(ctx, w.signed(), inventory.Receipt{Place: "CEN-STORE", Item: "VIAL", BatchNo: "A1",
			EndPrinted: "2029-01", EndWording: "expiry", Qty: 1})
		require.NoError(t, err)
	}
	b := newBrowser(t, w)
	b.as(w, "Quinn Master")
	b.open("/register/CEN-STORE/VIAL")
	got, err := chromedp.Call(b.ctx, cdp.PrintToPDF, cdp.PrintToPDFParams{PreferCSSPageSize: new(true)})
	require.NoError(t, err)
	file := filepath.Join(t.TempDir(), "register.pdf")
	require.NoError(t, os.WriteFile(file, got.Data, 0o600))
	text, err := exec.Command(pdftotext, "-layout", file, "-").Output()
	require.NoError(t, err)
	sheets := strings.Split(strings.TrimSuffix(string(text), "\f"), "\f")
	require.Greater(t, len(sheets), 2)
	seen := map[string]int{}
	for i, sheet := range sheets {
		if !assert.Contains(t, sheet, "Controlled ampoule, 10 mg in 1 ml, solution for injection", "page %d", i+1) {
			continue
		}
		assert.Contains(t, sheet, "CEN-STORE", "page %d", i+1)
		for _, line := range strings.Split(sheet, "\n") {
			if f := strings.Fields(line); len(f) > 5 && strings.Contains(line, "Received") {
				seen[f[0]]++
			}
		}
	}
	for no := 1; no <= entries; no++ {
		assert.Equal(t, 1, seen[fmt.Sprint(no)], "entry %d", no)
	}
	assert.NotContains(t, string(text), "Balance check")
	assert.NotContains(t, string(text), "correct")
	assert.Contains(t, sheets[0], "As of")
	assert.NotContains(t, string(text), "Sign out")
}
