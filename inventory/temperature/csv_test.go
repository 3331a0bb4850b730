package temperature_test

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stowkeeper/inventory/table"
	"stowkeeper/inventory/temperature"
)

func read(text, zone string) ([]temperature.Reading, error) {
	at, err := time.LoadLocation(zone)
	if err != nil {
		return nil, err
	}
	return temperature.Read(table.CSV{Data: strings.NewReader(text), Size: int64(len(text))}, at)
}

// unix is a time as seconds.
func unix(t *testing.T, rfc3339 string) int64 {
	t.Helper()
	at, err := time.Parse(time.RFC3339, rfc3339)
	require.NoError(t, err)
	return at.Unix()
}

func TestRead(t *testing.T) {
	type want struct {
		at      string
		celsius float64
	}
	for _, c := range []struct {
		name, text, zone string
		want             []want
	}{
		{"plain", "time,celsius\n2027-06-14T07:30,4.5\n2027-06-14T07:45,-0.5\n", "UTC",
			[]want{{"2027-06-14T07:30:00Z", 4.5}, {"2027-06-14T07:45:00Z", -0.5}}},
		{"local, with semicolons and decimal commas", "No.;Time stamp;Temperature (°C);Humidity\n" +
			"1;2027-06-14 07:30:15;4,5;40\n", "Europe/Berlin", []want{{"2027-06-14T05:30:15Z", 4.5}}},
		{"what a logger says first, date and time apart", "Logger;L1\nStarted;2027-06-01\n\nDate;Time;Temp\n" +
			"2027-06-14;07:30;21\n", "UTC", []want{{"2027-06-14T07:30:00Z", 21}}},
		{"offsets, and the date alone names both", "Date/time,Celsius\n2027-06-14T07:30+02:00,4\n2027-06-14T05:31:00Z,5\n",
			"America/New_York", []want{{"2027-06-14T05:30:00Z", 4}, {"2027-06-14T05:31:00Z", 5}}},
		{"without a temperature", "date,temp\n2027-06-14 07:30,\n2027-06-14 07:31,4\n2027-06-14 07:32\n", "UTC",
			[]want{{"2027-06-14T07:31:00Z", 4}}},
		{"the hour that comes twice", "time,celsius\n2027-10-31 02:30,4\n2027-10-31 02:45,5\n2027-10-31 02:00,6\n" +
			"2027-10-31 02:30,7\n2027-10-31 03:00,8\n", "Europe/Berlin",
			[]want{{"2027-10-31T00:30:00Z", 4}, {"2027-10-31T00:45:00Z", 5}, {"2027-10-31T01:00:00Z", 6},
				{"2027-10-31T01:30:00Z", 7}, {"2027-10-31T02:00:00Z", 8}}},
		{"no reading", "time,celsius\n", "UTC", nil},
	} {
		t.Run(c.name, func(t *testing.T) {
			got, err := read(c.text, c.zone)
			require.NoError(t, err)
			require.Len(t, got, len(c.want))
			for i, w := range c.want {
				assert.Equal(t, temperature.Reading{At: unix(t, w.at), Celsius: w.celsius}, got[i])
			}
		})
	}
}

func TestReadRefuses(t *testing.T) {
	for _, c := range []struct{ text, want string }{
		{"", "name a column time and one celsius"},
		{"a,b\n1,2\n", "name a column time and one celsius"},
		{"time,humidity\n2027-06-14 07:30,4\n", "name a column time and one celsius"},
		{strings.Repeat("x\n", 50) + "time,celsius\n", "name a column time and one celsius"},
		{"time,temperature °F\n", "row 1: give temperatures in °C"},
		{"time,celsius\n2027-06-14 07:30,4\n14.06.2027 07:45,4\n", "row 3: enter date and time like 2027-06-14T07:30"},
		{"time,celsius\n06/07/2027 07:45,4\n", "row 2: enter date and time like 2027-06-14T07:30"},
		{"time,celsius\n,4\n", "row 2: enter date and time like 2027-06-14T07:30"},
		{"time,celsius\n1970-01-01 07:45,4\n", "row 2: enter date and time like 2027-06-14T07:30"},
		{"time,celsius\n2027-06-14 07:30,4\n\n2027-06-14 07:45,warm\n", "row 4: enter degrees Celsius from -200 to 200"},
		{"time,celsius\n2027-06-14 07:30,NaN\n", "row 2: enter degrees Celsius from -200 to 200"},
		{"time,celsius\n2027-06-14 07:30,1e3\n", "row 2: enter degrees Celsius from -200 to 200"},
		{"time,celsius\n2027-06-14 07:30,4\n2027-06-14 07:30,4\n",
			"row 3: put the readings in the order of their times, each time once"},
		{"time,celsius\n2027-06-14 07:30,4\n2027-06-14 07:15,4\n",
			"row 3: put the readings in the order of their times, each time once"},
		{"\xff\xfetime", "row 1: save the file as CSV in UTF-8"},
	} {
		got, err := read(c.text, "Europe/Berlin")
		require.Error(t, err, c.text)
		assert.Nil(t, got)
		assert.Equal(t, c.want, err.Error(), c.text)
	}
}

// TestReadIsBounded: one reading more than a file may have.
func TestReadIsBounded(t *testing.T) {
	var text strings.Builder
	text.WriteString("time,celsius\n")
	at := time.Date(2027, 1, 1, 0, 0, 0, 0, time.UTC)
	for range temperature.MaxReadings + 1 {
		text.WriteString(at.Format("2006-01-02T15:04:05") + ",4\n")
		at = at.Add(time.Second)
	}
	_, err := read(text.String(), "UTC")
	assert.EqualError(t, err, fmt.Sprintf("row %d: leave at most %d readings", temperature.MaxReadings+2,
		temperature.MaxReadings))
}

func FuzzRead(f *testing.F) {
	f.Add("time,celsius\n2027-06-14T07:30,4.5\n2027-10-31 02:30,4\n2027-10-31 02:30,4\n")
	f.Add("Date;Time;Temp\n2027-06-14;07:30;21,5\n")
	f.Fuzz(func(t *testing.T, text string) {
		got, err := read(text, "Europe/Berlin")
		for i := 1; err == nil && i < len(got); i++ {
			require.Less(t, got[i-1].At, got[i].At)
		}
	})
}
