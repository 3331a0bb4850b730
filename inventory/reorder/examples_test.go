package reorder_test

import (
	"encoding/json"
	"fmt"
	"math"
	"os"
	"strconv"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stowkeeper/inventory/reorder"
)

// example is one of testdata/examples.json: what goes in, what was printed, and where.
type example struct {
	ID                            string
	Inputs, Published, Recomputed map[string]any
}

func (e example) in(name string) float64        { return e.Inputs[name].(float64) }
func (e example) published(name string) float64 { return e.Published[name].(float64) }

// is compares with a figure to the digits that it is printed with.
func is(t *testing.T, want any, got float64, what string) {
	t.Helper()
	text := strconv.FormatFloat(want.(float64), 'f', -1, 64)
	digits := 0
	for i, r := range text {
		if r == '.' {
			digits = len(text) - i - 1
		}
	}
	assert.Equal(t, text, strconv.FormatFloat(got, 'f', digits, 64), what)
}

// lots reads pairs of a quantity and the last day.
func lots(from any) []reorder.Lot {
	var out []reorder.Lot
	for _, pair := range from.([]any) {
		p := pair.([]any)
		out = append(out, reorder.Lot{Qty: int(p[0].(float64)), Through: int(p[1].(float64))})
	}
	return out
}

// sd is the standard deviation of a use.
func sd(u reorder.Use) float64 { return math.Sqrt(u.Variance) }

// TestExamples works each example with the functions that the pages use. Textbooks take the normal distribution and z
// from a table: the mean and the variance are ours, and so is the exact z beside it.
func TestExamples(t *testing.T) {
	text, err := os.ReadFile("testdata/examples.json")
	require.NoError(t, err)
	var all []example
	require.NoError(t, json.Unmarshal(text, &all))
	works := map[string]func(*testing.T, example){"1.2": leadTime, "1.3": leadTime, "1.4": economic, "1.5": buffer,
		"1.7": newsvendor, "1.11": baseStock, "1.13": newsvendorPoisson, "1.15": review, "1.16": wrongZ,
		"2.1": annual, "2.2": period, "2.3": minimum, "2.4": maximum, "2.7": upToMax,
		"3.1": rundown, "3.2": rundown, "3.4": rundown, "3.5": rundown, "3.8": caps, "3.9": caps,
		"3.12": wasteOfOne, "3.14": wasteOfOne, "3.15": wasteOfTwo, "3.16": wasteOfTwo}
	require.Len(t, all, len(works))
	for _, e := range all {
		require.Contains(t, works, e.ID)
		t.Run(e.ID, func(t *testing.T) { works[e.ID](t, e) })
	}
}

// first is the first of several names that an example has.
func first(e example, names ...string) float64 {
	for _, n := range names {
		if v, ok := e.Inputs[n].(float64); ok {
			return v
		}
	}
	return math.NaN()
}

func leadTime(t *testing.T, e example) {
	s := first(e, "sd_daily", "sd_weekly")
	u := reorder.Terms{Use: reorder.Use{Mean: first(e, "daily_demand", "weekly_demand"), Variance: s * s},
		Lead: first(e, "lead_time_days", "lead_time_weeks")}.Cover()
	service := 0.9
	if e.Inputs["service"] != nil {
		service = e.in("service")
	}
	is(t, e.Published["reorder_point"], u.Mean+e.in("z_table")*sd(u), "with the book's z")
	is(t, e.Recomputed["with_exact_z"], u.Mean+reorder.Z(service)*sd(u), "with the exact one")
	if e.Published["safety_stock"] != nil {
		is(t, e.Published["safety_stock"], e.in("z_table")*sd(u), "safety stock")
	}
}

// economic: an order is under way whenever the lead time is longer than the time between orders. A position counts it,
// so that one orders at 1,200 of position, which are the 200 on the shelf that the book says.
func economic(t *testing.T, e example) {
	perDay := e.in("D_per_day")
	q := reorder.Economic(perDay, e.in("K"), e.in("h_per_unit_day"))
	is(t, e.Published["order_quantity"], q, "order quantity")
	is(t, e.Published["cycle_days"], q/perDay, "cycle")
	u := reorder.Terms{Use: reorder.Use{Mean: perDay}, Lead: e.in("lead_time_days")}.Cover()
	underWay := int(math.Floor(u.Mean/q)) * int(q)
	shelf := []reorder.Lot{{Qty: int(e.published("reorder_at")), Through: 400}}
	assert.Equal(t, int(u.Mean), reorder.Position(shelf, 30, underWay, 0))
}

// buffer: the book rounds 23.26 down to 23, and the risk is then 5.19 %, above the 5 % that it asks for. Ours is below.
func buffer(t *testing.T, e example) {
	s := e.in("sd_per_day")
	u := reorder.Use{Mean: e.in("D_per_day"), Variance: s * s}.Over(e.in("effective_lead_time_days"))
	is(t, e.Published["sd_lead_time"], sd(u), "spread")
	exact := reorder.Z(1-e.in("alpha")) * sd(u)
	is(t, e.Recomputed["buffer_exact"], exact, "buffer")
	assert.Equal(t, e.published("buffer"), math.Floor(exact), "what the book has")
	for units, risk := range map[float64]any{23: e.Recomputed["risk_at_23"], 24: e.Recomputed["risk_at_24"]} {
		is(t, risk, math.Erfc(units/sd(u)/math.Sqrt2)/2, fmt.Sprint(units))
	}
	ours := reorder.Terms{Use: reorder.Use{Mean: 100, Variance: s * s}, Lead: 2}.BaseStock(reorder.ByNoStockOut, 0.95)
	assert.Less(t, ours.NoStockOut, 1.0)
	assert.GreaterOrEqual(t, ours.NoStockOut, 0.95)
}

func newsvendor(t *testing.T, e example) {
	ratio := reorder.Critical(e.in("price")-e.in("cost"), e.in("cost")-e.in("salvage"))
	is(t, e.Published["critical_ratio"], ratio, "ratio")
	is(t, e.Published["z"], reorder.Z(ratio), "z")
	y := e.in("mean") + reorder.Z(ratio)*e.in("sd")
	is(t, e.Recomputed["y"], y, "y; the printed 307.33 comes from the ratio rounded to .643")
	is(t, e.Published["y"], e.in("mean")+reorder.Z(0.643)*e.in("sd"), "y of the rounded ratio")
	is(t, e.Published["order"], math.Ceil(y), "order")
}

// baseStock: with units used one by one the fill rate of a level r + 1 is G(r), the chance that at most r are used.
func baseStock(t *testing.T, e example) {
	mean := e.in("mean_lead_time_demand")
	terms := reorder.Terms{Use: reorder.Use{Mean: mean, Variance: mean}, Lead: 1}
	for r, g := range e.Published["G"].(map[string]any) {
		n, err := strconv.Atoi(r)
		require.NoError(t, err)
		is(t, g, terms.NoStockOut(n), r)
		is(t, g, terms.FillRate(n+1), r)
	}
	r := int(e.in("r"))
	assert.Equal(t, r, terms.BaseStock(reorder.ByNoStockOut, 0.9).Units)
	assert.Equal(t, r+1, terms.BaseStock(reorder.ByFillRate, 0.9).Units)
}

func newsvendorPoisson(t *testing.T, e example) {
	ratio := reorder.Critical(e.in("shortage_cost"), e.in("overage_cost"))
	is(t, e.Published["critical_ratio"], ratio, "ratio")
	is(t, e.Recomputed["z_at_exact_ratio"], reorder.Z(ratio), "z")
	is(t, e.Published["Q_exact"], e.in("mean")+e.published("z")*e.in("sd"), "by the book")
	is(t, e.Recomputed["Q_normal"], e.in("mean")+reorder.Z(ratio)*e.in("sd"), "normal")
	assert.EqualValues(t, e.Published["Q"], reorder.Use{Mean: e.in("mean"), Variance: e.in("mean")}.Quantile(ratio))
}

// review: the printed target 41.86 is 41.8657 cut off, not rounded.
func review(t *testing.T, e example) {
	s := e.in("sd_weekly")
	terms := reorder.Terms{Use: reorder.Use{Mean: e.in("weekly_demand"), Variance: s * s},
		Lead: e.in("lead_time_days") / 7}
	u := terms.Cover()
	point := u.Mean + e.in("z")*sd(u)
	is(t, e.Published["reorder_point"], point, "point")
	terms.Review = e.in("review_days") / 7
	c := terms.Cover()
	target := c.Mean + e.in("z")*sd(c)
	is(t, e.Recomputed["target_level"], target, "target")
	assert.Equal(t, e.published("target_level"), math.Floor(target*100)/100)
	assert.EqualValues(t, e.Published["order"], math.Ceil(target-e.in("on_hand")))
	late := func(point float64) float64 { // two used on the first day, and two more days to wait
		return math.Erfc((point-2-u.Mean)/sd(u)/math.Sqrt2) / 2
	}
	is(t, e.Recomputed["risk_if_one_day_late"], late(point), "risk")
	is(t, e.Published["risk_if_one_day_late"], late(math.Round(point*100)/100), "risk, of the rounded point")
}

// wrongZ: the answer takes 1.64, which is the z of 95 %, for the 90 % that are asked for.
func wrongZ(t *testing.T, e example) {
	s := e.in("sd_weekly")
	u := reorder.Terms{Use: reorder.Use{Mean: e.in("weekly_demand"), Variance: s * s}, Lead: e.in("lead_time_weeks"),
		LeadSD: e.in("sd_lead_time_weeks")}.Cover()
	is(t, e.Published["sd_lead_time_demand"], sd(u), "spread")
	is(t, e.Published["reorder_point"], u.Mean+e.published("z_used")*sd(u), "as printed")
	assert.Greater(t, e.published("z_used"), reorder.Z(0.94))
	is(t, e.Recomputed["z_correct"], reorder.Z(e.in("service")), "z")
	is(t, e.Recomputed["reorder_point"], u.Mean+reorder.Z(e.in("service"))*sd(u), "right")
}

// annual: the printed 808 comes from the factor 100/95 rounded to 1.05.
func annual(t *testing.T, e example) {
	target := e.in("population") * e.in("target_share")
	is(t, e.Published["target"], target, "target")
	need := target * e.in("doses") * e.in("coverage")
	is(t, e.Published["annual_doses"], need*e.published("wastage_factor"), "with the rounded factor")
	is(t, e.Recomputed["annual_exact"], reorder.WithWaste(need, e.in("wastage_rate")), "exact")
}

// period: 83.33 is printed as 83, which does not last the two weeks; a level rounds up.
func period(t *testing.T, e example) {
	need := e.in("annual") / e.in("working_weeks") * e.in("weeks")
	is(t, e.Published["period_doses"], need, "need")
	assert.Equal(t, reorder.MaxMin{Min: 0, Max: 84}, reorder.MaxMinOf(need, 0))
}

func minimum(t *testing.T, e example) {
	assert.EqualValues(t, e.Published["minimum"], reorder.MaxMinOf(e.in("period_need"), e.in("share")).Min)
}

func maximum(t *testing.T, e example) {
	levels := reorder.MaxMinOf(e.in("period_need"), e.in("minimum")/e.in("period_need"))
	assert.EqualValues(t, e.Published["maximum"], levels.Max)
}

func upToMax(t *testing.T, e example) {
	levels := reorder.MaxMin{Min: int(e.in("minimum")), Max: int(e.in("maximum"))}
	need := reorder.Need{Units: levels.Max - int(e.in("on_hand")), Most: 1000}
	assert.EqualValues(t, e.Published["order"], reorder.OrderOf([]reorder.Need{need}, 1, 1).Packs)
}

func rundown(t *testing.T, e example) {
	sorted, left := reorder.Left(lots(e.Inputs["lots_qty_usable_through_period"]), e.in("use_per_period"))
	var got []any
	for i, l := range sorted {
		got = append(got, []any{float64(l.Qty), float64(l.Through), left[i]})
	}
	assert.Equal(t, e.Recomputed["lots_qty_period_left"], got)
}

func caps(t *testing.T, e example) {
	own, all := reorder.Cap(lots(e.Inputs["stock"]), e.in("use_per_period"), int(e.in("new_lot_usable_through")))
	assert.EqualValues(t, e.Recomputed["cap_new_lot_only"], own)
	assert.EqualValues(t, e.Recomputed["cap_no_extra_waste_at_all"], all)
}

func wasteOfOne(t *testing.T, e example) {
	mean, qty := e.in("expected_use_to_expiry"), int(e.in("quantity"))
	is(t, e.Recomputed["expected_waste"], reorder.Use{Mean: mean, Variance: mean}.Left(qty), "in closed form")
	got := reorder.Waste([]reorder.Lot{{Qty: qty, Through: 1}}, reorder.Use{Mean: mean, Variance: mean})
	is(t, e.Recomputed["expected_waste"], got, "as a lot")
}

func wasteOfTwo(t *testing.T, e example) {
	both := lots([]any{e.Inputs["lot2"], e.Inputs["lot1"]})
	got := reorder.Waste(both, reorder.Use{Mean: e.in("rate"), Variance: e.in("rate")})
	is(t, e.Recomputed["expected_waste"], got, "waste")
}
