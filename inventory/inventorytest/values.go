// Package inventorytest holds what the tests of the domain share: values as a table writes them, a maker of random
// bags, and what is asked of errors.
package inventorytest

import (
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"stowkeeper/inventory"
)

// CauseFor returns a cause that the reason asks for.
func CauseFor(r inventory.Reason) inventory.Cause {
	switch r {
	case inventory.ReasonDisposed:
		return inventory.CauseDamaged
	case inventory.ReasonLost:
		return inventory.CauseMissing
	}
	return ""
}

// Answers gives points their outcomes: "frame whole" passed, "!frame whole" failed.
func Answers(texts ...string) []inventory.PointCheck {
	var out []inventory.PointCheck
	for _, s := range texts {
		failed := s != "" && s[0] == '!'
		if failed {
			s = s[1:]
		}
		out = append(out, inventory.PointCheck{Point: s, Pass: !failed})
	}
	return out
}

// Long tells whether what is long and random runs at its whole length: where STOWKEEPER_LONG=1 asks for it.
var Long = os.Getenv("STOWKEEPER_LONG") == "1"

// Raced tells whether the race detector is on, which makes each step dear.
var Raced bool

// Day reads a day in a test table; the empty text is no day.
func Day(s string) inventory.Day {
	if s == "" {
		return 0
	}
	return inventory.MustDay(s)
}

// ReadTestdata fills v from a file of the folder testdata at the top of the house, wherever below the test runs.
func ReadTestdata(t *testing.T, name string, v any) {
	t.Helper()
	top := "."
	for {
		if _, err := os.Stat(filepath.Join(top, "go.mod")); err == nil {
			break
		}
		top = filepath.Join(top, "..")
		require.Less(t, len(top), 60, "no go.mod above")
	}
	b, err := os.ReadFile(filepath.Join(top, "testdata", name))
	require.NoError(t, err)
	require.NoError(t, json.Unmarshal(b, v))
}

// At reads an instant in a test table.
func At(s string) inventory.Instant {
	t, err := time.Parse(time.RFC3339Nano, s)
	if err != nil {
		panic(err)
	}
	return inventory.InstantOf(t)
}

func ShortRows(rows []inventory.ShortageRow) []string {
	var out []string
	for _, r := range rows {
		out = append(out, fmt.Sprintf("%s %s %s %q par %d min %d usable %d short %d below %t critical %t", r.Station, r.Bag,
			r.Item, r.Pouch,
			r.Par, r.Minimum, r.Usable, r.Shortfall, r.BelowMinimum, r.Critical))
	}
	return out
}

// Findings writes findings in short: "severity kind item lot qty date rule".
func Findings(r inventory.Readiness) []string {
	var out []string
	for _, f := range r.Findings {
		out = append(out, fmt.Sprintf("%s %s %s %d %d %s %s", f.Severity, f.Kind, f.Item, f.LotID, f.Qty, f.Date, f.Rule))
	}
	return out
}

var UtcZone = time.UTC

// Picks writes a pick list in short: what goes in, what comes out, what the store cannot fill.
func Picks(pl inventory.PickList) (in, out, unfilled []string) {
	for _, p := range pl.Lines {
		s := fmt.Sprintf("%s/%s %d×%d from %s", p.Item, p.Pouch, p.LotID, p.Qty, p.From)
		if p.ShortDated {
			s += " short"
		}
		if p.PriorClaim != "" {
			s += " claimed by " + p.PriorClaim
		}
		in = append(in, s)
	}
	for _, x := range pl.TakeOut {
		out = append(out, fmt.Sprintf("%d×%d to %s %s %s", x.LotID, x.Qty, x.To, x.Reason, x.Cause))
	}
	for _, u := range pl.Unfilled {
		unfilled = append(unfilled, fmt.Sprintf("%s/%s %d", u.Item, u.Pouch, u.Qty))
	}
	return in, out, unfilled
}

// Noon of 2027-06-14 in London: the moment at which the tests judge.
var Noon = At("2027-06-14T11:00:00Z")

func Ptr[T any](v T) *T { return &v }
