package inventory_test

import (
	"database/sql"
	"encoding/json"
	"fmt"
	rand "math/rand/v2"
	"os"
	"testing"
	"time"

	_ "github.com/jackc/pgx/v5/stdlib" // the driver "pgx"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"stowkeeper/inventory"
	"stowkeeper/inventory/inventorytest"
)

// TestMonthsPublished compares month arithmetic with testdata/months.json: the
// clamped column is what PostgreSQL 15, MariaDB 10.11, java.time 17 and
// python-dateutil 2.8.2 answer; the overflowing one is what Go's AddDate and
// SQLite's date() answer, which must not be what a life rule uses.
func TestMonthsPublished(t *testing.T) {
	var table struct {
		Source string
		Cases  []struct {
			Date, Clamped, Overflowing string
			Months                     int
		}
	}
	inventorytest.ReadTestdata(t, "months.json", &table)
	require.NotEmpty(t, table.Source)
	require.Len(t, table.Cases, 12)
	backwards, forwards := 0, 0
	for _, c := range table.Cases {
		d := inventorytest.Day(c.Date)
		assert.Equal(t, c.Clamped, d.AddMonths(c.Months).String(), "%s %+d months", c.Date, c.Months)
		over, err := time.Parse(time.DateOnly, c.Date)
		require.NoError(t, err)
		assert.Equal(t, c.Overflowing, over.AddDate(0, c.Months, 0).Format(time.DateOnly), "the other column is AddDate's")
		if c.Months < 0 {
			backwards++
		} else {
			forwards++
		}
	}
	assert.Positive(t, backwards)
	assert.Positive(t, forwards)
}

// TestMonthsFromTheFirstDate: PostgreSQL 15.18 in testdata/months.json, "also".
func TestMonthsFromTheFirstDate(t *testing.T) {
	start := inventorytest.Day("2024-01-31")
	assert.Equal(t, "2024-03-29", start.AddMonths(1).AddMonths(1).String())
	assert.Equal(t, "2024-03-31", start.AddMonths(2).String())
}

// plusMonths is an independent definition: count the months since year 0, keep
// the day of the month where that month has it.
func plusMonths(year, month, dayOfMonth, n int) string {
	count := year*12 + month - 1 + n
	year, month = count/12, count%12+1
	return fmt.Sprintf("%04d-%02d-%02d", year, month, min(dayOfMonth, lengthOfMonth(year, month)))
}

func drawDay(t *rapid.T) (d inventory.Day, year, month, dayOfMonth int) {
	year = rapid.IntRange(1900, 2199).Draw(t, "year")
	month = rapid.IntRange(1, 12).Draw(t, "month")
	dayOfMonth = rapid.IntRange(1, lengthOfMonth(year, month)).Draw(t, "day")
	d, err := inventory.NewDay(year, time.Month(month), dayOfMonth)
	require.NoError(t, err)
	return d, year, month, dayOfMonth
}

func TestAddMonthsProperty(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d, y, m, dom := drawDay(t)
		n := rapid.IntRange(-600, 600).Draw(t, "months")
		require.Equal(t, plusMonths(y, m, dom, n), d.AddMonths(n).String())
	})
}

func TestEndOfMonthProperty(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d, y, m, _ := drawDay(t)
		require.Equal(t, fmt.Sprintf("%04d-%02d-%02d", y, m, lengthOfMonth(y, m)), d.EndOfMonth().String())
	})
}

// TestDayRoundTrips: a day survives its text, its parts and its neighbours.
func TestDayRoundTrips(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d, y, m, dom := drawDay(t)
		require.Equal(t, fmt.Sprintf("%04d-%02d-%02d", y, m, dom), d.String())
		again, err := inventory.ParseDay(d.String())
		require.NoError(t, err)
		require.Equal(t, d, again)
		require.Equal(t, fmt.Sprintf("%d %s %d", dom, time.Month(m).String()[:3], y), d.Text())
		gotY, gotM, gotD := d.Date()
		require.Equal(t, [3]int{y, m, dom}, [3]int{gotY, int(gotM), gotD})

		n := rapid.IntRange(-40000, 40000).Draw(t, "days")
		later := d.AddDays(n)
		require.Equal(t, n, int(later-d))
		require.Equal(t, time.Date(y, time.Month(m), dom+n, 0, 0, 0, 0, time.UTC).Format(time.DateOnly), later.String())

		text, err := json.Marshal(struct{ D inventory.Day }{d})
		require.NoError(t, err)
		var back struct{ D inventory.Day }
		require.NoError(t, json.Unmarshal(text, &back))
		require.Equal(t, d, back.D)
	})
}

// TestEveryDayInOrder walks the whole range: each day is one more than the day
// before it.
func TestEveryDayInOrder(t *testing.T) {
	prev := inventorytest.Day("1900-01-01") - 1
	for y := 1900; y <= 2199; y++ {
		for m := 1; m <= 12; m++ {
			for d := 1; d <= lengthOfMonth(y, m); d++ {
				got, err := inventory.NewDay(y, time.Month(m), d)
				if err != nil || got != prev+1 {
					t.Fatalf("%04d-%02d-%02d is %d after %d, error %v", y, m, d, got, prev, err)
				}
				prev = got
			}
			_, err := inventory.NewDay(y, time.Month(m), lengthOfMonth(y, m)+1)
			require.Error(t, err, "no date rolls over")
		}
	}
}

func TestNoDay(t *testing.T) {
	var none inventory.Day
	assert.Empty(t, none.String())
	d := inventorytest.Day("2027-06-14")
	require.NoError(t, d.UnmarshalText(nil))
	assert.Equal(t, none, d)
}

func TestParseDayRefuses(t *testing.T) {
	for _, s := range []string{
		"2027-02-29", "2027-13-01", "2027-00-01", "2027-06-00", "2027-06-31", "2027-6-14", "2027-06-1", "2027/06/14",
		"14-06-2027", "20270614", "+027-06-14", "2027-06-14 ", " 2027-06-14", "2027-06-1x", "２０２７-06-14",
		"1899-12-31", "2200-01-01",
		"2027-06", "today", "-001-01-01", "2027-+6-14", "2027-06- 1",
	} {
		_, err := inventory.ParseDay(s)
		assert.Error(t, err, "%q", s)
		var d inventory.Day
		assert.Error(t, d.UnmarshalText([]byte(s)), "%q", s)
	}
	assert.Panics(t, func() { inventory.MustDay("2027-02-29") })
}

// TestMonthsAgainstPostgres asks PostgreSQL for date + interval on 20,000
// random pairs of a day and a number of months, in both directions.
func TestMonthsAgainstPostgres(t *testing.T) {
	url := os.Getenv("STOWKEEPER_TEST_POSTGRES")
	if url == "" {
		skipUnlessForced(t, "STOWKEEPER_TEST_POSTGRES names no PostgreSQL to ask")
	}
	db, err := sql.Open("pgx", url)
	require.NoError(t, err)
	defer db.Close()

	const pairs = 20000
	random := rand.New(rand.NewPCG(1, 2))
	days, months := make([]string, pairs), make([]int32, pairs)
	first, last := inventorytest.Day("1900-01-01"), inventorytest.Day("2199-12-31")
	for i := range pairs {
		d := first + inventory.Day(random.IntN(int(last-first)+1))
		if i%3 == 0 { // the days that clamp are rare among all days
			d = d.EndOfMonth()
		}
		if i%10 == 1 { // so are leap days
			d = inventory.MustDay(fmt.Sprintf("%d-02-29", 1904+4*random.IntN(49)))
		}
		days[i], months[i] = d.String(), int32(random.IntN(1201)-600)
	}
	rows, err := db.Query(`SELECT d::text, n, ((d + make_interval(months => n))::date)::text
FROM unnest($1::text[]::date[], $2::int[]) WITH ORDINALITY AS pair (d, n, place) ORDER BY place`, days, months)
	require.NoError(t, err)
	defer rows.Close()
	asked, leaps := 0, map[string]int{}
	for rows.Next() {
		var d, want string
		var n int
		require.NoError(t, rows.Scan(&d, &n, &want))
		if got := inventorytest.Day(d).AddMonths(n).String(); got != want {
			t.Fatalf("%s %+d months: PostgreSQL says %s, we %s", d, n, want, got)
		}
		asked++
		leaps[fmt.Sprintf("%s>%s %t", d[5:], want[5:], n > 0)]++
	}
	require.NoError(t, rows.Err())
	assert.Equal(t, pairs, asked)
	for _, leap := range []string{"02-29>02-28", "02-29>02-29", "01-31>02-29", "12-31>02-29", "01-31>02-28"} {
		for _, later := range []bool{true, false} {
			assert.Positive(t, leaps[fmt.Sprintf("%s %t", leap, later)], "%s, later %t", leap, later)
		}
	}
}
