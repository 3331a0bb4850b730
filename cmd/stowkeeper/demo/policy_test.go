package demo_test

import (
	"encoding/csv"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stowkeeper/inventory"
	"stowkeeper/inventory/lists"
	"stowkeeper/testdata"
)

// tableRow is a line of one of the scenario's tables, by column.
type tableRow map[string]string

func (r tableRow) limit(column string) int {
	n, _ := strconv.Atoi(r[column]) // an empty cell is no limit
	return n
}

func tableRows(t *testing.T, name string) []tableRow {
	f, err := testdata.Demo.Open("demo/" + name + ".csv")
	require.NoError(t, err)
	defer f.Close()
	lines, err := csv.NewReader(f).ReadAll()
	require.NoError(t, err)
	var rows []tableRow
	for _, line := range lines[1:] {
		r := tableRow{}
		for i, column := range lines[0] {
			r[column] = line[i]
		}
		rows = append(rows, r)
	}
	return rows
}

const (
	weppner = "Weppner, Lang, Sunday and Debiasse, \"Efficacy of tourniquets exposed to the Afghanistan combat " +
		"environment stored in individual first aid kits versus on the exterior of plate carriers\", abstract " +
		"(Military Medicine 2013: from memory)"
	curriculum = "US Joint Trauma System, Tactical Combat Casualty Care curriculum, kit inspection (title from memory)"
)

// facts decide the limits that the scenario's owner sets for windlass
// tourniquets. Where a fact gives no figure, the figure is the owner's policy
// and only whether there is one is decided here.
var facts = []struct {
	fact, source string
	training     bool // about devices for training, else about those for issue
	agrees       func(tableRow) bool
	against      tableRow // what would not agree
}{
	{"carried outside, exposed, they worked in 57 % against 95.2 % of controls, so days outside are limited",
		weppner, false,
		func(r tableRow) bool { return r.limit("exposed_days") > 0 }, tableRow{"exposed_days": ""}},
	{"carried inside a kit, wrapped or not, they were no different from controls, so being stowed ends nothing",
		weppner, false,
		func(r tableRow) bool { return r.limit("stowed_months") == 0 }, tableRow{"stowed_months": "60"}},
	{"they generally carry no expiry date", curriculum, false,
		func(r tableRow) bool { return r["dated"] == "no" }, tableRow{"dated": "yes"}},
	{"type, serviceability and generation are checked instead, device by device",
		curriculum, false,
		func(r tableRow) bool {
			return r["tracked_by"] == "serial" && r.limit("inspect_days") > 0 && slices.ContainsFunc(offered(r["points"]).Points,
				names("generation"))
		}, tableRow{"points": "shears"}},
	{"after heat, time labels fell off 6 of 10 of one kind without structural failure, so a lost one is noted and does " +
		"not fail the device",
		"J Spec Oper Med 15(1), Spring 2015, p. 45 and 46, read at jsomonline.com", false,
		func(r tableRow) bool {
			p := offered(r["points"])
			return slices.ContainsFunc(p.Notes, names("time patch")) && !slices.ContainsFunc(p.Points, names("time patch"))
		}, tableRow{"points": "splint"}},
	{"a single-use device is used on one patient and discarded",
		"UK MHRA DB2006(04), October 2006, key points, read at mhra.gov.uk", false,
		func(r tableRow) bool { return r["single_use"] == "yes" }, tableRow{"single_use": "no"}},
	{"a training device is applied again and again, so it is no single-use device", "common practice", true,
		func(r tableRow) bool { return r["single_use"] == "no" }, tableRow{"single_use": "yes"}},
	{"training devices wear: a strap pulled out after several hundred applications",
		"common practice", true,
		func(r tableRow) bool { n := r.limit("training_cycles"); return 0 < n && n < 1000 }, tableRow{"training_cycles": ""}},
}

func names(what string) func(string) bool {
	return func(point string) bool { return strings.Contains(point, what) }
}

func offered(kind string) lists.DefaultPoints {
	for _, p := range lists.OfferedPoints() {
		if p.Kind == kind {
			return p
		}
	}
	return lists.DefaultPoints{}
}

// TestTourniquetDefaults: the limits in the scenario's tables agree with the
// published facts, and each fact would notice if they did not.
func TestTourniquetDefaults(t *testing.T) {
	training := map[string]bool{}
	for _, line := range tableRows(t, "lines") {
		training[line["item"]] = line["kit_list"] == "TRAINING"
	}
	judged := map[bool]int{}
	for _, r := range tableRows(t, "items") {
		if r["category"] != string(inventory.CategoryTourniquet) || !strings.Contains(r["name"], "windlass") {
			continue
		}
		judged[training[r["code"]]]++
		for _, f := range facts {
			if f.training != training[r["code"]] {
				continue
			}
			assert.True(t, f.agrees(r), "%s: %s (%s)", r["code"], f.fact, f.source)
			other := tableRow{}
			for k, v := range r {
				other[k] = v
			}
			for k, v := range f.against {
				other[k] = v
			}
			assert.False(t, f.agrees(other), "the check of %q cannot fail", f.fact)
		}
	}
	assert.Equal(t, map[bool]int{false: 1, true: 1}, judged, "one item for issue and one for training")
}
