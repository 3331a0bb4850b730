package agenda_test

import (
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stowkeeper/inventory"
	"stowkeeper/inventory/agenda"
	"stowkeeper/inventory/fixture"
	"stowkeeper/inventory/inventorytest/outside"
	"stowkeeper/inventory/message"
	"stowkeeper/inventory/shift"
	"stowkeeper/inventory/store/storetest"
)

func at(h *fixture.Stowed) agenda.Agenda {
	a, err := h.S.Agenda.At(h.Ctx, fixture.Crew, "north")
	require.NoError(h.T, err)
	return a
}

// said is each event's day and text, by its id.
func said(a agenda.Agenda) map[string]string {
	out := map[string]string{}
	for _, e := range a.Events {
		out[e.ID] = e.Day.String() + " " + e.Text.String()
	}
	return out
}

// busy is a station where something of every kind is due.
func busy(t *testing.T, s inventory.Store) *fixture.Stowed {
	t.Helper()
	h := fixture.NewStowed(t, s)
	h.Receive("SPLINT", "SP-1", 1, "")
	h.Issue(inventory.Notice{Reference: "R-1", Action: inventory.NoticeWithdraw, Item: "DRESSING",
		NoticeScope: inventory.NoticeScope{BatchNos: []string{"B1"}}})
	_, err := h.S.Shift.SendAway(h.Ctx, fixture.Keeper, shift.AwayTrip{From: "NORTH-STORE", Where: "St Elsewhere; ward 3",
		DueBack: h.Now.InUTC().AddDays(9), Lines: []shift.AwayLine{{LotID: h.Pens.ID, Qty: 2}}})
	require.NoError(t, err)
	return h
}

// Each thing is on its day, or today where it is late or has none; what is done is gone; what moved is known by its id.
func TestAgenda(t *testing.T) {
	storetest.Engines(t, func(t *testing.T, s inventory.Store) {
		h := busy(t, s)
		before := at(h)
		want := map[string]string{
			"count/NORTH-STORE/NORTH":     "2027-06-14 Count North store",
			"due-back/NORTH-AWAY-2/NORTH": "2027-06-23 St Elsewhere; ward 3: due back 2027-06-23",
			"full-check/N-01/NORTH":       "2027-07-14 N-01: full check",
			"full-check/N-02/NORTH":       "2027-06-14 N-02: no full check yet",
			"full-check/T-01/NORTH":       "2027-06-14 T-01: no full check yet",
			"inspection/5/NORTH":          "2027-09-12 Splint, traction SP-1: inspection due by 2027-09-12",
			"recall/1/NORTH":              "2027-06-14 Dressing, plain: under notice R-1",
			"seal-check/N-01/NORTH":       "2027-06-15 N-01: seal check",
			"use-by/N-01/1/NORTH":         "2028-02-29 N-01: use by 2028-02-29",
			"use-by/NORTH-STORE/1/NORTH":  "2028-02-29 North store: use by 2028-02-29",
		}
		assert.Equal(t, want, said(before))
		south, err := h.S.Agenda.At(h.Ctx, fixture.Keeper, "SOUTH")
		require.NoError(t, err)
		assert.Equal(t, map[string]string{"full-check/S-01/SOUTH": "2027-06-15 S-01: no full check yet",
			"recall/1/SOUTH": "2027-06-15 Dressing, plain: under notice R-1"}, said(south),
			"where it is the next day, and nobody has answered")

		// The pens come back, the date was typed wrongly, and eleven days go by without a check.
		away := "NORTH-AWAY-2"
		_, err = h.S.Shift.ComeBack(h.Ctx, fixture.Keeper, away, []shift.ReturnLine{{LotID: h.Pens.ID, Qty: 2}})
		require.NoError(t, err)
		date := "2027-12"
		_, err = h.S.Ledger.CorrectLot(h.Ctx, fixture.Keeper, h.Dressings.ID,
			inventory.LotCorrection{EndPrinted: &date, Reason: "misread"})
		require.NoError(t, err)
		h.Pass(11 * 24 * time.Hour)
		after := at(h)
		delete(want, "due-back/NORTH-AWAY-2/NORTH")
		want["count/NORTH-STORE/NORTH"] = "2027-06-25 Count North store"
		want["full-check/N-02/NORTH"], want["full-check/T-01/NORTH"] = "2027-06-25 N-02: no full check yet",
			"2027-06-25 T-01: no full check yet"
		want["recall/1/NORTH"] = "2027-06-25 Dressing, plain: under notice R-1"
		want["seal-check/N-01/NORTH"] = "2027-06-25 N-01: seal check overdue since 2027-06-15"
		want["use-by/N-01/1/NORTH"] = "2027-12-31 N-01: use by 2027-12-31"
		want["use-by/NORTH-STORE/1/NORTH"] = "2027-12-31 North store: use by 2027-12-31"
		assert.Equal(t, want, said(after))
		assert.Greater(t, after.Sequence, before.Sequence)
	})
}

// A recall is on a station's agenda, with what is left to pull where, until the station has pulled it and said so.
func TestRecallUntilDone(t *testing.T) {
	h := busy(t, storetest.OpenSQLite(t))
	left := func() (out []string) {
		for _, e := range at(h).Events {
			if e.ID == "recall/1/NORTH" {
				out = append(out, e.Path)
				for _, d := range e.Details {
					out = append(out, d.String())
				}
			}
		}
		return out
	}
	assert.Equal(t, []string{"notices/1", "N-01: 6 units of Dressing, plain, batch B1",
		"NORTH-STORE: 14 units of Dressing, plain, batch B1"}, left())
	for _, place := range []string{"N-01", "NORTH-STORE"} {
		_, err := h.S.Notice.Pull(h.Ctx, fixture.Keeper, 1, place)
		require.NoError(t, err)
	}
	assert.Equal(t, []string{"notices/1"}, left(), "which has not answered")
	_, err := h.S.Notice.Answer(h.Ctx, fixture.Keeper, 1, "NORTH", 20, "")
	require.NoError(t, err)
	assert.Empty(t, left())
	h.Issue(inventory.Notice{Reference: "R-2", Action: inventory.NoticeInform, Item: "PEN"})
	assert.NotContains(t, said(at(h)), "recall/2/NORTH", "there is nothing to do")
}

// Whatever moves an event makes the sequence greater: a day that begins, and a record anywhere, also one that takes
// the station's day back.
func TestSequence(t *testing.T) {
	h := busy(t, storetest.OpenSQLite(t))
	last := at(h).Sequence
	grows := func(what string) {
		t.Helper()
		now := at(h).Sequence
		assert.Greater(t, now, last, what)
		last = now
	}
	h.Pass(24 * time.Hour)
	grows("a day")
	h.Restock("S-01", "200")
	grows("a record of another station")
	days := 100
	_, err := h.S.Lists.UpdateItem(h.Ctx, fixture.Admin, inventory.Item{Code: "SPLINT", Name: "Splint, traction",
		Category: "immobilisation", Unit: "each", TrackedBy: inventory.BySerial, Version: 1,
		Life: inventory.Life{InspectDays: days, TrainingCycles: 100}, InspectionPoints: []string{"frame whole"}})
	require.NoError(t, err)
	grows("a rule of the service")
	assert.Contains(t, said(at(h))["inspection/5/NORTH"], "2027-09-22")
	again := at(h)
	assert.Equal(t, last, again.Sequence, "nothing happened")
}

func TestWhoMaySeeAnAgenda(t *testing.T) {
	h := busy(t, storetest.OpenSQLite(t))
	for name, c := range map[string]struct {
		by      inventory.Actor
		station string
		want    inventory.ErrorKind
	}{
		"nobody":          {fixture.Nobody, "NORTH", inventory.SignedOut},
		"crew, elsewhere": {fixture.Crew, "SOUTH", inventory.Forbidden},
		"no such station": {fixture.Admin, "WEST", inventory.NotFound},
		"a narrow token": {inventory.Actor{Name: "x", Role: inventory.Manager, Scope: []inventory.Action{"label"}}, "NORTH",
			inventory.Forbidden},
		"no station": {fixture.Admin, "", inventory.NotFound},
	} {
		_, err := h.S.Agenda.At(h.Ctx, c.by, c.station)
		assert.Equal(t, c.want, inventory.KindOf(err), name)
	}
}

// Two programs of others read in the file what the agenda says, whatever people typed as names.
func TestCalendarsReadTheAgenda(t *testing.T) {
	h := busy(t, storetest.OpenSQLite(t))
	for i, name := range []string{"x END:VEVENT BEGIN:VEVENT UID:evil;a,b\\c 🩹", strings.Repeat("é,", 50)} {
		code := "N-X" + string(rune('1'+i))
		_, err := h.S.Lists.CreatePlace(h.Ctx, fixture.Keeper, inventory.Place{Code: code, Station: "NORTH",
			Kind: inventory.KindStore, Purpose: inventory.ForIssue, Name: name})
		require.NoError(t, err)
		gauze := h.Receive("GAUZE", "G;"+code, 2, "2028-01")
		h.Move(gauze.ID, 2, "NORTH-STORE", code, inventory.ReasonTransfer)
	}
	a := at(h)
	var want []outside.Event
	for _, e := range a.Events {
		var details []string
		for _, d := range e.Details {
			details = append(details, d.String())
		}
		w := outside.Event{UID: e.ID + "@stock.example.org", Summary: e.Text.String(), Details: strings.Join(details, "\n"),
			Place: e.Place, Start: e.Day.String(), End: e.Day.AddDays(1).String(), Sequence: a.Sequence}
		if e.Warn > 0 {
			w.Alarm = "-" + string(rune('0'+e.Warn))
		}
		want = append(want, w)
	}
	require.Len(t, want, 12, "of each shelf its date, and of one its count")
	for by, read := range outside.Calendars(t, a.Calendar("https://stock.example.org", message.Message.String)) {
		assert.Equal(t, outside.Calendar{Name: "North", Product: "-//Stowkeeper//Stowkeeper//EN", Refresh: "PT360M",
			Events: want}, read, by)
	}
}
