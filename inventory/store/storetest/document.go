package storetest

import (
	"github.com/stretchr/testify/assert"
	"slices"

	"stowkeeper/inventory"
)

var documentPromises = []promise{
	{"documents are kept, listed newest first, and changed", documentsKept},
}

func documentsKept(c *scene) {
	add := func(d inventory.Document) inventory.Document {
		c.write(func(w inventory.Writer) (err error) {
			d, err = w.AddDocument(d)
			return err
		})
		return d
	}
	t := add(inventory.Document{Kind: inventory.DocTransfer, Station: north, Other: south, Status: "asked", OpenedAt: noon,
		OpenedBy: "x", Body: `{"n": 1}`})
	n := add(inventory.Document{Kind: inventory.DocCount, Station: north, Place: northStore, Status: "open",
		OpenedAt: noon, OpenedBy: "x", Body: `{}`})
	list := func(f inventory.DocumentFilter) (ids []int64) {
		for _, d := range got(c, func(r inventory.Reader) ([]inventory.Document, error) {
			return r.Documents(f, inventory.Page{})
		}) {
			ids = append(ids, d.ID)
		}
		return ids
	}
	assert.Equal(c.t, t, got(c, func(r inventory.Reader) (inventory.Document, error) { return r.Document(t.ID) }))
	absent(c, func(r inventory.Reader) (inventory.Document, error) { return r.Document(999) })
	assert.Equal(c.t, []int64{n.ID, t.ID}, list(inventory.DocumentFilter{Open: true}))
	assert.Equal(c.t, []int64{t.ID}, list(inventory.DocumentFilter{Stations: []string{south}}))
	assert.Equal(c.t, []int64{n.ID}, list(inventory.DocumentFilter{Places: []string{northStore}}))
	assert.Empty(c.t, list(inventory.DocumentFilter{Of: t.ID}))
	n.Status, n.EndedAt, n.EndedBy, n.Body = "posted", noon, "y", `{"lines": []}`
	c.write(func(w inventory.Writer) error {
		locked, err := w.LockDocument(n.ID)
		assert.Equal(c.t, "open", locked.Status)
		if err != nil {
			return err
		}
		return w.SetDocument(n)
	})
	assert.Equal(c.t, []int64{t.ID}, list(inventory.DocumentFilter{Open: true}))
	assert.Equal(c.t, []int64{n.ID}, list(inventory.DocumentFilter{Kind: inventory.DocCount}))
	shelves := got(c, func(r inventory.Reader) ([]inventory.Shelf, error) { return r.Shelves([]string{north}) })
	i := slices.IndexFunc(shelves, func(s inventory.Shelf) bool { return s.Place == northStore })
	assert.Equal(c.t, []any{north, noon}, []any{shelves[i].Station, shelves[i].Last})
	assert.False(c.t, slices.ContainsFunc(shelves, func(s inventory.Shelf) bool { return s.Station != north }))
	add(inventory.Document{Kind: inventory.DocOrder, Station: north, Place: northStore, Status: "draft", OpenedAt: noon,
		OpenedBy: "x", Body: `{"lines": []}`})
	for _, bad := range []inventory.Document{{Kind: "letter", Station: north, Status: "x", OpenedAt: noon, Body: `{}`},
		{Kind: inventory.DocTransferReceipt, Station: north, Status: "x", OpenedAt: noon, Body: `{}`},
		{Kind: inventory.DocCount, Station: "NOWHERE", Status: "x", OpenedAt: noon, Body: `{}`}} {
		c.refused(inventory.Conflict, func(w inventory.Writer) error { _, err := w.AddDocument(bad); return err })
	}
}
