package main

import (
	"cmp"
	"fmt"
	"strings"
	"time"
)

// The answers of the API as they go over the wire, with names of their own so
// that a renamed member is noticed, and each written as short lines so that a
// test can say all of it.

type wireReport struct {
	AsOf        string `json:"as_of"`
	HorizonDays int    `json:"horizon_days"`
	Rows        []struct {
		Station, Bag, Item, Pouch       string
		Par, Minimum, Usable, Shortfall int
		BelowMinimum                    bool `json:"below_minimum"`
		Critical                        bool
	}
	Fill []wireFill
	Buy  []struct {
		Station, Item string
		Qty, Packs    int
		Covered       int
		PackSize      int `json:"pack_size"`
		Product       int64
	}
	Bags struct {
		Ready         int
		ReadyWithGaps int `json:"ready_with_gaps"`
		NotReady      int `json:"not_ready"`
		TakenOff      int `json:"out_of_service"`
	}
	FirstStops []struct {
		Bag, On, Station string
		LotID            int64 `json:"lot_id"`
	} `json:"first_stops"`
	ClockLeft bool `json:"clock_left_out"`
}

type wireFill struct {
	Bag, Item     string
	Station       string
	LotID         int64  `json:"lot_id"`
	BatchNo       string `json:"batch_no"`
	From          string
	Qty           int
	Kind          string
	UsableThrough string `json:"usable_through"`
	ShortDated    bool   `json:"short_dated"`
	Keeps         int    `json:"keeps"`
}

type wireReadiness struct {
	Bag         string
	AsOf        string `json:"as_of"`
	HorizonDays int    `json:"horizon_days"`
	State       string
	Findings    []struct {
		Kind, Severity, Item string
		LotID                int64 `json:"lot_id"`
		Qty                  int
		Date, Rule, Text     string
	}
	Lines []struct {
		Item, Pouch                     string
		Par, Minimum, Usable, Shortfall int
		Critical                        bool
		Lots                            []wireLotOnLine
	}
	Surplus    []wireLotOnLine
	NotOnList  []wireLotOnLine `json:"not_on_list"`
	NextChange *wireChange     `json:"next_change"`
	FirstStop  *wireChange     `json:"first_stop"`
	ClockLeft  bool            `json:"clock_left_out"`
}

type wireLotOnLine struct {
	LotID         int64 `json:"lot_id"`
	Item          string
	BatchNo       string `json:"batch_no"`
	Qty           int
	UsableThrough string `json:"usable_through"`
	Rule          string
	Usable        bool
}

type wireChange struct {
	Date  string
	LotID int64 `json:"lot_id"`
}

type wirePickList struct {
	Bag   string
	AsOf  string `json:"as_of"`
	Lines []struct {
		Item, Pouch, From string
		LotID             int64  `json:"lot_id"`
		BatchNo           string `json:"batch_no"`
		UsableThrough     string `json:"usable_through"`
		Qty               int
		ShortDated        bool   `json:"short_dated"`
		PriorClaim        string `json:"prior_claim"`
	}
	TakeOut []struct {
		LotID             int64 `json:"lot_id"`
		Item              string
		BatchNo           string `json:"batch_no"`
		Qty               int
		To, Reason, Cause string
		Why               string
		UsableThrough     string `json:"usable_through"`
	} `json:"take_out"`
	Unfilled []struct {
		Item, Pouch string
		Qty         int
	}
	StandIns []struct {
		Item, With, Pouch string
		Qty               int
	} `json:"stand_ins"`
	Position int64
}

// names writes days as days from today and lots by the names that the test
// gave them.
type names struct {
	today time.Time
	lots  map[int64]string
}

func (n names) day(text string) string {
	if text == "" {
		return "-"
	}
	d, err := time.Parse(time.DateOnly, text)
	if err != nil {
		return "bad day " + text
	}
	return fmt.Sprintf("%+d", int(d.Sub(n.today).Hours()/24))
}

func (n names) lot(id int64) string {
	if s, ok := n.lots[id]; ok {
		return s
	}
	return fmt.Sprintf("lot %d", id)
}

// flag is a word that stands where something is true.
func flag(is bool, word string) string {
	if is {
		return " " + word
	}
	return ""
}

func (r wireReport) lines(n names) string {
	var b strings.Builder
	fmt.Fprintf(&b, "as of %s, horizon %d%s\n", n.day(r.AsOf), r.HorizonDays, flag(r.ClockLeft, "clock left out"))
	fmt.Fprintf(&b, "bags %d ready %d gaps %d not %d off", r.Bags.Ready, r.Bags.ReadyWithGaps, r.Bags.NotReady,
		r.Bags.TakenOff)
	for _, x := range r.Rows {
		fmt.Fprintf(&b, "\nrow %s %s %s/%s par %d min %d has %d lacks %d%s%s", x.Station, x.Bag, x.Item, x.Pouch, x.Par,
			x.Minimum, x.Usable,
			x.Shortfall, flag(x.BelowMinimum, "below"), flag(x.Critical, "critical"))
	}
	for _, x := range r.Fill {
		fmt.Fprintf(&b, "\nfill %s %d %s %s (%s) through %s from %s %s%s", x.Bag, x.Qty, x.Item, n.lot(x.LotID), x.BatchNo,
			n.day(x.UsableThrough),
			x.From, x.Kind, flag(x.ShortDated, "short"))
	}
	for _, x := range r.Buy {
		fmt.Fprintf(&b, "\nbuy %s %d %s: %d packs of %d", x.Station, x.Qty, x.Item, x.Packs, x.PackSize)
		if x.Covered > 0 {
			fmt.Fprintf(&b, ", %d covered", x.Covered)
		}
	}
	for _, x := range r.FirstStops {
		fmt.Fprintf(&b, "\nstop %s %s %s", x.Bag, n.day(x.On), n.lot(x.LotID))
	}
	return b.String()
}

func (r wireReadiness) lines(n names) string {
	var b strings.Builder
	fmt.Fprintf(&b, "%s as of %s, horizon %d: %s%s", r.Bag, n.day(r.AsOf), r.HorizonDays, r.State, flag(r.ClockLeft,
		"clock left out"))
	for _, f := range r.Findings {
		fmt.Fprintf(&b, "\n%s %s %s %d %s %s%s", f.Severity, f.Kind, f.Item, f.Qty, n.day(f.Date), n.lot(f.LotID),
			flag(f.Text == "", "without words"))
	}
	for _, l := range r.Lines {
		fmt.Fprintf(&b, "\n%s/%s par %d min %d has %d lacks %d%s", l.Item, l.Pouch, l.Par, l.Minimum, l.Usable, l.Shortfall,
			flag(l.Critical, "critical"))
		for _, x := range l.Lots {
			b.WriteString("; " + x.text(n))
		}
	}
	for _, x := range r.Surplus {
		b.WriteString("\nsurplus " + x.text(n))
	}
	for _, x := range r.NotOnList {
		b.WriteString("\nnot on list " + x.text(n))
	}
	if c := r.NextChange; c != nil {
		fmt.Fprintf(&b, "\nnext change %s %s", n.day(c.Date), n.lot(c.LotID))
	}
	if c := r.FirstStop; c != nil {
		fmt.Fprintf(&b, "\nfirst stop %s %s", n.day(c.Date), n.lot(c.LotID))
	}
	return b.String()
}

func (x wireLotOnLine) text(n names) string {
	return fmt.Sprintf("%d %s %s (%s) through %s by %s%s", x.Qty, x.Item, n.lot(x.LotID), x.BatchNo,
		n.day(x.UsableThrough), cmp.Or(x.Rule, "none"), flag(!x.Usable, "no longer"))
}

func (p wirePickList) lines(n names) string {
	var b strings.Builder
	fmt.Fprintf(&b, "%s as of %s", p.Bag, n.day(p.AsOf))
	for _, l := range p.Lines {
		fmt.Fprintf(&b, "\nin %d %s/%s %s (%s) through %s from %s%s%s", l.Qty, l.Item, l.Pouch, n.lot(l.LotID), l.BatchNo,
			n.day(l.UsableThrough), l.From,
			flag(l.ShortDated, "short"), flag(l.PriorClaim != "", "claimed by "+l.PriorClaim))
	}
	for _, t := range p.TakeOut {
		fmt.Fprintf(&b, "\nout %d %s %s (%s) through %s to %s: %s %s%s", t.Qty, t.Item, n.lot(t.LotID), t.BatchNo,
			n.day(t.UsableThrough), t.To, t.Reason, t.Cause,
			flag(t.Why == "", "without words"))
	}
	for _, u := range p.Unfilled {
		fmt.Fprintf(&b, "\nmissing %d %s/%s", u.Qty, u.Item, u.Pouch)
	}
	for _, x := range p.StandIns {
		fmt.Fprintf(&b, "\n%d %s stand in for %s/%s", x.Qty, x.With, x.Item, x.Pouch)
	}
	return b.String()
}
