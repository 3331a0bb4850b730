package web

import (
	"fmt"
	"net/url"
	"strings"

	"stowkeeper/inventory"
	"stowkeeper/inventory/message"
	"stowkeeper/inventory/report"
	"stowkeeper/web/text"
)

// YearChart is the share of bags that may go out, week by week, in four cases: drawn, and as a table.
type YearChart struct {
	At             When
	Months         []MonthMark // by the left edge of the drawing
	Near           string      // how wide the next 30 days are
	L1, L2, L3, L4 string      // paths in a box of Weeks by 100
	Band           string
	Ends           []ChartEnd
	Weeks          []ChartWeek
	Bags, Now      int
	Year           report.Week // the last
}

// ChartEnd is what stands at the end of a line.
type ChartEnd struct {
	Y     string
	Share int
	Text  message.Message
}

// ChartWeek is a week of the table; its figure of nobody acting leads to the bags.
type ChartWeek struct {
	report.Week
	Href string
}

// near is where text stands beside a chart of 258 px, 14 px from the top.
func near(share float64) float64 { return 14 + (100-share)*2.58 + 4 }

func yearChart(y report.YearAhead, station string, at inventory.Station) *YearChart {
	if len(y.Weeks) == 0 || y.Weeks[0].Bags == 0 {
		return nil
	}
	last := y.Weeks[len(y.Weeks)-1]
	share := func(n int, w report.Week) float64 { return float64(n) * 100 / float64(max(w.Bags, 1)) }
	c := &YearChart{At: whenAt(y.At, at), Near: percent(inventory.DefaultHorizonDays, 7*report.Weeks), Year: last,
		Bags: last.Bags, Now: y.Weeks[0].NobodyActs}
	steps := func(of func(report.Week) int) string {
		var b strings.Builder
		for i, w := range y.Weeks {
			at := 100 - share(of(w), w)
			if i == 0 {
				fmt.Fprintf(&b, "M0 %.1f", at)
			} else {
				fmt.Fprintf(&b, "H%dV%.1f", i, at)
			}
		}
		return b.String()
	}
	slope := func(of func(report.Week) int, back bool) string {
		var b strings.Builder
		for i := range y.Weeks {
			if back {
				i = len(y.Weeks) - 1 - i
			}
			fmt.Fprintf(&b, "L%d %.1f", i, 100-share(of(y.Weeks[i]), y.Weeks[i]))
		}
		return b.String()[1:]
	}
	c.L1 = steps(func(w report.Week) int { return w.NobodyActs })
	c.L2 = steps(func(w report.Week) int { return w.FillPlan })
	c.L3 = steps(func(w report.Week) int { return w.Orders })
	c.L4 = "M" + slope(func(w report.Week) int { return w.UseGoesOn.Middle }, false)
	c.Band = "M" + slope(func(w report.Week) int { return w.UseGoesOn.High }, false) + "L" +
		slope(func(w report.Week) int { return w.UseGoesOn.Low }, true) + "z"
	c.ends([]ChartEnd{
		{Share: int(share(last.Orders, last)), Text: message.M("planned orders arrive")},
		{Share: int(share(last.UseGoesOn.Middle, last)), Text: message.M("and use goes on ({1} to {2} %)",
			int(share(last.UseGoesOn.Low, last)), int(share(last.UseGoesOn.High, last)))},
		{Share: int(share(last.FillPlan, last)), Text: message.M("fill plan carried out")},
		{Share: int(share(last.NobodyActs, last)), Text: message.M("nobody acts")},
	})
	for day := last.On.AddDays(-7 * report.Weeks); day <= last.On; day++ {
		if year, month, d := day.Date(); d == 1 {
			mark := MonthMark{At: percent(int(day-y.Weeks[0].On), 7*report.Weeks), Text: text.Months[month]}
			if len(c.Months) == 0 || month == 1 {
				mark.Year = fmt.Sprint(year)
			}
			c.Months = append(c.Months, mark)
		}
	}
	for _, w := range y.Weeks {
		q := url.Values{"week": {w.On.String()}}
		if station != "" {
			q.Set("station", station)
		}
		c.Weeks = append(c.Weeks, ChartWeek{w, "/year?" + q.Encode() + "#bags"})
	}
	return c
}

// ends sets the labels apart from each other, in the order of their lines.
func (c *YearChart) ends(of []ChartEnd) {
	y := 0.0
	for _, e := range of {
		y = max(near(float64(e.Share)), y+18)
		e.Y = fmt.Sprintf("%.0f", y)
		c.Ends = append(c.Ends, e)
	}
}
