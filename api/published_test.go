package api_test

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"stowkeeper/inventory"
	"stowkeeper/inventory/lists"
)

// publishedTable stands in for the published lists that the program carries.
const publishedTable = `[{"standard":"CFR 1","title":"Invented kit","kit":"Small","source":"Part 1, table","items":[
{"name":"Gauze pad, small","min_qty":4,"unit":"each"},
{"name":"Blanket","min_qty":null,"unit":"each","note":"the rule states no number"}]}]`

// TestPublishedLists copies a published list: numbers are wanted and stop, what
// has no number asks for presence, and items are made once.
func TestPublishedLists(t *testing.T) {
	s := newStocked(t)
	all := decoded[struct{ Data []lists.PublishedList }](s.as(crew, "GET", "/published-lists").want(200))
	assert.Equal(t, "cfr-1", all.Data[0].ID)
	s.as(crew, "POST", "/published-lists/cfr-1/copies").json(`{"code":"OWN"}`).want(403)
	s.as(quartermaster, "POST", "/published-lists/none/copies").json(`{"code":"OWN"}`).want(404)
	k := decoded[inventory.KitList](s.as(quartermaster, "POST", "/published-lists/cfr-1/copies").json(`{"code":"OWN"}`).
		want(201))
	assert.Equal(t, "Invented kit, CFR 1, Part 1, table", k.Name+", "+k.Edition+", "+k.Source)
	assert.Equal(t, []inventory.Line{{Item: "GAUZE-PAD-SMALL", Par: 4, Minimum: 4}, {Item: "BLANKET", PresenceOnly: true}},
		k.Lines)
	again := decoded[inventory.KitList](s.as(quartermaster, "POST", "/published-lists/cfr-1/copies").
		json(`{"code":"OWN-2"}`).want(201))
	assert.Equal(t, k.Lines, again.Lines, "items of the same name and unit are taken")
	s.as(quartermaster, "POST", "/published-lists/cfr-1/copies").json(`{"code":"OWN"}`).want(409)
	assert.Equal(t, "PK", string(s.as(quartermaster, "GET", "/export.xlsx").do().body[:2]))
}
