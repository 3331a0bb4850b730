package web

import (
	"net/http"
	"net/url"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stowkeeper/inventory"
)

// TestItemOnTheSpot meets a code of an item that is not known yet, makes the
// item, comes back to the line with it chosen, and goes on; later its life rule
// is changed, over what stood there.
func TestItemOnTheSpot(t *testing.T) {
	w := newWorld(t)
	d, err := w.svc.Storeroom.StartDelivery(t.Context(), admin, "CEN-STORE", "")
	require.NoError(t, err)
	_, err = w.svc.Storeroom.ScanPack(t.Context(), admin, d.ID, "01095200000000111730063010N1")
	require.NoError(t, err)
	c := w.as("Quinn Master")
	assert.Contains(t, c.get(deliveryPath(d.ID)).text(), "Not listed?")
	c.get("/items/new?delivery=" + formatID(d.ID) + "&line=1")
	form := url.Values{"key": {"k1"}, "name": {"Burn gel"}, "code": {"gel"}, "category": {"plain dressing"},
		"unit": {"each"}, "tracked_by": {"lot"}, "dated": {"yes"},
		"opened_days": {"x"}, "delivery": {formatID(d.ID)}, "line": {"1"}}
	c.post("/items/new", form)
	assert.Equal(t, http.StatusUnprocessableEntity, c.res.Code)
	assert.Contains(t, c.text(), "whole number")
	form.Set("opened_days", "28")
	c.post("/items/new", form)
	require.Equal(t, http.StatusSeeOther, c.res.Code, c.text())
	assert.Contains(t, c.follow().res.Body.String(), `<option value="GEL" selected>Burn gel</option>`)
	c.post(deliveryPath(d.ID)+"/lines/1", url.Values{"key": {"k2"}, "do": {"name"}, "item.1": {"GEL"},
		"pack_size.1": {"4"}})
	assert.Contains(t, c.follow().text(), "Burn gel")

	change := url.Values{"key": {"k3"}, "version": {"1"}, "name": {"Burn gel"}, "category": {"plain dressing"},
		"unit": {"each"}, "tracked_by": {"lot"}, "dated": {"yes"}, "made_months": {"36"}}
	c.post("/items/GEL/change", change)
	assert.Contains(t, c.follow().text(), "Months from manufacture 36")
	it, err := w.svc.Lists.Item(t.Context(), admin, "GEL")
	require.NoError(t, err)
	assert.Equal(t, inventory.Life{MadeMonths: 36}, it.Life)
	change.Set("key", "k4")
	c.post("/items/GEL/change", change)
	assert.Equal(t, http.StatusConflict, c.res.Code, "somebody else changed it meanwhile")
	assert.Contains(t, c.res.Body.String(), `name="version" value="2"`)
	assert.Equal(t, http.StatusForbidden, w.as("Kim Crew").get("/items/new").res.Code)
}
