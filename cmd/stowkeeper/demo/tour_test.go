package demo_test

import (
	"context"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stowkeeper/inventory"
	"stowkeeper/inventory/lists"
	"stowkeeper/inventory/services"
	"stowkeeper/inventory/shift"
)

var (
	dilys = inventory.Actor{Name: "Dilys Wrenfield", Role: inventory.Crew, Stations: []string{"FM"}}
	bram  = inventory.Actor{Name: "Bram Oddleberry", Role: inventory.Quartermaster, Stations: []string{"FM", "HT",
		"OV", "SQ"}}
	corin = inventory.Actor{Name: "Corin Plumstole", Role: inventory.Manager, Stations: []string{"FM", "HT", "OV", "SQ"}}
)

type walk struct {
	t   *testing.T
	ctx context.Context
	svc *services.All
}

// tour does what the README's tour does: a use stops the bag, the quartermaster
// decides what waits, the pick list fills it, the restock makes it ready, and
// the report shows each step.
func (w walk) tour() {
	require.Equal(w.t, inventory.ReadyWithGaps, w.state())
	gauze := w.shortfall("DR-HAEM-G")
	assert.Equal(w.t, 1, gauze, "the report shows the gauze that ran out")

	w.use("TQ-WIND", "Bleeding pouch")
	require.Equal(w.t, inventory.NotReady, w.state(), "without two tourniquets it must not go out")
	assert.Equal(w.t, 2, w.shortfall("TQ-WIND"))

	w.decide()
	assert.Positive(w.t, w.shortfall("DR-PRES-L"), "the use that waited has been posted")

	w.restock()
	require.Equal(w.t, inventory.Ready, w.state())
	assert.Zero(w.t, w.shortfall("TQ-WIND")+w.shortfall("DR-HAEM-G")+w.shortfall("DR-PRES-L"))
	report, err := w.svc.Verify.Verify(w.ctx)
	require.NoError(w.t, err)
	assert.Empty(w.t, report.Faults)
}

func (w walk) checklist() inventory.Checklist {
	c, err := w.svc.Shift.Checklist(w.ctx, dilys, "FM-TR1", lists.Outlook{Horizon: -1})
	require.NoError(w.t, err)
	return c
}

func (w walk) state() inventory.State {
	r := w.checklist().Readiness
	w.t.Log(r.State, r.Findings)
	return r.State
}

// shortfall adds up what the report says the tour's bag lacks of an item.
func (w walk) shortfall(item string) int {
	rep, err := w.svc.Report.Shortages(w.ctx, corin, []string{"FM"}, lists.Outlook{Horizon: -1})
	require.NoError(w.t, err)
	n := 0
	for _, r := range rep.Rows {
		if r.Bag == "FM-TR1" && r.Item == item {
			n += r.Shortfall
		}
	}
	return n
}

// use takes all units of an item from a pouch of the bag.
func (w walk) use(item, pouch string) {
	c := w.checklist()
	u := inventory.Use{Bag: "FM-TR1", Incident: "I-TOUR", SeenPosition: c.Bag.Position, SealSeen: c.Bag.Seal}
	for _, l := range c.Readiness.Lines {
		for _, lot := range l.Lots {
			if l.Pouch == pouch && lot.Item == item {
				u.Lines = append(u.Lines, inventory.UseLine{LotID: lot.LotID, Qty: lot.Qty})
			}
		}
	}
	require.Len(w.t, u.Lines, 2, "both tourniquets, each with its serial number")
	got, err := w.svc.Shift.RecordUse(w.ctx, dilys, u, "tour")
	require.NoError(w.t, err)
	require.Equal(w.t, inventory.StatusAccepted, got.Status)
}

// decide settles the check that came late and the use of what is not there.
func (w walk) decide() {
	checks, err := w.svc.Shift.Checks(w.ctx, bram, inventory.RecordFilter{Bag: "FM-TR1", Status: inventory.StatusToReview},
		inventory.Page{})
	require.NoError(w.t, err)
	require.Len(w.t, checks, 1)
	_, err = w.svc.Shift.DecideCheck(w.ctx, bram, checks[0].ID, shift.CheckDecision{Decision: inventory.DecideReject,
		Reason: "the bag was restocked after it"})
	require.NoError(w.t, err)

	uses, err := w.svc.Shift.Uses(w.ctx, bram, inventory.RecordFilter{Bag: "FM-TR1", Status: inventory.StatusToReview},
		inventory.Page{})
	require.NoError(w.t, err)
	require.Len(w.t, uses, 1)
	_, err = w.svc.Shift.DecideUse(w.ctx, bram, uses[0].ID, shift.UseDecision{Decision: inventory.DecideAccept,
		Reason: "as reported"})
	require.Equal(w.t, inventory.Conflict, inventory.KindOf(err),
		"records show less stock than was reported used, so it cannot be posted as it is")
	line := uses[0].Lines[0]
	line.Qty--
	_, err = w.svc.Shift.DecideUse(w.ctx, bram, uses[0].ID, shift.UseDecision{Decision: inventory.DecideEdit,
		Reason: "one came from the next bag", Lines: []inventory.UseLine{line}})
	require.NoError(w.t, err)
}

// restock does what the pick list says: first to run out, first in.
func (w walk) restock() {
	pl, err := w.svc.Storeroom.RestockPlan(w.ctx, bram, "FM-TR1", lists.Outlook{})
	require.NoError(w.t, err)
	require.Empty(w.t, pl.Unfilled, "the store can fill the bag")
	in := inventory.Restock{Bag: "FM-TR1", SealSet: "500001"}
	last := map[string]inventory.Day{}
	for _, p := range pl.Lines {
		assert.GreaterOrEqual(w.t, p.UsableThrough, last[p.Item], "first expired, first out: %s", p.Item)
		last[p.Item] = p.UsableThrough
		in.Lines = append(in.Lines, inventory.RestockLine{LotID: p.LotID, Qty: p.Qty, From: p.From})
	}
	expired := 0
	for _, o := range pl.TakeOut {
		if o.Cause == inventory.CauseExpired {
			expired += o.Qty
		}
		in.TakeOut = append(in.TakeOut, inventory.TakeOutLine{LotID: o.LotID, Qty: o.Qty, To: o.To, Reason: o.Reason,
			Cause: o.Cause})
	}
	assert.Equal(w.t, 1, expired, "one expired unit comes out")
	_, err = w.svc.Storeroom.RecordRestock(w.ctx, bram, in, pl.Position)
	require.NoError(w.t, err)
}
