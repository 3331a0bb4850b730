package demo_test

import (
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stowkeeper/inventory"
	"stowkeeper/inventory/lists"
	"stowkeeper/inventory/services"
	"stowkeeper/inventory/stock"
)

// lookAtDevices looks for every sort of device story that the scenario tells.
func lookAtDevices(t *testing.T, svc *services.All) {
	all, err := svc.Stock.Devices(t.Context(), manager, stock.DeviceFilter{}, inventory.Page{})
	require.NoError(t, err)
	overdue, checked, back := map[string]int{}, 0, 0
	for _, d := range all {
		require.Len(t, d.Where, 1)
		if d.InspectionOverdue && d.Where[0].Place != "FM-TRAINING-QUARANTINE" {
			overdue[d.Where[0].Place]++
		}
		if d.ExposedDays == 43 && d.ExposedSince == 0 {
			back++
		}
		if strings.HasSuffix(d.Where[0].Place, "-TR1") && len(device(t, svc, d.ID).Inspections) > 0 {
			looked := device(t, svc, d.ID).Inspections
			if slices.ContainsFunc(looked, func(x inventory.Inspection) bool { return strings.HasPrefix(x.Source, "check ") }) {
				checked++
			}
		}
	}
	assert.Positive(t, overdue["SQ-TR1"], "a crew that does not inspect")
	assert.Positive(t, overdue["OV-TR1"], "a notice asks for inspections")
	assert.Len(t, overdue, 2, "nothing else is overdue: %v", overdue)
	assert.Positive(t, checked, "full checks inspected what was due")
	assert.Equal(t, 1, back, "one that was exposed and came back inside")

	riding := held(t, svc, "FM-BELT1", "TQ-WIND")
	require.Len(t, riding, 1, "a tourniquet that rides exposed")
	end := device(t, svc, riding[0].ID).Ends[0]
	assert.Equal(t, inventory.RuleExposed, end.Rule)
	assert.True(t, end.Policy)
	assert.Contains(t, end.Text.String(), "your policy")

	worn := held(t, svc, "FM-TRAINING-QUARANTINE", "TQ-WIND-TR")
	require.Len(t, worn, 1, "a worn training device")
	assert.True(t, device(t, svc, worn[0].ID).WornOut)
	for _, l := range held(t, svc, "FM-TRAIN1", "TQ-WIND-TR") {
		assert.Positive(t, l.Cycles)
		assert.False(t, device(t, svc, l.ID).WornOut)
	}
	lookAtFailed(t, svc)
}

// lookAtFailed looks at the device that failed a full check, and at its bag.
func lookAtFailed(t *testing.T, svc *services.All) {
	failed := held(t, svc, "OV-QUARANTINE", "TQ-WIND")
	require.Len(t, failed, 1, "a device that failed its inspection")
	looked := device(t, svc, failed[0].ID).Inspections
	assert.Equal(t, []any{false, "OV-TR2"}, []any{looked[0].Passed, looked[0].Place})
	r, err := svc.Shift.Readiness(t.Context(), manager, "OV-TR2", lists.Outlook{Horizon: -1})
	require.NoError(t, err)
	assert.True(t, slices.ContainsFunc(r.Findings, func(f inventory.Finding) bool {
		return f.Kind == inventory.FindObservation && strings.Contains(f.Text.String(), failed[0].Serial)
	}), "its bag says so: %v", r.Findings)
}

// lookAtNotices looks for a recall that ended, one that goes on over several
// bags, and one that asks for inspections.
func lookAtNotices(t *testing.T, svc *services.All) {
	all, err := svc.Notice.Notices(t.Context(), manager, inventory.NoticeFilter{}, inventory.Page{})
	require.NoError(t, err)
	require.Len(t, all, 3)
	for _, n := range all {
		story, err := svc.Notice.Notice(t.Context(), manager, n.ID)
		require.NoError(t, err)
		bags := map[string]bool{}
		for _, u := range story.PullFrom {
			bags[u.Place] = bags[u.Place] || u.Kind == inventory.KindBag
		}
		switch {
		case n.Action == inventory.NoticeInspect:
			assert.Positive(t, n.Outstanding)
		case n.Status == inventory.NoticeClosed:
			assert.Zero(t, n.Outstanding)
			lots, err := svc.Stock.Lots(t.Context(), manager, inventory.LotFilter{Item: n.Item, BatchNo: n.BatchNos[0]}, 0,
				inventory.Page{})
			require.NoError(t, err)
			require.NotEmpty(t, lots)
			trace, err := svc.Stock.Lot(t.Context(), manager, lots[0].ID)
			require.NoError(t, err)
			pulled := map[string]bool{}
			for _, m := range trace.History {
				if m.Reason == inventory.ReasonQuarantine {
					pulled[m.From] = true
				}
			}
			assert.Greater(t, len(pulled), 2, "it was pulled from several bags")
		default:
			assert.Greater(t, len(bags), 2, "it goes over several bags")
			assert.Positive(t, n.Pulled)
			assert.NotEmpty(t, story.MightBe)
			assert.NotEmpty(t, story.Incidents)
		}
	}
}

// lookAtOther looks for opened units, something overdue away, a bag on loan, a
// module and a vehicle that was taken off.
func lookAtOther(t *testing.T, svc *services.All) {
	fit, today := map[bool]int{}, inventory.Station{Timezone: "Europe/London"}.Today(svc.Now())
	lots, err := svc.Stock.Lots(t.Context(), manager, inventory.LotFilter{Held: true}, 0, inventory.Page{})
	require.NoError(t, err)
	for _, l := range lots {
		if l.OpenedOn != 0 {
			fit[l.UsableThrough >= today]++
		}
	}
	assert.Equal(t, map[bool]int{true: 1, false: 1}, fit, "an opened unit that still counts, and one that does not")
	away, err := svc.Shift.Away(t.Context(), manager, nil)
	require.NoError(t, err)
	require.Len(t, away, 2)
	assert.Equal(t, []bool{true, false}, []bool{away[0].Overdue, away[1].Overdue})
	lent, err := svc.Lists.Lent(t.Context(), manager, nil)
	require.NoError(t, err)
	require.Len(t, lent, 1)
	assert.Equal(t, []string{"FM-TR9", "HT"}, []string{lent[0].Code, lent[0].AtStation})
	r, err := svc.Shift.Readiness(t.Context(), manager, "OV-MI1", lists.Outlook{Horizon: -1})
	require.NoError(t, err)
	require.Len(t, r.Modules, 1)
	assert.Equal(t, inventory.SealIntact, r.Modules[0].SealState, "a sealed module")
	vehicles, err := svc.Shift.Vehicles(t.Context(), manager, nil)
	require.NoError(t, err)
	off := 0
	for _, v := range vehicles {
		if v.OutOfService != nil {
			off++
		}
	}
	assert.Equal(t, 1, off, "a vehicle that was taken off")
}

func device(t *testing.T, svc *services.All, lot int64) stock.DeviceStory {
	d, err := svc.Stock.Device(t.Context(), manager, lot)
	require.NoError(t, err)
	return d
}

// held lists the units of an item in a place.
func held(t *testing.T, svc *services.All, place, item string) []stock.LotSummary {
	lots, err := svc.Stock.StockAt(t.Context(), manager, place)
	require.NoError(t, err)
	return slices.DeleteFunc(lots, func(l stock.LotSummary) bool { return l.Item != item })
}
