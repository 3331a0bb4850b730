package inventory_test

import (
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stowkeeper/inventory/inventorytest"
)

// fault is one mistake planted in a copy of the package.
type fault struct{ name, file, right, wrong string }

// faults are the mistakes that the walk of two years must notice, each alone.
var faults = []fault{
	{"1 a lot does not count on its last day", "end_date.go", "d != 0 && day > d", "d != 0 && day >= d"},
	{"2 a month to use before lasts to its end", "end_date.go",
		"case WordUseBefore, WordUnstated:\n\t\treturn before, nil",
		"case WordUseBefore, WordUnstated:\n\t\treturn first.EndOfMonth(), nil"},
	{"3 pars are filled before minimums", "allocation.go",
		"\tfill(toMinimum, true)\n\tfill(toMinimum, false)\n\tfill(toPar, true)\n\tfill(toPar, false)\n",
		"\tfill(toPar, true)\n\tfill(toPar, false)\n\tfill(toMinimum, true)\n\tfill(toMinimum, false)\n"},
	{"4 accepted items go before the line's own", "allocation.go", "\tfill(toMinimum, true)\n\tfill(toMinimum, false)\n",
		"\tfill(toMinimum, false)\n\tfill(toMinimum, true)\n"},
	{"5 the horizon is a day short", "readiness.go", "through <= day.AddDays(horizon)", "through < day.AddDays(horizon)"},
	{"6 units under notice count", "end_date.go", "return len(l.Withdrawn) > 0 || ", "return "},
	{"7 training units count for issue", "end_date.go", "l.Training == (p == ForTraining) && ", ""},
	{"8 the station's time zone is ignored", "station.go", "return now.In(zone)", "_ = zone\n\treturn now.InUTC()"},
	{"9 a surplus is counted twice", "readiness_layout.go", "s.onLine(row, a.left[row], day))",
		"s.onLine(row, 2*a.left[row], day))"},
	{"10 the end of a month overflows into the next", "day.go", "min(day, last)-1", "min(day, 31*last)-1"},
	{"11 a unit counts for two lines", "allocation.go", "\t\ta.left[row] -= n\n", ""},
	{"12 a full check is overdue on its last day", "readiness.go", "ok && today > due {", "ok && today >= due {"},
	{"13 critical lines do not go first", "fill.go", "-CompareBool(la.Critical, lb.Critical),",
		"CompareBool(la.Critical, lb.Critical),"},
	{"14 a short-dated lot fills a par", "fill.go", "lot.through.passed(d.lastsTo) == short",
		"(lot.through.passed(d.lastsTo) == short || !short)"},
	{"15 exposure that is overdrawn is forgotten inside", "end_date.go", "c.ExposedDays >= limit &&",
		"c.ExposedDays < 0 &&"},
	{"16 an inspection is overdue on its last day", "device.go", "ok && due != l.InspectBy {", "ok && due == 0 {"},
	{"17 an inspection is counted from the receipt alone", "device.go", "max(l.InspectedOn, l.ReceivedOn).AddDays(n)",
		"l.ReceivedOn.AddDays(n)"},
	{"18 a notice that asks for an inspection is not heard", "device.go", "if l.InspectBy != 0 && (!ok",
		"if l.InspectBy < 0 && (!ok"},
	{"19 worn out devices count", "end_date.go", " || WornOut(it, l) ||", " ||"},
	{"20 a device lasts one application too many", "device.go", "l.Cycles >= it.Life.TrainingCycles",
		"l.Cycles > it.Life.TrainingCycles"},
	{"22 what has no day left on a carrier is picked", "fill.go", " && !ExposureSpent(it, st.Lot.Clocks) {", " {"},
	{"23 a day more than the limit on a carrier", "end_date.go", "c.ExposedDays >= limit &&", "c.ExposedDays > limit &&"},
	{"21 an inspection that falls due is no change", "readiness_layout.go", "\t\t\tearlier(from, l.ID)\n",
		"\t\t\t_ = from\n"},
	{"22 what is reported gone counts", "allocation.go", "a.left[i] = st.Qty - s.apart[i]", "a.left[i] = st.Qty"},
	{"23 what is stowed later pays for a report", "under_review.go", "min(r.Qty-r.Settled, r.Pool-before[k])",
		"r.Qty-r.Settled"},
	{"24 reports do not add up", "under_review.go", "\t\tbefore[k] += r.Counts\n", ""},
	{"25 what leaves is forgotten", "under_review.go", "of[k].Pool = min(of[k].Pool, l.Rest); ", ""},
	{"26 a report that is accepted took nothing from the others", "under_review.go", "gone = min(n, of[k].Pool)", "_ = n"},
	{"27 a removal settles nothing", "under_review.go", "of[k].Settled += gone", "_ = gone"},
	{"28 a report stops nothing", "under_review.go", "\t\t\t\tf.Severity = SeverityStop\n", "\t\t\t\t_ = f\n"},
	{"29 a full check settles what was reported later", "under_review.go", "later := c.HappenedAt > u.HappenedAt ||",
		"later := c.HappenedAt != u.HappenedAt ||"},
}

// TestPlantedFaults shows that the walk of two years has teeth: it passes on a
// copy of the package, and fails once a fault is planted in the copy, for each
// of them. It takes a minute or more, so it runs only where it is asked for.
func TestPlantedFaults(t *testing.T) {
	if !inventorytest.Long {
		t.Skip("set STOWKEEPER_LONG=1 to plant faults in copies of the package")
	}
	sound := copyPackage(t)
	out, err := walkTwoYears(sound)
	require.NoError(t, err, "the sound copy passes: %s", out)
	for _, f := range faults {
		t.Run(f.name, func(t *testing.T) {
			dir := copyPackage(t)
			path := filepath.Join(dir, "inventory", f.file)
			b, err := os.ReadFile(path)
			require.NoError(t, err)
			require.Equal(t, 1, strings.Count(string(b), f.right), "the text to change stands in %s exactly once", f.file)
			require.NoError(t, os.WriteFile(path, []byte(strings.Replace(string(b), f.right, f.wrong, 1)), 0o600))
			out, err := walkTwoYears(dir)
			require.Error(t, err, "the walk did not notice")
			assert.Contains(t, out, "--- FAIL: TestTwoYears", "it failed by its comparison and not otherwise")
		})
	}
}

// Each fault still finds its one place, so that a change of the code that moves
// it is seen at once and not only where the faults are planted.
func TestFaultsHaveTheirPlaces(t *testing.T) {
	for _, f := range faults {
		b, err := os.ReadFile(f.file)
		require.NoError(t, err)
		assert.Equal(t, 1, strings.Count(string(b), f.right), "fault %s: its text stands in %s exactly once", f.name, f.file)
		assert.NotEqual(t, f.right, f.wrong, f.name)
	}
}

// walkTwoYears runs the walk in a copy of the module.
func walkTwoYears(dir string) (string, error) {
	cmd := exec.Command("go", "test", "-count=1", "-vet=off", "-trimpath", "-gcflags=stowkeeper/inventory=-l",
		"-ldflags=-s -w", "-failfast", "-run", "^TestTwoYears", "./inventory")
	cmd.Dir = dir
	out, err := cmd.CombinedOutput()
	return string(out), err
}

// copyPackage copies the package, with what it imports of ours and of its tests
// only the walk, into a folder of its own.
func copyPackage(t *testing.T) string {
	dir := t.TempDir()
	for _, name := range []string{"go.mod", "go.sum"} {
		copyFile(t, filepath.Join("..", name), filepath.Join(dir, name))
	}
	walk := map[string]bool{"helpers_test.go": true, "naive_test.go": true, "naive_report_test.go": true,
		"two_years_test.go": true, "naive_review_test.go": true}
	err := filepath.WalkDir(".", func(path string, d os.DirEntry, err error) error {
		switch {
		case err != nil:
			return err
		case d.IsDir() && !slices.Contains([]string{".", "amount", "barcode", "donor", "inventorytest", "message",
			"reorder"}, path):
			return filepath.SkipDir
		case d.IsDir() || strings.HasSuffix(path, "_test.go") && !walk[path]:
			return nil
		}
		copyFile(t, path, filepath.Join(dir, "inventory", path))
		return nil
	})
	require.NoError(t, err)
	return dir
}

func copyFile(t *testing.T, from, to string) {
	b, err := os.ReadFile(from)
	require.NoError(t, err)
	require.NoError(t, os.MkdirAll(filepath.Dir(to), 0o700))
	require.NoError(t, os.WriteFile(to, b, 0o600))
}
