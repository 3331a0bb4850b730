package verify

import (
	"context"
	"crypto/sha256"
	_ "embed"
	"encoding/hex"
	"fmt"
	"io"
	"maps"
	"regexp"
	"slices"
	"strconv"

	"stowkeeper/inventory"
)

//go:embed evidence.txt
var evidenceText string

// Evidence writes what a station and the service recorded on some days of the station's calendar, both with, and what
// others recorded about its places, in a form that proves itself without the program; the text says how. Refuses:
// NotFound without that station; Invalid for days in the wrong order.
func (s *Service) Evidence(ctx context.Context, station string, from, to inventory.Day, out io.Writer) error {
	return s.store.Read(ctx, func(_ context.Context, r inventory.Reader) error {
		st, err := r.Station(inventory.NormalCode(station))
		if err != nil {
			return err
		}
		if to < from {
			return inventory.InvalidField("to", "give a day that is not before the first")
		}
		zone, err := inventory.Zone(st.Timezone)
		if err != nil {
			return err
		}
		sum := sha256.New()
		e := evidence{r: r, out: io.MultiWriter(out, sum), station: st.Code,
			places: map[string]bool{}, people: map[string]bool{},
			period: inventory.ChainFilter{Since: from.Start(zone), Before: to.AddDays(1).Start(zone)}}
		e.write("%sstation %s %s %s %s\n", evidenceText, st.Code, from, to, st.Timezone)
		if err := e.all(); err != nil {
			return err
		}
		_, err = fmt.Fprintf(out, "end %s\n", hex.EncodeToString(sum.Sum(nil)))
		return err
	})
}

type evidence struct {
	r       inventory.Reader
	out     io.Writer
	failed  error
	station string
	places  map[string]bool // that belong to it
	period  inventory.ChainFilter
	moves   map[int64]inventory.Movement
	rows    map[row]inventory.Fact
	people  map[string]bool // numbers that stand in it
	actors  map[string]int64
}

var peopleIn = regexp.MustCompile(`"(?:by|by_name|person|witness|holder|name|\w+_by)":(\d+)`)

func (e *evidence) write(format string, args ...any) {
	text := fmt.Sprintf(format, args...)
	for _, m := range peopleIn.FindAllStringSubmatch(text, -1) {
		e.people[m[1]] = true
	}
	if _, err := io.WriteString(e.out, text); err != nil && e.failed == nil {
		e.failed = err
	}
}

func (e *evidence) all() error {
	if err := e.gather(); err != nil {
		return err
	}
	heads, err := e.r.Heads()
	if err != nil {
		return err
	}
	own := func(h inventory.Head) bool { return h.Station == e.station }
	slices.SortStableFunc(heads, func(a, b inventory.Head) int {
		return map[bool]int{true: -1}[own(a)] - map[bool]int{true: -1}[own(b)]
	})
	for _, h := range heads {
		if err := e.chain(h); err != nil {
			return err
		}
	}
	for _, h := range heads {
		if h.Seq > 0 {
			e.write("head %s\n", h)
		}
	}
	names := map[string]string{}
	for name, n := range e.actors {
		names[strconv.FormatInt(n, 10)] = name
	}
	for _, n := range slices.Sorted(maps.Keys(e.people)) {
		if names[n] != "" {
			e.write("person %s %s\n", n, names[n])
		}
	}
	return e.failed
}

// gather reads what entries refer to: places, stock records, and rows of which the chains have the sum.
func (e *evidence) gather() (err error) {
	places, err := e.r.Places(inventory.PlaceFilter{Stations: []string{e.station}, Retired: true}, inventory.Page{})
	if err != nil {
		return err
	}
	for _, p := range places {
		e.places[p.Code] = true
	}
	if e.actors, err = e.r.Actors(); err != nil {
		return err
	}
	ms, err := e.r.Movements(inventory.MovementFilter{Since: e.period.Since}, inventory.Page{})
	if err != nil {
		return err
	}
	e.moves, e.rows = map[int64]inventory.Movement{}, map[row]inventory.Fact{}
	for _, m := range ms {
		e.moves[m.ID] = m
	}
	summed := map[row]string{}
	err = e.r.ChainEntries(e.period, func(x inventory.ChainEntry) error {
		for _, f := range x.Facts {
			if f.Sum != "" {
				summed[row{f.Table, f.Key}] = f.Sum
			}
		}
		return nil
	})
	if err != nil || len(summed) == 0 {
		return err
	}
	return e.r.Facts(func(f inventory.Fact) error {
		if k := (row{f.Table, f.Key}); summed[k] != "" {
			e.rows[k] = f
		}
		return nil
	})
}

// chain writes the entries of a chain from the first to the last of the period, since only a whole piece can be
// proved; of other stations' those that touch places of this one, each after the hash of the one before.
func (e *evidence) chain(h inventory.Head) error {
	f := e.period
	f.Chain = &h.Station
	first, last := int64(0), int64(0)
	err := e.r.ChainEntries(f, func(x inventory.ChainEntry) error {
		if first == 0 {
			first = x.Seq
		}
		last = x.Seq
		return nil
	})
	if err != nil || first == 0 {
		return err
	}
	before, written := inventory.Head{Station: h.Station, Hash: "-"}, int64(-1)
	whole := h.Station == "" || h.Station == e.station
	return e.r.ChainEntries(inventory.ChainFilter{Chain: &h.Station, From: max(first-1, 1), To: last},
		func(x inventory.ChainEntry) error {
			if x.Seq >= first && (whole || x.Station == e.station || e.places[x.Place] || e.places[x.OtherPlace]) {
				if written != before.Seq {
					e.write("chain %s\n", before)
				}
				e.entry(x)
				written = x.Seq
			}
			before.Seq, before.Hash = x.Seq, x.Hash
			return e.failed
		})
}

func (e *evidence) entry(x inventory.ChainEntry) {
	e.write("entry %s %s\n", x.Hash, x.Form)
	for _, f := range x.Facts {
		if now, ok := e.rows[row{f.Table, f.Key}]; ok && f.Sum != "" && f.Says(now.Form) {
			e.write("row %s %s %s\n", f.Table, f.Key, now.Form)
		}
		id, _ := strconv.ParseInt(f.Key[1:len(f.Key)-1], 10, 64)
		if m, ok := e.moves[id]; ok && f.Table == "movement" {
			e.write("movement %s\n", e.movement(m))
		}
	}
}

func (e *evidence) movement(m inventory.Movement) string {
	text := func(at inventory.Instant) string { return at.Time().Format("2006-01-02T15:04:05.000000Z") }
	return inventory.Form([]string{"by", "cause", "corrects", "from", "happened_at", "hash", "id", "into_lot_id", "lot_id",
		"note", "prev_hash", "qty", "reason", "recorded_at", "reference", "seq", "station", "to", "witness"},
		[]any{e.actors[m.By], string(m.Cause), m.Corrects, m.From, text(m.HappenedAt), m.Hash, m.ID, m.IntoLotID, m.LotID,
			m.Note, m.PrevHash, int64(m.Qty), string(m.Reason), text(m.RecordedAt), m.Reference, m.Seq, m.Station, m.To,
			e.actors[m.Witness]})
}
