package storetest

import (
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stowkeeper/inventory"
)

var noticePromises = []promise{
	{"a notice is kept whole", noticeKept},
	{"a notice's reference is taken on its item until it is cancelled", noticeReference},
	{"what becomes of a notice is stored", noticeOutcome},
	{"what was done about a notice is stored", noticeSteps},
	{"notices are listed, newest first", noticesListed},
}

func fullNotice(c *scene) inventory.Notice {
	return inventory.Notice{
		Reference: "FSN 2026/7", Action: inventory.NoticeWithdraw, Item: bandage, Product: c.addProduct(fullProduct()).ID,
		NoticeScope: inventory.NoticeScope{BatchNos: []string{"L-1", "L-2"}, Serials: []string{"S-1"}, SerialFrom: "A9",
			SerialTo: "A10", MadeFrom: inventory.MustDay("2026-01-01"), MadeTo: inventory.MustDay("2026-03-31")},
		Text:     "seals may leak, ü",
		Status:   inventory.NoticeOpen,
		IssuedAt: noon, IssuedBy: "Q. Master",
	}
}

func (c *scene) addNotice(n inventory.Notice) inventory.Notice {
	c.t.Helper()
	c.write(func(w inventory.Writer) (err error) {
		n, err = w.AddNotice(n)
		return err
	})
	require.NotZero(c.t, n.ID)
	return n
}

func (c *scene) refusedNotice(n inventory.Notice) {
	c.t.Helper()
	c.refused(inventory.Conflict, func(w inventory.Writer) error {
		_, err := w.AddNotice(n)
		return err
	})
}

func notice(id int64) func(inventory.Reader) (inventory.Notice, error) {
	return func(r inventory.Reader) (inventory.Notice, error) { return r.Notice(id) }
}

func noticeKept(c *scene) {
	want := fullNotice(c)
	kept := c.addNotice(want)
	want.ID = kept.ID
	assert.Equal(c.t, want, kept)
	assert.Equal(c.t, want, got(c, notice(kept.ID)))
	bare := c.addNotice(inventory.Notice{Reference: "R", Action: inventory.NoticeInform, Item: thermometer,
		Status: inventory.NoticeOpen, IssuedAt: noon})
	assert.Equal(c.t, bare, got(c, notice(bare.ID)))
	absent(c, notice(bare.ID+1))
	for _, change := range []func(*inventory.Notice){
		func(n *inventory.Notice) { n.Reference = "" }, func(n *inventory.Notice) { n.Action = "warn" },
		func(n *inventory.Notice) { n.Item = "NONE" },
		func(n *inventory.Notice) { n.Product = 999 }, func(n *inventory.Notice) { n.Status = "lost" },
		func(n *inventory.Notice) { n.Status = inventory.NoticeClosed },
		func(n *inventory.Notice) { n.SerialTo = "" }, func(n *inventory.Notice) { n.MadeTo = 0 },
	} {
		bad := want
		bad.Reference = "another"
		change(&bad)
		c.refusedNotice(bad)
	}
}

func noticeReference(c *scene) {
	n := fullNotice(c)
	first := c.addNotice(n)
	c.refusedNotice(n)
	other := n
	other.Item, other.Product = thermometer, 0
	c.addNotice(other) // on another item
	for _, status := range []inventory.NoticeStatus{inventory.NoticeClosed, inventory.NoticeCancelled} {
		first.Status, first.EndedAt, first.EndedBy, first.EndReason = status, noon+1, "Q. Master", "done"
		c.write(func(w inventory.Writer) error { return w.SetNoticeOutcome(first) })
		if status == inventory.NoticeClosed {
			c.refusedNotice(n)
		}
	}
	c.addNotice(n)
}

func noticeOutcome(c *scene) {
	n := c.addNotice(fullNotice(c))
	n.Status, n.EndedAt, n.EndedBy, n.EndReason = inventory.NoticeClosed, noon+5, "Q. Master", "nothing is left"
	c.write(func(w inventory.Writer) error { return w.SetNoticeOutcome(n) })
	assert.Equal(c.t, n, got(c, notice(n.ID)))
	again := n
	again.Text, again.Status = "changed", inventory.NoticeCancelled
	c.write(func(w inventory.Writer) error { return w.SetNoticeOutcome(again) })
	n.Status = inventory.NoticeCancelled
	assert.Equal(c.t, n, got(c, notice(n.ID)), "how it ended, and nothing else")
	n.ID++
	c.refused(inventory.NotFound, func(w inventory.Writer) error { return w.SetNoticeOutcome(n) })
}

func noticeSteps(c *scene) {
	n := c.addNotice(fullNotice(c))
	n.Steps = []inventory.NoticeStep{{Kind: inventory.StepReleased, RecordedAt: noon, By: "Q. Master", BatchID: c.batch.ID,
		Bore: 2, Text: "looked"}, {Kind: inventory.StepWidened, RecordedAt: noon + 1, By: "Q. Master",
		NoticeScope: inventory.NoticeScope{BatchNos: []string{"L-3"}, MadeFrom: inventory.MustDay("2026-01-01"),
			MadeTo: inventory.MustDay("2026-01-02")}}}
	c.write(func(w inventory.Writer) error { return w.SetNoticeSteps(n) })
	assert.Equal(c.t, n, got(c, notice(n.ID)))
	n.ID++
	c.refused(inventory.NotFound, func(w inventory.Writer) error { return w.SetNoticeSteps(n) })
}

func noticesListed(c *scene) {
	a := fullNotice(c)
	b := a
	b.Reference, b.Item, b.Product = "second", thermometer, 0
	a, b = c.addNotice(a), c.addNotice(b)
	a.Status, a.EndedAt = inventory.NoticeClosed, noon
	c.write(func(w inventory.Writer) error { return w.SetNoticeOutcome(a) })
	list := func(f inventory.NoticeFilter, p inventory.Page) []inventory.Notice {
		return got(c, func(r inventory.Reader) ([]inventory.Notice, error) { return r.Notices(f, p) })
	}
	assert.Equal(c.t, []inventory.Notice{b, a}, list(inventory.NoticeFilter{}, inventory.Page{}))
	assert.Equal(c.t, []inventory.Notice{a}, list(inventory.NoticeFilter{Item: bandage}, inventory.Page{}))
	assert.Equal(c.t, []inventory.Notice{b}, list(inventory.NoticeFilter{Status: inventory.NoticeOpen}, inventory.Page{}))
	assert.Empty(c.t, list(inventory.NoticeFilter{Status: inventory.NoticeOpen, Item: bandage}, inventory.Page{}))
	assert.Equal(c.t, []inventory.Notice{b}, list(inventory.NoticeFilter{}, inventory.Page{Limit: 1}))
}
