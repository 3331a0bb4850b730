package web

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
)

// A shift goes from bag to bag of its vehicle: after each check the page leads to the next that is due, and the
// vehicle's page says who checked what, until all are.
func TestAShiftGoesRound(t *testing.T) {
	w := newWorld(t)
	w.now = w.now.Add(25 * time.Hour)
	kim := w.as("Kim Crew")
	move := func(bag string) {
		keeper := w.as("Quinn Master")
		keeper.get("/bags/"+bag).submit("/bags/"+bag, map[string][]string{"vehicle": {"Vehicle 01"}})
		assert.Equal(t, 303, keeper.res.Code, keeper.text())
	}
	move("CEN-02")
	kim.get(vehiclePath("CEN", "Vehicle 01"))
	assert.Contains(t, kim.text(), "0 of 2 checked")
	assert.Contains(t, kim.text(), "check due")
	kim.get("/b/CEN-01").submit("/seal-check", nil).follow()
	assert.Contains(t, kim.text(), "Next: CEN-02")
	kim.get(vehiclePath("CEN", "Vehicle 01"))
	assert.Contains(t, kim.text(), "1 of 2 checked")
	assert.Contains(t, kim.text(), "checked 08:00 by Kim Crew")
	kim.get("/b/CEN-02").submit("/seal-check", nil).follow()
	assert.Contains(t, kim.text(), "Vehicle 01: all bags checked")
	kim.get(vehiclePath("CEN", "Vehicle 01"))
	assert.Contains(t, kim.text(), "Vehicle 01: all bags checked")
	w.now = w.now.Add(24 * time.Hour)
	kim = w.as("Kim Crew")
	assert.Contains(t, kim.get(vehiclePath("CEN", "Vehicle 01")).text(), "0 of 2 checked", "the next day")
}
