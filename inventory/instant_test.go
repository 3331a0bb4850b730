package inventory_test

import (
	"encoding/json"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"stowkeeper/inventory"
	"stowkeeper/inventory/inventorytest"
)

func TestInstantRoundTrips(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		i := inventory.Instant(rapid.Int64Range(1, 7258118400000000).Draw(t, "µs")) // to the year 2200
		text, err := i.MarshalText()
		require.NoError(t, err)
		var again inventory.Instant
		require.NoError(t, again.UnmarshalText(text))
		require.Equal(t, i, again)
		require.Equal(t, i, inventory.InstantOf(i.Time()))
		d := time.Duration(rapid.Int64Range(-1e15, 1e15).Draw(t, "µs later")) * time.Microsecond
		require.Equal(t, d, i.Add(d).Sub(i))
	})
}

func TestInstantText(t *testing.T) {
	for _, c := range []struct{ in, out string }{
		{"2027-06-14T07:30:00Z", "2027-06-14T07:30:00Z"},
		{"2027-06-14T09:30:00+02:00", "2027-06-14T07:30:00Z"},
		{"2027-06-14T07:30:00.25Z", "2027-06-14T07:30:00.25Z"},
		{"2027-06-14T07:30:00.123456789Z", "2027-06-14T07:30:00.123456Z"}, // whole microseconds
		{"", ""},
	} {
		var i inventory.Instant
		require.NoError(t, i.UnmarshalText([]byte(c.in)))
		assert.Equal(t, c.out, i.String())
	}
	for _, bad := range []string{"2027-06-14", "07:30", "2027-06-14 07:30:00", "2027-02-29T00:00:00Z", "now"} {
		var i inventory.Instant
		assert.Error(t, i.UnmarshalText([]byte(bad)), "%q", bad)
	}
	b, err := json.Marshal(struct{ At inventory.Instant }{inventorytest.At("2027-06-14T07:30:00Z")})
	require.NoError(t, err)
	assert.JSONEq(t, `{"At":"2027-06-14T07:30:00Z"}`, string(b))
}

// TestTodayFollowsTheZone: one instant is two calendar days.
func TestTodayFollowsTheZone(t *testing.T) {
	now := inventorytest.At("2027-03-31T11:30:00Z")
	for station, want := range map[string]string{
		"Europe/London":       "2027-03-31",
		"Pacific/Auckland":    "2027-04-01", // UTC+13: already the next month
		"Pacific/Honolulu":    "2027-03-31",
		"Pacific/Kiritimati":  "2027-04-01", // UTC+14
		"Pacific/Pago_Pago":   "2027-03-31", // UTC-11
		"America/Los_Angeles": "2027-03-31",
	} {
		assert.Equal(t, want, now.In(zone(t, station)).String(), station)
		assert.Equal(t, want, inventory.Station{Timezone: station}.Today(now).String(), station)
	}
	assert.Equal(t, "2027-03-31", inventory.Station{Timezone: "no such zone"}.Today(now).String(), "falls back to UTC")
}

// TestStartOfDay: the first instant of a day lies on it and the microsecond
// before does not, also where the clocks change at midnight and no 00:00
// exists, or two do.
func TestStartOfDay(t *testing.T) {
	for _, name := range []string{
		"UTC", "Europe/London", "Europe/Berlin", "Pacific/Auckland", "America/St_Johns", "Australia/Lord_Howe",
		"America/Santiago", "America/Havana", "Asia/Beirut", "Africa/Cairo", "America/Asuncion", "America/Sao_Paulo",
	} {
		z := zone(t, name)
		for d := inventorytest.Day("2010-01-01"); d <= inventorytest.Day("2027-12-31"); d++ {
			start := d.Start(z)
			if start.In(z) != d || (start-1).In(z) != d-1 {
				t.Errorf("%s: %s does not start at %s", name, d, start)
			}
		}
	}
}

func TestZoneRefuses(t *testing.T) {
	for _, bad := range []string{"", "Local", "Mars/Olympus", "../../etc/passwd", "GMT+25"} {
		_, err := inventory.Zone(bad)
		assert.Equal(t, inventory.Invalid, inventory.KindOf(err), "%q", bad)
	}
	assert.Same(t, zone(t, "Europe/London"), zone(t, "Europe/London"), "read once")
}
