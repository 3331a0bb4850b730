package web

import (
	"net/url"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stowkeeper/inventory"
	"stowkeeper/inventory/message"
	"stowkeeper/inventory/stock"
)

// Every word that the pages of devices and notices look up is there.
func TestDeviceWords(t *testing.T) {
	for _, k := range boardFindings {
		assert.NotEmpty(t, findingWords[k])
	}
	for _, o := range noticeActionOptions {
		assert.NotEmpty(t, noticeActionWords[inventory.NoticeAction(o.Value)])
	}
	for _, st := range []inventory.NoticeStatus{inventory.NoticeOpen, inventory.NoticeClosed, inventory.NoticeCancelled} {
		assert.NotEmpty(t, noticeStatusWords[st])
	}
	assert.Equal(t, "withdraw, closed", noticeWord(inventory.Notice{Action: inventory.NoticeWithdraw,
		Status: inventory.NoticeClosed}).String())
}

func TestCyclesText(t *testing.T) {
	d := stock.DeviceSummary{}
	assert.Equal(t, "", cyclesText(d).String())
	d.Cycles = 3
	assert.Equal(t, "3 applications in training", cyclesText(d).String())
	d.Life.TrainingCycles = 200
	assert.Equal(t, "3 of 200 applications in training", cyclesText(d).String())
}

func TestNoticeMeans(t *testing.T) {
	assert.Equal(t, "all units", message.Join("; ", noticeMeans(inventory.NoticeScope{})...).String())
	assert.Equal(t, "batch B1; batch B2; serial S1; serial numbers A1 to A9; made 2026-01-01 to 2026-02-28",
		message.Join("; ", noticeMeans(inventory.NoticeScope{
			BatchNos: []string{"B1", "B2"}, Serials: []string{"S1"}, SerialFrom: "A1", SerialTo: "A9",
			MadeFrom: inventory.MustDay("2026-01-01"), MadeTo: inventory.MustDay("2026-02-28")})...).String())
}

// Points are read in the item's order, and a wrong one is shown where it is.
func TestPoints(t *testing.T) {
	it := inventory.Item{InspectionPoints: []string{"a", "b"}, InspectionNotes: []string{"n"}}
	f := openForm(url.Values{"point.7.1": {"fail"}, "point.7.1.note": {" torn "}, "point.7.2": {"pass"}, "point.8.0": {""},
		"point.x.0": {"pass"}, "other": {"1"}})
	points, rows := readPoints(f, it, 7)
	assert.Equal(t, []inventory.PointCheck{{Point: "b", Note: "torn"}, {Point: "n", Pass: true}}, points)
	assert.Equal(t, "point.7.2", pointName("points[1].point", rows))
	assert.Equal(t, "point.7.1.note", pointName("points[0].note", rows))
	assert.Equal(t, "points", pointName("points", rows))
	assert.Equal(t, "point.7.1", inspectedName("points", rows))
	assert.Equal(t, map[int64]bool{7: true}, lotsAnswered(f))
	fields := pointFields(f, it, 7)
	assert.Equal(t, []bool{false, false, true}, []bool{fields[0].NoteOnly, fields[1].NoteOnly, fields[2].NoteOnly})
	assert.True(t, fields[1].Fail)
	assert.False(t, fields[0].Pass || fields[0].Fail)
}

func TestLinesAndDays(t *testing.T) {
	f := openForm(url.Values{"lots": {" B1 \r\n\r\nB2\n"}, "on": {"2026-11-25"}, "bad": {"2026-02-30"}})
	assert.Equal(t, []string{"B1", "B2"}, f.lines("lots"))
	assert.Nil(t, f.lines("none"))
	assert.Equal(t, inventory.MustDay("2026-11-25"), f.day("on"))
	assert.Zero(t, f.day("none"))
	assert.True(t, f.ok())
	assert.Zero(t, f.day("bad"))
	assert.False(t, f.ok())
}

// Whatever a class holds, it is recorded whole or not at all.
func TestClassIsWhole(t *testing.T) {
	w := newWorld(t)
	c := w.as("Quinn Master").get("/classes")
	one, two := cycleField(w.lots["TRAINTQ/T1"]), cycleField(w.lots["TRAINTQ/T2"])
	c.submit("/classes?station=CEN", url.Values{one: {"3"}, two: {"100001"}})
	assert.Equal(t, 422, c.res.Code)
	for _, lot := range []string{"TRAINTQ/T1", "TRAINTQ/T2"} {
		d, err := w.svc.Stock.Device(t.Context(), admin, w.lots[lot])
		require.NoError(t, err)
		assert.Zero(t, d.Cycles, lot)
		assert.Empty(t, d.TrainingUses, lot)
	}
}

// A notice is issued only as it was shown.
func TestNoticeIsShownFirst(t *testing.T) {
	w := newWorld(t)
	c := w.as("Quinn Master").get("/notices/new")
	c.submit("/notices/new", url.Values{"reference": {"RC-1"}, "action": {"withdraw"}, "item": {"TQ"},
		"shown": {"made up"}})
	assert.Equal(t, 200, c.res.Code)
	all, err := w.svc.Notice.Notices(t.Context(), admin, inventory.NoticeFilter{}, inventory.Page{})
	require.NoError(t, err)
	assert.Empty(t, all)
	assert.Contains(t, c.text(), "Affected units")
}

// Of another station's places a notice says where and how many, and leads
// nowhere.
func TestNoticeAtOtherStations(t *testing.T) {
	w := newWorld(t)
	ctx := t.Context()
	_, err := w.svc.Ledger.Move(ctx, admin, []inventory.Movement{{LotID: w.lots["TQ/A1"], Qty: 2, From: "CEN-STORE",
		To: "NOR-STORE", Reason: inventory.ReasonTransfer}})
	require.NoError(t, err)
	_, err = w.svc.Account.CreatePerson(ctx, admin, inventory.Person{Name: "Nia North", Role: inventory.Quartermaster,
		Stations: []string{"CEN"}}, password, plainSecrets{})
	require.NoError(t, err)
	n, err := w.svc.Notice.CreateNotice(ctx, admin, inventory.Notice{Reference: "RC-1", Action: inventory.NoticeWithdraw,
		Item: "TQ"})
	require.NoError(t, err)
	c := w.stranger().post("/sign-in", url.Values{"name": {"Nia North"}, "secret": {password}})
	c.get(noticePath(n.ID))
	assert.Contains(t, c.text(), "NOR-STORE, North station: 2 units")
	assert.Contains(t, c.text(), "At another station")
	assert.NotContains(t, c.res.Body.String(), "/stock/NOR-STORE")
	c.post(noticePath(n.ID)+"/pull", url.Values{"key": {"k"}, "place": {"NOR-STORE"}})
	assert.Equal(t, 403, c.res.Code)
}
