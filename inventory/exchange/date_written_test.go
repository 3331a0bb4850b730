package exchange_test

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"stowkeeper/inventory"
	"stowkeeper/inventory/exchange"
)

// TestDateWritten reads dates as people write them. What is unclear is said to
// be, and nothing is guessed.
func TestDateWritten(t *testing.T) {
	const none, day, month = exchange.DayOrder(""), exchange.DayFirst, exchange.MonthFirst
	for _, c := range []struct {
		text    string
		order   exchange.DayOrder
		want    string
		unclear bool
	}{
		{"2028-06", none, "2028-06", false},
		{"2028-06-30", month, "2028-06-30", false},
		{"2028/6/30", none, "2028-06-30", false},
		{"06/2028", none, "2028-06", false},
		{"6.2028", none, "2028-06", false},
		{"13/2028", none, "2028-13", false}, // refused as a date later on
		{"Jun 2028", none, "2028-06", false},
		{"JUNE 2028", none, "2028-06", false},
		{"Sept-2028", none, "2028-09", false},
		{"2028 Jun", none, "2028-06", false},
		{"30 Jun 2028", none, "2028-06-30", false},
		{"Jun 30, 2028", none, "2028-06-30", false},
		{"30-Jun-28", none, "2028-06-30", false},
		{"30.06.2028", none, "2028-06-30", false},
		{"06/30/2028", none, "2028-06-30", false},
		{"06/06/2028", none, "2028-06-06", false},
		{"05/06/2028", none, "2028-06-05", true},
		{"05/06/2028", day, "2028-06-05", false},
		{"05/06/2028", month, "2028-05-06", false},
		{"06/30/2028", day, "2028-30-06", true},
		{"30/06/28", none, "2028-06-30", true},
		{"30/06/28", day, "2028-06-30", false},
		{"06/30/28", month, "2028-06-30", false},
		{"06/06/28", none, "2028-06-06", true},
		{"06/28", day, "06/28", false},
		{"Jun 28", none, "Jun 28", false},
		{"Junk 2028", none, "Junk 2028", false},
		{"Jun Jun 2028", none, "Jun Jun 2028", false},
		{"1/2/3/2028", none, "1/2/3/2028", false},
		{"30/06/028", day, "30/06/028", false},
		{"+1/06/2028", day, "+1/06/2028", false},
		{"soon", none, "soon", false},
		{"2028", none, "2028", false},
		{"", none, "", false},
	} {
		got, unclear := exchange.DateWritten(c.text, c.order)
		assert.Equal(t, c.want, got, "%s %s", c.text, c.order)
		assert.Equal(t, c.unclear, unclear, "%s %s", c.text, c.order)
	}
}

// FuzzDateWritten: a date as people write it becomes a day or month that is read as such, or stays as it was; and what
// is written as this program writes it means itself.
func FuzzDateWritten(f *testing.F) {
	for _, s := range []string{"06/2028", "30.06.2028", "Jun 2028", "30/06/28", "2028-06-30", "1 Jan 00", "0/0/0", "//"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, text string) {
		for _, order := range []exchange.DayOrder{"", exchange.DayFirst, exchange.MonthFirst} {
			date, unclear := exchange.DateWritten(text, order)
			if day, err := inventory.ParseMade(date); err == nil && !unclear {
				again, _ := exchange.DateWritten(date, order)
				assert.Equal(t, date, again, "%q", text)
				if len(date) > len("2028-06") {
					assert.Equal(t, date, day.String())
				}
			}
		}
	})
}
