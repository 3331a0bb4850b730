package donor_test

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"stowkeeper/inventory/donor"
)

func TestNext(t *testing.T) {
	t.Parallel()
	far := donor.Distance{By: donor.ByNothing}
	for _, c := range []struct {
		name string
		all  []donor.Donor
		want int
	}{
		{"nobody", nil, -1},
		{"all are reserved", []donor.Donor{{Station: "A", Left: 3, Reserve: 3}, {Station: "B", Left: 1, Reserve: 9}}, -1},
		{"the longest-dated", []donor.Donor{{Station: "A", Left: 1, Through: 10}, {Station: "B", Left: 1, Through: 20}}, 1},
		{"undated is longest", []donor.Donor{{Station: "A", Left: 1}, {Station: "B", Left: 1, Through: 20}}, 0},
		{"of those who can spare", []donor.Donor{{Station: "A", Left: 1, Through: 10}, {Station: "B", Left: 1,
			Reserve: 1}}, 0},
		{"date before distance", []donor.Donor{{Station: "A", Left: 1, Through: 10}, {Station: "B", Left: 1, Through: 11,
			Away: far}}, 1},
		{"the nearest", []donor.Donor{{Station: "A", Left: 1, Away: donor.Distance{Minutes: 30}}, {Station: "B", Left: 1,
			Away: donor.Distance{Minutes: 20}}}, 1},
		{"minutes before kilometres before nothing", []donor.Donor{{Station: "A", Left: 1, Away: far}, {Station: "B", Left: 1,
			Away: donor.Distance{Km: 1, By: donor.ByPosition}}, {Station: "C", Left: 1, Away: donor.Distance{Minutes: 99}}}, 2},
		{"then by code", []donor.Donor{{Station: "B", Left: 1}, {Station: "A", Left: 1}}, 1},
	} {
		assert.Equal(t, c.want, donor.Next(c.all), c.name)
	}
}

func TestDistanceOf(t *testing.T) {
	t.Parallel()
	at := func(code, position string, minutes ...string) donor.Place {
		return donor.Place{Code: code, Position: position, Minutes: minutes}
	}
	minutes := donor.Distance{Minutes: 25}
	assert.Equal(t, minutes, donor.DistanceOf(at("A", "0,0", "C 1", "b 25"), at("B", "0,0", "A 9")), "the own table first")
	assert.Equal(t, minutes, donor.DistanceOf(at("A", ""), at("B", "", "A 25")), "or the other's")
	assert.Equal(t, donor.ByNothing, donor.DistanceOf(at("A", "0, 0"), at("B", "")).By)
	// On a sphere of the mean radius R1, 6371.0088 km, a quarter of the circumference is R1 × π/2.
	assert.InDelta(t, 10007.557, donor.DistanceOf(at("A", "0, 0"), at("B", "0, 90")).Km, 0.001)
	assert.InDelta(t, 10007.557, donor.DistanceOf(at("A", "0, 170"), at("B", "-90, 3")).Km, 0.001)
	assert.InDelta(t, 222.390, donor.DistanceOf(at("A", "0, 179"), at("B", "0, -179")).Km, 0.001, "across the date line")
	assert.InDelta(t, 20015.114, donor.DistanceOf(at("A", "90, 0"), at("B", "-90, 0")).Km, 0.001)
	for _, bad := range []string{"1", "a, b", "91, 0", "0, 181", "1, 2, 3", "NaN, 0"} {
		_, _, ok := donor.Position(bad)
		assert.False(t, ok, bad)
	}
	for _, bad := range []string{"", "HT", "HT x", "HT 0", "HT -5", "HT 1 2", "HT 99999"} {
		_, _, ok := donor.Travel(bad)
		assert.False(t, ok, bad)
	}
}
